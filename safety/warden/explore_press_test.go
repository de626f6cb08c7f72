package warden

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// The press's inputs. Every permit is taken away alone and in company; of
// forces and positions only which side of a limit they lie on matters.
const (
	pReaction = iota
	pAsked
	pLease
	pStarted
	pDoor
	pOpen
	pForce
	pHold
	pGas
	pSetUp
	pPermit
)

// pressColumns are all that sets of causes can do to the press: the closure of
// the matrix under Strongest, each with causes that give it.
var pressColumns = func() (all []pressColumnSet) {
	all = []pressColumnSet{{}}
	for i := 0; i < len(all); i++ {
		for _, cause := range rows() {
			row := Matrix[cause]
			if row.Lock == LockNone {
				continue // row 37 acts only while present: a letter of its own
			}
			sum := pressColumnSet{max(all[i].above, row.Above), max(all[i].touch, row.Contact),
				max(all[i].lock, row.Lock), all[i].stays || noParting&(1<<cause) != 0, all[i].trips | 1<<cause}
			known := false
			for _, a := range all {
				known = known || a.above == sum.above && a.touch == sum.touch && a.lock == sum.lock && a.stays == sum.stays
			}
			if !known {
				all = append(all, sum)
			}
		}
	}
	return all
}()

type pressColumnSet struct {
	above, touch, lock uint8
	stays              bool // a cause after which the halves do not part by themselves
	trips              uint64
}

var pressWords = func() alphabet {
	columns := dimension{}
	for _, c := range pressColumns {
		columns = append(columns, fmt.Sprintf("reaction %d above %d in contact lock %d parting barred %v", c.above, c.touch, c.lock, c.stays))
	}
	columns[0] = ""
	return alphabet{
		columns,
		{"", "asked to close", "asked to press", "asked to open"},
		{"", "press lease dead"},
		{"", "not started"},
		{"", "door open", "two hands at the open door", "other hand at the open door", "every hand at the open door"},
		{"", "not open", "just below open"},
		{"", "contact force", "over-force"},
		{"", "hold open", "hold close", "hold both"},
		{"", "flame", "flame with oxygen", "fuel just shut", "lighting"},
		{"", "set-up"},
		{"", "spindle wrong", "glass cold", "burner not clear", "burner at blank", "burner sent in",
			"over-travel", "emergency stop", "mains lost", "button stuck", "spindle still", "chuck open"},
	}
}()

const pressBits = OutPressClose | OutPressOpen | OutBrake

func pressPart(c Config) *part {
	p := &part{name: "press", config: c, words: pressWords, dress: dressPress, letterOf: pressLetter,
		scramble: scrambleForPress, canon: canonPress,
		keep: func(from, to *State) {
			to.Press, to.Touching, to.Homed = from.Press, from.Touching, from.Homed
			to.HoldSeen, to.EaseDN, to.Out.ForceDN = from.HoldSeen|4, from.EaseDN, from.Out.ForceDN
			to.HandStroke, to.PartMs = from.HandStroke, from.PartMs
			to.Out.Bits = from.Out.Bits & pressBits
		},
		pack: func(s *State) uint64 {
			key := uint64(s.Press)<<4 | uint64(s.Touching)<<3 | uint64(s.Homed)<<2 | uint64(s.HoldSeen&3)
			key = key<<1 | uint64(s.HandStroke)
			key = key<<14 | uint64(s.PartMs)
			return key<<32 | uint64(s.EaseDN)<<16 | uint64(s.Out.ForceDN)
		}}
	return p.ready()
}

// canonPress: force to ease from matters only while pushing.
func canonPress(_ *Config, s *State) {
	if s.Press != PressEasing {
		s.EaseDN = 0
	}
	if !pushing(s) {
		s.Out.ForceDN = 0
	}
}

func dressPress(c *Config, d []uint8, s *State, in *Input) {
	s.Trips = pressColumns[d[pReaction]].trips
	r := &in.Request
	r.Press, r.ForceDN, r.SpeedCmms, r.TravelCmm = d[pAsked], 2501, 3000, 5500
	if d[pAsked] == PressForce {
		r.ForceDN = 5000
	}
	if d[pLease] != 0 {
		s.LeaseMs[iPress] = forever
	}
	s.Started = 1 - d[pStarted]
	dressPressHands(d, s, in)
	if d[pSetUp] != 0 {
		in.Bits |= InSetUp
	}
	if d[pOpen] != 0 {
		in.Bits &^= InPressOpen
		in.Analog[AiTravel] = [...]int16{0, 3000, c.HeatCmm}[d[pOpen]]
	}
	in.Analog[AiForce] = [...]int16{0, int16(c.ContactDN), int16(c.OverForceDN) + 1}[d[pForce]]
	in.Bits |= [...]uint32{0, InHoldOpen, InHoldClose, InHoldOpen | InHoldClose}[d[pHold]]
	s.WindowLow, s.WindowHi, s.ClearMs = 8500, 9300, forever
	in.Analog[AiGlass], in.Analog[AiSpindle] = 8800, int16(c.PressLowDrpm)
	if !option(c, OptSpindleTurns) {
		in.Analog[AiSpindle] = 0
	}
	dressPressGas(d[pGas], s, in)
	dressPressPermit(c, d[pPermit], s, in)
}

// dressPressHands: the pairs of hands are a machine of their own
// (TestExploreHands); here each may be given or not.
func dressPressHands(d []uint8, s *State, in *Input) {
	if d[pDoor] != 0 {
		in.Bits &^= InDoorClosed
	}
	s.Hands = [NumHands]Hands{}
	if d[pDoor] == 2 || d[pDoor] == 4 {
		s.Hands[HandsStroke].Given = 1
		in.Bits |= InTwoHandLeft | InTwoHandRight
	}
	if d[pDoor] >= 3 {
		s.Hands[HandsClose].Given = 1
		in.Bits |= InTwoHandLeft
	}
}

func dressPressGas(gas uint8, s *State, in *Input) {
	if gas == 0 {
		return
	}
	in.Request.Flags = ReqFlame | ReqCycle
	in.Request.FuelMl = 1000
	s.LitOnce = 1
	if gas == 4 {
		s.Burner = BurnerPurge
		in.NV = NVRunning
		return
	}
	s.Burner, s.FlameMs, s.DarkMs, s.FuelOffMs = BurnerRun, 5000, 0, 0
	s.Out.Bits |= OutFuel
	in.Bits |= InFlame
	in.NV = NVRunning
	if gas == 2 {
		s.Oxygen = 1
		s.Out.Bits |= OutOxygen
		in.Request.Flags |= ReqOxygen
	}
	if gas == 3 {
		s.Burner = BurnerPostPurge
	}
}

func dressPressPermit(c *Config, permit uint8, s *State, in *Input) {
	switch permit {
	case 1:
		in.Analog[AiSpindle] = int16(c.PressHighDrpm) + 1
	case 2:
		in.Analog[AiGlass] = 8499
	case 3:
		in.Bits &^= InBurnerClear
	case 4:
		in.Bits |= InBurnerAtBlank
	case 5:
		s.Out.Bits |= OutBurnerIn
		s.SlideSent = OutBurnerIn
	case 6:
		in.Analog[AiTravel] = c.EndCmm + 101
	case 7:
		in.Bits &^= InEstopOK
	case 8:
		in.Bits &^= InMainsOK
	case 9:
		s.StartMs = c.ButtonMs
		in.Bits |= InStart
	case 10:
		in.Analog[AiSpindle] = 0
	case 11:
		in.Bits &^= InChuckClamped
	}
}

// pressNode adds what an outsider remembers.
type pressNode struct {
	s        State
	easeMs   uint16
	partMs   uint16 // the reaction that parts has been in force, no hand between
	homed    bool
	released uint8 // hold-to-run buttons seen released
	touching bool
}

func (n *pressNode) key(p *part) uint64 {
	ghosts := uint64(n.partMs)<<24 | uint64(n.easeMs)<<8 | uint64(one(n.homed))<<4 | uint64(one(n.touching))<<3 | uint64(n.released)
	return p.pack(&n.s)*0x9E3779B97F4A7C15 ^ mix(ghosts)
}

func (n *pressNode) look(before *State, in *Input) {
	open := in.Bits&InPressOpen != 0
	n.homed = n.homed || open
	n.touching = n.touching && !open
	if n.s.Press == PressContact && !open && in.Analog[AiForce] > 0 {
		n.touching = true
	}
	if in.Bits&InHoldOpen == 0 {
		n.released |= 1
	}
	if in.Bits&InHoldClose == 0 {
		n.released |= 2
	}
	n.easeMs++
	if n.s.Press != PressEasing || before.Press != PressEasing {
		n.easeMs = 0
	}
}

// watch is the press's share of invariants 4, 5, 7, 8, 9, 12 and 17.
func (n *pressNode) watch(c *Config, before *State, in *Input, out *Output) string {
	n.look(before, in)
	s := &n.s
	closes, opens := out.Bits&OutPressClose != 0, out.Bits&OutPressOpen != 0
	open := in.Bits&InPressOpen != 0
	shield := in.Bits&InDoorClosed != 0 || before.Hands[HandsStroke].Given != 0
	lease := s.LeaseMs[iPress] < c.LeaseMs
	asks := in.Request.Press == PressClose || in.Request.Press == PressForce
	push := closes && (s.Press == PressClosing || s.Press == PressContact)
	over := in.Analog[AiForce] > int16(c.OverForceDN) || in.Analog[AiTravel] > c.EndCmm+100
	column := s.Above
	if n.touching {
		column = s.Touch
	}
	n.partMs = min(n.partMs+1, c.PartMs+1)
	if column != PressToPart || s.Press == PressHandOpen || before.Press >= PressHandOpen {
		n.partMs = 0
	}
	moves := 0
	for _, bit := range []uint16{OutPressClose, OutPressOpen, OutBrake} {
		moves += int(one(out.Bits&bit != 0))
	}
	switch {
	case moves != 1:
		return "5: not exactly one of closing, opening and brake"
	case out.Bits&OutBrake != 0 && (out.ForceDN != 0 || out.SpeedCmms != 0):
		return "5: a set-point under the brake"
	case in.Bits&InEstopOK == 0 && (closes || opens):
		return "4: the press moves with the emergency stop open"
	case push && (s.Started == 0 || s.Lock != LockNone || !lease || !asks || !shield || over):
		return "9: pushing without START, lease, request, closed door or two hands, or in a lock or over-force"
	case out.ForceDN > c.ForceMaxDN || out.SpeedCmms > c.SpeedMaxCmms:
		return "9: above the most force or speed"
	case in.Bits&InSetUp != 0 && (push || opens && s.Press == PressOpening && column != PressRetract && column != PressToPart):
		return "18: the press moves for the host in set-up"
	case s.Press == PressClosing && !open && !n.spindleReady(c, in):
		return "9: closing with the spindle not in its press state"
	case s.Homed != uint8(one(n.homed)) || s.Touching != uint8(one(n.touching)):
		return "9: position or contact remembered wrongly"
	}
	if s.Press == PressClosing && before.Press != PressClosing {
		if broken := n.leaves(c, before, in); broken != "" {
			return broken
		}
	}
	return n.watchReactions(c, before, in, out, column)
}

func (n *pressNode) spindleReady(c *Config, in *Input) bool {
	speed := in.Analog[AiSpindle]
	if option(c, OptSpindleTurns) {
		return speed >= int16(c.PressLowDrpm) && speed <= int16(c.PressHighDrpm)
	}
	return speed <= 10
}

// leaves: invariant 9 in the tick in which the press leaves open.
func (n *pressNode) leaves(c *Config, before *State, in *Input) string {
	s := &n.s
	fuel := before.Out.Bits&OutFuel != 0
	clear := in.Bits&InBurnerClear != 0 && in.Bits&InBurnerAtBlank == 0 && before.Out.Bits&OutBurnerIn == 0
	if option(c, OptBurnerFixed) {
		clear = !fuel || s.Oxygen == 0 && option(c, OptStrokeFlameSoft)
	} else if fuel && (s.Oxygen != 0 || !option(c, OptStrokeFlameClear)) {
		clear = false
	}
	glass := in.Analog[AiGlass] >= s.WindowLow && in.Analog[AiGlass] <= s.WindowHi
	switch {
	case !n.spindleReady(c, in):
		return "9: leaving open with the spindle not in its press state"
	case !clear:
		return "9: leaving open with the burner in the way"
	case !glass:
		return "9: leaving open with the glass outside the window"
	case in.Bits&InChuckClamped == 0:
		return "9: leaving open with the chuck not clamped"
	case !n.homed:
		return "9: leaving open before the press was seen open"
	case s.Above != PressKeep:
		return "9: leaving open while a cause inhibits the stroke"
	}
	return ""
}

func (n *pressNode) watchReactions(c *Config, before *State, in *Input, out *Output, column uint8) string {
	s := &n.s
	closes, opens := out.Bits&OutPressClose != 0, out.Bits&OutPressOpen != 0
	door, open := in.Bits&InDoorClosed != 0, in.Bits&InPressOpen != 0
	handOpen, handClose := s.Press == PressHandOpen, s.Press == PressHandClose
	held := in.Bits & (InHoldOpen | InHoldClose)
	fuel := before.Out.Bits&OutFuel != 0
	byHost := opens && s.Press == PressOpening && column != PressRetract && column != PressToPart
	driven := option(c, OptPressDriven)
	lease := s.LeaseMs[iPress] < c.LeaseMs
	shield := door || before.Hands[HandsStroke].Given != 0
	closeGuard := door || before.Hands[HandsClose].Given != 0
	powered := in.Bits&InEstopOK != 0 && in.Bits&InMainsOK != 0
	wantsOpen := held&InHoldOpen != 0 && n.released&1 != 0 && !open && powered
	pushed := before.Press == PressClosing || before.Press == PressContact
	mayPart := door && driven && n.homed && !open && n.partMs > c.PartMs && s.Trips&noParting == 0
	switch {
	case closes && s.Press == PressEasing && (out.ForceDN == 0 || n.easeMs >= c.EaseMs):
		return "5: force does not ease away within EaseMs"
	case s.Press == PressEasing && before.Press == PressEasing && out.ForceDN >= before.EaseDN:
		return "5: force does not fall while easing"
	case column == PressToOff && (closes || opens && !handOpen):
		return "12: force in a reaction that takes it off"
	case column == PressToStay && (closes || byHost) && !handClose && s.Press != PressEasing:
		return "12: motion in a reaction that stays"
	case column == PressToEase && (closes && s.Press != PressEasing && !handClose || byHost):
		return "12: motion in a reaction that eases"
	case column == PressToEase && before.Press == PressContact && driven && before.Out.ForceDN > c.EaseStepDN &&
		s.Press != PressEasing:
		return "12: force dropped, not eased"
	case s.Press == PressOpening && column == PressRetract && !(door && driven && n.homed && !open):
		return "12: retracting without closed door, drive, known position or need"
	case column == PressRetract && driven && door && n.homed && !open && before.Press != PressOff && before.Press < PressHandOpen &&
		!handOpen && s.Press != PressOpening:
		return "12: not retracting though it may"
	case column == PressToPart && (closes && s.Press != PressEasing && !handClose || opens && !handOpen && !mayPart):
		return "12: parting early, with force, or without closed door, drive, known position or need"
	case column == PressToPart && opens && !handOpen && (out.SpeedCmms != c.PartCmms || out.ForceDN != c.PullMaxDN):
		return "12: parting faster or harder than it may"
	case column == PressToPart && before.Press == PressContact && driven && before.Out.ForceDN > c.EaseStepDN && s.Press != PressEasing:
		return "12: force dropped before parting, not eased"
	case column == PressToPart && mayPart && before.Press == PressStay && !opens:
		return "12: not parting though it may"
	case byHost && (!lease || in.Request.Press != PressOpen || !shield || s.Lock > LockHold):
		return "8: opening by request without lease, request, door or need"
	case byHost && open && before.Press == PressOpening:
		return "8: opening goes on past the end switch"
	case byHost && !driven && s.Started == 0:
		return "8: a hand-pulled press is released without START"
	case handOpen && (!wantsOpen || out.SpeedCmms > c.HandCmms || out.ForceDN > c.PullMaxDN):
		return "17: hold-to-run open without its button, need or drive power, or too fast"
	case wantsOpen && !handOpen && !pushed:
		return "17: one hand on the open button does not open"
	case handClose && (held != InHoldClose || n.released&2 == 0 || !closeGuard || s.Started != 0 || fuel ||
		s.Lock != LockNone || out.SpeedCmms > c.HandCmms || out.ForceDN > c.ContactDN):
		return "17: hold-to-run close without its button or permits, or with force"
	case handClose && gasActive(s):
		return "17: hold-to-run close during a light-up"
	case handClose && in.Analog[AiForce] >= int16(c.ContactDN) && !open:
		return "17: hold-to-run close past contact"
	case s.HoldSeen&3 != n.released:
		return "17: buttons seen released are remembered wrongly"
	}
	return ""
}

// standingAtTheOpenDoor: where the spindle nominally turns, the open door trips
// and hides all else; so with the spindle standing one more thing is away.
func standingAtTheOpenDoor(core uint32) []uint32 {
	const still = 10 // "spindle still"
	var out []uint32
	for _, letter := range pressWords.choose(core, 1, none&^(1<<pPermit)) {
		if d := pressWords.digits(letter); d[pDoor] != 0 {
			d[pPermit] = still
			out = append(out, pressWords.letter(d))
		}
	}
	return out
}

func pressSearch(p *part, limits Config) *search[pressNode] {
	// What a person and the host do is tried in every combination, with one more
	// thing away from nominal; in full, sampled nodes try every letter.
	const person = 1<<pStarted | 1<<pDoor | 1<<pOpen | 1<<pHold
	every := pressWords.some(4000)
	few, easing := pressWords.choose(person|1<<pAsked, 1, none), pressWords.choose(person, 1, none)
	if option(&p.config, OptSpindleTurns) {
		few = append(few, standingAtTheOpenDoor(person|1<<pAsked)...)
		easing = append(easing, standingAtTheOpenDoor(person)...)
	}
	sample := uint64(0)
	if *full {
		sample = 16
	}
	first := pressNode{s: quiet, released: 0}
	first.s.HoldSeen, first.s.Homed, first.s.Press = 0, 0, PressOff
	word := func(hold, open uint8) uint32 {
		return pressWords.letter([]uint8{0, 0, 0, 1, 0, open, 0, hold, 0, 0, 0})
	}
	return &search[pressNode]{
		name: "press", start: []pressNode{first}, say: p.words.say,
		key: func(n *pressNode) uint64 { return n.key(p) },
		letters: func(n *pressNode) []uint32 {
			if n.s.Press == PressEasing {
				return easing
			}
			return few
		},
		next: func(n *pressNode, letter uint32) string {
			before := n.s
			p.dressed(&before, letter)
			p.step(&n.s, letter)
			broken := n.watch(&limits, &before, &p.in, &p.out)
			canonPress(&p.config, &n.s)
			return broken
		},
		all: func(*pressNode) []uint32 { return every }, sample: sample,
		// With faults gone a person opens by hold-to-run until the end switch.
		operator: func(n *pressNode) uint32 {
			switch {
			case n.s.Press == PressHandOpen:
				return word(1, 0)
			case n.s.HoldSeen&1 == 0:
				return word(0, 1)
			}
			return word(1, 1)
		},
		idle: func(n *pressNode) bool {
			return n.s.Press == PressStay && n.s.Touching == 0 && n.s.Homed != 0
		},
	}
}

func pressLetter(c *Config, before, after *State, in *Input) []uint8 {
	d := make([]uint8, len(pressWords))
	link := *before
	sense(c, &link, in)
	stepLink(c, &link, in)
	for i, set := range pressColumns {
		if set.above == after.Above && set.touch == after.Touch && set.lock == after.Lock &&
			set.stays == (after.Trips&noParting != 0) {
			d[pReaction] = uint8(i)
		}
	}
	d[pAsked] = in.Request.Press
	d[pLease] = uint8(one(!leased(c, &link, iPress)))
	d[pStarted] = uint8(one(link.Started == 0))
	if !has(in, InDoorClosed) {
		d[pDoor] = 1
		stroke, held := link.Hands[HandsStroke].Given, link.Hands[HandsClose].Given
		d[pDoor] += stroke + 2*held
	}
	d[pSetUp] = uint8(one(setUp(c, in)))
	if !has(in, InPressOpen) {
		d[pOpen] = 1 + uint8(one(heatOpen(c, in)))
	}
	switch {
	case overForce(c, in):
		d[pForce] = 2
	case in.Analog[AiForce] >= int16(c.ContactDN):
		d[pForce] = 1
	}
	d[pHold] = uint8(one(has(in, InHoldOpen)) + 2*one(has(in, InHoldClose)))
	fuel := fuelOpen(before)
	switch {
	case fuel && after.Oxygen != 0:
		d[pGas] = 2
	case fuel && gasActive(after):
		d[pGas] = 1
	case fuel:
		d[pGas] = 3
	case gasActive(after):
		d[pGas] = 4
	}
	d[pPermit] = pressPermit(c, before, after, in)
	return d
}

func pressPermit(c *Config, before, after *State, in *Input) uint8 {
	now := *after
	now.Out = before.Out
	switch {
	case !has(in, InEstopOK):
		return 7
	case fitted(c, InMainsOK) && !has(in, InMainsOK):
		return 8
	case overTravel(c, in):
		return 6
	case after.Present&(1<<CauseButton) != 0:
		return 9
	case option(c, OptSpindleTurns) && in.Analog[AiSpindle] <= standstillDrpm:
		return 10
	case !spindleAtPress(c, in):
		return 1
	case !has(in, InBurnerClear):
		return 3
	case has(in, InBurnerAtBlank):
		return 4
	case before.Out.Bits&OutBurnerIn != 0:
		return 5
	case chuckOpen(c, in):
		return 11
	case !glassInWindow(c, &now, in):
		return 2
	}
	return 0
}

func scrambleForPress(rnd *rand.Rand, s *State) {
	s.ErrorSum = rnd.Uint32N(errorMax)
	s.NVMs, s.SpinMs, s.ArmMs = uint16(rnd.IntN(1100)), rnd.Uint32N(70000), rnd.Uint32N(70000)
	s.Unburnt, s.PhaseMs, s.TrialMs = rnd.Uint32N(70000), rnd.Uint32N(4000), uint16(rnd.IntN(20))
	s.Trips = 1 << rnd.IntN(int(NumCauses)) &^ (1 << CauseButton) // never latched
	if rnd.IntN(2) == 0 {
		s.Trips = 0
	}
}

func TestExplorePress(t *testing.T) {
	t.Parallel()
	c := testConfig()
	hand := c
	hand.Options = OptSpindleFitted | OptBurnerFixed | OptStrokeFlameSoft | OptOxygenFitted
	standing := c
	standing.Options = standing.Options&^OptSpindleTurns | OptParkedDoorOpen
	configs := []Config{standing, hand}
	if *full {
		configs = append(configs, c)
	}
	for _, c := range configs {
		c.PartMs = 40 // its true number is TestParting's
		if !*full {
			c.EaseMs, c.EaseStepDN = 25, 160
		}
		pressSearch(pressPart(c), c).explore(t)
	}
}

func TestExplorePressInside(t *testing.T) {
	c := shortConfig()
	pressPart(c).holdsInside(t, 60000, func(*State, *State, *State) bool { return false })
}
