package controller

import (
	"testing"

	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// recorded counts what a cycle or none writes down, by kind.
func (f *fake) recorded() map[RecordKind]int {
	n := map[RecordKind]int{}
	f.log = func(_ *Input, out *Output) {
		for _, r := range out.Records[:out.N] {
			n[r.Kind]++
		}
	}
	return n
}

// A lockout whose first cause is said to be 0 is one trip, not one a step; and what
// the board says of it later is told.
func TestTripWithoutACauseIsRecordedOnce(t *testing.T) {
	f := newFake(t, driven(t))
	f.run(1_000)
	n := f.recorded()
	f.lie = func(s *rig.Snapshot) { s.Lock, s.First, s.Trips = warden.LockLockout, 0, 0 }
	f.run(10_000)
	if n[RecTrip] != 1 || n[RecAlarm] != 1 {
		t.Errorf("%d trips and %d alarms in 10 s, want one of each", n[RecTrip], n[RecAlarm])
	}
	if s := &f.out.Status; s.Doing == "ready" || s.Contradiction == 0 {
		t.Errorf("%+v", s)
	}
	f.lie = func(s *rig.Snapshot) {
		s.Lock, s.First, s.Trips, s.Present = warden.LockLockout, warden.CauseEstop, 1<<warden.CauseEstop, 0
	}
	f.run(100)
	if f.out.Status.Cause != warden.CauseEstop || n[RecTrip] != 1 {
		t.Errorf("first cause %d, %d trips", f.out.Status.Cause, n[RecTrip])
	}
}

// A board whose latch or button flaps for 10 s fills no journal: at most 10 records at
// once and 10 a second, as PROTOCOL.md lets a board tell events.
func TestFlappingBoardFillsNoJournal(t *testing.T) {
	for name, lie := range map[string]func(*rig.Snapshot){
		"latch": func(s *rig.Snapshot) {
			s.Lock, s.First, s.Trips = warden.LockAbort, warden.CauseDoor, 1<<warden.CauseDoor
		},
		"button": func(s *rig.Snapshot) { s.Present = 1 << warden.CauseButton },
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake(t, driven(t))
			f.run(1_000)
			n := f.recorded()
			times := 0
			f.lie = func(s *rig.Snapshot) {
				if times++; times%2 == 0 {
					lie(s)
				}
			}
			f.run(10_000)
			if all := n[RecTrip] + n[RecAlarm]; all < 10 || all > 10+100 {
				t.Errorf("%d records of %d flaps", all, times/2)
			}
		})
	}
}

// What is not ready is not called ready, and Start is refused with the same words.
func TestStatusIsReadyOnlyWhenItIs(t *testing.T) {
	for name, tt := range map[string]struct {
		set  func(*fake)
		want string
	}{
		"ready":         {func(*fake) {}, "ready"},
		"disk full":     {func(f *fake) { f.journal.Writable = false }, "the journal cannot be written: no cycle may start"},
		"daemon killed": {func(f *fake) { f.m = New(Config{Profile: f.m.cfg.profile, Board: &f.cfg, Interrupted: true}) }, interruptedWords},
		"door tripped":  {func(f *fake) { f.st.Trips, f.st.First = 1<<warden.CauseDoor, warden.CauseDoor }, "the rig is locked: acknowledge, then reset"},
		"button held":   {func(f *fake) { f.press(warden.InStart, 60_000); f.run(3_100) }, "a cause of a trip is present at the rig"},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake(t, driven(t))
			f.run(1_000)
			tt.set(f)
			f.run(100)
			if got := f.out.Status.Doing; got != tt.want {
				t.Fatalf("%q, want %q", got, tt.want)
			}
			refusal := ""
			f.log = func(_ *Input, out *Output) {
				if out.Refusal != "" {
					refusal = out.Refusal
				}
			}
			f.start(job(1))
			if tt.want == "ready" && refusal != "" || tt.want != "ready" && refusal != tt.want {
				t.Errorf("start: %q", refusal)
			}
		})
	}
}

// Row 24: a daemon that ended in a cycle is an alarm of the next one, until a person
// acknowledges it.
func TestInterruptedDaemonWantsAPerson(t *testing.T) {
	f := newFake(t, driven(t))
	f.m = New(Config{Profile: f.m.cfg.profile, Board: &f.cfg, Interrupted: true})
	f.run(2_000)
	s := &f.out.Status
	if s.Alarms&(1<<safety.RowDaemonRestarted) == 0 || s.Cause != safety.RowDaemonRestarted || !s.AckNeeded {
		t.Errorf("%+v", s)
	}
	f.next.Ack = true
	f.run(100)
	if s.Alarms != 0 || s.AckNeeded || s.Doing != "ready" {
		t.Errorf("acknowledged: %+v", s)
	}
	f.start(job(1))
	f.untilState(2, Running)
}

// A rig worked by a person alone is nobody's lying board, and none is started on one
// that lies.
func TestAssistedCycleAndALyingBoard(t *testing.T) {
	f := newFake(t, driven(t))
	f.run(1_000)
	f.lie = func(s *rig.Snapshot) { s.In &^= warden.InEstopOK }
	f.run(1_000)
	j := job(1)
	assisted := *j.Recipe
	assisted.Assisted = true
	j.Recipe = &assisted
	f.start(j)
	if f.m.State() != Idle {
		t.Errorf("%v: a cycle began at a board that is not believed", f.m.State())
	}
}
