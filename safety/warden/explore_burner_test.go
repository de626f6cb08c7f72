package warden

import (
	"math/rand/v2"
	"testing"
)

// shortConfig shortens the constants that exploration counts through, in the
// same order: what was equal stays equal, what was longer stays longer, also
// against the numbers written into the code (1,000 for the marker, 2,000 for a
// false flame, 5,000 for a proof) wherever the two meet.
func shortConfig() Config {
	c := testConfig()
	c.FlameOnMs, c.OffMs, c.FlameOffMs = 3, 4, 6
	c.IgniterMs, c.ProveMs, c.ProveDarkMs, c.OxygenAfterMs = 8, 8, 8, 8
	c.TrialMs, c.CheckMs, c.PurgeMs, c.PostPurgeMs = 12, 20, 2100, 2100
	c.HandCmms = 60000 // the walk's press goes 0.5 mm in a tick
	return c
}

// The burner's inputs. Its conditions to go on are conjunctions and its
// conditions to leave are disjunctions, so it is enough to spoil them one at a
// time (two at a time where states are few); sampled nodes try all letters.
const (
	bFlame = iota
	bReaction
	bStarted
	bAsked
	bOxygen
	bPermit
)

var burnerWords = alphabet{
	{"", "flame"},
	{"", "hold", "sequenced hold", "sequenced abort", "shut abort", "lockout", "abort"},
	{"", "not started", "START", "parked out", "run out"},
	{"", "no flame asked", "fuel lease dead"},
	{"", "oxygen asked", "oxygen lease dead", "oxygen not asked"},
	{"", "no extraction", "burner not clear", "press not open", "old gas",
		"switch never still", "fuel valve open", "oxygen valve open", "marker not stored"},
}

func burnerPart(c Config) *part {
	p := &part{name: "burner", config: c, words: burnerWords, keep: keepBurner, dress: dressBurner,
		canon: canonBurner, pack: packBurner, letterOf: burnerLetter, scramble: scrambleForBurner}
	return p.ready()
}

const burnerBits = OutFuel | OutOxygen | OutFan | OutIgniter

func keepBurner(from, to *State) {
	to.Burner, to.PhaseMs, to.FlameMs, to.DarkMs = from.Burner, from.PhaseMs, from.FlameMs, from.DarkMs
	to.TrialMs, to.Oxygen, to.LitOnce, to.FuelOffMs = from.TrialMs, from.Oxygen, from.LitOnce, from.FuelOffMs
	to.Out.Bits = from.Out.Bits & burnerBits
}

func dressBurner(c *Config, digits []uint8, s *State, in *Input) {
	if digits[bFlame] != 0 {
		in.Bits |= InFlame
	}
	s.Trips = reactions[digits[bReaction]].trips
	s.Started = 1
	switch digits[bStarted] {
	case 1:
		s.Started = 0
	case 2:
		s.Started, s.Armed, s.StartSeen = 0, 1, 1
		in.Bits |= InStart
	case 3:
		s.Started, s.ParkMs = 0, c.ParkMs
	case 4:
		s.RunMs = c.RunMs
	}
	in.Request.Flags = ReqFlame | ReqCycle
	switch digits[bAsked] {
	case 1:
		in.Request.Flags &^= ReqFlame
	case 2:
		s.LeaseMs[iFuel] = forever
	}
	switch digits[bOxygen] {
	case 1:
		in.Request.Flags |= ReqOxygen
	case 2:
		in.Request.Flags |= ReqOxygen
		s.LeaseMs[iOxygen] = forever
	}
	in.NV = NVRunning
	if s.Out.Bits&OutFuel != 0 {
		in.Bits &^= InFuelShut
	}
	if s.Out.Bits&OutOxygen != 0 {
		in.Bits &^= InOxygenShut
	}
	dressBurnerPermit(digits[bPermit], s, in)
}

func dressBurnerPermit(permit uint8, s *State, in *Input) {
	switch permit {
	case 1:
		in.Bits &^= InExtraction
	case 2:
		in.Bits &^= InBurnerClear
	case 3:
		in.Bits &^= InPressOpen
	case 4:
		s.Unburnt = unburntStart + 2
	case 5:
		s.SawStill = 0
	case 6:
		in.Bits &^= InFuelShut
	case 7:
		in.Bits &^= InOxygenShut
	case 8:
		in.NV = NVClear
	}
}

// canonBurner stops each timer where it no longer matters in its phase.
// PhaseMs of a trial and of run is never read. DarkMs is read in check
// (CheckMs) and from proof to off (FlameOffMs), where it starts from 0 because
// a flame leads there; FlameMs decides at FlameOnMs except from trial to run.
// Post-purge forgets DarkMs: what it would bring to standby is also reached
// from 0 by waiting there.
func canonBurner(c *Config, s *State) {
	phase, flame, dark, trial := uint32(0), c.FlameOnMs, uint16(0), uint16(0)
	proof := max(c.ProveMs, c.ProveDarkMs, c.OxygenAfterMs)
	switch s.Burner {
	case BurnerStandby, BurnerLockout:
		dark = c.CheckMs
	case BurnerCheck:
		phase, dark = uint32(c.CheckMs), c.CheckMs
	case BurnerPurge:
		phase = c.PurgeMs
	case BurnerIgniter:
		phase = uint32(c.IgniterMs)
	case BurnerTrial:
		trial, flame = c.TrialMs, proof
	case BurnerProve, BurnerProveDark:
		phase, flame, dark = proveLongestMs, proof, c.FlameOffMs
	case BurnerRun:
		flame, dark = proof, c.FlameOffMs
	case BurnerOff:
		phase, dark = uint32(c.OffMs), c.FlameOffMs
	case BurnerPostPurge:
		phase = c.PostPurgeMs
	}
	s.PhaseMs, s.TrialMs = min(s.PhaseMs, phase), min(s.TrialMs, trial)
	s.FlameMs, s.DarkMs = min(s.FlameMs, flame), min(s.DarkMs, dark)
	s.FuelOffMs = min(s.FuelOffMs, 2000)
}

func packBurner(s *State) uint64 {
	key := uint64(s.Burner)<<2 | uint64(s.Oxygen)<<1 | uint64(s.LitOnce)
	key = key<<15 | uint64(s.PhaseMs) | uint64(s.TrialMs)
	key = key<<13 | uint64(s.FlameMs)
	key = key<<13 | uint64(s.DarkMs)
	return key<<11 | uint64(s.FuelOffMs)
}

// burnerNode adds what an outsider counts, so that the warden's own clocks
// need not vouch for themselves. While the warden is right they run along with
// its own and add no node.
type burnerNode struct {
	s       State
	purgeMs uint32 // proven extraction in purge
	unlitMs uint16 // fuel open and not yet lit for FlameOnMs without a break
	offMs   uint16 // fuel open since the burner went off
	lit     bool
	freshGo bool // a START that no light-up has used
}

func (n *burnerNode) key() uint64 {
	ghosts := uint64(n.purgeMs)<<44 ^ uint64(n.unlitMs)<<14 ^ uint64(n.offMs)<<2 ^
		uint64(one(n.lit))<<1 ^ uint64(one(n.freshGo))
	return packBurner(&n.s)*0x9E3779B97F4A7C15 ^ mix(ghosts)
}

func (n *burnerNode) count(limits *Config, before *State, in *Input, fuel bool) {
	switch {
	case before.Burner == BurnerPurge && in.Bits&InExtraction != 0:
		n.purgeMs = min(n.purgeMs+1, limits.PurgeMs)
	case before.Burner != BurnerPurge && before.Burner != BurnerIgniter:
		n.purgeMs = 0
	}
	n.offMs++
	if n.s.Burner != BurnerOff || before.Burner != BurnerOff {
		n.offMs = 0
	}
	n.lit = fuel && (n.lit || n.s.FlameMs >= limits.FlameOnMs)
	n.unlitMs++
	if !fuel || n.lit {
		n.unlitMs = 0
	}
	if in.Bits&InStart != 0 {
		n.freshGo = true
	}
}

const burnerPermits = InExtraction | InBurnerClear | InPressOpen | InDoorClosed

// watch is the invariants of one tick, from inputs, outputs and the outsider's
// clocks. limits are the constants that must hold, whatever Step was given.
func (n *burnerNode) watch(limits *Config, before *State, in *Input, out *Output) string {
	s := &n.s
	fuel, opens := out.Bits&OutFuel != 0, out.Bits&OutFuel != 0 && before.Out.Bits&OutFuel == 0
	oxygen := out.Bits&OutOxygen != 0
	n.count(limits, before, in, fuel)
	switch {
	case fuel && out.Bits&OutFuel != OutFuel:
		return "1: one fuel valve open, the other not"
	case n.unlitMs > limits.TrialMs:
		return "1: fuel open unlit for longer than a trial (SV-019)"
	case n.lit && s.DarkMs >= limits.FlameOffMs:
		return "1: fuel outlives the flame (SV-021)"
	case out.Bits&OutIgniter != 0 && (s.Burner == BurnerRun || oxygen):
		return "1: igniter on in run"
	case oxygen && before.Out.Bits&OutOxygen == 0 && s.FlameMs < limits.OxygenAfterMs:
		return "2: oxygen before the flame is proven (SV-032)"
	case oxygen && !fuel:
		return "2: oxygen without fuel"
	case opens && n.purgeMs < limits.PurgeMs:
		return "3: fuel opens before the purge is done (SV-025)"
	case opens && in.Bits&burnerPermits != burnerPermits:
		return "10: fuel opens without extraction, burner clear, press open and door closed"
	case opens && in.NV != NVRunning:
		return "5: fuel opens before the marker is stored"
	case opens && !n.freshGo:
		return "6: fuel opens without a START of its own (SV-030)"
	case fuel && s.Lock == LockLockout:
		return "5: fuel in lockout"
	case s.Gas == GasShut && (fuel || oxygen):
		return "11: gas not shut in the tick of a shut reaction"
	case s.Gas == GasSequenced && (oxygen || fuel && s.Burner != BurnerOff):
		return "11: a sequenced reaction leaves gas open"
	case fuel && n.offMs >= limits.OffMs:
		return "11: fuel outlives oxygen by OffMs (SV-033)"
	case fuel && s.LeaseMs[iFuel] >= limits.LeaseMs, oxygen && s.LeaseMs[iOxygen] >= limits.LeaseMs:
		return "8: a gas outlives its lease"
	case oxygen && in.Request.Flags&ReqOxygen == 0:
		return "8: oxygen that nobody asked for"
	case (fuel && s.Burner < BurnerRun || oxygen) && !goes(s):
		return "7: light-up or oxygen outlives START"
	case !fuel && s.FlameMs >= limits.FlameOnMs && (s.Burner == BurnerPurge || s.Burner == BurnerIgniter):
		return "1: a flame in purge is ignored (SV-028)"
	case s.Burner >= BurnerPurge && s.Burner <= BurnerPostPurge && out.NV == NVClear:
		return "5: no marker while fuel may be open"
	// Post-purge has no clock of its own here: that its clock starts at 0 or, by
	// a reaction, at 1, adds 1 a tick and ends it at the limit says the same.
	case s.Burner == BurnerPostPurge && s.PhaseMs > 1 &&
		(before.Burner != BurnerPostPurge || s.PhaseMs > before.PhaseMs+1):
		return "10: the clock of post-purge runs ahead"
	case before.Burner == BurnerPostPurge && s.Burner != BurnerPostPurge &&
		before.PhaseMs+1 < limits.PostPurgeMs:
		return "10: post-purge ends early"
	case s.Burner >= BurnerPurge && s.Burner <= BurnerPostPurge && out.Bits&OutFan == 0:
		return "10: extraction fan off during a light-up"
	case s.Burner == BurnerCheck && out.Bits&OutFan != 0:
		return "10: extraction fan on while its flow switch has to be at rest"
	case before.Burner == BurnerCheck && s.Burner == BurnerPurge && s.SawStill == 0:
		return "10: purge begins with a flow switch never seen at rest"
	case s.Burner == BurnerRun && s.RunMs >= limits.RunMs:
		return "1: burns on although a light-off has to prove the flame sensor"
	}
	if fuel {
		n.freshGo = n.freshGo && !opens
	}
	return ""
}

// burnerLetters are the letters tried in each phase: flame and what leads out
// of the phase everywhere, permits where a phase asks for them.
func burnerLetters() (phases [NumBurner][]uint32) {
	const flame, leave = 1 << bFlame, 1<<bReaction | 1<<bAsked
	few := burnerWords.choose(flame, 2, leave|1<<bStarted|1<<bOxygen|1<<bPermit)
	for i := range phases {
		phases[i] = few
	}
	proof := keepLetters(burnerWords.choose(flame, 1, leave|1<<bStarted), noNewStart)
	one := burnerWords.choose(flame, 1, leave|1<<bStarted|1<<bOxygen|1<<bPermit)
	for _, phase := range []uint8{BurnerCheck, BurnerIgniter, BurnerTrial} {
		phases[phase] = keepLetters(one, noNewStart)
	}
	phases[BurnerOff] = burnerWords.choose(flame|1<<bStarted, 1, leave)
	phases[BurnerProve], phases[BurnerProveDark] = proof, proof
	phases[BurnerPurge] = nil
	for _, letter := range proof {
		d := burnerWords.digits(letter)
		phases[BurnerPurge] = append(phases[BurnerPurge], letter)
		d[bPermit] = 1
		phases[BurnerPurge] = append(phases[BurnerPurge], burnerWords.letter(d))
	}
	phases[BurnerPostPurge] = burnerWords.choose(flame|1<<bStarted, 0, 0)
	return phases
}

// noNewStart: from check to proof START is in force (the burner leaves in the
// tick in which it is not), and while it is the link arms no other
// (TestExploreLink), so that none can be pressed.
func noNewStart(d []uint8) bool { return d[bStarted] != 2 }

func keepLetters(letters []uint32, keep func([]uint8) bool) (kept []uint32) {
	for _, letter := range letters {
		if keep(burnerWords.digits(letter)) {
			kept = append(kept, letter)
		}
	}
	return kept
}

func burnerSearch(p *part, limits Config) *search[burnerNode] {
	letters := burnerLetters()
	every := burnerWords.every()
	underway := keepLetters(every, noNewStart)
	first := burnerNode{s: quiet, freshGo: true}
	first.s.DarkMs = 0
	s := &search[burnerNode]{
		name: "burner", start: []burnerNode{first}, say: p.words.say,
		key:     (*burnerNode).key,
		letters: func(n *burnerNode) []uint32 { return letters[n.s.Burner] },
		next: func(n *burnerNode, letter uint32) string {
			before := n.s
			p.step(&n.s, letter)
			broken := n.watch(&limits, &before, &p.in, &p.out)
			canonBurner(&p.config, &n.s)
			return broken
		},
		all: func(n *burnerNode) []uint32 {
			if n.s.Burner >= BurnerCheck && n.s.Burner <= BurnerProveDark {
				return underway
			}
			return every
		},
		sample: 1 << 12,
		idle:   func(n *burnerNode) bool { return n.s.Burner == BurnerStandby },
	}
	// A correct operator asks for nothing, lets the real flame follow the fuel
	// and resets what has tripped.
	off := p.words.letter([]uint8{0, 0, 1, 1, 0, 0})
	s.operator = func(*burnerNode) uint32 { return off }
	return s
}

// burnerLetter reads from a tick of the whole what it played to the burner.
func burnerLetter(c *Config, before, after *State, in *Input) []uint8 {
	d := make([]uint8, len(burnerWords))
	d[bFlame] = uint8(one(has(in, InFlame)))
	const own = uint64(1<<CauseFlameLost | 1<<CauseNoIgnition | 1<<CauseFalseFlame)
	d[bReaction] = reactionOf((after.Trips | after.Present) &^ (own & after.Present &^ before.Trips))
	link := *before
	sense(c, &link, in)
	stepLink(c, &link, in)
	switch {
	case link.Started != 0 && before.Started == 0:
		d[bStarted] = 2
	case !goes(&link) && before.ParkMs+1 >= c.ParkMs:
		d[bStarted] = 3
	case before.RunMs+1 >= c.RunMs && goes(&link):
		d[bStarted] = 4
	case !goes(&link): // never begun, or waiting for START: the same to the burner
		d[bStarted] = 1
	}
	switch {
	case !leased(c, &link, iFuel):
		d[bAsked] = 2
	case in.Request.Flags&ReqFlame == 0:
		d[bAsked] = 1
	}
	if in.Request.Flags&ReqOxygen != 0 {
		d[bOxygen] = 1
	}
	if !leased(c, &link, iOxygen) {
		d[bOxygen] = 2 + uint8(one(in.Request.Flags&ReqOxygen == 0))
	}
	d[bPermit] = burnerPermit(before, &link, in)
	return d
}

// burnerPermit is the first permit that fails, of those that the phase reads.
func burnerPermit(before, now *State, in *Input) uint8 {
	missing := []bool{false, !has(in, InExtraction), !has(in, InBurnerClear), !has(in, InPressOpen),
		now.Unburnt > unburntStart, now.SawStill == 0, !has(in, InFuelShut),
		!has(in, InOxygenShut), in.NV != NVRunning}
	var read []uint8
	switch before.Burner {
	case BurnerCheck:
		read = []uint8{2, 3, 4, 5, 6, 7}
	case BurnerPurge:
		read = []uint8{1}
	case BurnerIgniter:
		read = []uint8{1, 2, 3, 8}
	}
	for _, permit := range read {
		if missing[permit] {
			return permit
		}
	}
	return 0
}

// reactionOf is the row of reactions that a set of causes gives.
func reactionOf(causes uint64) uint8 {
	var r Reaction
	for cause := range NumCauses {
		if causes&(1<<cause) != 0 {
			r = Strongest(r, Matrix[cause].Reaction)
		}
	}
	for i, row := range reactions {
		if row.gas == r.Gas && row.lock == r.Lock {
			return uint8(i)
		}
	}
	return 0xFF // no such pair: the table of reactions is not complete
}

func scrambleForBurner(rnd *rand.Rand, s *State) {
	s.Press, s.Spindle = uint8(rnd.IntN(int(NumPress))), uint8(rnd.IntN(int(NumSpindle)))
	s.Touching, s.Homed, s.HoldSeen = uint8(rnd.IntN(2)), uint8(rnd.IntN(2)), uint8(rnd.IntN(4))
	s.SpinMs, s.SpinSet, s.EaseDN = rnd.Uint32N(5000), uint16(rnd.IntN(2000)), uint16(rnd.IntN(4000))
	s.Trips, s.ErrorSum = 1<<rnd.IntN(int(NumCauses)), rnd.Uint32N(errorMax)
	s.StallMs, s.StillMs, s.BlockMs = uint16(rnd.IntN(600)), uint16(rnd.IntN(2100)), uint16(rnd.IntN(250))
	s.ClearMs, s.SlideMs, s.NVMs = uint16(rnd.IntN(500)), uint16(rnd.IntN(2500)), uint16(rnd.IntN(1100))
	s.Unburnt, s.ArmMs, s.LinkMs = rnd.Uint32N(70000), rnd.Uint32N(70000), uint16(rnd.IntN(510))
}

func TestExploreBurner(t *testing.T) {
	c := shortConfig()
	if *full {
		c = testConfig()
	}
	s := burnerSearch(burnerPart(c), c)
	if *full {
		s.hint = 32 << 20
	}
	first := map[uint8]uint32{}
	next := s.next
	s.next = func(n *burnerNode, letter uint32) string {
		broken := next(n, letter)
		if _, seen := first[n.s.Burner]; !seen {
			first[n.s.Burner] = uint32(s.depth) + 1
		}
		return broken
	}
	s.explore(t)
	// The first tick in which each phase can be: neither too early nor, which a
	// wrong constant would also be, too late. A flame just too short for a false
	// one may precede the trial.
	purge := 2*uint32(c.CheckMs) - 1
	trial := purge + c.PurgeMs + uint32(c.IgniterMs)
	dark := trial + 1 + uint32(c.ProveMs-c.FlameOnMs)
	for phase, want := range map[uint8]uint32{BurnerCheck: 1, BurnerPurge: purge, BurnerIgniter: purge + c.PurgeMs,
		BurnerTrial: trial, BurnerProve: trial + 1, BurnerProveDark: dark, BurnerRun: dark + uint32(c.ProveDarkMs),
		BurnerOff: dark + uint32(c.ProveDarkMs) + 1} {
		if first[phase] != want {
			t.Errorf("burner phase %d first in tick %d; want %d", phase, first[phase], want)
		}
	}
	if len(first) != int(NumBurner) {
		t.Errorf("%d of %d burner phases reached", len(first), NumBurner)
	}
}

// The projection: the burner inside the whole does nothing that the part, from
// its own fields and its letter, does not do.
func TestExploreBurnerInside(t *testing.T) {
	burnerPart(shortConfig()).holdsInside(t, 60000, func(before, part, whole *State) bool {
		return before.Burner == BurnerPostPurge && part.Burner == whole.Burner // DarkMs, see canonBurner
	})
}
