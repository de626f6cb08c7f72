package warden

// What the press feels. A stroke that nobody can feel is a blind stroke: a
// fitted force or travel channel that is broken, out of range or frozen while
// the press moves or works ends it.

const (
	sensingMs uint16 = 20  // broken this long: a stroke at full speed has gone 1.2 mm
	unfeltMs  uint16 = 300 // at the stop without force
	standMs   uint16 = 500 // driven, and travel stands
)

// Travel that counts as standing, the least speed for which that is judged (it
// goes 0.5 mm in standMs), and how near its target a press need not move.
const (
	standCmm     int32  = 10
	standCmms    uint16 = 100
	nearlyCmm    int32  = 50
	atTheStopCmm int32  = 5
)

// broken: a channel that exists cannot be read.
func broken(c *Config, in *Input, ai uint8) bool {
	return c.FittedAnalog&(1<<ai) != 0 && in.AnalogOK&(1<<ai) == 0
}

// feels: nothing that is fitted to feel the press is broken, and a drive has both
// travel and force; a press that a person pulls is felt by that person.
func feels(c *Config, in *Input) bool {
	if option(c, OptPressDriven) {
		return analogOK(c, in, AiTravel) && analogOK(c, in, AiForce)
	}
	return !broken(c, in, AiTravel) && !broken(c, in, AiForce)
}

// sensed: what is fitted to feel the press can be read, and force is at rest.
func sensed(c *Config, in *Input) bool {
	if broken(c, in, AiTravel) || broken(c, in, AiForce) {
		return false
	}
	return c.FittedAnalog&(1<<AiForce) == 0 || in.Analog[AiForce] < int16(c.ContactDN)
}

func detectSensing(c *Config, s *State, in *Input) uint64 {
	var set uint64
	works := pushing(s) || s.Press == PressOpening || s.Press == PressEasing || s.Press == PressHandClose
	s.ForceLostMs = while(works && broken(c, in, AiForce), s.ForceLostMs)
	s.TravelLostMs = while(works && broken(c, in, AiTravel), s.TravelLostMs)
	s.UnfeltMs = while(unfelt(c, s, in), s.UnfeltMs)
	s.StandMs = while(stands(c, s, in), s.StandMs)
	if s.StandMs == 0 {
		s.StandCmm = in.Analog[AiTravel]
	}
	set = mark(set, CauseForceLost, s.ForceLostMs >= sensingMs || s.UnfeltMs >= unfeltMs)
	set = mark(set, CauseTravelLost, s.TravelLostMs >= sensingMs || s.StandMs >= standMs)
	return set
}

// unfelt: a stroke that presses to a stop has come there and felt nothing.
func unfelt(c *Config, s *State, in *Input) bool {
	return option(c, OptPressDriven) && s.Press == PressClosing && in.Request.Press == PressForce &&
		analogOK(c, in, AiForce) && analogOK(c, in, AiTravel) && !has(in, InPressOpen) &&
		toGoCmm(s, in) <= atTheStopCmm
}

// stands: the drive is told to close, nothing is felt, and travel does not
// change. Either the channel is frozen or the press is caught: nobody knows.
func stands(c *Config, s *State, in *Input) bool {
	closing := s.Press == PressClosing || s.Press == PressHandClose
	if !closing || !option(c, OptPressDriven) || !analogOK(c, in, AiTravel) || s.Out.SpeedCmms < standCmms {
		return false
	}
	goneCmm := int32(in.Analog[AiTravel]) - int32(s.StandCmm)
	return toGoCmm(s, in) > nearlyCmm && goneCmm > -standCmm && goneCmm < standCmm
}

// toGoCmm is how far the press is from the target that is driven.
func toGoCmm(s *State, in *Input) int32 {
	return int32(s.Out.TravelCmm) - int32(in.Analog[AiTravel])
}
