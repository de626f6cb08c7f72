package controller

import (
	"testing"

	"pressrig/safety/warden"
)

// story collects the records of a fake's cycle.
type story struct{ all []Record }

func (f *fake) listenTo() *story {
	s := &story{}
	f.log = func(_ *Input, out *Output) { s.all = append(s.all, out.Records[:out.N]...) }
	return s
}

func (s *story) count(k RecordKind) (n int) {
	for _, r := range s.all {
		if r.Kind == k {
			n++
		}
	}
	return n
}

func (s *story) find(k RecordKind, text string) *Record {
	for i := range s.all {
		if r := &s.all[i]; r.Kind == k && (r.Reason == text || r.Name == text) {
			return r
		}
	}
	return nil
}

func job(cycle uint32) Job {
	return Job{Cycle: cycle, Run: 1, Piece: uint16(cycle), By: "ann", Recipe: stem()}
}

// toPhase starts a cycle and drives it into the named phase.
func (f *fake) toPhase(j Job, name string) {
	f.t.Helper()
	f.run(2_000)
	f.start(j)
	f.untilPhase(2, "seat")
	if name == "seat" {
		return
	}
	f.run(100)
	f.answer(true)
	f.pushStart()
	f.untilPhase(200, name)
}

// TestNormalCycle runs one whole piece with the real warden underneath.
func TestNormalCycle(t *testing.T) {
	f := newFake(t, driven(t))
	s := f.listenTo()
	f.toPhase(job(1), "unload")
	f.run(3_000)
	if f.m.state != Running || f.out.Status.Prompt == 0 {
		t.Fatalf("unload does not wait for the piece-out check: %v", f.m.state)
	}
	f.answer(true)
	f.untilState(2, Complete)
	if s.count(RecStart) != 1 || s.count(RecEnd) != 1 {
		t.Fatalf("%d start and %d end records", s.count(RecStart), s.count(RecEnd))
	}
	if n := s.count(RecPhaseBegin); n != len(stem().Phases) {
		t.Errorf("%d phases began, the recipe has %d", n, len(stem().Phases))
	}
	for _, name := range []string{"transfer_s", "contact_C", "retract_peak_N", "fuel_mL",
		"oxygen_mL"} {
		if s.find(RecMeasure, name) == nil {
			t.Errorf("no measure %s", name)
		}
	}
	if r := s.find(RecMeasure, "transfer_s"); r != nil && (r.Value <= 0 || r.Value > 3) {
		t.Errorf("transfer took %g s", r.Value)
	}
	if f.st.Trips != 0 {
		t.Errorf("the warden tripped: %x", f.st.Trips)
	}
}

// TestRun presses two pieces on one light-up.
func TestRun(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "unload")
	f.run(2_000)
	f.answer(true)
	f.untilState(2, Complete)
	f.run(5_000)
	if f.st.Burner != warden.BurnerRun {
		t.Fatalf("the flame is not parked: burner %d", f.st.Burner)
	}
	f.command(Reset)
	f.run(5_000)
	lights := 0
	f.log = func(*Input, *Output) {
		if f.st.Burner == warden.BurnerTrial {
			lights++
		}
	}
	j := job(2)
	j.Last = true
	f.glassC = 25
	f.toPhase(j, "unload")
	if lights != 0 {
		t.Error("a second light-up in the run")
	}
	f.run(3_000)
	if f.st.Burner == warden.BurnerRun {
		t.Error("the last piece leaves the flame lit")
	}
	f.answer(true)
	f.untilState(2, Complete)
	if f.m.parked {
		t.Error("parked after the last piece")
	}
}
