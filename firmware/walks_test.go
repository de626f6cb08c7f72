package firmware_test

import (
	"flag"
	"math/rand/v2"
	"reflect"
	"testing"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

var steps = flag.Int("steps", 50000, "least number of steps in which C and Go are compared; "+
	"from 1,000,000 on everything has to be reached 100 times")

// wanted is how often a long run has to come through each transition and see
// each cause as the first one.
const wanted = 100

// The longest that a walk waits for its moment and a fork for its cause.
const (
	approachMs = 8000
	forkMs     = 3000
)

// Hostile walks, some of them with bent inputs, states and configurations: the
// C warden and the Go warden have the same state and the same outputs after
// every step.
func TestSameOnHostileWalks(t *testing.T) {
	w := newTwin(t, build(t, "test/warden_peer.c"))
	cover := newCover()
	long, forks := *steps >= 1000000, uint64(1)
	if long {
		forks = 20
	}
	for seed := uint64(0); w.steps < *steps || long && len(cover.missing()) > 0; seed++ {
		if w.steps > 20**steps {
			break // what is missing is said below
		}
		if !aimedWalk(w, cover, seed, forks) || !bentWalk(w, cover, seed) {
			t.Fatalf("seed %d", seed)
		}
	}
	t.Logf("%d steps compared; %s", w.steps, cover)
	if long {
		for _, what := range cover.missing() {
			t.Error(what)
		}
	}
}

// aimedWalk plays a walk until it provokes its cause, and from there on forks
// of it.
func aimedWalk(w *twin, cover *cover, seed, forks uint64) bool {
	x := chaos.New(seed)
	shorten(&x.Config)
	x.Step = w.step
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
	return w.same()
}

// bentWalk plays a walk in which inputs, state and configuration take any value.
func bentWalk(w *twin, cover *cover, seed uint64) bool {
	rnd := rand.New(rand.NewPCG(seed, 11))
	x := chaos.New(seed)
	shorten(&x.Config)
	for range rnd.IntN(4) {
		bend(rnd, &x.Config)
	}
	x.Step = func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		bent := *in
		if rnd.IntN(10) == 0 {
			bend(rnd, &bent)
		}
		if rnd.IntN(300) == 0 {
			bend(rnd, s)
		}
		w.step(c, s, &bent, out)
	}
	for range 2000 {
		play(x, cover)
	}
	return w.same()
}

// play is one millisecond of a walk.
func play(x *chaos.Walk, cover *cover) {
	before := x.State
	x.Tick()
	cover.count(&before, &x.State)
	x.Follow()
}

// shorten makes a cycle eight times as fast, in the same order.
func shorten(c *warden.Config) {
	for _, ms := range []*uint16{&c.CheckMs, &c.IgniterMs, &c.TrialMs, &c.FlameOnMs, &c.ProveMs,
		&c.ProveDarkMs, &c.FlameOffMs, &c.OxygenAfterMs, &c.OffMs, &c.RampMs, &c.RetractMs,
		&c.SpindleStallMs, &c.ExtractionWaitMs, &c.SlideMs} {
		*ms /= 8
	}
	c.PurgeMs, c.PostPurgeMs, c.CreepMs, c.ParkMs = c.PurgeMs/8, c.PostPurgeMs/8, c.CreepMs/8, c.ParkMs/8
}

// bend sets one number of a record to an edge of its range, to chance, or next
// to what it was.
func bend(rnd *rand.Rand, record any) {
	v := reflect.ValueOf(record).Elem()
	for v.Kind() == reflect.Struct || v.Kind() == reflect.Array {
		if v.Kind() == reflect.Struct {
			v = v.Field(rnd.IntN(v.NumField()))
		} else {
			v = v.Index(rnd.IntN(v.Len()))
		}
	}
	bits := v.Type().Bits()
	if v.CanInt() {
		edge := int64(1) << (bits - 1)
		v.SetInt([]int64{0, -edge, edge - 1, rnd.Int64N(2*edge) - edge, -1, 1}[rnd.IntN(6)])
		return
	}
	most := uint64(1)<<(bits-1)*2 - 1
	v.SetUint([]uint64{0, most, rnd.Uint64() & most, (v.Uint() + 1) & most, (v.Uint() - 1) & most,
		v.Uint() ^ 1<<rnd.IntN(bits)}[rnd.IntN(6)])
}
