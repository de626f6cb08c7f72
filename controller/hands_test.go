package controller

import (
	"slices"
	"testing"
	"time"

	"pressrig/recipes"
	"pressrig/safety/warden"
)

// withTube is a cycle in which hands come in once it has begun.
func withTube() Job {
	j := job(1)
	tube := recipes.Phase{Name: "tube", Kind: recipes.Hands, Longest: 300 * time.Second,
		Late: recipes.LateStop, End: recipes.End{Answer: true}, Flame: j.Recipe.Phases[4].Flame}
	j.Recipe.Phases = slices.Insert(j.Recipe.Phases, 2, tube)
	j.Recipe.Resume = 3
	return j
}

// rests: nothing moves, and at most a soft flame burns clear.
func (f *fake) rests() bool {
	const moves = warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn | warden.OutSpindle |
		warden.OutPressClose | warden.OutPressOpen
	return f.st.Out.Bits&moves == 0 && f.st.Out.FuelMl <= f.cfg.SoftMaxMl
}

// A yes from the desk and a closed door start nothing in a phase with hands at
// the moulds; closing the door and pushing START at the rig is the answer.
func TestHandsAnswerIsStartAtTheRig(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(withTube(), "tube")
	if !f.until(5, func() bool { return f.out.Status.Prompt != 0 && f.st.Link == warden.LinkWaiting }) {
		t.Fatalf("never asked: %q, link %d", f.out.Status.Doing, f.st.Link)
	}
	f.set(warden.InDoorClosed, false)
	f.run(500)
	f.answer(true)
	if f.out.Status.PhaseName != "tube" || f.out.Status.Prompt == 0 {
		t.Fatalf("a yes from the desk is taken: phase %q", f.out.Status.PhaseName)
	}
	f.set(warden.InDoorClosed, true)
	for range 300 {
		if f.run(10); !f.rests() || f.out.Status.PhaseName != "tube" {
			t.Fatalf("the closed door starts phase %q, outputs %03x", f.out.Status.PhaseName, f.st.Out.Bits)
		}
	}
	f.answer(true)
	if f.run(1_000); !f.rests() {
		t.Fatalf("a yes with the door closed starts outputs %03x", f.st.Out.Bits)
	}
	if f.st.Out.Bits&warden.OutFuel == 0 {
		t.Error("the parked flame went out")
	}
	f.press(warden.InStart, 200)
	f.untilPhase(2, "warm")
	f.untilState(300, Running)
	f.untilPhase(200, "unload")
	f.run(1_000)
	f.answer(true)
	f.untilState(2, Complete)
}

// An opened door renews the time in which START counts.
func TestHandsMayTakeTheirTime(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(withTube(), "tube")
	f.run(70_000)
	f.press(warden.InStart, 200)
	f.run(1_000)
	if f.out.Status.PhaseName != "tube" {
		t.Fatal("START counts after its 60 s")
	}
	f.set(warden.InDoorClosed, false)
	f.run(90_000)
	f.set(warden.InDoorClosed, true)
	f.run(1_000)
	f.press(warden.InStart, 200)
	f.untilPhase(2, "warm")
}

// After resume nothing moves until START; with the door open it is refused.
func TestResumeWantsStart(t *testing.T) {
	f := newFake(t, driven(t))
	j := job(1)
	j.Recipe.Phases[1].SpindleRPM = 0 // so that the opened door is no trip
	f.toPhase(j, "light")
	f.command(Pause)
	f.untilState(90, Paused)
	f.run(1_000)
	f.set(warden.InDoorClosed, false)
	f.run(100)
	f.command(Resume)
	if f.m.state != Paused || f.m.reason != closeDoorWords {
		t.Fatalf("resume with the door open: %v, %q", f.m.state, f.m.reason)
	}
	f.set(warden.InDoorClosed, true)
	f.run(2_000)
	f.command(Resume)
	if f.run(3_000); !f.rests() || f.out.Status.PhaseName == "warm" {
		t.Fatalf("resume from the desk starts outputs %03x", f.st.Out.Bits)
	}
	f.pushStart()
	f.untilPhase(5, "warm")
}

// A closed door does not let a cycle go on in which it was opened: the cycle
// holds, and restart takes a new START.
func TestOpenedDoorHoldsTheCycle(t *testing.T) {
	p := *driven(t)
	f := newFake(t, &p)
	j := job(1)
	j.Recipe.Phases[1].SpindleRPM = 0 // so that the opened door is no trip
	f.toPhase(j, "light")
	f.until(90, func() bool { return f.st.Burner == warden.BurnerPurge })
	f.set(warden.InDoorClosed, false)
	f.run(500)
	f.set(warden.InDoorClosed, true)
	f.untilState(5, Held)
	if f.m.reason != "the safety door was opened" {
		t.Errorf("reason %q", f.m.reason)
	}
	f.command(Restart)
	f.run(3_000)
	if !f.rests() || f.st.Out.Bits&warden.OutFuel != 0 {
		t.Fatalf("restart from the desk starts outputs %03x", f.st.Out.Bits)
	}
	f.pushStart()
	f.untilPhase(90, "warm")
}
