package warden

// The spindle machine. Only a start needs START; creep and ramp are safing and
// end by themselves. A reaction comes first: a request that goes, or a lease
// that dies, in the tick of the reaction must not stop what has to creep.

func stepSpindle(c *Config, s *State, in *Input) {
	if !option(c, OptSpindleFitted) {
		s.Spindle = SpindleOff
		return
	}
	s.SpinMs = up32(s.SpinMs)
	spindleReact(s)
	unhindered := s.Spin == SpindleKeep // in a reaction nothing starts or speeds up
	asked := unhindered && leased(c, s, iSpindle) && in.Request.SpindleDrpm > 0
	byHand := unhindered && handTurn(c, s, in) && !chuckOpen(c, in)
	switch s.Spindle {
	case SpindleOff:
		if asked && goes(s) && !chuckOpen(c, in) {
			spin(s, SpindleRun)
		} else if byHand {
			spin(s, SpindleHand)
		}
	case SpindleHand:
		if !byHand {
			spin(s, SpindleRamp)
		}
	case SpindleRun:
		if !asked {
			spin(s, SpindleRamp)
		}
	case SpindleCreep:
		if s.SpinMs >= c.CreepMs {
			spin(s, SpindleRamp)
		} else {
			resume(s, asked)
		}
	case SpindleRamp:
		if s.SpinMs >= uint32(c.RampMs) {
			spin(s, SpindleOff)
		}
	}
	switch s.Spindle {
	case SpindleRun:
		most := c.SpindleMaxDrpm
		if !goes(s) {
			most = min(most, s.SpinSet) // no faster without START: none yet, or taken back, or of a cycle that is over
		}
		s.SpinSet = min(in.Request.SpindleDrpm, most)
	case SpindleHand:
		s.SpinSet = c.SetUpDrpm
	}
}

// resume ends a creep whose cause has been reset: a new START takes the
// spindle over without letting the glass stand; else it stops.
func resume(s *State, asked bool) {
	if asked && goes(s) {
		spin(s, SpindleRun)
	}
}

func spin(s *State, phase uint8) {
	s.Spindle = phase
	s.SpinMs = 0
	if phase == SpindleOff || phase == SpindleRamp {
		s.SpinSet = 0
	}
}

func spindleReact(s *State) {
	switch {
	case s.Spin == SpindleToOff:
		spin(s, SpindleOff)
	case s.Spin == SpindleToRamp && (s.Spindle == SpindleRun || s.Spindle == SpindleCreep):
		spin(s, SpindleRamp)
	case s.Spin == SpindleToCreep && s.Spindle == SpindleRun:
		spin(s, SpindleCreep)
	}
}

// spindleAtPress: the spindle is in the state that the stroke needs.
func spindleAtPress(c *Config, in *Input) bool {
	if !option(c, OptSpindleFitted) {
		return true
	}
	if !analogOK(c, in, AiSpindle) {
		return false
	}
	speed := in.Analog[AiSpindle]
	switch {
	case option(c, OptSpindleTurns):
		return speed >= int16(c.PressLowDrpm) && speed <= int16(c.PressHighDrpm)
	case option(c, OptSpindleIndexed):
		return speed <= standstillDrpm && has(in, InIndexed)
	}
	return speed <= standstillDrpm
}
