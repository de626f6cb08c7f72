package firmware_test

import (
	"flag"
	"math/rand/v2"
	"reflect"
	"testing"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

var steps = flag.Int("steps", 200000, "least number of steps in which C and Go are compared; "+
	"from 1,000,000 on everything has to be reached 100 times")

// wanted is how often a long run has to come through each transition and see
// each cause as the first one.
const wanted = 100

// forkMs is the longest that a fork waits for its cause.
const forkMs = 1200

// Hostile walks and probes aside from them: the C warden and the Go warden have
// the same state and the same outputs after every step.
func TestSameOnHostileWalks(t *testing.T) {
	w := newTwin(t, build(t, "test/warden_peer.c"))
	cover := newCover()
	long, forks, approachMs := *steps >= 1000000, uint64(1), 3000
	if long {
		forks, approachMs = 20, 20000
	}
	seed := uint64(0)
	for ; seed < 400*uint64(warden.NumCauses) && (w.steps < *steps || long && len(cover.missing()) > 0); seed++ {
		if w.steps >= *steps && !cover.lacks(uint8(seed%uint64(warden.NumCauses))) {
			continue
		}
		walk(w, cover, seed, approachMs, forks)
		if !w.same() {
			t.Fatalf("seed %d", seed)
		}
	}
	t.Logf("seeds 0 to %d, %d steps compared; %s", seed-1, w.steps, cover)
	if long {
		for _, what := range cover.missing() {
			t.Error(what)
		}
	}
}

// walk plays a walk until it provokes its cause, for approachMs at most, and
// from there on forks of it.
func walk(w *twin, cover *cover, seed uint64, approachMs int, forks uint64) {
	rnd := rand.New(rand.NewPCG(seed, 11))
	x := quick(seed)
	x.Step = func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		if rnd.IntN(3) == 0 {
			probe(w, cover, rnd, *c, *s, *in)
		}
		w.step(c, s, in, out)
	}
	for range approachMs {
		if x.Aiming() {
			break
		}
		play(x, cover)
	}
	for fork := range forks {
		y := x.Fork(seed*forks + fork)
		for range forkMs {
			play(y, cover)
			if y.State.First == y.Aim && y.Aim != warden.CauseNone {
				break
			}
		}
	}
}

// quick is a quick rig's walk; where it aims at the budget of unburnt fuel, the
// budget is small, because this host soon wants no flame any more.
func quick(seed uint64) *chaos.Walk {
	x := chaos.NewQuick(seed)
	if x.Aim == warden.CauseUnburnt {
		x.Config.ValveCloseMs = 3500
	}
	return x
}

// probe is one step from where a walk is, with some numbers bent, so that
// memories, inputs and configurations come up that no walk leads to.
func probe(w *twin, cover *cover, rnd *rand.Rand, c warden.Config, s warden.State, in warden.Input) {
	if rnd.IntN(2) == 0 {
		jump(rnd, &c, &s, &in)
	}
	for range rnd.IntN(4) {
		bend(rnd, &s, &c)
	}
	for range rnd.IntN(3) {
		in.Bits ^= 1 << rnd.IntN(29)
		in.Request.Flags ^= 1 << rnd.IntN(9)
	}
	switch rnd.IntN(4) {
	case 0:
		bend(rnd, &in, &c)
	case 1:
		bend(rnd, &c, &c)
	case 2:
		c.Options ^= 1 << rnd.IntN(11)
	}
	before := s
	w.stepFromAnywhere(&c, &s, &in)
	cover.transitions(&before, &s)
}

// play is one millisecond of a walk.
func play(x *chaos.Walk, cover *cover) {
	before := x.State
	x.Tick()
	cover.count(&before, &x.State)
	x.Follow()
}

// jump puts the machines into phases by chance, on a rig on which nothing or
// one cause has tripped.
func jump(rnd *rand.Rand, c *warden.Config, s *warden.State, in *warden.Input) {
	bit := func() uint8 { return uint8(rnd.IntN(2)) }
	s.Burner = uint8(rnd.IntN(int(warden.NumBurner)))
	s.Press = uint8(rnd.IntN(int(warden.NumPress)))
	s.Spindle = uint8(rnd.IntN(int(warden.NumSpindle)))
	s.Started, s.LitOnce, s.Oxygen, s.Touching, s.Homed = bit(), bit(), bit(), bit(), 1
	s.Trips, s.First, s.Lock, s.ErrorSum = 0, warden.CauseNone, warden.LockNone, 0
	s.Out.Bits &^= warden.OutFuel | warden.OutOxygen
	if s.Burner >= warden.BurnerTrial && s.Burner <= warden.BurnerOff {
		s.Out.Bits |= warden.OutFuel
		s.FlameMs, s.DarkMs, s.Unburnt = 2000, 0, 0
		in.Bits |= warden.InFlame
	}
	if cause := uint8(rnd.IntN(2 * int(warden.NumCauses))); cause < warden.NumCauses && warden.Matrix[cause].Lock != 0 {
		s.Trips, s.First, s.Lock = 1<<cause, cause, warden.Matrix[cause].Lock
	}
	s.LeaseMs, s.LinkMs, s.Link = [warden.NumLeases]uint16{}, 0, warden.LinkUp
	if rnd.IntN(4) == 0 {
		s.LinkMs = c.LeaseMs - 1
	}
	if s.Started != 0 {
		s.Link = warden.LinkStarted
	}
	in.Request.Press, in.Request.Flags = uint8(rnd.IntN(4)), uint16(rnd.IntN(1<<9))
	in.Bits |= warden.InDoorClosed | warden.InEstopOK | warden.InMainsOK
	in.Bits &^= uint32(bit())*warden.InDoorClosed | uint32(bit())*warden.InPressOpen
	for _, at := range []struct {
		ai     uint8
		bounds []int16
	}{
		{warden.AiSpindle, []int16{0, 10, 500, int16(c.PressLowDrpm), int16(c.PressHighDrpm), int16(c.SpindleHeatDrpm)}},
		{warden.AiForce, []int16{0, int16(c.ContactDN), int16(c.OverForceDN), -int16(c.PullMaxDN - c.PullMaxDN>>3)}},
		{warden.AiTravel, []int16{0, c.HeatCmm, c.EndCmm + 100}},
		{warden.AiGlass, []int16{s.WindowLow, s.WindowHi}},
	} {
		in.Analog[at.ai] = at.bounds[rnd.IntN(len(at.bounds))] + int16(rnd.IntN(3)) - 1
	}
	s.StillMs, s.StallMs, s.PullMs = near(rnd, c.SpindleStallMs), near(rnd, c.SpindleStallMs/4), near(rnd, 500)
}

// near is a number at a bound, or one short of it.
func near(rnd *rand.Rand, bound uint16) uint16 { return bound - uint16(rnd.IntN(2)) }

// bend sets one number of a record to an edge of its range, to chance, next to
// what it was, or next to a number of the configuration.
func bend(rnd *rand.Rand, record any, c *warden.Config) {
	v := anyNumber(rnd, record)
	near := anyNumber(rnd, c)
	bound := uint64(rnd.IntN(3)) - 1
	if near.CanInt() {
		bound += uint64(near.Int())
	} else {
		bound += near.Uint()
	}
	bits := v.Type().Bits()
	if v.CanInt() {
		edge := int64(1) << (bits - 1)
		v.SetInt([]int64{0, -edge, edge - 1, rnd.Int64N(2*edge) - edge, int64(int16(bound))}[rnd.IntN(5)])
		return
	}
	most := uint64(1)<<(bits-1)*2 - 1
	v.SetUint([]uint64{0, 1, most, rnd.Uint64() & most, (v.Uint() + 1) & most, (v.Uint() - 1) & most,
		v.Uint() ^ 1<<rnd.IntN(bits), bound & most}[rnd.IntN(8)])
}

// anyNumber picks one number of a record.
func anyNumber(rnd *rand.Rand, record any) reflect.Value {
	v := reflect.ValueOf(record).Elem()
	for {
		switch v.Kind() {
		case reflect.Struct:
			v = v.Field(rnd.IntN(v.NumField()))
		case reflect.Array:
			v = v.Index(rnd.IntN(v.Len()))
		default:
			return v
		}
	}
}
