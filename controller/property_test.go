package controller

import (
	"testing"

	"pgregory.net/rapid"

	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// judge checks every step of a machine against what must always hold.
type judge struct {
	was     State
	open    bool
	starts  int
	ends    int
	lights  int // light-ups seen to begin in this cycle
	allowed int // light-ups that the cycle may have: 1, and 1 a restart
	burner  uint8
}

// lively are the states in which a cycle may ask for energy. Held keeps a
// piece warm and turning; Stopping keeps it turning and opens the press.
var lively = map[State]bool{Running: true, Pausing: true, Paused: true, Holding: true,
	Held: true, Restarting: true, Stopping: true}

func (j *judge) step(t interface{ Fatalf(string, ...any) }, m *Machine, in *Input, out *Output) {
	if out.N > MaxRecords-4 {
		t.Fatalf("%d records in one step: the last may be lost", out.N)
	}
	j.table(t, out)
	j.records(t, out)
	r := &out.Request
	if !lively[out.Status.State] {
		j.quiet(t, out.Status.State, r)
	}
	if r.Flags&warden.ReqOxygen != 0 && m.burner() != warden.BurnerRun {
		t.Fatalf("oxygen asked for without a proven flame")
	}
	closing := r.Press == warden.PressClose || r.Press == warden.PressForce
	if closing && r.Flags&warden.ReqBurnerIn != 0 {
		t.Fatalf("burner and press are asked into each other's way")
	}
	if closing && out.Status.State != Running && out.Status.State != Pausing &&
		out.Status.State != Holding {
		t.Fatalf("closing force asked for in %v", out.Status.State)
	}
	if p := m.current(); p != nil && handsIn(p.Kind) && m.guarded {
		if r.SpindleDrpm != 0 || r.Press != warden.PressNone || r.Flags&warden.ReqBurnerIn != 0 {
			t.Fatalf("hands in, and motion is asked for: %+v", *r)
		}
	}
	if out.Status.State == Aborting || out.Status.State == Aborted {
		if r.Lease != 0 {
			t.Fatalf("a lease is renewed in %v", out.Status.State)
		}
	}
	if out.Status.Lock == warden.LockLockout && r.Flags&warden.ReqReset != 0 {
		t.Fatalf("the host asks to reset a lockout")
	}
}

// quiet: outside a cycle nothing is asked for but a parked soft flame.
func (j *judge) quiet(t interface{ Fatalf(string, ...any) }, s State, r *rig.Request) {
	parked := (s == Idle || s == Complete) && r.Lease == warden.LeaseFuel &&
		r.FuelMl <= 1_600 && r.Flags&(warden.ReqBurnerIn|warden.ReqOxygen|warden.ReqCycle) == 0
	if r.Lease != 0 && !parked {
		t.Fatalf("in %v is asked: %+v", s, *r)
	}
	if r.SpindleDrpm != 0 || r.Press != warden.PressNone || r.OxygenMl != 0 {
		t.Fatalf("in %v is asked: %+v", s, *r)
	}
}

// table: the state changes only along cells of the table, one after another
// (I14), and only with a record.
func (j *judge) table(t interface{ Fatalf(string, ...any) }, out *Output) {
	for _, r := range out.Records[:out.N] {
		if r.Kind != RecState {
			continue
		}
		to, ok := Next(j.was, r.Command)
		if !ok || to != r.State {
			t.Fatalf("%v went to %v by %v", j.was, r.State, r.Command)
		}
		j.was = r.State
	}
	if out.Status.State != j.was {
		t.Fatalf("state is %v and the records say %v", out.Status.State, j.was)
	}
}

// records: each cycle has one start and one end record, the end in a final
// state, and no record of a cycle outside of it.
func (j *judge) records(t interface{ Fatalf(string, ...any) }, out *Output) {
	for _, r := range out.Records[:out.N] {
		switch r.Kind {
		case RecStart:
			if j.open {
				t.Fatalf("a second start record")
			}
			j.open, j.starts = true, j.starts+1
		case RecEnd:
			if !j.open || (r.State != Complete && r.State != Stopped && r.State != Aborted) {
				t.Fatalf("end record in %v, open %v", r.State, j.open)
			}
			j.open, j.ends = false, j.ends+1
		default:
			if (r.Cycle != 0) != j.open {
				t.Fatalf("record %d with cycle %d, open %v", r.Kind, r.Cycle, j.open)
			}
		}
	}
}

// TestAnyInputs feeds inputs that no rig would give. Whatever comes, the
// machine asks for energy only in its cycle and moves only along its table.
func TestAnyInputs(t *testing.T) {
	p := driven(t)
	rapid.Check(t, func(t *rapid.T) {
		m := New(Config{Profile: p})
		j := &judge{was: Idle}
		cycle, now := uint32(0), uint64(0)
		journal := JournalHealth{Writable: true}
		var out Output
		for range rapid.IntRange(1, 300).Draw(t, "steps") {
			now += rapid.SampledFrom([]uint64{0, 10, 10, 10, 200, 6_000, 61_000}).Draw(t, "dt")
			in := Input{ElapsedMs: now}
			in.Session = rapid.SampledFrom([]uint32{0, 7, 7, 7, 7, 8}).Draw(t, "session")
			in.Command = rapid.SampledFrom([]Command{0, 0, 0, 0, Start, Start, Stop, Hold, Restart,
				Abort, Reset, Reset, Pause, Resume}).Draw(t, "command")
			in.Ack = rapid.Bool().Draw(t, "ack")
			if rapid.Bool().Draw(t, "answers") {
				in.Answer = Answer{Prompt: out.Status.Prompt, Yes: true}
			}
			if rapid.IntRange(0, 3).Draw(t, "snap") > 0 {
				in.Snap = anySnapshot(t, m, now)
			}
			if in.Command == Start {
				cycle++
				next := job(cycle)
				in.Job = &next
			}
			journal.Writable = rapid.IntRange(0, 9).Draw(t, "journal") > 0
			journal.Started = m.job.Cycle
			in.Journal = journal
			m.Step(&in, &out)
			j.step(t, m, &in, &out)
		}
	})
}

// anySnapshot is a snapshot of anything, with a leaning to what lets a cycle go
// on.
func anySnapshot(t *rapid.T, m *Machine, now uint64) *rig.Snapshot {
	s := &rig.Snapshot{StampMs: uint32(now), In: rapid.Uint32().Draw(t, "in"),
		AnalogOK: rapid.Uint16().Draw(t, "ok"), Flags: rapid.Uint16Range(0, 15).Draw(t, "flags"),
		Out: rapid.Uint16().Draw(t, "out"), ArmID: m.arm.id,
		Press:  rapid.Uint8Range(0, 7).Draw(t, "press"),
		Link:   rapid.SampledFrom([]uint8{3, 3, 3, 2, 1}).Draw(t, "link"),
		Burner: rapid.SampledFrom([]uint8{7, 7, 7, 0, 1, 2, 4, 8, 9, 10}).Draw(t, "burner"),
		Lock:   rapid.SampledFrom([]uint8{0, 0, 0, 0, 0, 0, 0, 1, 2, 3}).Draw(t, "lock")}
	for i := range s.Analog {
		s.Analog[i] = rapid.Int16().Draw(t, "analog")
	}
	if s.Lock != 0 {
		s.First = rapid.SampledFrom([]uint8{1, 3, 11, 15, 21, 40}).Draw(t, "first")
		s.Trips = 1 << s.First
		s.Present = s.Trips & rapid.Uint64().Draw(t, "present")
	}
	return s
}

// TestAnyEvents drives the machine over the real warden with random commands,
// buttons and faults; then the faults go, an operator acts rightly, and the
// machine must come back to Idle (invariant 17).
func TestAnyEvents(t *testing.T) {
	p := driven(t)
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake(t, p)
		j := &judge{was: Idle, allowed: 1}
		f.log = func(in *Input, out *Output) {
			j.step(rt, f.m, in, out)
			j.relights(rt, f, out)
		}
		cycle := uint32(1)
		f.toPhase(job(1), rapid.SampledFrom(phaseNames()).Draw(rt, "from"))
		for range rapid.IntRange(5, 60).Draw(rt, "events") {
			anyEvent(rt, f, &cycle)
		}
		comeBack(rt, f)
		if j.starts != j.ends {
			rt.Fatalf("%d start records, %d end records", j.starts, j.ends)
		}
	})
}

func phaseNames() (names []string) {
	for _, p := range stem().Phases {
		names = append(names, p.Name)
	}
	return names
}

// relights: no second light-up in a cycle but by Restart (invariant 6).
func (j *judge) relights(t interface{ Fatalf(string, ...any) }, f *fake, out *Output) {
	for _, r := range out.Records[:out.N] {
		switch {
		case r.Kind == RecStart:
			j.lights, j.allowed = 0, 1
		case r.Kind == RecState && r.State == Restarting:
			j.allowed++
		}
	}
	was := j.burner
	j.burner = f.st.Burner
	if j.burner == warden.BurnerTrial && was != warden.BurnerTrial {
		j.lights++
	}
	if j.lights > j.allowed {
		t.Fatalf("light-up %d of %d allowed", j.lights, j.allowed)
	}
}

func anyEvent(t *rapid.T, f *fake, cycle *uint32) {
	switch rapid.IntRange(0, 15).Draw(t, "event") {
	case 0:
		f.command(Command(rapid.IntRange(2, 8).Draw(t, "command")))
	case 1:
		*cycle++
		j := job(*cycle)
		j.Last = rapid.Bool().Draw(t, "last")
		f.start(j)
	case 2:
		f.set(rapid.SampledFrom([]uint32{warden.InDoorClosed, warden.InEstopOK, warden.InMainsOK,
			warden.InGasAlarm}).Draw(t, "switch"), rapid.Bool().Draw(t, "on"))
		f.run(50)
	case 3:
		f.noFlame = rapid.Bool().Draw(t, "flame out")
	case 4:
		f.stuckGlass = rapid.Bool().Draw(t, "stuck")
	case 5:
		f.session = rapid.SampledFrom([]uint32{0, 7}).Draw(t, "session")
		f.run(700)
	case 6:
		f.journal.Writable = rapid.Bool().Draw(t, "journal")
	case 7:
		f.next.Ack = true
		f.press(warden.InReset, 50)
		f.run(100)
	default:
		goRight(f, cycle)
		f.run(rapid.IntRange(10, 4_000).Draw(t, "ms"))
	}
}

// goRight does what an operator who wants a piece would do.
func goRight(f *fake, cycle *uint32) {
	switch {
	case f.m.state == Idle:
		*cycle++
		f.start(job(*cycle))
	case f.out.Status.Prompt != 0:
		f.answer(true)
	case f.out.Status.Armed && f.held == 0:
		f.press(warden.InStart, 50)
	case f.m.state == Held:
		f.next.Ack = true
		f.command(Restart)
	case f.m.state == Paused:
		f.command(Resume)
	}
}

// comeBack takes the faults away and acts as an operator should.
func comeBack(t *rapid.T, f *fake) {
	f.set(warden.InDoorClosed|warden.InEstopOK|warden.InMainsOK, true)
	f.set(warden.InGasAlarm|warden.InStart, false)
	f.noFlame, f.stuckGlass, f.session, f.silent = false, false, 7, false
	f.journal.Writable = true
	f.run(1_000)
	done := f.until(600, func() bool {
		f.next.Ack = true
		if f.st.Lock == warden.LockLockout && f.held == 0 {
			f.press(warden.InReset, 50)
		}
		switch f.m.state {
		case Idle:
			if f.st.Lock == warden.LockNone {
				return true
			}
			f.command(Reset)
		case Complete, Stopped, Aborted:
			f.command(Reset)
		case Stopping, Aborting:
		default:
			f.command(Stop)
		}
		return false
	})
	if !done {
		t.Fatalf("no way back to idle: %v, lock %d, trips %x, present %x, refusal %q", f.m.state,
			f.st.Lock, f.st.Trips, f.st.Present, f.out.Refusal)
	}
}

// TestSupervisorNeverLocksOut: invariant 12.
func TestSupervisorNeverLocksOut(t *testing.T) {
	for _, r := range safety.SupervisorRows {
		if r.Reacts.Lock >= warden.LockLockout {
			t.Errorf("row %d locks out", r.Row)
		}
	}
}
