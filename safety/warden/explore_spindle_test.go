package warden

import (
	"math/rand/v2"
	"testing"
)

// The spindle's inputs. Of a requested speed only whether it is 0, above the
// creep speed or above the most matters.
const (
	sReaction = iota
	sAsked
	sStarted
	sDoor
	sTurn
	sSetUp
)

var spindleWords = alphabet{
	{"", "hold", "creep", "ramp", "off", "creep while the halves part"},
	{"", "asked slow", "asked too fast", "not asked", "spindle lease dead"},
	{"", "not started"},
	{"", "door open", "other hand at the open door"},
	{"", "hold turn", "turn held since power-up"},
	{"", "set-up"},
}

var spindleTrips = [...]uint64{0, 1 << CausePressState, 1 << CauseFuelLow, 1 << CauseDoor, 1 << CauseMains, 1 << CauseFlameLost}

func spindlePart(c Config) *part {
	p := &part{name: "spindle", config: c, words: spindleWords, dress: dressSpindle, canon: canonSpindle,
		letterOf: spindleLetter, scramble: scrambleForSpindle,
		keep: func(from, to *State) {
			to.Spindle, to.SpinMs, to.SpinSet = from.Spindle, from.SpinMs, from.SpinSet
		},
		pack: func(s *State) uint64 {
			return uint64(s.SpinMs)<<20 | uint64(s.SpinSet)<<4 | uint64(s.Spindle)
		}}
	return p.ready()
}

func dressSpindle(_ *Config, d []uint8, s *State, in *Input) {
	s.Trips = spindleTrips[d[sReaction]]
	if d[sReaction] == 5 {
		s.Touching = 1
		in.Bits &^= InPressOpen
	}
	in.Request.SpindleDrpm = [...]uint16{600, 100, 5000, 0, 600}[d[sAsked]]
	if d[sAsked] == 4 {
		s.LeaseMs[iSpindle] = forever
	}
	s.Started = 1 - d[sStarted]
	if d[sDoor] != 0 {
		in.Bits &^= InDoorClosed
	}
	s.Hands = [NumHands]Hands{}
	if d[sDoor] == 2 {
		s.Hands[HandsTurn].Given = 1
		in.Bits |= InTwoHandLeft
	}
	s.HoldSeen = 7
	if d[sTurn] != 0 {
		in.Bits |= InHoldTurn
		s.HoldSeen = 7 &^ (4 * (d[sTurn] - 1))
	}
	if d[sSetUp] != 0 {
		in.Bits |= InSetUp
	}
}

func canonSpindle(c *Config, s *State) {
	switch s.Spindle {
	case SpindleOff:
		s.SpinMs, s.SpinSet = 0, 0
	case SpindleRun, SpindleHand:
		s.SpinMs = 0
	case SpindleCreep:
		s.SpinMs = min(s.SpinMs, c.CreepMs)
	case SpindleRamp:
		s.SpinMs = min(s.SpinMs, uint32(c.RampMs))
	}
}

type spindleNode struct {
	s       State
	phaseMs uint32 // creeping or ramping without a break
}

func (n *spindleNode) watch(limits *Config, before *State, in *Input, out *Output) string {
	s := &n.s
	powered, rose := out.Bits&OutSpindle != 0, out.Bits&OutSpindle != 0 && before.Spindle == SpindleOff
	n.phaseMs++
	if s.Spindle != before.Spindle || s.Spindle != SpindleCreep && s.Spindle != SpindleRamp {
		n.phaseMs = 0
	}
	asked := in.Request.SpindleDrpm > 0 && s.LeaseMs[iSpindle] < limits.LeaseMs
	byHand := in.Bits&(InHoldTurn|InSetUp) == InHoldTurn|InSetUp && s.Lock == LockNone && before.HoldSeen&4 != 0 &&
		(in.Bits&InDoorClosed != 0 || before.Hands[HandsTurn].Given != 0)
	switch {
	case s.Spindle == SpindleHand && (!byHand || out.SpindleDrpm != limits.SetUpDrpm || s.Started != 0):
		return "18: turned by hand without set-up, button, door or other hand, or too fast"
	case s.Spindle == SpindleHand:
		return ""
	case s.Spindle == SpindleRun && in.Bits&InSetUp != 0:
		return "18: the spindle runs for the host in set-up"
	case rose && (s.Started == 0 || !asked || in.Bits&InDoorClosed == 0 || s.Spin != SpindleKeep):
		return "7: the spindle starts without START, lease, request, closed door or in a reaction"
	case s.Spindle == SpindleRun && !asked:
		return "8: the spindle outlives its lease or request"
	case s.Spindle == SpindleRun && before.Spindle == SpindleCreep && s.Started == 0:
		return "7: the spindle speeds up without START"
	case powered != (s.Spindle != SpindleOff):
		return "8: power and phase differ"
	case !powered && out.SpindleDrpm != 0 || s.Spindle == SpindleRamp && out.SpindleDrpm != 0:
		return "8: a set-point without a reason to turn"
	case out.SpindleDrpm > limits.SpindleMaxDrpm:
		return "8: faster than the most"
	case s.Spindle == SpindleRun && before.Spindle == SpindleRun && s.Started == 0 && s.SpinSet > before.SpinSet:
		return "7: the spindle turns faster without START"
	case s.Spindle == SpindleRun && s.Started != 0 && out.SpindleDrpm != min(in.Request.SpindleDrpm, limits.SpindleMaxDrpm):
		return "8: not the speed that was asked for"
	case s.Spindle == SpindleCreep && s.Touching != 0 && s.Touch == PressToPart:
		if out.SpindleDrpm != s.SpinSet || s.SpinSet > limits.SpindleMaxDrpm {
			return "5: the spindle leaves its press state while the halves part"
		}
	case s.Spindle == SpindleCreep && (out.SpindleDrpm > limits.CreepDrpm || out.SpindleDrpm == 0):
		return "5: creep is not slow, or stands"
	case s.Spindle == SpindleCreep && n.phaseMs >= limits.CreepMs:
		return "5: creep does not end by itself"
	case s.Spindle == SpindleRamp && n.phaseMs >= uint32(limits.RampMs):
		return "5: power stays after the ramp"
	case s.Spin == SpindleToOff && powered:
		return "12: powered in a reaction that takes power off"
	case s.Spin == SpindleToRamp && (s.Spindle == SpindleRun || s.Spindle == SpindleCreep):
		return "12: not ramping in a reaction that ramps"
	case s.Spin == SpindleToCreep && before.Spindle == SpindleRun && s.Spindle != SpindleCreep:
		return "19: not creeping in a reaction that creeps"
	case before.Spindle == SpindleRamp && s.Spindle != SpindleRamp && s.Spindle != SpindleOff:
		return "7: a ramp is taken back"
	case before.Spindle == SpindleRamp && s.Spindle == SpindleOff && s.Spin != SpindleToOff &&
		before.SpinMs+1 < uint32(limits.RampMs):
		return "12: power off before the ramp is over"
	case before.Spindle == SpindleCreep && s.Spindle == SpindleRamp && s.Spin < SpindleToRamp &&
		before.SpinMs+1 < limits.CreepMs:
		return "12: creep ends early: soft glass would drop"
	case before.Spindle == SpindleRun && s.Spindle == SpindleRun && s.SpinSet == 0:
		return "8: running at no speed"
	}
	return ""
}

func spindleSearch(p *part, limits Config) *search[spindleNode] {
	every := spindleWords.every()
	// Reaction and request in every pair, a person's doings in every combination;
	// in full, sampled nodes try all letters.
	chosen := append(spindleWords.choose(1<<sReaction|1<<sAsked, 1, none),
		spindleWords.choose(1<<sStarted|1<<sTurn|1<<sSetUp, 1, none)...)
	sample := uint64(0)
	if *full {
		sample = 1 << 8
	}
	rest := spindleWords.letter([]uint8{0, 3, 1, 0, 0, 0})
	return &search[spindleNode]{
		name: "spindle", start: []spindleNode{{s: quiet}}, say: p.words.say,
		key:     func(n *spindleNode) uint64 { return p.pack(&n.s)*0x9E3779B97F4A7C15 ^ mix(uint64(n.phaseMs)) },
		letters: func(*spindleNode) []uint32 { return chosen },
		all:     func(*spindleNode) []uint32 { return every }, sample: sample,
		next: func(n *spindleNode, letter uint32) string {
			before := n.s
			p.dressed(&before, letter)
			p.step(&n.s, letter)
			broken := n.watch(&limits, &before, &p.in, &p.out)
			canonSpindle(&p.config, &n.s)
			return broken
		},
		operator: func(*spindleNode) uint32 { return rest },
		idle:     func(n *spindleNode) bool { return n.s.Spindle == SpindleOff },
	}
}

func spindleLetter(c *Config, before, after *State, in *Input) []uint8 {
	d := make([]uint8, len(spindleWords))
	link := *before
	sense(c, &link, in)
	stepLink(c, &link, in)
	d[sReaction] = after.Spin + 1
	if after.Spin == SpindleKeep {
		d[sReaction] = uint8(one(after.Lock != LockNone))
	}
	switch {
	case !leased(c, &link, iSpindle):
		d[sAsked] = 4
	case in.Request.SpindleDrpm == 0:
		d[sAsked] = 3
	}
	d[sStarted] = uint8(one(link.Started == 0))
	if !has(in, InDoorClosed) {
		d[sDoor] = 1 + link.Hands[HandsTurn].Given
	}
	if has(in, InHoldTurn) {
		d[sTurn] = 2 - link.HoldSeen>>2
	}
	if chuckOpen(c, in) && before.Spindle == SpindleOff { // starts nothing, as if nobody asked
		d[sAsked], d[sTurn] = max(d[sAsked], 3), 0
	} else if chuckOpen(c, in) {
		d[sTurn] = 0
	}
	d[sSetUp] = uint8(one(setUp(c, in)))
	return d
}

func scrambleForSpindle(rnd *rand.Rand, s *State) {
	s.Burner, s.Press = uint8(rnd.IntN(int(NumBurner))), uint8(rnd.IntN(int(NumPress)))
	s.Touching, s.Homed, s.HoldSeen = uint8(rnd.IntN(2)), uint8(rnd.IntN(2)), uint8(rnd.IntN(4))
	s.PhaseMs, s.FlameMs, s.DarkMs = rnd.Uint32N(70000), uint16(rnd.IntN(2000)), uint16(rnd.IntN(6000))
	s.Trips, s.ErrorSum = 1<<rnd.IntN(int(NumCauses)), rnd.Uint32N(errorMax)
	s.StallMs, s.StillMs, s.BlockMs = uint16(rnd.IntN(600)), uint16(rnd.IntN(2100)), uint16(rnd.IntN(250))
}

func TestExploreSpindle(t *testing.T) {
	t.Parallel()
	c := testConfig()
	if !*full {
		c.CreepMs, c.RampMs = 2400, 20 // 120 to 1, as at production
	}
	s := spindleSearch(spindlePart(c), c)
	f := s.explore(t)
	// SV-042's sibling: creep ends by itself, and no sooner.
	if want := c.CreepMs + uint32(c.RampMs); f.longestWay != want {
		t.Errorf("the spindle needs %d ms at most to come to rest; want %d", f.longestWay, want)
	}
}

func TestExploreSpindleInside(t *testing.T) {
	c := shortConfig()
	c.CreepMs, c.RampMs = 240, 2
	spindlePart(c).holdsInside(t, 60000, func(*State, *State, *State) bool { return false })
}
