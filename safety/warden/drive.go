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
	if s.Spindle == SpindleCreep {
		out.SpindleDrpm = min(c.CreepDrpm, s.SpinSet)
	}
	if startCounts(c, s) {
		out.Bits |= OutArmedLamp
	}
	if in.Request.Flags&ReqHorn != 0 && s.LinkMs < c.LeaseMs {
		out.Bits |= OutHorn
	}
	s.Out = out
}

func driveBurner(c *Config, s *State, in *Input, out *Output) {
	if gasArmed(s) || s.Present&(1<<CauseGasAlarm) != 0 {
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
