package telemetry

import (
	"math"
	"strings"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/recipes"
)

// tale feeds a builder with the entries of a cycle, elapsed ms apart from noon.
type tale struct {
	t   *testing.T
	b   builder
	s   controller.Status
	out []byte
}

func newTale(t *testing.T) *tale {
	return &tale{t: t, b: builder{words: testWords}, s: controller.Status{Phase: -1}}
}

func (l *tale) record(ms uint64, r controller.Record) {
	l.t.Helper()
	r.ElapsedMs, r.StampMs = ms, uint32(ms)+500
	wall := noon.Add(time.Duration(ms) * time.Millisecond)
	e := entry{wall: wall, stampMs: r.StampMs, rec: r, status: l.s}
	if out, ok := l.b.add(&e); ok {
		l.out = out
	}
}

func (l *tale) status(s controller.Status) {
	l.s = s
	l.b.add(&entry{phase: true, status: s})
}

func TestSummaryOfACompleteCycle(t *testing.T) {
	l := newTale(t)
	s := *pressing()
	l.record(1000, controller.Record{Kind: controller.RecStart, Cycle: 12, Phase: -1})
	for i, p := range []struct {
		name string
		kind recipes.Kind
	}{{"light", recipes.Light}, {"form", recipes.Press}} {
		l.record(uint64(2000+20000*i), controller.Record{Kind: controller.RecPhaseBegin, Cycle: 12,
			Phase: int16(i), Name: p.name})
		s.Phase, s.PhaseName, s.PhaseKind = int16(i), p.name, p.kind
		l.status(s)
		l.record(uint64(21000+20000*i), controller.Record{Kind: controller.RecPhaseEnd, Cycle: 12,
			Phase: int16(i), Reason: "condition met"})
	}
	l.record(30000, controller.Record{Kind: controller.RecMeasure, Cycle: 12,
		Name: "transfer", Value: 2.25, Unit: "s"})
	l.record(30000, controller.Record{Kind: controller.RecMeasure, Cycle: 12,
		Name: "pull_peak", Value: math.NaN(), Unit: "N"})
	l.record(181000, controller.Record{Kind: controller.RecEnd, Cycle: 12,
		State: controller.Complete, Reason: "done"})
	golden(t, "cycle_complete.json", pretty(t, l.out))
}

func TestSummaryOfATrippedCycleKeepsTheFirstCause(t *testing.T) {
	l := newTale(t)
	l.record(0, controller.Record{Kind: controller.RecStart, Cycle: 13, Phase: -1})
	l.record(500, controller.Record{Kind: controller.RecPhaseBegin, Cycle: 13, Phase: 2})
	l.record(700, controller.Record{Kind: controller.RecTrip, Cycle: 13, Cause: 3,
		Causes: 1 << 3, Lockout: true})
	l.record(900, controller.Record{Kind: controller.RecTrip, Cycle: 13, Cause: 1,
		Causes: 1<<1 | 1<<3})
	l.record(950, controller.Record{Kind: controller.RecEnd, Cycle: 13,
		State: controller.Aborted, Cause: 3, Causes: 1 << 3, Reason: "flame lost"})
	golden(t, "cycle_tripped.json", pretty(t, l.out))
}

// A daemon killed in mid-cycle never saw its start: the summary says so.
func TestSummaryWithoutAStartIsNotWhole(t *testing.T) {
	l := newTale(t)
	l.record(900, controller.Record{Kind: controller.RecEnd, Cycle: 14,
		State: controller.Aborted, Reason: "power lost"})
	golden(t, "cycle_without_start.json", pretty(t, l.out))
}

func TestRecordsOutsideACycleBeginNone(t *testing.T) {
	l := newTale(t)
	l.record(1, controller.Record{Kind: controller.RecTrip, Cause: 1, Causes: 2})
	l.record(2, controller.Record{Kind: controller.RecCommand, Cycle: 3})
	l.record(3, controller.Record{Kind: controller.RecAlarm, Cycle: 3})
	if l.b.open || l.out != nil {
		t.Error("a cycle began")
	}
}

func TestSummaryIsBounded(t *testing.T) {
	l := newTale(t)
	l.record(0, controller.Record{Kind: controller.RecStart, Cycle: 15})
	long := strings.Repeat("\x01", 10000) // six bytes each as JSON
	for i := range 10000 {
		l.record(uint64(i), controller.Record{Kind: controller.RecPhaseBegin, Cycle: 15, Phase: int16(i)})
		l.record(uint64(i), controller.Record{Kind: controller.RecPhaseEnd, Cycle: 15,
			Phase: int16(i), Reason: long})
		l.record(uint64(i), controller.Record{Kind: controller.RecMeasure, Cycle: 15,
			Name: long, Unit: long})
	}
	if len(l.b.p.Phases) != maxPhases || len(l.b.p.Measures) != maxMeasures {
		t.Errorf("%d phases and %d measures kept", len(l.b.p.Phases), len(l.b.p.Measures))
	}
	l.record(20000, controller.Record{Kind: controller.RecEnd, Cycle: 15, State: controller.Complete})
	if len(l.out) == 0 || len(l.out) > maxPayload ||
		!strings.Contains(string(l.out), `"whole":false`) {
		t.Errorf("summary of %d bytes, want at most %d and not whole", len(l.out), maxPayload)
	}
	pretty(t, l.out)
}
