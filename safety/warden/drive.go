package warden

// drive makes the outputs of this tick from the machines' phases alone. A
// set-point is zero whenever its bit is off.
func drive(c *Config, s *State, in *Input) {
	var out Output
	out.NV = s.NV
	driveBurner(c, s, in, &out)
	drivePress(c, s, in, &out)
	if s.Spindle != SpindleOff {
		out.Bits |= OutSpindle
		out.SpindleDrpm = s.SpinSet
	}
	if s.Spindle == SpindleCreep && !(parting(s) && option(c, OptSpindleTurns)) {
		out.SpindleDrpm = min(c.CreepDrpm, s.SpinSet)
	}
	if startCounts(c, s) {
		out.Bits |= OutArmedLamp
	}
	if in.Request.Flags&ReqHorn != 0 && s.LinkMs < c.LeaseMs || leaking(s) {
		out.Bits |= OutHorn
	}
	if s.Lock == LockLockout {
		out.Bits |= OutLockLamp
	}
	s.Out = out
}

func driveBurner(c *Config, s *State, in *Input, out *Output) {
	if s.Burner >= BurnerPurge && s.Burner <= BurnerPostPurge || airs(c, s) {
		out.Bits |= OutFan
	}
	if s.Burner == BurnerIgniter || s.Burner == BurnerTrial || s.Burner == BurnerProve {
		out.Bits |= OutIgniter
	}
	if burnerIn(c, s, in) {
		out.Bits |= OutBurnerIn
	}
	if s.Burner < BurnerTrial || s.Burner > BurnerOff {
		return
	}
	out.Bits |= OutFuel
	most := c.SoftMaxMl
	if s.Burner == BurnerRun && goes(s) && !pushing(s) && heatNow(c, in, out) {
		most = c.FuelMaxMl
	}
	out.FuelMl = min(in.Request.FuelMl, most)
	if s.Burner == BurnerOff {
		out.FuelMl = min(s.Out.FuelMl, c.SoftMaxMl)
	}
	if s.Oxygen != 0 {
		out.Bits |= OutOxygen
		out.OxygenMl = min(in.Request.OxygenMl, c.OxygenMaxMl)
	}
}

// leakRows are the causes that mean gas where none should be.
const leakRows uint64 = 1<<CauseFalseFlame | 1<<CauseGasAlarm | 1<<CauseFeedback | 1<<CauseUnburnt | 1<<CauseFlowOver

// leaking: gas may be where none should be: the horn calls people away, host or
// none.
func leaking(s *State) bool { return (s.Trips|s.Present)&leakRows != 0 }

// airs: after a leak a running fan keeps running. A standing one stays, because
// its motor or contactor may spark in what has leaked, unless the profile says
// that it cannot.
func airs(c *Config, s *State) bool {
	return leaking(s) && (s.Out.Bits&OutFan != 0 || option(c, OptFanSafe))
}

// heatNow: a sharp flame has its place: at the blank, press open.
func heatNow(c *Config, in *Input, out *Output) bool {
	if !heatOpen(c, in) {
		return false
	}
	return option(c, OptBurnerFixed) || out.Bits&OutBurnerIn != 0 || has(in, InBurnerAtBlank)
}

func drivePress(c *Config, s *State, in *Input, out *Output) {
	switch s.Press {
	case PressOff, PressStay:
		out.Bits |= OutBrake
	case PressClosing, PressContact:
		out.Bits |= OutPressClose
		out.SpeedCmms = min(in.Request.SpeedCmms, c.SpeedMaxCmms)
		out.ForceDN = min(in.Request.ForceDN, c.ForceMaxDN)
		out.TravelCmm = max(0, min(in.Request.TravelCmm, c.EndCmm))
	case PressOpening:
		out.Bits |= OutPressOpen
		out.ForceDN = c.PullMaxDN
		out.SpeedCmms = c.HandCmms
		if parting(s) {
			out.SpeedCmms = c.PartCmms
		}
		if hostOpening(s) {
			out.SpeedCmms = min(in.Request.SpeedCmms, c.SpeedMaxCmms)
			out.TravelCmm = max(0, in.Request.TravelCmm)
		}
	case PressEasing:
		out.Bits |= OutPressClose
		out.ForceDN = s.EaseDN
		out.TravelCmm = max(0, min(in.Request.TravelCmm, c.EndCmm))
	case PressHandOpen:
		out.Bits |= OutPressOpen
		out.ForceDN = c.PullMaxDN
		out.SpeedCmms = c.HandCmms
	case PressHandClose:
		out.Bits |= OutPressClose
		out.ForceDN = c.ContactDN
		out.SpeedCmms = c.HandCmms
		out.TravelCmm = c.EndCmm
	}
}
