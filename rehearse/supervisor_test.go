package rehearse_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/safety"
	"pressrig/units"
)

// judgement is a row of the supervisor, how to provoke it while the glass is
// fired, and the state that the matrix leads to.
type judgement struct {
	row    uint8
	fault  string // of the bench, "" for none
	aheadM uint64 // or the host's clock jumps by so many ms
	state  controller.State
}

// judgements are the supervisor's rows that a trace can show. Rows 24, 25 and
// 29 are raised by journal, loop and telemetry and are tested there; 27 and 28
// by TestJournalFaultChangesNoOutput and the refusals of package controller.
var judgements = []judgement{
	{safety.RowThermoBroken, "lost glass", 0, controller.Held},
	{safety.RowThermoNonsense, "stuck glass", 0, controller.Held},
	{safety.RowTooHot, "", 0, controller.Held}, // a recipe that fires on and on, see overheat
	{safety.RowLinkLost, "line_cut", 0, controller.Aborted},
	{safety.RowClocksDiffer, "", 4000, controller.Aborted},
}

// provoke plays one seed and reports the first cause that the cycle recorded.
func (j *judgement) provoke(t *testing.T, seed uint64) (first uint8, end controller.State, err error) {
	rnd := rand.New(rand.NewPCG(seed, uint64(j.row)))
	p, r := profileAndRecipe(t, "practice-disc")
	config := p.WardenConfig()
	config.CheckMs, config.PurgeMs, config.PostPurgeMs = 500, 1000, 1000
	h, err := rehearse.New(rehearse.Options{Profile: p, Config: &config, Seed: seed, Answers: true})
	if err != nil {
		return 0, 0, err
	}
	if j.row == safety.RowTooHot {
		overheat(r, rnd)
	}
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	if !h.Run(120_000, func() bool { return h.Out.Status.PhaseKind == recipes.Fire }) {
		return 0, 0, fmt.Errorf("never fired: %+v", h.Out.Status)
	}
	h.Run(2000+rnd.IntN(15_000), func() bool { return false })
	if j.fault != "" {
		f, err := bench.ParseFault(j.fault)
		if err == nil {
			err = h.Rig.Inject(f)
		}
		if err != nil {
			return 0, 0, err
		}
	}
	h.ClockAheadMs = j.aheadM
	h.Run(300_000, func() bool { return h.State() == controller.Held || h.Ended() })
	for _, rec := range h.Records {
		if rec.Kind == controller.RecTrip || rec.Kind == controller.RecAlarm {
			return rec.Cause, h.State(), nil
		}
	}
	return 0, h.State(), nil
}

// overheat makes the firing phase end by nothing but a long time, at full flame.
func overheat(r *recipes.Recipe, rnd *rand.Rand) {
	for i := range r.Phases {
		if ph := &r.Phases[i]; ph.Kind == recipes.Fire {
			ph.End = recipes.End{After: 290 * time.Second}
			ph.Longest = 300 * time.Second
			ph.Flame.Fuel = units.LitrePerMinute(3.5 + 0.5*rnd.Float64())
			ph.Flame.Oxygen = 5 * ph.Flame.Fuel / 2
		}
	}
}

// Each of the supervisor's rows is the first cause of as many traces as the
// others: 15 in make test, 100 in make traces.
func TestSupervisorRowsOnSimulatedTraces(t *testing.T) {
	wanted := max(1, uint64(*seedsFlag)/22)
	for _, j := range judgements {
		t.Run(safety.Name(j.row), func(t *testing.T) {
			var wg sync.WaitGroup
			for worker := range uint64(runtime.NumCPU()) {
				wg.Go(func() {
					for seed := worker; seed < wanted; seed += uint64(runtime.NumCPU()) {
						first, state, err := j.provoke(t, seed)
						if err != nil || first != j.row || state != j.state {
							t.Errorf("seed %d: first cause %d, %v (%v); want %d, %v", seed, first, state, err,
								j.row, j.state)
						}
					}
				})
			}
			wg.Wait()
			t.Logf("first cause in all of %d traces", wanted)
		})
	}
}

// A host that is broken must not pass either: one whose outputs follow the
// journal's health (14), and one that loses the end of a cycle (16).
func TestBrokenHostsAreCaught(t *testing.T) {
	whole := outputHash(t, 0, false)
	if outputHash(t, 100_000, false) != whole {
		t.Fatal("a sound host changes its outputs")
	}
	if outputHash(t, 100_000, true) == whole {
		t.Error("invariant 14: a host that shuts the flame for a full disk passes")
	}
	tr, r, err := newTrace(1, nil) // seeds of the form 3n are those with a fault
	if err != nil {
		t.Fatal(err)
	}
	if err := tr.run(r); err != nil {
		t.Fatal(err)
	}
	records := tr.h.Records
	for i := range records {
		if records[i].Kind == controller.RecEnd {
			tr.h.Records = append(records[:i:i], records[i+1:]...)
			break
		}
	}
	if tr.oneStartOneEnd() == nil {
		t.Error("invariant 16: a cycle without its end passes")
	}
}
