package warden

// The burner machine:
//
//	standby -> check -> purge -> igniter -> trial -> prove -> prove dark -> run
//	   ^                                                                   |
//	   +------------- post-purge <---------------- off <-------------------+
//
// A reaction that shuts the gas leads from anywhere to post-purge in the same
// tick; lockout stands in for standby until a local RESET.

// unburntStart is how much of the unburnt-fuel budget may still be used when a
// light-up begins, so that a whole trial fits under the limit.
const unburntStart uint32 = 60000

func stepBurner(c *Config, s *State, in *Input) {
	if s.Gas != GasKeep && gasActive(s) {
		shutDown(s)
	}
	switch s.Burner {
	case BurnerStandby:
		burnerStandby(c, s, in)
	case BurnerCheck:
		burnerCheck(c, s, in)
	case BurnerPurge:
		burnerPurge(c, s, in)
	case BurnerIgniter:
		burnerIgniter(c, s, in)
	case BurnerTrial, BurnerProve, BurnerProveDark:
		burnerLight(c, s, in)
	case BurnerRun:
		burnerRun(c, s, in)
	case BurnerOff:
		s.Oxygen = 0
		s.PhaseMs = up32(s.PhaseMs)
		if s.PhaseMs >= uint32(c.OffMs) || !leased(c, s, iFuel) {
			enter(s, BurnerPostPurge)
		}
	case BurnerPostPurge:
		s.PhaseMs = up32(s.PhaseMs)
		if s.PhaseMs >= c.PostPurgeMs {
			enter(s, BurnerStandby)
		}
	case BurnerLockout:
		if s.Lock != LockLockout {
			enter(s, BurnerStandby)
		}
	}
	remember(s)
}

func enter(s *State, phase uint8) {
	s.Burner = phase
	s.PhaseMs = 0
}

// shutDown carries out the gas column. Sequenced needs no delay where oxygen
// is shut already.
func shutDown(s *State) {
	if s.Gas == GasSequenced && s.Burner >= BurnerRun {
		if s.Burner == BurnerRun {
			enter(s, BurnerOff) // which shuts oxygen in this same tick
		}
		return
	}
	s.Oxygen = 0
	enter(s, BurnerPostPurge)
}

// flameAsked: the host wants a flame, under a live lease.
func flameAsked(c *Config, s *State, in *Input) bool {
	return in.Request.Flags&ReqFlame != 0 && leased(c, s, iFuel)
}

func burnerStandby(c *Config, s *State, in *Input) {
	s.Oxygen = 0
	switch {
	case s.Lock == LockLockout:
		enter(s, BurnerLockout)
	case goes(s) && s.LitOnce == 0 && flameAsked(c, s, in):
		enter(s, BurnerCheck) // one light-up for each START, which any lock voids: no relight by itself
	}
}

// burnerCheck waits until all that a light-up needs is seen together: dark for
// CheckMs, valves shut, burner clear, press open, no old gas, extraction's switch
// at rest with the fan standing. An opened door takes START back, here and in all
// that follows.
func burnerCheck(c *Config, s *State, in *Input) {
	if !flameAsked(c, s, in) || !goes(s) {
		enter(s, BurnerStandby)
		return
	}
	ready := s.DarkMs >= c.CheckMs && burnerClear(c, in) && has(in, InPressOpen) &&
		s.Unburnt <= unburntStart && s.SawStill != 0
	if fitted(c, InFuelShut) && !has(in, InFuelShut) {
		ready = false
	}
	if fitted(c, InOxygenShut) && !has(in, InOxygenShut) {
		ready = false
	}
	if !ready {
		s.PhaseMs = 0
		return
	}
	s.PhaseMs = up32(s.PhaseMs)
	if s.PhaseMs >= uint32(c.CheckMs) {
		enter(s, BurnerPurge)
	}
}

// burnerPurge: the clock runs only while extraction is proven.
func burnerPurge(c *Config, s *State, in *Input) {
	if !flameAsked(c, s, in) || !goes(s) {
		enter(s, BurnerPostPurge)
		return
	}
	if has(in, InExtraction) {
		s.PhaseMs = up32(s.PhaseMs)
	}
	if s.PhaseMs >= c.PurgeMs {
		enter(s, BurnerIgniter)
	}
}

// burnerIgniter: igniter before fuel; fuel opens only once the non-volatile
// byte says that a light-up was under way.
func burnerIgniter(c *Config, s *State, in *Input) {
	if !flameAsked(c, s, in) || !goes(s) {
		enter(s, BurnerPostPurge)
		return
	}
	s.PhaseMs = up32(s.PhaseMs)
	ready := in.NV == NVRunning && has(in, InExtraction) && burnerClear(c, in) && has(in, InPressOpen)
	if s.PhaseMs >= uint32(c.IgniterMs) && ready {
		s.TrialMs = 1 // this tick opens fuel
		s.LitOnce = 1
		enter(s, BurnerTrial)
	}
}

// burnerLight is trial and proof: fuel is open, oxygen is not.
func burnerLight(c *Config, s *State, in *Input) {
	if !flameAsked(c, s, in) || !goes(s) {
		enter(s, BurnerPostPurge)
		return
	}
	s.PhaseMs = up32(s.PhaseMs)
	switch s.Burner {
	case BurnerTrial:
		s.TrialMs = up(s.TrialMs)
		if s.FlameMs >= c.FlameOnMs {
			enter(s, BurnerProve)
		}
	case BurnerProve:
		if s.FlameMs >= c.ProveMs {
			enter(s, BurnerProveDark)
		}
	case BurnerProveDark:
		if s.FlameMs >= c.ProveDarkMs && s.PhaseMs >= uint32(c.ProveDarkMs) {
			s.ParkMs = 0
			s.RunMs = 0
			enter(s, BurnerRun)
		}
	}
}

// burnerRun ends by itself after RunMs: only a light-off shows that the flame
// signal still goes out with the flame.
func burnerRun(c *Config, s *State, in *Input) {
	s.PhaseMs = up32(s.PhaseMs)
	s.RunMs = up32(s.RunMs)
	s.ParkMs = up32(s.ParkMs)
	if goes(s) {
		s.ParkMs = 0
	}
	if !flameAsked(c, s, in) || s.ParkMs >= c.ParkMs || s.RunMs >= c.RunMs {
		s.Oxygen = 0
		enter(s, BurnerOff)
		return
	}
	wanted := option(c, OptOxygenFitted) && goes(s) && leased(c, s, iOxygen) &&
		in.Request.Flags&ReqOxygen != 0 && !(option(c, OptBurnerFixed) && pushing(s))
	switch {
	case !wanted:
		s.Oxygen = 0
	case s.FlameMs >= c.OxygenAfterMs:
		s.Oxygen = 1
	}
}

// remember sets the byte that must survive power loss: running from before
// fuel opens until it has been shut and purged, lockout as long as it stands.
func remember(s *State) {
	switch {
	case s.Lock == LockLockout:
		s.NV = NVLockout
	case s.Burner >= BurnerPurge: // the phase of lockout never comes here
		s.NV = NVRunning
	default:
		s.NV = NVClear
	}
}

// burnerIn: the slide may stand at the blank. It comes in only with the press
// open and, when lit, only over a turning spindle with extraction proven, and
// never while START is awaited. What shuts the gas has voided START.
func burnerIn(c *Config, s *State, in *Input) bool {
	if !option(c, OptBurnerDriven) || option(c, OptBurnerFixed) || s.Started == 0 {
		return false
	}
	asked := in.Request.Flags&ReqBurnerIn != 0 && leased(c, s, iFuel)
	if !asked || !heatOpen(c, in) {
		return false
	}
	if s.Burner != BurnerRun && s.Burner != BurnerStandby {
		return false
	}
	if s.Out.Bits&OutBurnerIn != 0 {
		return true
	}
	return s.Wait == 0 && (!fuelOpen(s) || turning(c, in) && has(in, InExtraction))
}
