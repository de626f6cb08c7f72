package warden

// Two-hand control and set-up mode: what a person may move with the door open.
//
// Two hands on two actuators are where the hands are; they protect this one
// person and nobody else. They stand in for the closed door in a stroke and in
// hold-to-run, never for gas or for a spindle that turns faster than in set-up.

// Hands is one pair of actuators of a two-hand control after ISO 13851, type
// III: both pressed within HandsMs, given only while both are held, the next
// time only after both were released.
type Hands struct {
	Ready uint8  // both seen released since they were last used
	Given uint8  // both held
	Ms    uint16 // since the first of the two was pressed
}

// The pairs. Hold-to-run that could crush or wind up keeps, with the door open,
// the other hand on the left actuator of the two-hand control; opening frees,
// and one hand is enough for it.
const (
	HandsStroke uint8 = 0 // left and right
	HandsClose  uint8 = 1 // hold-to-run close and left
	HandsTurn   uint8 = 2 // hold-to-run turn and left

	NumHands uint8 = 3
)

// setUpMostDrpm is the speed above which a spindle is not turning slowly: 50
// rpm, the usual limit of set-up modes.
const setUpMostDrpm int16 = 500

func senseHands(c *Config, s *State, in *Input) {
	left := pressed(c, in, InTwoHandLeft)
	stepHands(c, &s.Hands[HandsStroke], left, pressed(c, in, InTwoHandRight))
	stepHands(c, &s.Hands[HandsClose], left, pressed(c, in, InHoldClose))
	stepHands(c, &s.Hands[HandsTurn], left, pressed(c, in, InHoldTurn))
}

// markHandStroke remembers whether a stroke runs with the door open, and takes
// the two hands back once it is over: the next one wants both released first.
func markHandStroke(s *State, in *Input) {
	switch {
	case has(in, InDoorClosed):
		s.HandStroke = 0
	case pushing(s):
		s.HandStroke = 1
	case s.HandStroke != 0 && has(in, InPressOpen):
		s.HandStroke = 0
		s.Hands[HandsStroke].Given = 0
	}
}

func pressed(c *Config, in *Input, bit uint32) bool { return fitted(c, bit) && has(in, bit) }

func stepHands(c *Config, h *Hands, a, b bool) {
	switch {
	case !a && !b:
		h.Ready, h.Given, h.Ms = 1, 0, 0
	case a && b:
		if h.Ready != 0 && h.Ms <= c.HandsMs {
			h.Given = 1
		}
		h.Ready = 0
	default:
		h.Given = 0
		h.Ms = up(h.Ms)
	}
}

// handGuarded: hold-to-run needs the door closed, or the other hand held too.
func handGuarded(s *State, in *Input, pair uint8) bool {
	return has(in, InDoorClosed) || s.Hands[pair].Given != 0
}

// handsOnPress: with the door open the press moves only under two hands: their
// row (34) or hold-to-run in set-up stands in for the door's.
func handsOnPress(c *Config, s *State, in *Input) bool {
	return setUp(c, in) || s.HandStroke != 0 || s.Hands[HandsStroke].Given != 0
}

// handsReleased: two hands were let go in a stroke that they protect.
func handsReleased(s *State) bool {
	stroke := pushing(s) || s.Press == PressEasing || hostOpening(s)
	return s.HandStroke != 0 && s.Hands[HandsStroke].Given == 0 && stroke
}

// setUp: the key switch stands at set-up: no cycle, no gas, hold-to-run only.
func setUp(c *Config, in *Input) bool { return pressed(c, in, InSetUp) }

// working: a cycle or what is left of it, none of which belongs into set-up.
func working(s *State) bool {
	return s.Started != 0 || gasActive(s) || s.Spindle == SpindleRun || s.Spindle == SpindleCreep ||
		pushing(s) || s.Press == PressOpening
}

// turningSlowly: in set-up the spindle may turn with the door open, slowly, by
// hold-to-run or running out after it.
func turningSlowly(c *Config, s *State, in *Input) bool {
	return setUp(c, in) && s.Spindle != SpindleRun && s.Spindle != SpindleCreep &&
		analogOK(c, in, AiSpindle) && in.Analog[AiSpindle] <= setUpMostDrpm
}

// handTurn: a person turns the spindle by hold-to-run, in set-up only, where a
// cycle that still runs has tripped.
func handTurn(c *Config, s *State, in *Input) bool {
	return setUp(c, in) && pressed(c, in, InHoldTurn) && s.HoldSeen&4 != 0 &&
		handGuarded(s, in, HandsTurn) && s.Lock == LockNone && !fuelOpen(s)
}
