package warden

import (
	"math/rand/v2"
	"testing"
)

// part is one machine cut out of Step. What it remembers are its own fields;
// everything else that Step reads is its environment, set anew before each
// tick to every value that can matter. So a part can do all that the machine
// can do inside the whole (holdsInside tests it on traces of the whole and on
// states with everything else scrambled), and what never happens in a part
// never happens.
type part struct {
	name   string
	config Config
	words  alphabet
	// keep copies the machine's own fields.
	keep func(from, to *State)
	// dress sets the environment that a letter's digits stand for.
	dress func(c *Config, digits []uint8, s *State, in *Input)
	// canon stops the own timers where they no longer matter; pack is the own
	// fields after that.
	canon func(c *Config, s *State)
	pack  func(s *State) uint64
	// letterOf finds the letter that the whole played to this part in a tick.
	letterOf func(c *Config, before, after *State, in *Input) []uint8
	// scramble changes fields that are not this part's.
	scramble func(*rand.Rand, *State)

	digits []uint8 // of the letter in hand
	s      State   // scratch, on the heap once
	in     Input
	out    Output
}

func (p *part) ready() *part {
	p.digits = make([]uint8, len(p.words))
	return p
}

// step takes the own fields through one tick of the real Step; p.in and p.out
// are what it saw and drove.
func (p *part) step(own *State, letter uint32) {
	p.s, p.in = quiet, quietInput
	p.keep(own, &p.s)
	p.words.decode(letter, p.digits)
	p.dress(&p.config, p.digits, &p.s, &p.in)
	explored(&p.config, &p.s, &p.in, &p.out)
	*own = p.s
}

// dressed is the state as the environment of a letter leaves it before Step.
func (p *part) dressed(own *State, letter uint32) {
	p.s, p.in = quiet, quietInput
	p.keep(own, &p.s)
	p.words.decode(letter, p.digits)
	p.dress(&p.config, p.digits, &p.s, &p.in)
	*own = p.s
}

// quiet is a state in which nothing is wrong and nothing is asked.
var quiet = func() State {
	var s State
	Init(&s, NVClear)
	s.ResetSeen, s.HoldSeen, s.Homed, s.SawStill, s.Press = 1, 3, 1, 1, PressStay
	for i := range NumLeases {
		s.LeaseMs[i] = 0
	}
	s.LinkMs = 0
	return s
}()

var quietInput = Input{
	Bits: InEstopOK | InDoorClosed | InExtraction | InPressOpen | InBurnerClear | InFuelShut |
		InOxygenShut | InMainsOK | InIndexed | InChuckClamped,
	AnalogOK: 1<<NumAnalog - 1, NV: NVClear,
}

// reactions are the strongest reactions that sets of other causes can have on
// gas and lock, each with causes that give it.
var reactions = []struct {
	gas, lock uint8
	trips     uint64
}{
	{GasKeep, LockNone, 0},
	{GasKeep, LockHold, 1 << CausePressState},
	{GasSequenced, LockHold, 1 << CauseNotOpenForHeat},
	{GasSequenced, LockAbort, 1 << CauseOxygenLow},
	{GasShut, LockAbort, 1 << CauseHostAbort},
	{GasShut, LockLockout, 1 << CauseFuelHigh},
	{GasKeep, LockAbort, 1 << CauseSpindleAsked},
}

// holdsInside walks the whole warden at random and asks at every tick, and at
// scrambled copies of it, that the part makes the same step from its own
// fields and the letter alone. It reports how many different packed steps were
// compared.
func (p *part) holdsInside(t *testing.T, ticks int, same func(before, got, want *State) bool) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(1, 2))
	w := newWalk(rnd, p.config)
	seen := map[[2]uint64]bool{}
	packed := func(s *State) uint64 {
		stopped := *s
		p.canon(&p.config, &stopped)
		return p.pack(&stopped)
	}
	compare := func(before *State, in *Input, scrambled bool) {
		after, own := *before, *before
		p.canon(&p.config, &own)
		var out Output
		explored(&p.config, &after, in, &out)
		if scrambled && hasLastWord && after.Trips == 1<<CauseRestart && before.Trips != after.Trips {
			return // a state that no step leaves, answered with lockout
		}
		letter := p.words.letter(p.letterOf(&p.config, before, &after, in))
		p.step(&own, letter)
		if packed(&own) != packed(&after) && !same(before, &own, &after) {
			t.Fatalf("%s: the part differs from the whole in tick %d under %q\nbefore %+v\nin %+v\npart   %+v\nwhole  %+v",
				p.name, w.ms, p.words.say(letter), *before, *in, own, after)
		}
		seen[[2]uint64{packed(before), packed(&after)}] = true
	}
	for range ticks {
		w.ahead()
		compare(&w.s, &w.in, false)
		odd := w.s
		p.scramble(rnd, &odd)
		compare(&odd, &w.in, true)
		w.tick()
	}
	t.Logf("%s: %d different steps compared", p.name, len(seen))
}
