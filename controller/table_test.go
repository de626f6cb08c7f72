package controller

import (
	"testing"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// cells is the state x command table of IEC 61512-1 as safety.md section 3.1
// prints it (from memory, agreeing with a partial public restatement): rows in
// order of State, columns done, Start, Stop, Hold, Restart, Abort, Reset,
// Pause, Resume; 0 is a refused command. It is written out a second time here
// on purpose.
var cells = [12][9]State{
	{0, Running, 0, 0, 0, 0, 0, 0, 0},                            // Idle
	{Complete, 0, Stopping, Holding, 0, Aborting, 0, Pausing, 0}, // Running
	{0, 0, 0, 0, 0, 0, Idle, 0, 0},                               // Complete
	{Paused, 0, Stopping, Holding, 0, Aborting, 0, 0, 0},         // Pausing
	{0, 0, Stopping, Holding, 0, Aborting, 0, 0, Running},        // Paused
	{Held, 0, Stopping, 0, 0, Aborting, 0, 0, 0},                 // Holding
	{0, 0, Stopping, 0, Restarting, Aborting, 0, 0, 0},           // Held
	{Running, 0, Stopping, Holding, 0, Aborting, 0, 0, 0},        // Restarting
	{Stopped, 0, 0, 0, 0, Aborting, 0, 0, 0},                     // Stopping
	{0, 0, 0, 0, 0, Aborting, Idle, 0, 0},                        // Stopped
	{Aborted, 0, 0, 0, 0, 0, 0, 0, 0},                            // Aborting
	{0, 0, 0, 0, 0, 0, Idle, 0, 0},                               // Aborted
}

// TestTableCounts holds the table to SV-046 (12 x 8 = 96 cells, 25 changing,
// 6 done), SV-047 (Abort refused in Aborted, Idle and Complete) and SV-048
// (Aborted is left only by Reset).
func TestTableCounts(t *testing.T) {
	changing, refused, done := 0, 0, 0
	for from := Idle; from <= Aborted; from++ {
		for by := NoCommand; by <= Resume; by++ {
			want := cells[from-1][by]
			to, ok := Next(from, by)
			if ok != (want != 0) || (ok && to != want) {
				t.Errorf("%v, %v: goes to %v (%v), want %v", from, by, to, ok, want)
			}
			switch {
			case by == NoCommand && ok:
				done++
			case by == NoCommand:
			case ok:
				changing++
			default:
				refused++
			}
		}
	}
	if changing != 25 || refused != 71 || done != 6 {
		t.Errorf("%d changing, %d refused, %d done; SV-046 says 25, 71, 6", changing, refused, done)
	}
	for _, from := range []State{Idle, Complete, Aborted} {
		if _, ok := Next(from, Abort); ok {
			t.Errorf("SV-047: abort is taken in %v", from)
		}
	}
}

// reach drives a fake rig until its machine is in state s.
func reach(t *testing.T, s State) *fake {
	t.Helper()
	f := newFake(t, driven(t))
	at := func(phase string, then ...Command) {
		f.toPhase(job(1), phase)
		for _, c := range then {
			f.command(c)
		}
	}
	switch s {
	case Idle:
		f.run(2_000)
	case Running:
		at("warm")
	case Complete:
		at("unload")
		f.run(2_000)
		f.answer(true)
	case Pausing:
		at("warm", Pause)
	case Paused:
		at("light", Pause)
		f.untilState(30, Paused)
	case Holding:
		at("set", Hold)
	case Held:
		at("warm", Hold)
		f.untilState(30, Held)
	case Restarting:
		at("warm", Hold)
		f.untilState(30, Held)
		f.command(Restart)
	case Stopping:
		at("warm", Stop)
	case Stopped:
		at("seat", Stop)
		f.untilState(5, Stopped)
	case Aborting:
		at("warm", Abort)
	case Aborted:
		at("warm", Abort)
		f.untilState(5, Aborted)
		f.run(100)
	}
	if f.m.state != s {
		t.Fatalf("reached %v, not %v", f.m.state, s)
	}
	return f
}

// TestCells gives all eight commands in all twelve states to a machine with the
// real warden underneath: 96 cells. Each state is reached once and copied.
func TestCells(t *testing.T) {
	for from := Idle; from <= Aborted; from++ {
		f := reach(t, from)
		for by := Start; by <= Resume; by++ {
			m := *f.m
			snap := f.snapshot()
			j := job(9)
			in := Input{ElapsedMs: f.now + 10, Snap: &snap, Session: f.session, Command: by,
				By: "ann", Job: &j, Ack: true, Journal: JournalHealth{Writable: true, Started: 1}}
			var out Output
			m.Step(&in, &out)
			checkCell(t, from, by, &out)
		}
	}
}

func checkCell(t *testing.T, from State, by Command, out *Output) {
	t.Helper()
	want := cells[from-1][by]
	var moved State
	taken, refused := false, false
	for _, r := range out.Records[:out.N] {
		switch {
		case r.Kind == RecState && r.Command == by && moved == 0:
			moved = r.State
		case (r.Kind == RecCommand && r.Reason == "") || r.Kind == RecStart:
			taken = true
		case r.Kind == RecCommand && r.By == "ann":
			refused = true
		}
	}
	if moved != want || taken != (want != 0) || refused != (want == 0) {
		t.Errorf("%v, %v: moved to %v, want %v; taken %v, refused %v", from, by, moved, want, taken,
			refused)
	}
	if (out.Refusal == "") != (want != 0) {
		t.Errorf("%v, %v: the refusal is told as %q", from, by, out.Refusal)
	}
}

// TestLockoutNeedsTheButton: no command of the host resets a lockout.
func TestLockoutNeedsTheButton(t *testing.T) {
	f := reach(t, Running)
	f.set(warden.InEstopOK, false)
	f.untilState(2, Aborted)
	f.set(warden.InEstopOK, true)
	f.next.Ack = true
	f.command(Reset)
	if f.m.state != Aborted || f.out.Refusal != lockoutWords {
		t.Fatalf("%v, %q", f.m.state, f.out.Refusal)
	}
	f.press(warden.InReset, 200)
	f.run(300)
	f.command(Reset)
	if f.m.state != Idle {
		t.Fatalf("%v, %q", f.m.state, f.out.Refusal)
	}
}

// TestAllocations: a step allocates nothing, in a quiet phase, at a phase
// boundary and when a command is refused.
func TestAllocations(t *testing.T) {
	f := reach(t, Running)
	snap := f.snapshot()
	at := f.now
	in := Input{Snap: &snap, Session: f.session, Command: Resume, By: "ann",
		Journal: JournalHealth{Writable: true, Started: 1}}
	out := new(Output)
	base := *f.m
	work := base
	n := testing.AllocsPerRun(2_000, func() {
		at += 10
		in.ElapsedMs = at
		snap.StampMs = uint32(at)
		snap.Analog[warden.AiGlass] = int16(5_000 + at%4_000)
		snap.AnalogOK, snap.Flags = 1<<warden.NumAnalog-1, rig.FlagViewFree
		work.Step(&in, out)
	})
	if n != 0 {
		t.Errorf("%g allocations a step", n)
	}
	if work.phase.index == base.phase.index {
		t.Error("no phase boundary was crossed: the test shows little")
	}
}

// BenchmarkStep is one step in a heating phase with a new snapshot.
func BenchmarkStep(b *testing.B) {
	f := newFake(b, driven(b))
	f.toPhase(job(1), "fire")
	snap := f.snapshot()
	in := Input{Snap: &snap, Session: f.session, Journal: JournalHealth{Writable: true, Started: 1}}
	out := new(Output)
	start, glass := *f.m, snap.Analog[warden.AiGlass]
	work := start
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if i++; i%400 == 0 { // stay within the phase
			work = start
		}
		in.ElapsedMs = f.now + uint64(i%400)*10
		snap.StampMs = uint32(in.ElapsedMs)
		snap.Analog[warden.AiGlass] = glass + int16(i%7)
		work.Step(&in, out)
		if work.state != Running || work.phase.index != start.phase.index {
			b.Fatalf("%v, %s", work.state, work.reason)
		}
	}
}
