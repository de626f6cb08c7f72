package rehearse_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
	"pressrig/testcount"
	"pressrig/units"
)

// seedsFlag is how many traces are run: some in make test, 2,200 in make traces.
var seedsFlag = flag.Int("seeds", testcount.Of(66, 330), "random traces of the invariants test")

// coverage counts what the random traces came through.
type coverage struct {
	burner  [warden.NumBurner]int
	contact int
	first   [64]int
	holds   map[string]int // phase in which a hold began
	ends    map[string]int
}

func newCoverage() *coverage {
	return &coverage{holds: map[string]int{}, ends: map[string]int{}}
}

func (c *coverage) add(o *coverage) {
	for i := range c.burner {
		c.burner[i] += o.burner[i]
	}
	c.contact += o.contact
	for i := range c.first {
		c.first[i] += o.first[i]
	}
	for k, n := range o.holds {
		c.holds[k] += n
	}
	for k, n := range o.ends {
		c.ends[k] += n
	}
}

// faultLines are what may go wrong, each at a random moment, for a while.
var faultLines = []string{
	"stuck estop_ok off", "stuck door_closed off", "stuck flame on", "stuck flame off",
	"stuck fuel_pressure_low on", "stuck fuel_pressure_high on", "stuck oxygen_pressure_low on",
	"stuck oxygen_pressure_high on", "stuck extraction off", "stuck press_end on", "stuck press_open off",
	"stuck burner_clear off", "stuck burner_at_blank off", "stuck gas_alarm on", "stuck flashback on",
	"stuck over_force on", "stuck fuel_shut off", "stuck mains_ok off", "stuck start on",
	"stuck glass", "lost glass", "noisy glass 60 K", "stuck force", "lost spindle", "stuck travel",
	"flame_out", "igniter_dead", "fuel1_stuck_open", "fuel_pressure 20 %", "extraction_fail",
	"glass_stuck", "spindle_stall", "press_jam", "slide_jam", "mcu_reset", "nv_dead",
	"line_flip 1 %", "line_drop 30 %", "line_repeat 30 %", "line_swap 20 %", "line_delay 300 ms", "line_cut",
	"press SOFT", "press START", "press RESET",
}

// holdKinds are the hold points: a hold means something else in each.
var holdKinds = []recipes.Kind{recipes.Load, recipes.Hands, recipes.Light, recipes.Warm, recipes.Fire,
	recipes.Soak, recipes.Clear, recipes.Press, recipes.Set, recipes.Part, recipes.SoftFlame,
	recipes.FlameCool, recipes.Out, recipes.Unload}

// trace runs one seed: a recipe with changed numbers, a fault, some commands,
// and then the way back to idle.
type trace struct {
	rnd   *rand.Rand
	h     *rehearse.Rehearsal
	seen  *coverage
	watch safety.Watch
	clock uint64
	hold  recipes.Kind // a hold is commanded in a phase of this kind
	calm  bool         // and nothing else goes wrong
	bad   safety.Broken
	prev  warden.State
	fault string
}

func newTrace(seed uint64, step func(*warden.Config, *warden.State, *warden.Input, *warden.Output)) (*trace, *recipes.Recipe, error) {
	t := &trace{rnd: rand.New(rand.NewPCG(seed, 11)), seen: newCoverage()}
	if seed%3 != 0 {
		t.calm, t.hold = true, holdKinds[seed%uint64(len(holdKinds))]
	}
	names := []string{"stem-7pin", "practice-disc", "stem-tubulated", "by-eye-disc", "hand-pulled-disc", "practice-disc"}
	name := names[t.rnd.IntN(len(names))]
	if t.calm {
		name = "stem-tubulated" // it has every kind
	}
	sample, err := recipes.Named(name)
	if err != nil {
		return nil, nil, err
	}
	p, err := rig.Builtin(sample.For)
	if err != nil {
		return nil, nil, err
	}
	r, err := recipes.Parse(sample.Name, sample.Text, p)
	if err != nil {
		return nil, nil, err
	}
	t.vary(r)
	config := p.WardenConfig()
	if t.rnd.IntN(10) != 0 { // shorter in the same order; the others keep production constants
		config.CheckMs, config.PurgeMs, config.PostPurgeMs, config.CreepMs = 500, 1000, 1000, 2000
	}
	t.watch.Config = config
	t.h, err = rehearse.New(rehearse.Options{Profile: p, Config: &config, Seed: seed, Answers: true, Warden: step})
	if err != nil {
		return nil, nil, err
	}
	t.h.Steps = func(_ *controller.Input, out *controller.Output) { t.h.ByHand(p, r, out) }
	t.h.Each = t.tick
	return t, r, nil
}

// vary changes set-points and times within what a check would pass.
func (t *trace) vary(r *recipes.Recipe) {
	for i := range r.Phases {
		ph := &r.Phases[i]
		if ph.End.After > 0 {
			ph.End.After = ph.End.After * time.Duration(5+t.rnd.IntN(6)) / 10
		}
		if ph.Press.Force > 0 {
			ph.Press.Force *= units.Newton(0.7 + 0.4*t.rnd.Float64())
		}
		if ph.Press.Speed > 0 {
			ph.Press.Speed *= units.MillimetrePerSecond(0.8 + 0.2*t.rnd.Float64())
		}
		if ph.Flame.Fuel > 0 {
			ph.Flame.Fuel *= units.LitrePerMinute(0.97 + 0.06*t.rnd.Float64())
		}
	}
}

func (t *trace) tick() {
	in, out, s, clock := t.h.Rig.Warden()
	if clock == t.clock || uint32(clock) == 0 {
		return // held in reset, or just out of it: nothing has run
	}
	boot := clock>>32 != t.clock>>32
	t.clock = clock
	if b := t.watch.Step(&safety.Tick{In: in, Out: out, After: s, Boot: boot}); b.Number != 0 && t.bad.Number == 0 {
		t.bad = b
	}
	if s.Burner != t.prev.Burner {
		t.seen.burner[s.Burner]++
	}
	if s.Press == warden.PressContact && t.prev.Press != warden.PressContact {
		t.seen.contact++
	}
	if s.First != t.prev.First && s.First != 0 {
		t.seen.first[s.First]++
	}
	t.prev = *s
}

// run plays the seed and reports the first thing that is wrong.
func (t *trace) run(r *recipes.Recipe) error {
	h := t.h
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	if t.calm {
		return t.finish(r)
	}
	at := uint64(t.rnd.IntN(110_000))
	line := faultLines[t.rnd.IntN(len(faultLines))]
	t.fault = fmt.Sprintf("%s @ %dms for %ds", line, h.Rig.Ms()+at, 1+t.rnd.IntN(20))
	f, err := bench.ParseFault(t.fault)
	if err != nil {
		return err
	}
	if err := h.Rig.Inject(f); err != nil {
		return err
	}
	return t.finish(r)
}

// finish plays on to the end, with commands, and then back to idle.
func (t *trace) finish(*recipes.Recipe) error {
	h := t.h
	commands := []controller.Command{controller.Hold, controller.Hold, controller.Pause, controller.Stop, controller.Abort, controller.Restart, controller.Resume}
	state, kind := controller.Idle, recipes.Kind("")
	ended := h.Run(15*60*1000, func() bool {
		if h.State() != state {
			if state == controller.Running && (h.State() == controller.Holding || h.State() == controller.Held) {
				t.seen.holds[string(kind)]++
			}
			state = h.State()
		}
		kind = h.Out.Status.PhaseKind
		moment := 150 // somewhere in the phase; phases that an answer ends are over at once
		if kind == recipes.Load || kind == recipes.Hands || kind == recipes.Unload {
			moment = 3
		}
		if t.hold != "" && kind == t.hold && state == controller.Running && t.rnd.IntN(moment) == 0 {
			h.Command(controller.Hold)
			t.hold = ""
		}
		if state == controller.Held && t.rnd.IntN(2000) == 0 {
			after := []controller.Command{controller.Restart, controller.Stop, controller.Abort}
			h.Command(after[t.rnd.IntN(len(after))])
		}
		if !t.calm && state != controller.Idle && t.rnd.IntN(120_000) == 0 {
			h.Command(commands[t.rnd.IntN(len(commands))])
		}
		return t.bad.Number != 0 || h.Ended()
	})
	switch {
	case t.bad.Number != 0:
		return fmt.Errorf("invariant %d: %s", t.bad.Number, t.bad.What)
	case !ended:
		return fmt.Errorf("no end: %+v", h.Out.Status)
	}
	t.seen.ends[h.State().String()]++
	if err := t.oneStartOneEnd(); err != nil {
		return err
	}
	return t.recover()
}

// oneStartOneEnd is invariant 16 as far as the machine is concerned.
func (t *trace) oneStartOneEnd() error {
	starts, ends := 0, 0
	for _, r := range t.h.Records {
		switch r.Kind {
		case controller.RecStart:
			starts++
		case controller.RecEnd:
			ends++
		case controller.RecAlarm:
			if r.Cause == safety.RowImplausible {
				return fmt.Errorf("a sound board is not believed: %s", r.Reason)
			}
		}
	}
	if starts != 1 || ends != 1 {
		return fmt.Errorf("invariant 16: %d start and %d end records", starts, ends)
	}
	return nil
}

// recover is invariant 17: faults gone and the operator acting correctly, idle
// is reached again.
func (t *trace) recover() error {
	h := t.h
	back := h.BackToIdle(12*60*1000, func() bool { return t.bad.Number != 0 })
	if t.bad.Number != 0 {
		return fmt.Errorf("invariant %d: %s", t.bad.Number, t.bad.What)
	}
	if !back {
		return fmt.Errorf("invariant 17: no way back to idle: lock %d trips %x present %x burner %d press %d open %v, %+v",
			h.Snap.Lock, h.Snap.Trips, h.Snap.Present, h.Snap.Burner, h.Snap.Press,
			h.Snap.In&warden.InPressOpen != 0, h.Out.Status)
	}
	return nil
}

// All invariants hold on random recipes, faults, commands and seeds, through
// the wire, the real machine and the plant. Causes that a random trace seldom
// makes the first are counted to 100 by the hostile walks of package safety.
func TestInvariantsOnSimulatedTraces(t *testing.T) {
	seeds := uint64(*seedsFlag)
	wanted := int(seeds / 22) // 100 of 2,200: make traces
	total := newCoverage()
	var mu sync.Mutex
	var wg sync.WaitGroup
	workers := uint64(runtime.NumCPU())
	for worker := range workers {
		wg.Go(func() {
			for seed := worker; seed < seeds; seed += workers {
				tr, r, err := newTrace(seed, nil)
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
					return
				}
				err = tr.run(r)
				mu.Lock()
				if err != nil {
					t.Errorf("seed %d, %s: %v", seed, tr.fault, err)
				}
				total.add(tr.seen)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	t.Logf("%d seeds: burner phases %v; contact %d; first causes %v; holds %v; ends %v",
		seeds, total.burner, total.contact, total.first, total.holds, total.ends)
	for phase, n := range total.burner {
		if n < wanted {
			t.Errorf("burner phase %d entered only %d times", phase, n)
		}
	}
	for _, kind := range holdKinds {
		if total.holds[string(kind)] < wanted {
			t.Errorf("held in phase kind %s only %d times", kind, total.holds[string(kind)])
		}
	}
	if total.contact < wanted {
		t.Errorf("contact only %d times", total.contact)
	}
	for _, end := range []string{"complete", "stopped", "aborted"} {
		if total.ends[end] < wanted {
			t.Errorf("%s only %d times", end, total.ends[end])
		}
	}
}

// outputHash sums all outputs of a cycle whose journal fails at a time, 0 for
// never. A broken host shuts the flame then.
func outputHash(t *testing.T, failAtMs uint64, broken bool) (hash uint64) {
	t.Helper()
	p, r := profileAndRecipe(t, "practice-disc")
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 9, Answers: true})
	if err != nil {
		t.Fatal(err)
	}
	h.Each = func() {
		_, out, _, _ := h.Rig.Warden()
		for _, v := range []uint64{uint64(out.Bits), uint64(out.FuelMl), uint64(out.OxygenMl),
			uint64(out.SpindleDrpm), uint64(out.SpeedCmms), uint64(out.ForceDN), uint64(uint16(out.TravelCmm))} {
			hash = (hash ^ v) * 1099511628211
		}
		if failAtMs != 0 && h.Rig.Ms() >= failAtMs {
			h.Writable = false
		}
	}
	h.Steps = func(in *controller.Input, out *controller.Output) {
		if broken && !in.Journal.Writable {
			out.Request.Flags &^= warden.ReqFlame
		}
	}
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	if ended := h.Run(15*60*1000, h.Ended); !broken && (!ended || h.State() != controller.Complete) {
		t.Fatalf("%v: %s", h.State(), h.Out.Status.Reason)
	}
	return hash
}

// Invariant 14: a journal that fails, at any moment of a cycle, leaves the
// output trace identical.
func TestJournalFaultChangesNoOutput(t *testing.T) {
	whole := outputHash(t, 0, false)
	for _, at := range []uint64{3000, 60_000, 100_000, 142_000, 150_000, 200_000} {
		if outputHash(t, at, false) != whole {
			t.Errorf("a journal that fails at %d ms changes the outputs", at)
		}
	}
}

// A warden that is broken in one rule must not pass, through wire and plant;
// package safety has one for every invariant.
func TestBrokenWardensAreCaughtInTraces(t *testing.T) {
	for _, broken := range []struct {
		invariant uint8
		name      string
		step      func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
	}{
		{17, "no reset ever clears a trip", func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			bent := *in
			bent.Bits &^= warden.InReset
			bent.Request.Flags &^= warden.ReqReset
			warden.Step(c, s, &bent, out)
		}},
		{1, "igniter stays on", func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			warden.Step(c, s, in, out)
			if s.Burner == warden.BurnerRun {
				out.Bits |= warden.OutIgniter
			}
		}},
		{2, "oxygen at once", func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			bent := *c
			bent.OxygenAfterMs, bent.ProveMs, bent.ProveDarkMs = 0, 1, 1
			warden.Step(&bent, s, in, out)
			if s.Burner == warden.BurnerRun && s.PhaseMs < 500 {
				out.Bits |= warden.OutOxygen
			}
		}},
		{11, "fuel before oxygen", func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			warden.Step(c, s, in, out)
			if s.Gas != warden.GasKeep && s.PhaseMs < 20 {
				out.Bits |= warden.OutOxygen
			}
		}},
	} {
		t.Run(broken.name, func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(60) {
				tr, r, err := newTrace(3*seed, broken.step)
				if err != nil {
					t.Fatal(err)
				}
				err = tr.run(r)
				if tr.bad.Number == broken.invariant ||
					err != nil && strings.Contains(err.Error(), fmt.Sprintf("invariant %d:", broken.invariant)) {
					return
				}
			}
			t.Errorf("invariant %d was never seen broken", broken.invariant)
		})
	}
}

// A microcontroller that restarts in mid-cycle is found again.
func TestRestartedMicrocontrollerIsFoundAgain(t *testing.T) {
	p, r := profileAndRecipe(t, "practice-disc")
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 2, Answers: true})
	if err != nil {
		t.Fatal(err)
	}
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, By: "test", Recipe: r})
	h.Run(90_000, func() bool { return h.Out.Status.PhaseKind == recipes.Fire })
	h.Rig.Reset()
	stamp := h.Snap.StampMs
	if !h.Run(5000, func() bool { return h.Snap.StampMs < stamp && h.Snap.Link != warden.LinkDown }) {
		t.Error("no snapshots after the restart")
	}
	if !h.Run(5000, h.Ended) || h.State() != controller.Aborted || h.Snap.Lock != warden.LockLockout {
		t.Errorf("%v, lock %d; aborted and locked out is right", h.State(), h.Snap.Lock)
	}
}
