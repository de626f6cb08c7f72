package safety

import (
	"runtime"
	"sync"
	"testing"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
	"pressrig/testcount"
)

// watched is a hostile walk under the eyes of the invariants.
type watched struct {
	*chaos.Walk
	watch *Watch
}

func newWatched(x *chaos.Walk) *watched { return &watched{x, &Watch{Config: x.Config}} }

// run advances and reports the first broken invariant; count sees the states
// before and after each tick.
func (x *watched) run(ms uint32, count func(before, after *warden.State)) Broken {
	for range ms {
		before := x.State
		x.Tick()
		if x.Boot && x.Config.PurgeMs < 30000 { // a short purge stands for one that outlasts the window
			x.watch.unburnt, x.watch.sum = [30000]bool{}, 0
		}
		if b := x.watch.Step(&Tick{In: &x.In, Out: &x.Out, After: &x.State, Boot: x.Boot}); b.Number != 0 {
			return b
		}
		count(&before, &x.State)
		x.Follow()
	}
	return Broken{}
}

// walk plays one seed and reports the first broken invariant and what it came
// through.
func walk(seed uint64, ms uint32, step chaos.Step) (Broken, *chaos.Reached, *chaos.Walk) {
	x, r := newWatched(chaos.New(seed)), &chaos.Reached{}
	if step != nil {
		x.Step = step
	}
	return x.run(ms, r.Count), r, x.Walk
}

// wanted is how often each phase and first cause has to be reached.
var wanted = testcount.Of(3, 100)

// walkMs is how long one walk takes: 100 s, but 25 s where a failed light-up
// would then only wait for the budget of unburnt fuel to drain.
func walkMs(cause uint8) uint32 {
	if cause == warden.CauseNoIgnition || cause == warden.CauseUnburnt {
		return 25000
	}
	return 100000
}

// The warden keeps every invariant of docs/assessor.md on hostile inputs, and
// the walks are not vacuous: each phase and each first cause at least 100
// times. Walks that aim at a cause go on with new seeds until it was first
// often enough.
func TestInvariantsOnHostileInputs(t *testing.T) {
	var total chaos.Reached
	var mu sync.Mutex
	try := func(seed uint64, ms uint32) {
		b, r, x := walk(seed, ms, nil)
		mu.Lock()
		defer mu.Unlock()
		total.Add(r)
		if b.Number != 0 {
			t.Errorf("seed %d, %d ms: invariant %d: %s (first cause %d, burner %d, press %d, options %#x)",
				seed, x.Ms, b.Number, b.What, x.State.First, x.State.Burner, x.State.Press, x.Config.Options)
		}
	}
	enough := func(cause uint8) bool {
		mu.Lock()
		defer mu.Unlock()
		return total.Times(cause) >= wanted
	}
	jobs := make(chan uint8)
	var wg sync.WaitGroup
	for range runtime.NumCPU() {
		wg.Go(func() {
			for cause := range jobs {
				most := uint64(400)
				if !chaos.Aimed(cause) {
					most = 12 // nothing to aim at: noise alone
				}
				for k := uint64(0); k < most && (!enough(cause) || k < uint64(testcount.Of(1, 4))); k++ {
					try(uint64(cause)+k*uint64(warden.NumCauses), walkMs(cause))
				}
			}
		})
	}
	for cause := range warden.NumCauses {
		jobs <- cause
	}
	close(jobs)
	wg.Wait()
	t.Logf("burner phases entered %v; press phases %v; first causes %v; button stuck %d",
		total.Burner, total.Press, total.First, total.Button)
	for _, what := range total.Missing(wanted) {
		t.Error(what)
	}
}

// lyingTo wraps a step with inputs, state or outputs bent, one rule at a time.
func lyingTo(before func(*warden.Config, *warden.State, *warden.Input), after func(*warden.State, *warden.Output)) chaos.Step {
	return func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		bent, conf := *in, *c
		if before != nil {
			before(&conf, s, &bent)
		}
		warden.Step(&conf, s, &bent, out)
		if after != nil {
			after(s, out)
			s.Out = *out
		}
	}
}

// For each invariant at least one warden with a seeded fault that must not pass.
var brokenWardens = []struct {
	invariant uint8
	aim       uint8 // the cause whose provocation shows the fault soonest
	name      string
	step      chaos.Step
}{
	{1, warden.CauseFlameLost, "believes in a flame in run", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if s.Burner == warden.BurnerRun {
			in.Bits |= warden.InFlame
			s.Unburnt = 0
		}
	}, nil)},
	{1, warden.CauseFlameLost, "igniter stays on in run", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Burner == warden.BurnerRun {
			out.Bits |= warden.OutIgniter
		}
	})},
	{1, warden.CauseNoIgnition, "trial of 6 s", lyingTo(func(c *warden.Config, s *warden.State, _ *warden.Input) {
		c.TrialMs = 6000
		s.Unburnt = 0
	}, nil)},
	{2, warden.CauseFlameLost, "oxygen with the first flame", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.OxygenAfterMs, c.ProveMs, c.ProveDarkMs = 0, 1, 1
	}, nil)},
	{3, warden.CauseUnburnt, "forgets unburnt fuel", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.Unburnt = 0 }, nil)},
	{4, warden.CauseEstop, "deaf to the emergency stop", lyingTo(func(_ *warden.Config, _ *warden.State, in *warden.Input) {
		in.Bits |= warden.InEstopOK
	}, nil)},
	{5, warden.CauseEstop, "host clears lockout", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if in.Fresh != 0 && in.Request.Flags&warden.ReqReset != 0 {
			s.Trips, s.First = 0, 0
		}
	}, nil)},
	{6, warden.CauseNone, "relights by itself", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.LitOnce = 0 }, nil)},
	{7, warden.CauseNone, "takes START as a level", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.StartSeen = 1 }, nil)},
	{7, warden.CauseNone, "arming never ends", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		if s.Armed != 0 {
			s.ArmMs, s.LinkMs = 0, 0
		}
	}, nil)},
	{8, warden.CauseLinkLost, "leases never end", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		s.LeaseMs, s.LinkMs = [warden.NumLeases]uint16{}, 0
	}, nil)},
	{9, warden.CauseNone, "stroke at any temperature", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		in.Analog[warden.AiGlass] = s.WindowLow + 1
		s.SoftMs = 0
	}, nil)},
	{9, warden.CauseNone, "stroke over a still spindle", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.Options &^= warden.OptSpindleFitted
	}, nil)},
	{9, warden.CauseTwoHand, "two hands stay given", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		s.Hands[warden.HandsStroke].Given = 1
	}, func(s *warden.State, _ *warden.Output) {
		s.Hands[warden.HandsStroke].Given = 1
	})},
	{18, warden.CauseSetUp, "a cycle in set-up", lyingTo(func(_ *warden.Config, _ *warden.State, in *warden.Input) {
		in.Bits &^= warden.InSetUp
	}, nil)},
	{10, warden.CauseSpindleStill, "heats over a still spindle", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		s.StillMs = 0
	}, nil)},
	{10, warden.CauseExtraction, "blind to extraction", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if s.Burner >= warden.BurnerPurge {
			in.Bits |= warden.InExtraction
		}
	}, nil)},
	{11, warden.CauseOxygenLow, "sequenced takes 3 s", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.OffMs = 3000
	}, nil)},
	{11, warden.CauseFlameLost, "oxygen outlives a shut", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Gas == warden.GasShut && s.Burner == warden.BurnerPostPurge && s.PhaseMs == 1 && s.LitOnce != 0 {
			out.Bits |= warden.OutFuel
		}
	})},
	{12, warden.CauseNone, "last rule wins", lyingTo(nil, func(s *warden.State, _ *warden.Output) {
		for cause := range warden.NumCauses {
			if (s.Trips|s.Present)&(1<<cause) != 0 {
				s.Gas = warden.Matrix[cause].Gas
			}
		}
	})},
	{15, warden.CauseEstop, "newest cause counts as first", lyingTo(nil, func(s *warden.State, _ *warden.Output) {
		for cause := range warden.NumCauses {
			if s.Trips&(1<<cause) != 0 {
				s.First = cause
			}
		}
	})},
	{19, warden.CauseLinkLost, "ramps with the request that goes", chaos.RampsWithTheRequest},
	{19, warden.CauseFlameLost, "creeps for half its time", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.CreepMs /= 2
	}, nil)},
	{19, warden.CauseButton, "a stuck button stops the spindle", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Present&(1<<warden.CauseButton) != 0 {
			out.SpindleDrpm = 0
		}
	})},
	{19, warden.CauseTwoHand, "a hold shuts the flame", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Lock == warden.LockHold && s.Gas == warden.GasKeep && s.Burner == warden.BurnerRun {
			s.Burner, s.PhaseMs = warden.BurnerPostPurge, 0
			out.Bits &^= warden.OutFuel
		}
	})},
	{19, warden.CauseGasAlarm, "a leak stops the fan", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Trips&(1<<warden.CauseGasAlarm) != 0 {
			out.Bits &^= warden.OutFan
		}
	})},
	{19, warden.CauseFlameLost, "airs for half its time", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.PostPurgeMs /= 2
	}, nil)},
	{19, warden.CauseEstop, "no brake without power", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Press == warden.PressOff {
			out.Bits &^= warden.OutBrake
		}
	})},
}

// A check that a broken warden passes proves nothing.
func TestBrokenWardensAreCaught(t *testing.T) {
	for _, broken := range brokenWardens {
		t.Run(broken.name, func(t *testing.T) {
			t.Parallel()
			for k := range uint64(200) { // until it is seen
				seed := uint64(broken.aim) + k*uint64(warden.NumCauses)
				if b, _, _ := walk(seed, 300000, broken.step); b.Number == broken.invariant {
					return
				}
			}
			t.Errorf("invariant %d was never seen broken", broken.invariant)
		})
	}
}
