package controller

import (
	"testing"

	"pressrig/recipes"
	"pressrig/safety/warden"
)

// TestHoldEverywhere holds in every phase of a recipe, restarts, and finishes
// the piece: a hold acts at once before contact; from contact it finishes set,
// part and flame-cool, then holds, and Restart goes to unload.
func TestHoldEverywhere(t *testing.T) {
	r := stem()
	for i := range r.Phases {
		t.Run(r.Phases[i].Name, func(t *testing.T) {
			f := newFake(t, driven(t))
			s := f.listenTo()
			f.toPhase(job(1), r.Phases[i].Name)
			f.run(200)
			f.command(Hold)
			f.untilState(60, Held)
			if !f.m.pressOpen() {
				t.Error("held with the press closed")
			}
			f.run(1_000)
			f.command(Restart)
			want := min(r.Resume, i)
			if f.m.contacted {
				want = len(r.Phases) - 1
			}
			restartTo(t, f, r.Phases[want].Name)
			// The first snapshots of the form phase show no contact yet.
			burnt := i >= 2 && !f.m.contacted
			if f.out.Status.Refired != burnt || (s.find(RecMark, "re-fired") != nil) != burnt {
				t.Errorf("re-fired: told %v, want %v", f.out.Status.Refired, burnt)
			}
			finishPiece(t, f)
			if s.count(RecStart) != 1 || s.count(RecEnd) != 1 || f.st.Trips != 0 {
				t.Errorf("%d starts, %d ends, trips %x", s.count(RecStart), s.count(RecEnd), f.st.Trips)
			}
		})
	}
}

// restartTo gives the START that a restart needs and waits for the phase.
func restartTo(t *testing.T, f *fake, name string) {
	t.Helper()
	if f.until(1, func() bool { return f.out.Status.Armed }) {
		f.press(warden.InStart, 200)
	}
	f.untilPhase(60, name)
}

// finishPiece answers what is asked and pushes what is armed until Complete.
func finishPiece(t *testing.T, f *fake) {
	t.Helper()
	ok := f.until(300, func() bool {
		switch {
		case f.m.state == Complete:
			return true
		case f.out.Status.Prompt != 0:
			f.answer(true)
		case f.out.Status.Armed && f.held == 0:
			f.press(warden.InStart, 100)
		}
		return false
	})
	if !ok {
		t.Fatalf("%v, %q, %q", f.m.state, f.out.Status.Doing, f.m.reason)
	}
}

// TestRestartNeedsItsOwnStart: a START pressed before the restart is none, and
// a button held down all the time is none.
func TestRestartNeedsItsOwnStart(t *testing.T) {
	f := reach(t, Held)
	f.in.Bits |= warden.InStart
	f.command(Restart)
	f.run(5_000)
	if f.m.state != Restarting || f.m.arm.started {
		t.Fatalf("%v, started %v", f.m.state, f.m.arm.started)
	}
	f.in.Bits &^= warden.InStart
	f.run(4_000) // a stuck button is an alarm until it is released
	restartTo(t, f, "warm")
}

// TestNoSecondLightUp: when the flame goes without a trip the machine holds; it
// never lights again by itself (invariant 6).
func TestNoSecondLightUp(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "warm")
	f.run(1_000)
	f.st.Burner, f.st.Oxygen = warden.BurnerPostPurge, 0 // the flame is taken away in order
	lit := 0
	f.log = func(*Input, *Output) {
		if f.st.Burner == warden.BurnerCheck {
			lit++
		}
	}
	f.untilState(5, Held)
	f.run(60_000)
	if lit != 0 || f.m.reason != "the flame is out" {
		t.Errorf("lit %d times; %q", lit, f.m.reason)
	}
}

// TestOneTrialInTheLightPhase: a light-up that ends without a trip is not tried
// again, although the phase still wants a flame.
func TestOneTrialInTheLightPhase(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "light")
	f.until(10, func() bool { return f.st.Burner == warden.BurnerPurge })
	f.run(1_000)
	m, snap, out := *f.m, f.snapshot(), Output{}
	snap.Burner = warden.BurnerStandby
	in := Input{ElapsedMs: f.now + 10, Snap: &snap, Session: f.session,
		Journal: JournalHealth{Writable: true}}
	if m.Step(&in, &out); out.Request.Flags&warden.ReqFlame != 0 {
		t.Error("the flame is asked for again at once")
	}
	f.st.Burner, f.st.PhaseMs = warden.BurnerPostPurge, 0
	again := false
	f.log = func(*Input, *Output) { again = again || f.st.Burner == warden.BurnerCheck }
	f.run(10_000)
	if again || f.m.state != Held {
		t.Errorf("lit again %v, %v: %s", again, f.m.state, f.m.reason)
	}
}

// TestStartOfAnotherArming is none: only a START for the number that this cycle
// armed begins it.
func TestStartOfAnotherArming(t *testing.T) {
	f := reach(t, Restarting)
	f.run(100)
	m := *f.m
	snap := f.snapshot()
	snap.Link, snap.ArmID = warden.LinkStarted, m.arm.id-1
	in := Input{ElapsedMs: f.now + 10, Snap: &snap, Session: f.session,
		Journal: JournalHealth{Writable: true}}
	var out Output
	m.Step(&in, &out)
	if m.arm.started || !m.arm.asking {
		t.Fatal("the START of another arming is taken")
	}
	snap.ArmID = m.arm.id
	in.ElapsedMs += 10
	m.Step(&in, &out)
	if !m.arm.started {
		t.Fatal("the START of this arming is not taken")
	}
}

// TestHoldWithoutFlameSkipsFlameCooling: a cause that shuts the gas leaves set
// and part, not the soft flame.
func TestHoldWithoutFlameSkipsFlameCooling(t *testing.T) {
	f := newFake(t, driven(t))
	s := f.listenTo()
	f.toPhase(job(1), "set")
	f.m.hold.denied = true
	f.command(Hold)
	f.untilState(60, Held)
	if s.find(RecPhaseBegin, "part") == nil || s.find(RecPhaseBegin, "soft") != nil {
		t.Error("parting must run and the soft flame must not")
	}
}

// TestLate: what a recipe says happens when a phase takes its longest.
func TestLate(t *testing.T) {
	for late, want := range map[recipes.Late]State{recipes.LateHold: Held,
		recipes.LateStop: Stopped, recipes.LateAbort: Aborted, recipes.LateNext: Running} {
		t.Run(string(late), func(t *testing.T) {
			f := newFake(t, driven(t))
			j := job(1)
			j.Recipe.Phases[2].Longest, j.Recipe.Phases[2].Late = 3_000_000_000, late
			f.toPhase(j, "warm")
			f.run(2_900)
			if f.out.Status.PhaseName != "warm" {
				t.Fatalf("left after 2.9 s: %v", f.m.state)
			}
			f.untilState(90, want)
			if late == recipes.LateNext && f.out.Status.PhaseName != "warm" {
				return
			}
			f.run(300)
			if late == recipes.LateNext && f.out.Status.PhaseName != "fire" {
				t.Error("the next phase did not begin")
			}
		})
	}
}

// TestBands: a channel outside its band for longer than the grace acts; for
// less it does not.
func TestBands(t *testing.T) {
	for _, c := range []struct {
		dry  uint64 // ms with the pressure away
		want State
	}{{900, Running}, {1_200, Held}} {
		f := newFake(t, driven(t))
		j := job(1)
		j.Recipe.Phases[2].Bands = []recipes.Band{{Channel: "spindle", AI: warden.AiSpindle,
			LowCount: 500, HighCount: 700, Grace: 1_000_000_000, Fault: recipes.LateHold}}
		f.toPhase(j, "warm")
		f.run(2_000)
		f.rpm = 20
		for range c.dry / 10 {
			f.rpm = 20
			f.run(10)
		}
		f.rpm = 60
		f.run(500)
		if f.m.state != c.want {
			t.Errorf("outside for %d ms: %v, want %v (%s)", c.dry, f.m.state, c.want, f.m.reason)
		}
	}
}

// TestTooHot: row 20 holds a piece that is hotter than anything the phase or
// the stroke aims at, with the flame shut.
func TestTooHot(t *testing.T) {
	f := newFake(t, driven(t))
	j := job(1)
	j.Recipe.Phases[3].End = recipes.End{After: 80_000_000_000}
	f.toPhase(j, "fire")
	f.untilState(60, Held)
	if f.m.alarm.cause != 20 || f.glassC < 970 || f.glassC > 1_000 {
		t.Errorf("cause %d at %.0f C: %s", f.m.alarm.cause, f.glassC, f.m.reason)
	}
	f.run(1_000)
	if f.st.Burner == warden.BurnerRun {
		t.Error("the flame is still lit")
	}
}

// TestSoftEndsFiring: SOFT ends the phase, not before its least, and its moment
// is logged.
func TestSoftEndsFiring(t *testing.T) {
	f := newFake(t, driven(t))
	s := f.listenTo()
	f.toPhase(job(1), "fire")
	f.press(warden.InSoft, 100)
	f.run(1_900)
	if f.out.Status.PhaseName != "fire" {
		t.Fatal("SOFT ended the phase before its least")
	}
	f.run(200)
	if f.out.Status.PhaseName == "fire" {
		t.Fatal("SOFT did not end the phase")
	}
	if r := s.find(RecPhaseEnd, "fire"); r == nil {
		if r = s.find(RecPhaseEnd, endSoft); r == nil {
			t.Error("no end by SOFT")
		}
	}
	if s.find(RecMark, "soft") == nil || s.find(RecMeasure, "soft_C") == nil {
		t.Error("the moment of SOFT is not logged")
	}
}
