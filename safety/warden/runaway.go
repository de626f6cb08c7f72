package warden

// What moves as nobody asked: the spindle too fast, backwards, or where it has
// to stand, hold-to-run faster than a hand can follow, and whatever turns or
// presses in a chuck that does not hold.

const (
	fastMs       uint16 = 200 // spindle above its limit
	chuckMs      uint16 = 100 // chuck seen open
	handWindowMs uint16 = 100 // hold-to-run is measured over this
)

// backwardsDrpm is a speed that no offset of a sensor reads: 5 rpm the wrong way.
const backwardsDrpm int16 = -50

// spareDrpm is what a reading may lie above the limit, beside an eighth of it.
const spareDrpm uint32 = 50

// chuckOpen: a fitted switch says that the chuck is not clamped.
func chuckOpen(c *Config, in *Input) bool {
	return fitted(c, InChuckClamped) && !has(in, InChuckClamped)
}

// stillInContact: with the mould halves in contact the spindle has to stand.
func stillInContact(c *Config) bool { return !option(c, OptSpindleTurns) }

func detectRunaway(c *Config, s *State, in *Input) uint64 {
	var set uint64
	s.FastMs = while(spindleFast(c, s, in), s.FastMs)
	set = mark(set, CauseSpindleFast, s.FastMs >= fastMs)
	asked := leased(c, s, iSpindle) && in.Request.SpindleDrpm > 0 && goes(s)
	set = mark(set, CauseSpindleAsked, asked && s.Touching != 0 && pushing(s) && stillInContact(c))
	set = mark(set, CauseHandFast, handFast(c, s, in))
	works := s.Spindle != SpindleOff || pushing(s)
	s.ChuckMs = while(works && chuckOpen(c, in), s.ChuckMs)
	set = mark(set, CauseChuck, s.ChuckMs >= chuckMs)
	return set
}

// spindleFast: above what it may ever do, or above set-up's limit by hand, or
// backwards. Only a sensor that can show it can say so (the profile's check).
func spindleFast(c *Config, s *State, in *Input) bool {
	if !option(c, OptSpindleFitted) || !analogOK(c, in, AiSpindle) {
		return false
	}
	most := uint32(c.SpindleMaxDrpm)
	if s.Spindle == SpindleHand {
		most = uint32(c.SetUpDrpm)
	}
	speed := in.Analog[AiSpindle]
	return int32(speed) > int32(most+most>>3+spareDrpm) || speed < backwardsDrpm
}

// handFast measures hold-to-run of the press: more than half as fast again as it
// may, and 0.2 mm, over a tenth of a second.
func handFast(c *Config, s *State, in *Input) bool {
	byHand := s.Press == PressHandOpen || s.Press == PressHandClose
	if !byHand || !option(c, OptPressDriven) || !analogOK(c, in, AiTravel) {
		s.HandMs = 0
		return false
	}
	if s.HandMs == 0 {
		s.HandFromCmm = in.Analog[AiTravel]
	}
	s.HandMs = up(s.HandMs)
	gone := int32(in.Analog[AiTravel]) - int32(s.HandFromCmm)
	if gone < 0 {
		gone = -gone
	}
	if s.HandMs >= handWindowMs {
		s.HandMs = 0
	}
	speed := uint32(c.HandCmms) // 0.01 mm/s: a tenth of it is what may be gone in the window
	return gone*10 > int32(speed+speed>>1+200)
}
