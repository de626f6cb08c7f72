package warden

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"unsafe"
)

// The product: the whole Step with all five machines at once, in an ideal
// plant that does in the next tick what the outputs say, with a host that
// changes its mind and inputs that lie. In each tick at most one thing changes
// (two that change together are also reached one after the other, save for the
// tick between); at most `most` things are away from nominal at once.
//
// The constants are shortened in the same order. Where that would take too many
// ticks, and for numbers written into the code, the timer may end at any tick
// while it runs: that allows more than the truth and hides nothing.

// productConfig keeps the order of the constants that are counted through,
// equal ones equal: 100 < 200 < 300 < 500 < 600 < 1,000 < 2,000 < 3,000. The
// longer ones only need to be longer: they may end at any tick (see jumps).
func productConfig() Config {
	c := testConfig()
	c.FlameOnMs = 1
	c.PressureMs = 2
	c.ViewMs = 3
	c.LeaseMs, c.OffMs, c.ExtractionMs, c.HandsMs = 3, 3, 3, 3
	c.FlameOffMs = 4
	c.IgniterMs, c.ProveMs, c.ProveDarkMs, c.OxygenAfterMs, c.RampMs, c.EaseMs = 5, 5, 5, 5, 5, 5
	c.EaseStepDN = 800
	c.SlideMs, c.SpindleStallMs = 6, 6
	c.TrialMs, c.ButtonMs = 7, 7
	c.CheckMs = 50
	c.ExtractionWaitMs = 100
	c.RetractMs = 150
	c.PurgeMs, c.PostPurgeMs = 300, 300
	c.ArmMs = 600
	c.CreepMs = 1200
	c.ParkMs = 6000
	c.PartMs, c.PartOpenMs = 8, 150
	c.FittedAnalog &^= 1<<AiFuelFlow | 1<<AiOxygenFlow // a machine of their own (TestExploreFlow)
	c.HandCmms = 60000                                 // this plant moves a whole stretch in a tick
	return c
}

// What can lie or be pressed, one bit each of node.away.
const (
	xEstop = iota
	xDoor
	xBlind
	xFalseFlame
	xNoFlow
	xStill
	xCold
	xSilent
	xOxygenLow
	xSlide
	xNoOpen
	xOverForce
	xMains
	xFeedback
	xNoSpark
	xFalls
	xFlowStuck
	xSticks
	xForceCut
	xChuck
	xSetUp
	xLeft
	xBoth
	xTurn
	xReset
	xHoldOpen
	xHoldClose
	xStart
	xCount
)

var productAway = [xCount]string{"emergency stop", "door open", "flame sensor blind", "false flame",
	"no extraction", "spindle still", "glass cold", "host silent", "oxygen pressure low", "slide stuck",
	"open switch dead", "over-force", "mains lost", "fuel feedback wrong", "igniter dead", "press falls",
	"extraction switch stuck", "glass sticks", "force wire cut", "chuck open", "set-up", "left hand", "two hands",
	"hold turn", "RESET", "hold open", "hold close", "START"}

const xButtons = 1<<xReset | 1<<xHoldOpen | 1<<xHoldClose | 1<<xStart

// What the host may ask.
var productIntents = []string{"rest and reset", "arm", "light", "heat", "press", "open", "abort", "arm while lit"}

const (
	iReset uint8 = iota
	iArm
	iLight
	iHeat
	iPressing
	iOpen
	iAbort
	iPark
)

// jumps are the timers that may end at any tick while they run: those whose
// end is written into the code, and the long ones, of which the product so
// covers every length and order.
var jumps = []struct {
	name string
	runs func(*Config, *State) bool
	to   func(*Config, *State)
}{
	{"blocked 200 ms", func(_ *Config, s *State) bool { return s.BlockMs > 0 },
		func(_ *Config, s *State) { s.BlockMs = 199 }},
	{"marker 1 s", func(_ *Config, s *State) bool { return s.NVMs > 0 },
		func(_ *Config, s *State) { s.NVMs = 999 }},
	{"pull 500 ms", func(_ *Config, s *State) bool { return s.PullMs > 0 },
		func(_ *Config, s *State) { s.PullMs = 499 }},
	{"fuel shut 2 s", func(_ *Config, s *State) bool { return s.FuelOffMs > 0 && s.FuelOffMs < 1999 && s.FlameMs > 0 },
		func(_ *Config, s *State) { s.FuelOffMs = 1999 }},
	{"proof 5 s", func(_ *Config, s *State) bool { return s.Burner == BurnerProve || s.Burner == BurnerProveDark },
		func(_ *Config, s *State) { s.PhaseMs = proveLongestMs - 1 }},
	{"fuel feedback 1 s", func(_ *Config, s *State) bool { return s.FeedMs > 0 },
		func(c *Config, s *State) { s.FeedMs = c.ValveCloseMs + 499 }},
	{"unburnt fuel", func(_ *Config, s *State) bool { return fuelOpen(s) && s.DarkMs > 0 },
		func(c *Config, s *State) { s.Unburnt = unburntLimit(c) }},
	{"old gas drains", func(_ *Config, s *State) bool { return s.Unburnt != 0 },
		func(_ *Config, s *State) { s.Unburnt = 0 }},
	{"START held 3 s", func(_ *Config, s *State) bool { return s.StartMs > 0 },
		func(c *Config, s *State) { s.StartMs = c.ButtonMs - 1 }},
	{"RESET held 3 s", func(_ *Config, s *State) bool { return s.ResetMs > 0 },
		func(c *Config, s *State) { s.ResetMs = c.ButtonMs - 1 }},
	{"armed 60 s", func(_ *Config, s *State) bool { return s.Armed != 0 },
		func(c *Config, s *State) { s.ArmMs = c.ArmMs - 1 }},
	{"creep 120 s", func(_ *Config, s *State) bool { return s.Spindle == SpindleCreep },
		func(c *Config, s *State) { s.SpinMs = c.CreepMs - 1 }},
	{"parked", func(_ *Config, s *State) bool { return s.ParkMs > 0 },
		func(c *Config, s *State) { s.ParkMs = c.ParkMs - 1 }},
	{"burning for 8 h", func(_ *Config, s *State) bool { return s.Burner == BurnerRun },
		func(c *Config, s *State) { s.RunMs = c.RunMs - 1 }},
	{"sharp at the blank", func(_ *Config, s *State) bool { return s.SharpMs > 0 },
		func(c *Config, s *State) { s.SharpMs = c.SharpMs - 1 }},
	{"dark 5 s", func(_ *Config, s *State) bool { return s.Burner == BurnerCheck && s.DarkMs > 0 },
		func(c *Config, s *State) { s.DarkMs = c.CheckMs - 1 }},
	{longPhaseEnds, longPhase, func(c *Config, s *State) {
		s.PhaseMs = [...]uint32{BurnerCheck: uint32(c.CheckMs), BurnerPurge: c.PurgeMs, BurnerPostPurge: c.PostPurgeMs}[s.Burner] - 1
	}},
	{"no flow 10 s", func(c *Config, s *State) bool { return s.NoFlowMs > 0 },
		func(c *Config, s *State) { s.NoFlowMs = c.ExtractionWaitMs - 1 }},
	{"opening 15 s", func(_ *Config, s *State) bool { return s.PressMs > 0 },
		func(c *Config, s *State) { s.PressMs = c.RetractMs - 1 }},
	{"travel stands 500 ms", func(_ *Config, s *State) bool { return s.StandMs > 0 },
		func(_ *Config, s *State) { s.StandMs = standMs - 1 }},
	{"no force at the stop 300 ms", func(_ *Config, s *State) bool { return s.UnfeltMs > 0 },
		func(_ *Config, s *State) { s.UnfeltMs = unfeltMs - 1 }},
	{"press wires 20 ms", func(_ *Config, s *State) bool { return s.ForceLostMs|s.TravelLostMs > 0 },
		func(_ *Config, s *State) {
			s.ForceLostMs, s.TravelLostMs = uint16(one(s.ForceLostMs > 0))*(sensingMs-1), uint16(one(s.TravelLostMs > 0))*(sensingMs-1)
		}},
	{"spindle fast 200 ms", func(_ *Config, s *State) bool { return s.FastMs > 0 },
		func(_ *Config, s *State) { s.FastMs = fastMs - 1 }},
	{"chuck open 100 ms", func(_ *Config, s *State) bool { return s.ChuckMs > 0 },
		func(_ *Config, s *State) { s.ChuckMs = chuckMs - 1 }},
	{"slide 2 s", func(_ *Config, s *State) bool { return s.SlideMs > 0 },
		func(c *Config, s *State) { s.SlideMs = c.SlideMs - 1 }},
}

const longPhaseEnds = "check, purge or post-purge ends"

func longPhase(_ *Config, s *State) bool {
	return s.PhaseMs > 0 && (s.Burner == BurnerCheck || s.Burner == BurnerPurge || s.Burner == BurnerPostPurge)
}

type productNode struct {
	s      State
	away   uint32
	intent uint8
	pos    uint8 // press: 0 open, 1 near, 2 far, 3 contact
	slide  uint8 // 0 clear, 1 between, 2 at the blank
	lit    bool
	flow   bool
	nv     uint8
	in     uint32 // bits of the last tick
	// an outsider's memory
	noFlow, still, seq uint8
	freshGo            bool
}

const (
	letterNothing uint32 = iota
	letterAway           // .. xCount of them
	letterIntent  = letterAway + xCount
	letterJump    = letterIntent + 8
)

func sayProduct(letter uint32) string {
	switch {
	case letter >= letterJump:
		return "expires: " + jumps[letter-letterJump].name
	case letter >= letterIntent:
		return "host: " + productIntents[letter-letterIntent]
	case letter >= letterAway:
		return "toggle: " + productAway[letter-letterAway]
	}
	return "nominal"
}

func readProduct(word string) (uint32, error) {
	for letter := range letterJump + uint32(len(jumps)) {
		if sayProduct(letter) == word {
			return letter, nil
		}
	}
	return 0, fmt.Errorf("%q is no word of the product", word)
}

// product is one exploration's setting.
type product struct {
	c, limits Config
	faults    uint32 // which lies take part
	most      int    // away from nominal at once
	tame      bool   // the host keeps to the order of a cycle or goes back to rest; buttons in season
	step      func(*Config, *State, *Input, *Output)
	in        Input
	out       Output
	buffer    []uint32
}

func newProduct(c Config, faults uint32, most int) *product {
	return &product{c: c, limits: c, faults: faults | xButtons, most: most, step: explored}
}

func (p *product) first() productNode {
	n := productNode{nv: NVClear}
	Init(&n.s, NVClear)
	p.canon(&n.s)
	return n
}

// letters of a node: all single changes that keep to the setting.
func (p *product) letters(n *productNode) []uint32 {
	out := append(p.buffer[:0], letterNothing)
	away := 0
	for i := range uint32(xCount) {
		away += int(n.away >> i & 1)
	}
	for i := range uint32(xCount) {
		if n.away&(1<<i) != 0 || p.faults&(1<<i) != 0 && away < p.most && p.season(n, i) {
			out = append(out, letterAway+i)
		}
	}
	for i := range uint32(len(productIntents)) {
		next := i == 0 || i == uint32(n.intent)+1 || i == uint32(iArm) && n.intent == iOpen
		if uint8(i) != n.intent && (next || !p.tame) {
			out = append(out, letterIntent+i)
		}
	}
	for i := range jumps {
		if jumps[i].runs(&p.c, &n.s) {
			out = append(out, letterJump+uint32(i))
		}
	}
	p.buffer = out
	return out
}

// season: tame persons press a button only when it should do something.
func (p *product) season(n *productNode, i uint32) bool {
	if !p.tame || i < xReset {
		return true
	}
	switch i {
	case xStart:
		return n.s.Armed != 0
	case xReset:
		return n.s.Lock != LockNone
	}
	return n.s.Started == 0 && (n.pos != 0 || n.is(xSetUp))
}

func (n *productNode) is(bit uint32) bool { return n.away&(1<<bit) != 0 }

// next takes one tick: the letter, the inputs, the real Step, the invariants,
// the plant.
func (p *product) next(n *productNode, letter uint32) string {
	switch {
	case letter >= letterJump:
		jumps[letter-letterJump].to(&p.c, &n.s)
	case letter >= letterIntent:
		n.intent = uint8(letter - letterIntent)
	case letter >= letterAway:
		n.away ^= 1 << (letter - letterAway)
	}
	before := n.s
	p.sense(n)
	p.ask(n)
	p.step(&p.c, &n.s, &p.in, &p.out)
	broken := p.watch(n, &before)
	p.plant(n)
	n.in = p.in.Bits & (InReset | InStart)
	p.canon(&n.s)
	return broken
}

// sense makes the inputs from the plant and the lies.
func (p *product) sense(n *productNode) {
	in := &p.in
	*in = Input{AnalogOK: 1<<NumAnalog - 1, NV: n.nv}
	put := func(bit uint32, on bool) {
		if on {
			in.Bits |= bit
		}
	}
	put(InEstopOK, !n.is(xEstop))
	put(InDoorClosed, !n.is(xDoor))
	put(InMainsOK, !n.is(xMains))
	put(InChuckClamped, !n.is(xChuck))
	put(InFlame, n.lit && !n.is(xBlind) || n.is(xFalseFlame))
	put(InExtraction, n.flow && !n.is(xNoFlow) || n.is(xFlowStuck))
	put(InOxygenLow, n.is(xOxygenLow))
	put(InPressOpen, n.pos == 0 && !n.is(xNoOpen))
	put(InBurnerClear, n.slide == 0)
	put(InBurnerAtBlank, n.slide == 2)
	put(InFuelShut, !fuelOpen(&n.s) != n.is(xFeedback))
	put(InOxygenShut, n.s.Out.Bits&OutOxygen == 0)
	put(InStart, n.is(xStart))
	put(InReset, n.is(xReset))
	put(InHoldOpen, n.is(xHoldOpen))
	put(InHoldClose, n.is(xHoldClose))
	put(InSetUp, n.is(xSetUp))
	put(InTwoHandLeft, n.is(xLeft) || n.is(xBoth))
	put(InTwoHandRight, n.is(xBoth))
	put(InHoldTurn, n.is(xTurn))
	in.Analog[AiTravel] = [...]int16{0, 40, 3000, 5000}[n.pos]
	if n.is(xNoOpen) {
		in.AnalogOK &^= 1 << AiTravel
	}
	in.Analog[AiGlass] = 8800
	if n.is(xCold) {
		in.Analog[AiGlass] = 7000
	}
	if n.s.Spindle == SpindleRun || n.s.Spindle == SpindleCreep || n.s.Spindle == SpindleHand {
		in.Analog[AiSpindle] = int16(n.s.Out.SpindleDrpm)
	}
	if n.is(xStill) {
		in.Analog[AiSpindle] = 0
	}
	if n.pos == 3 && n.s.Out.Bits&OutPressClose != 0 {
		in.Analog[AiForce] = int16(n.s.Out.ForceDN)
	}
	if n.is(xSticks) && n.s.Out.Bits&OutPressOpen != 0 && n.pos == 3 {
		in.Analog[AiForce] = -int16(p.c.PullMaxDN)
	}
	if n.is(xForceCut) {
		in.AnalogOK &^= 1 << AiForce
	}
	if n.is(xOverForce) {
		in.Analog[AiForce] = int16(p.c.OverForceDN) + 1
	}
}

// ask makes the host's request.
func (p *product) ask(n *productNode) {
	r := &p.in.Request
	r.Lease, r.ArmID, r.GlassLowDC, r.GlassHighDC = 15, n.s.ArmID, 8000, 9500
	r.FuelMl, r.OxygenMl = 1000, 4000
	r.TravelCmm, r.SpeedCmms, r.ForceDN = 5500, 1000, 4000
	p.in.Fresh = uint8(one(!n.is(xSilent)))
	switch n.intent {
	case iReset:
		r.Flags = ReqReset
	case iArm, iPark:
		r.Flags = ReqArm
		if n.s.Armed == 0 && n.s.Started == 0 {
			r.ArmID = newID(&n.s)
		}
		if n.intent == iPark {
			r.Flags |= ReqFlame
			r.SpindleDrpm = 600
		}
	case iLight:
		r.Flags = ReqCycle | ReqFlame
	case iHeat:
		r.Flags = ReqCycle | ReqFlame | ReqBurnerIn | ReqOxygen
		r.FuelMl, r.SpindleDrpm = 2800, 600
	case iPressing:
		r.Flags, r.Press, r.SpindleDrpm = ReqCycle|ReqFlame, PressForce, 600
	case iOpen:
		r.Flags, r.Press, r.SpindleDrpm = ReqCycle|ReqFlame, PressOpen, 600
	case iAbort:
		r.Flags = ReqCycle | ReqAbort
	}
	if r.Press != PressNone && !option(&p.c, OptSpindleTurns) {
		r.SpindleDrpm = 0
	}
}

// plant follows the outputs in one tick.
func (p *product) plant(n *productNode) {
	bits := p.out.Bits
	fuel := bits&OutFuel == OutFuel
	n.lit = fuel && (n.lit || bits&OutIgniter != 0 && !n.is(xNoSpark))
	n.flow = bits&OutFan != 0
	n.nv = p.out.NV
	if !n.is(xSlide) {
		switch in := bits&OutBurnerIn != 0; {
		case in && n.slide < 2:
			n.slide++
		case !in && n.slide > 0:
			n.slide--
		}
	}
	switch {
	case (bits&OutPressClose != 0 || n.is(xFalls)) && n.pos < 3:
		n.pos++
	case bits&OutPressOpen != 0 && n.pos > 0 && !(n.is(xSticks) && n.pos == 3):
		n.pos--
	}
}

// watch is the invariants across machines, from inputs and outputs.
func (p *product) watch(n *productNode, before *State) string {
	s, in, out, c := &n.s, &p.in, &p.out, &p.limits
	fuel, oxygen := out.Bits&OutFuel != 0, out.Bits&OutOxygen != 0
	rose := out.Bits &^ before.Out.Bits
	energise := energising | OutSpindle
	door, open := in.Bits&InDoorClosed != 0, in.Bits&InPressOpen != 0 ||
		in.AnalogOK&(1<<AiTravel) != 0 && in.Analog[AiTravel] <= c.HeatCmm
	turning := in.Analog[AiSpindle] >= int16(c.SpindleHeatDrpm)
	pushes := s.Press == PressClosing || s.Press == PressContact
	if before.Started == 0 && s.Started != 0 {
		n.freshGo = true
	}
	byHand := uint16(one(s.Press == PressHandClose))*OutPressClose |
		uint16(one(s.Spindle == SpindleHand && in.Bits&InSetUp != 0))*OutSpindle
	n.count(c, in, out, fuel, oxygen, turning)
	switch {
	case fuel && out.Bits&OutFuel != OutFuel:
		return "1: one fuel valve open, the other not"
	case fuel && s.Burner >= BurnerRun && s.DarkMs >= c.FlameOffMs:
		return "1: fuel outlives the flame"
	case fuel && s.Burner == BurnerTrial && s.TrialMs > c.TrialMs:
		return "1: trial too long"
	case s.Burner == BurnerRun && out.Bits&OutIgniter != 0:
		return "1: igniter on in run"
	case rose&OutOxygen != 0 && s.FlameMs < c.OxygenAfterMs:
		return "2: oxygen before the flame is proven"
	case oxygen && !fuel:
		return "2: oxygen without fuel"
	case fuel && s.Unburnt >= unburntLimit(c):
		return "3: fuel open with the budget used up"
	case in.Bits&InEstopOK == 0 && (out.Bits&(energising|OutPressOpen) != 0 || rose&OutSpindle != 0):
		return "4: energised with the emergency stop open"
	case s.Lock == LockLockout && (out.Bits&(energising&^OutPressClose) != 0 || rose&energise != 0):
		return "5: energised in lockout"
	case before.Lock == LockLockout && s.Lock != LockLockout &&
		!(in.Bits&InReset != 0 && n.in&InReset == 0):
		return "5: lockout ended without an edge of RESET"
	case rose&OutFuel != 0 && !n.freshGo:
		return "6: fuel opened again without a new START"
	case rose&energise&^byHand != 0 && s.Started == 0:
		return "7: an energising output rose without START"
	case s.Lock != LockNone && (s.Started != 0 || s.Armed != 0):
		return "7: a trip leaves START in force"
	case n.s.LinkMs >= c.LeaseMs && (fuel || out.Bits&(OutIgniter|OutBurnerIn) != 0 || pushes ||
		s.Spindle == SpindleRun):
		return "8: an output outlives the link"
	case !door && (oxygen || out.Bits&(OutIgniter|OutBurnerIn) != 0 || fuel && !p.parked(n, before) || !n.guarded(out) ||
		s.Spindle == SpindleRun || s.Spindle == SpindleCreep):
		return "9: energised or moving with the door open"
	case in.Bits&InSetUp != 0 && (oxygen || out.Bits&(OutIgniter|OutBurnerIn) != 0 || pushes ||
		s.Spindle == SpindleRun || s.Spindle == SpindleCreep):
		return "18: a cycle goes on in set-up"
	case pushes && before.Press != PressClosing && before.Press != PressContact && in.Bits&InPressOpen != 0 &&
		!p.mayLeave(n, before):
		return "9: the press leaves open without every permit"
	case rose&OutBurnerIn != 0 && (!open || fuel && !(turning && in.Bits&InExtraction != 0)):
		return "10: burner sent in with the press not open, the spindle still or no extraction"
	case rose&OutFuel != 0 && !(in.Bits&InExtraction != 0 && in.Bits&InPressOpen != 0 && in.Bits&InBurnerClear != 0):
		return "10: fuel opens without extraction, press open and burner clear"
	case n.noFlow > uint8(c.ExtractionMs+c.OffMs)+1:
		return "10: fuel open without extraction"
	case n.still > uint8(c.SpindleStallMs)+1:
		return "10: flame at the blank over a still spindle"
	}
	return p.watchReactions(n, before, fuel, oxygen)
}

func (n *productNode) count(c *Config, in *Input, out *Output, fuel, oxygen, turning bool) {
	run := func(t *uint8, on bool) {
		*t = (*t + 1) * uint8(one(on))
	}
	run(&n.noFlow, fuel && in.Bits&InExtraction == 0)
	run(&n.still, fuel && in.Bits&InBurnerAtBlank != 0 && !turning)
	run(&n.seq, fuel && n.s.Gas == GasSequenced)
}

// parked: a soft flame, clear of the stroke, that the profile allows with the
// door open, and the tick in which it is put out.
func (p *product) parked(n *productNode, before *State) bool {
	return option(&p.limits, OptParkedDoorOpen) && before.Burner >= BurnerProveDark && p.in.Bits&InBurnerClear != 0 &&
		p.out.FuelMl <= p.limits.SoftMaxMl
}

// guarded: with the door open the press closes only under the hands that belong
// to the movement; force may still be easing away, and a person may open.
func (n *productNode) guarded(out *Output) bool {
	if out.Bits&(OutPressClose|OutPressOpen) == 0 || n.s.Press == PressEasing {
		return true
	}
	switch n.s.Press {
	case PressHandOpen:
		return true // one hand frees
	case PressHandClose:
		return n.s.Hands[HandsClose].Given != 0
	}
	return n.s.Hands[HandsStroke].Given != 0
}

// mayLeave: invariant 9's permits when a stroke begins at the open switch.
func (p *product) mayLeave(n *productNode, before *State) bool {
	in, s := &p.in, &n.s
	speed := in.Analog[AiSpindle]
	fuel := before.Out.Bits&OutFuel != 0
	ready := speed >= int16(p.limits.PressLowDrpm) && speed <= int16(p.limits.PressHighDrpm)
	if !option(&p.limits, OptSpindleTurns) {
		ready = speed <= 10
	}
	return s.Started != 0 && (in.Bits&InDoorClosed != 0 || s.Hands[HandsStroke].Given != 0) && s.Homed != 0 && s.Above == PressKeep &&
		ready && in.Bits&InBurnerClear != 0 && in.Bits&InBurnerAtBlank == 0 && !(fuel && s.Oxygen != 0) &&
		in.Analog[AiGlass] >= 8000 && in.Analog[AiGlass] <= 9500
}

func (p *product) watchReactions(n *productNode, before *State, fuel, oxygen bool) string {
	s, in, out, c := &n.s, &p.in, &p.out, &p.limits
	if fuel {
		n.freshGo = n.freshGo && before.Out.Bits&OutFuel != 0
	}
	var want Reaction
	for _, cause := range rows() {
		if (s.Trips|s.Present)&(1<<cause) != 0 {
			row := Matrix[cause]
			want = Reaction{max(want.Gas, row.Gas), max(want.Spindle, row.Spindle), max(want.Above, row.Above),
				max(want.Contact, row.Contact), max(want.Lock, row.Lock)}
		}
	}
	column := s.Above
	if s.Touching != 0 {
		column = s.Touch
	}
	switch {
	case before.Out.Bits&OutFuel != 0 && !fuel && oxygen:
		return "11: fuel shut before oxygen"
	case s.Gas == GasShut && (fuel || oxygen), s.Gas == GasSequenced && oxygen:
		return "11: gas open in a reaction that shuts it"
	case n.seq > uint8(c.OffMs):
		return "11: fuel stays open in a sequenced reaction"
	case want != Reaction{s.Gas, s.Spin, s.Above, s.Touch, s.Lock}:
		return "12: not the strongest of each column"
	case column >= PressToStay && out.Bits&OutPressClose != 0 && s.Press != PressEasing && s.Press != PressHandClose:
		return "12: pushing in a reaction that stays or is off"
	case s.Spin >= SpindleToRamp && (s.Spindle == SpindleRun || s.Spindle == SpindleCreep):
		return "12: the spindle turns on in a reaction that stops it"
	case s.Trips != 0 && (s.First == CauseNone || s.Trips&(1<<s.First) == 0), s.Trips == 0 && s.First != CauseNone:
		return "15: not exactly one first cause"
	case column == PressToPart && s.Press == PressOpening && (in.Bits&InDoorClosed == 0 || s.Homed == 0 || s.Trips&noParting != 0):
		return "12: parting without closed door or known position, or after a cause that bars it"
	case out.Bits&OutPressClose != 0 && s.Press == PressHandClose && (in.Bits&InHoldClose == 0 || fuel):
		return "17: hold-to-run without its button or with fuel open"
	}
	return ""
}

// projected is all that the other machines and the outputs see of a set of
// causes: the columns, whether any of them means a leak, and whether any bars the
// halves from parting.
type projected struct {
	Reaction
	leak, stays bool
}

func (p projected) with(cause uint8) projected {
	return projected{Strongest(p.Reaction, Matrix[cause].Reaction), p.leak || leakRows&(1<<cause) != 0,
		p.stays || noParting&(1<<cause) != 0}
}

// columnTrips are sets of causes that stand for every combination of these.
var columnTrips = func() map[projected]uint64 {
	all := map[projected]uint64{{}: 0}
	for grown := true; grown; {
		grown = false
		for r, trips := range all {
			for _, cause := range rows() {
				sum := r.with(cause)
				if _, known := all[sum]; !known && Matrix[cause].Lock != LockNone {
					all[sum], grown = trips|1<<cause, true
				}
			}
		}
	}
	return all
}()

// projectLatch replaces what has tripped by the set that stands for its
// columns. Nothing else of the latch matters: who may reset is decided by the
// lock, and whether by no latching cause being present, since what is present
// is always among what has tripped. Present matters as none or some, and only
// without a lock; then it can only be row 37.
func projectLatch(s *State) {
	var r projected
	for trips := s.Trips; trips != 0; trips &= trips - 1 {
		r = r.with(lowest(trips))
	}
	s.Trips = columnTrips[r]
	s.First = CauseNone
	if s.Trips != 0 {
		s.First = lowest(s.Trips)
	}
	s.Present &= 1 << CauseButton
	if s.Lock != LockNone {
		s.Present = 0
	}
}

func lowest(set uint64) (bit uint8) {
	for set&1 == 0 {
		set >>= 1
		bit++
	}
	return bit
}

// canon stops every timer where it no longer matters.
func (p *product) canon(s *State) {
	c := &p.c
	projectLatch(s)
	used, id := s.UsedArmID, s.ArmID
	canonLink(c, s)
	if s.Armed == 0 && used == id {
		s.UsedArmID = s.ArmID
	}
	canonBurner(c, s)
	canonSpindle(c, s)
	canonPress(c, s)
	for i := range s.LeaseMs {
		s.LeaseMs[i] = min(s.LeaseMs[i], c.LeaseMs)
	}
	s.SoftMs = forever
	s.FlowMs = 0
	if s.Burner != BurnerRun {
		s.ParkMs, s.RunMs = 0, 0
	}
	for i := range s.Hands {
		h := &s.Hands[i]
		h.Ms = min(h.Ms, c.HandsMs+1) * uint16(h.Ready)
		if p.faults&(1<<xLeft|1<<xBoth) == 0 {
			*h = Hands{}
		}
	}
	for i := range s.SwitchMs {
		s.SwitchMs[i] = min(s.SwitchMs[i], c.PressureMs)
	}
	s.ClearMs = min(s.ClearMs, c.ViewMs)
	s.StillMs, s.StallMs = min(s.StillMs, c.SpindleStallMs), min(s.StallMs, c.SpindleStallMs)
	if option(c, OptViewAlways) {
		s.ClearMs = 0
	}
	p.canonJumps(s)
	switch limit := unburntLimit(c); {
	case s.Unburnt >= limit:
		s.Unburnt = limit
	case s.Unburnt <= unburntStart:
		s.Unburnt = 0
	default:
		s.Unburnt = unburntStart + 1000
	}
	if s.Armed == 0 && s.Started == 0 {
		s.WindowLow, s.WindowHi = 0, 0
	}
	s.Out.OxygenMl = 0
	if s.Press != PressClosing && s.Press != PressHandClose { // nothing stands on them then
		s.Out.SpeedCmms, s.Out.TravelCmm, s.StandCmm = 0, 0, 0
	}
}

// canonJumps: of a timer that may jump, running or not is all that is kept,
// and what it counts on the way.
func (p *product) canonJumps(s *State) {
	c := &p.c
	s.BlockMs, s.NVMs, s.PullMs = running(s.BlockMs, 1, 199), running(s.NVMs, 1, 999), running(s.PullMs, 1, 499)
	s.FeedMs, s.FeedOxMs = running(s.FeedMs, 1, c.ValveCloseMs+499), 0
	s.FuelOffMs = running(s.FuelOffMs, 1, 1999)
	s.StartMs, s.ResetMs = running(s.StartMs, 1, c.ButtonMs-1), running(s.ResetMs, 1, c.ButtonMs-1)
	s.StartMs, s.ResetMs = min(s.StartMs, c.ButtonMs), min(s.ResetMs, c.ButtonMs)
	s.StandMs, s.UnfeltMs = running(s.StandMs, 1, standMs-1), running(s.UnfeltMs, 1, unfeltMs-1)
	s.FastMs, s.ChuckMs = running(s.FastMs, 1, fastMs-1), running(s.ChuckMs, 1, chuckMs-1)
	s.HandMs, s.HandFromCmm = 0, 0 // this plant never moves too fast
	s.ForceLostMs = running(s.ForceLostMs, 1, sensingMs-1)
	s.TravelLostMs = running(s.TravelLostMs, 1, sensingMs-1)
	s.NoFlowMs = running(s.NoFlowMs, c.ExtractionMs, c.ExtractionWaitMs-1)
	s.PressMs, s.SlideMs = running(s.PressMs, 1, c.RetractMs-1), running(s.SlideMs, 1, c.SlideMs-1)
	s.DarkMs = running(s.DarkMs, c.FlameOffMs, c.CheckMs-1)
	s.RunMs, s.SharpMs = running(s.RunMs, 0, c.RunMs-1), running(s.SharpMs, 1, c.SharpMs-1)
	s.ArmMs, s.ParkMs = running(s.ArmMs, 1, c.ArmMs-1), running(s.ParkMs, 1, c.ParkMs-1)
	if s.Spindle == SpindleCreep {
		s.SpinMs = running(s.SpinMs, 1, c.CreepMs-1)
	}
	switch s.Burner {
	case BurnerCheck:
		s.PhaseMs = running(s.PhaseMs, 1, uint32(c.CheckMs)-1)
	case BurnerPurge:
		s.PhaseMs = running(s.PhaseMs, 1, c.PurgeMs-1)
	case BurnerPostPurge:
		s.PhaseMs = running(s.PhaseMs, 1, c.PostPurgeMs-1)
	case BurnerProve, BurnerProveDark:
		s.PhaseMs = running(s.PhaseMs, uint32(c.ProveDarkMs), proveLongestMs-1)
	}
}

// running keeps a timer up to most, and the end that it jumped to.
func running[T uint16 | uint32](t, most, end T) T {
	if t >= end {
		return end
	}
	return min(t, most)
}

// key is a 64-bit fingerprint of the node. Two of n nodes share one with a
// probability of at most n*n / 2^65: 1 in 100,000 for 20 million.
func (n *productNode) key() uint64 {
	h := uint64(n.away)<<32 | uint64(n.intent)<<28 | uint64(n.pos)<<24 | uint64(n.slide)<<20 |
		uint64(one(n.lit))<<19 | uint64(one(n.flow))<<18 | uint64(one(n.freshGo))<<17 | uint64(n.nv)
	h = mix(h) + uint64(n.noFlow)<<40 + uint64(n.still)<<32 + uint64(n.seq)<<24 + uint64(n.in)
	const words = unsafe.Sizeof(State{}) / 8
	for _, word := range (*[words]uint64)(unsafe.Pointer(&n.s)) {
		h = (h ^ word) * 0x9E3779B97F4A7C15
		h ^= h >> 32
	}
	return mix(h)
}

// operator takes faults away, asks for rest, resets, and opens by hold-to-run.
func (p *product) operator(n *productNode) uint32 {
	for i := range uint32(xReset) {
		if n.is(i) {
			return letterAway + i
		}
	}
	if n.intent != iReset {
		return letterIntent + uint32(iReset)
	}
	for _, i := range []uint32{xStart, xHoldClose} {
		if n.is(i) {
			return letterAway + i
		}
	}
	if n.is(xReset) || n.s.Lock != LockNone && n.s.ResetSeen != 0 {
		return letterAway + xReset
	}
	if n.is(xHoldOpen) != (n.pos != 0 && n.s.HoldSeen&1 != 0) {
		return letterAway + xHoldOpen
	}
	for i, jump := range jumps { // and waits for what ends by itself
		if (jump.name == "creep 120 s" || jump.name == longPhaseEnds) && jump.runs(&p.c, &n.s) {
			return letterJump + uint32(i)
		}
	}
	return letterNothing
}

func idleProduct(n *productNode) bool {
	s := &n.s
	return s.Lock == LockNone && s.Started == 0 && s.Burner == BurnerStandby && s.Spindle == SpindleOff &&
		s.Press == PressStay && n.pos == 0 && n.away == 0
}

func (p *product) search(name string) *search[productNode] {
	return &search[productNode]{
		name: name, start: []productNode{p.first()}, key: (*productNode).key, letters: p.letters,
		next: p.next, say: sayProduct, operator: p.operator, idle: idleProduct,
	}
}

func TestExploreProduct(t *testing.T) {
	t.Parallel()
	if *full {
		newProduct(productConfig(), 1<<xCount-1, 1).search("product").explore(t)
		return
	}
	for _, i := range []uint32{xBlind, xNoFlow, xSilent} {
		p := newProduct(productConfig(), 1<<i, 1)
		p.tame = true
		p.search("product, tame, " + productAway[i]).explore(t)
	}
}

// The product of a rig whose spindle stands for the stroke and whose soft flame
// may burn with the door open, so that two hands and set-up mode come into play.
func TestExploreProductHands(t *testing.T) {
	t.Parallel()
	c := productConfig()
	c.Options = c.Options&^OptSpindleTurns | OptParkedDoorOpen
	faults, most := uint32(1<<xDoor), 1
	if *full {
		faults, most = 1<<xDoor|1<<xBoth|1<<xSetUp|1<<xLeft|1<<xTurn, 2
	}
	p := newProduct(c, faults, most)
	p.tame = true
	p.search("product with hands").explore(t)
}

// The projection of the latch: what follows from a state does not depend on
// which causes have tripped, only on their columns.
func TestExploreLatchProjection(t *testing.T) {
	c := shortConfig()
	rnd := rand.New(rand.NewPCG(3, 4))
	w := newWalk(rnd, c)
	locked := 0
	for range 60000 {
		w.ahead()
		plain, projected := w.s, w.s
		projectLatch(&projected)
		var a, b Output
		explored(&c, &plain, &w.in, &a)
		explored(&c, &projected, &w.in, &b)
		locked += int(one(plain.Lock != LockNone))
		for _, s := range []*State{&plain, &projected} {
			s.Trips, s.First, s.Present = 0, 0, 0
		}
		if plain != projected || a != b {
			t.Fatalf("tick %d: the projected latch leads elsewhere\n%+v\n%+v", w.ms, plain, projected)
		}
		w.tick()
	}
	if locked < 2000 {
		t.Errorf("only %d locked ticks compared", locked)
	}
}
