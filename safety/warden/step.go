package warden

// Init makes the state of a microcontroller that has just started: everything
// off, nothing remembered but the non-volatile byte nv. Any byte but NVClear
// means that fuel may have been open or a lockout stood: lockout.
func Init(s *State, nv uint8) {
	*s = State{}
	for i := range NumLeases {
		s.LeaseMs[i] = forever
	}
	s.LinkMs = forever
	s.FuelOffMs = forever
	s.SoftMs = forever
	s.NV = NVClear
	if nv != NVClear {
		trip(s, CauseRestart)
	}
}

// Step advances the machine by one millisecond. The order is the argument for
// safety: what is sensed now decides what has tripped now, and only then do the
// machines act, so that a cause and its reaction share one tick.
func Step(c *Config, s *State, in *Input, out *Output) {
	if corrupt(s) {
		Init(s, NVLockout)
	}
	sense(c, s, in)
	stepLink(c, s, in)
	stepLatch(c, s, in)
	stepBurner(c, s, in)
	stepPress(c, s, in)
	stepSpindle(c, s, in)
	drive(c, s, in)
	*out = s.Out
}

// corrupt finds a state that no Step could have left: decayed memory. The
// answer is lockout, never a repair.
func corrupt(s *State) bool {
	return s.Burner >= NumBurner || s.Press >= NumPress || s.Spindle >= NumSpindle ||
		s.Link >= NumLink || s.Lock > LockLockout || s.First >= NumCauses ||
		s.Started > 1 || s.Wait > 1 || s.Armed > 1 || s.Oxygen > 1 || s.Touching > 1
}

// forever is where a saturating timer stops.
const forever uint16 = 0xFFFF

func up(t uint16) uint16 {
	if t == forever {
		return t
	}
	return t + 1
}

func up32(t uint32) uint32 {
	if t == 0xFFFFFFFF {
		return t
	}
	return t + 1
}

// while counts t up as long as on holds and clears it otherwise.
func while(on bool, t uint16) uint16 {
	if on {
		return up(t)
	}
	return 0
}

// while32 is while for times longer than a minute.
func while32(on bool, t uint32) uint32 {
	if on {
		return up32(t)
	}
	return 0
}

func has(in *Input, bit uint32) bool { return in.Bits&bit != 0 }

func fitted(c *Config, bit uint32) bool { return c.FittedIn&bit != 0 }

func option(c *Config, bit uint16) bool { return c.Options&bit != 0 }

// analogOK: the channel exists and its wire is intact.
func analogOK(c *Config, in *Input, ai uint8) bool {
	return c.FittedAnalog&in.AnalogOK&(1<<ai) != 0
}

func fuelOpen(s *State) bool { return s.Out.Bits&OutFuel != 0 }

// sense runs the timers that stand on inputs alone.
func sense(c *Config, s *State, in *Input) {
	flame := has(in, InFlame)
	s.FlameMs = while(flame, s.FlameMs)
	s.DarkMs = while(!flame, s.DarkMs)
	s.FuelOffMs = while(!fuelOpen(s), s.FuelOffMs)
	s.ClearMs = while(burnerClear(c, in), s.ClearMs)
	s.StartMs = while(has(in, InStart), s.StartMs)
	s.ResetMs = while(has(in, InReset), s.ResetMs)
	s.SoftMs = up(s.SoftMs)
	if has(in, InPressOpen) {
		s.Homed = 1
		s.Touching = 0
	}
	if fuelOpen(s) {
		s.SawStill = 0
	} else if s.Out.Bits&OutFan == 0 && !has(in, InExtraction) {
		s.SawStill = 1
	}
	if !has(in, InHoldOpen) {
		s.HoldSeen |= 1
	}
	if !has(in, InHoldClose) {
		s.HoldSeen |= 2
	}
	if !has(in, InHoldTurn) {
		s.HoldSeen |= 4
	}
	senseHands(c, s, in)
	senseUnburnt(s, flame)
}

// senseUnburnt keeps the integer of invariant 3: unburnt fuel at most 4 s in
// any 30 s. With u unburnt ms in such a window the sum grows by at least
// 120u - (30,000 - u), so a trip at 120 x (3,750 - closing) bounds u, closing
// time included, by 480,000/121 = 3,967 ms.
func senseUnburnt(s *State, flame bool) {
	if fuelOpen(s) && !flame {
		s.Unburnt += 120
	} else if s.Unburnt > 0 {
		s.Unburnt--
	}
}

// unburntLimit is where the unburnt-fuel sum trips.
func unburntLimit(c *Config) uint32 {
	return 120 * (3750 - uint32(c.ValveCloseMs))
}

func burnerClear(c *Config, in *Input) bool {
	return option(c, OptBurnerFixed) || has(in, InBurnerClear)
}

// atBlank: the flame can reach the blank. A fixed burner always can.
func atBlank(c *Config, in *Input) bool {
	return option(c, OptBurnerFixed) || has(in, InBurnerAtBlank)
}

// heatOpen: the press is open, or at a position named as safe for heating.
func heatOpen(c *Config, in *Input) bool {
	if has(in, InPressOpen) {
		return true
	}
	return analogOK(c, in, AiTravel) && in.Analog[AiTravel] <= c.HeatCmm
}

// turning: the spindle turns fast enough for heating, or is declared absent.
func turning(c *Config, in *Input) bool {
	if !option(c, OptSpindleFitted) {
		return true
	}
	return analogOK(c, in, AiSpindle) && in.Analog[AiSpindle] >= int16(c.SpindleHeatDrpm)
}

// moving: the spindle turns at more than 1 rpm, or may, since nobody knows.
func moving(c *Config, s *State, in *Input) bool {
	if !option(c, OptSpindleFitted) {
		return false
	}
	return s.Spindle != SpindleOff || !analogOK(c, in, AiSpindle) || in.Analog[AiSpindle] > standstillDrpm
}

// standstillDrpm is the speed that counts as standing, 1 rpm.
const standstillDrpm int16 = 10
