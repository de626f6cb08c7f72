package controller

import (
	"reflect"
	"testing"
	"time"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// TestBeginIsStart: a replay that begins a cycle and a machine that is started
// are the same machine afterwards, whatever happened before.
func TestBeginIsStart(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "unload")
	f.run(2_000)
	f.answer(true)
	f.untilState(2, Complete)
	f.command(Reset)
	f.run(3_000)
	snap := f.snapshot()
	j := job(2)
	in := Input{ElapsedMs: f.now + 10, Snap: &snap, Session: 7, Command: Start, Job: &j,
		Journal: JournalHealth{Writable: true, Started: 1}}
	other := New(Config{Profile: f.m.cfg.profile, Board: &f.cfg})
	var a, b Output
	f.m.Step(&in, &a)
	other.Begin(j, &in, &b)
	if !reflect.DeepEqual(*f.m, *other) {
		t.Error("the machines differ")
	}
	if a.Request != b.Request || a.Status != b.Status || a.Request.Flags&warden.ReqFlame == 0 {
		t.Errorf("%+v and %+v", a.Request, b.Request)
	}
}

// TestStartWaitsForASnapshot: at most 500 ms, then it is refused; another
// command takes its place.
func TestStartWaitsForASnapshot(t *testing.T) {
	for _, c := range []struct {
		name    string
		then    func(*fake)
		refusal string
		want    State
	}{
		{"comes", func(f *fake) { f.run(20) }, "", Running},
		{"stays away", func(f *fake) { f.silent = true; f.run(510) }, "no word from the rig", Idle},
		{"another command", func(f *fake) { f.next.Command = Stop; f.run(10) }, "", Idle},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFake(t, driven(t))
			s := f.listenTo()
			f.run(1_000)
			j := job(1)
			f.next.Job, f.next.Command = &j, Start
			f.run(10) // a step without a snapshot
			if f.m.state != Idle || !f.m.waits {
				t.Fatalf("%v, waits %v", f.m.state, f.m.waits)
			}
			c.then(f)
			if f.m.state != c.want || f.m.waits {
				t.Errorf("%v, waits %v", f.m.state, f.m.waits)
			}
			if c.refusal != "" && s.find(RecCommand, c.refusal) == nil {
				t.Errorf("no refusal %q", c.refusal)
			}
		})
	}
}

// TestStartRefusals: each reason by itself.
func TestStartRefusals(t *testing.T) {
	good := func() (Job, Input, rig.Snapshot) {
		return job(1), Input{Session: 7, Journal: JournalHealth{Writable: true}},
			rig.Snapshot{AnalogOK: 0xFFFF, Analog: [warden.NumAnalog]int16{0, 4500, 4300}}
	}
	mould := recipes.Moulds{LowerC: 450, UpperC: 430, Band: 15}
	for _, c := range []struct {
		name string
		with func(*Job, *Input, *rig.Snapshot)
		want string
	}{
		{"good", func(*Job, *Input, *rig.Snapshot) {}, ""},
		{"no recipe", func(j *Job, _ *Input, _ *rig.Snapshot) { j.Recipe = nil }, "no recipe was given"},
		{"no number", func(j *Job, _ *Input, _ *rig.Snapshot) { j.Cycle = 0 },
			"no cycle number was given"},
		{"resume", func(j *Job, _ *Input, _ *rig.Snapshot) { j.Recipe.Resume = 99 },
			"the recipe's resume phase does not exist"},
		{"bands", func(j *Job, _ *Input, _ *rig.Snapshot) {
			j.Recipe.Phases[1].Bands = make([]recipes.Band, MaxBands+1)
		}, "a phase of the recipe has more than 16 bands"},
		{"16 bands", func(j *Job, _ *Input, _ *rig.Snapshot) {
			j.Recipe.Phases[1].Bands = make([]recipes.Band, MaxBands)
		}, ""},
		{"journal", func(_ *Job, in *Input, _ *rig.Snapshot) { in.Journal.Writable = false },
			"the journal cannot be written: no cycle may start"},
		{"link", func(_ *Job, in *Input, _ *rig.Snapshot) { in.Session = 0 },
			"the link to the rig is down"},
		{"lockout", func(_ *Job, _ *Input, s *rig.Snapshot) { s.Lock = warden.LockLockout },
			lockoutWords},
		{"hold", func(_ *Job, _ *Input, s *rig.Snapshot) { s.Lock = warden.LockHold },
			"the rig is locked: acknowledge, then reset"},
		{"present", func(_ *Job, _ *Input, s *rig.Snapshot) { s.Present = 1 << warden.CauseButton },
			"a cause of a trip is present at the rig"},
		{"moulds in band", func(j *Job, _ *Input, s *rig.Snapshot) {
			j.Recipe.Moulds = mould
			s.Analog[warden.AiMouldLower], s.Analog[warden.AiMouldUpper] = 4650, 4150
		}, ""},
		{"lower mould", func(j *Job, _ *Input, s *rig.Snapshot) {
			j.Recipe.Moulds = mould
			s.Analog[warden.AiMouldLower] = 4651
		}, "the lower mould half is outside its temperature band"},
		{"upper mould", func(j *Job, _ *Input, s *rig.Snapshot) {
			j.Recipe.Moulds = mould
			s.Analog[warden.AiMouldUpper] = 4149
		}, "the upper mould half is outside its temperature band"},
		{"mould thermometer", func(j *Job, _ *Input, s *rig.Snapshot) {
			j.Recipe.Moulds = mould
			s.AnalogOK &^= 1 << warden.AiMouldUpper
		}, "the upper mould half is outside its temperature band"},
		{"moulds are warmed", func(j *Job, _ *Input, s *rig.Snapshot) {
			j.Recipe.Moulds = mould
			j.Recipe.Phases[0].Kind = recipes.WarmMould
			s.Analog[warden.AiMouldUpper] = 200
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			j, in, snap := good()
			c.with(&j, &in, &snap)
			in.Snap, in.Job, in.Command = &snap, &j, Start
			m := New(Config{Profile: driven(t)})
			var out Output
			m.Step(&in, &out)
			if out.Refusal != c.want || (m.State() == Running) != (c.want == "") {
				t.Errorf("%v, %q", m.State(), out.Refusal)
			}
		})
	}
}

// TestCalibration: window and travel go out as the rig shows them, the figures
// of the cycle come back as they truly are.
func TestCalibration(t *testing.T) {
	p := *driven(t)
	p.Calibration = []rig.Calibration{{Channel: "glass", Read: [2]float64{0, 1000},
		True: [2]float64{10, 1010}}}
	l := limitsOf(&p)
	if got := l.glassDC(900); got != 8_900 {
		t.Errorf("900 C is shown as %d", got)
	}
	if got := l.trueOf(warden.AiGlass, 8_900); got != 900 {
		t.Errorf("8900 is %g C", got)
	}
	if got := l.shown(warden.AiTravel, 1e9); got != 32_767 {
		t.Errorf("far out: %d", got)
	}
	if got := l.shown(warden.AiTravel, -1e9); got != -32_768 {
		t.Errorf("far out: %d", got)
	}
}

// TestStartTakenBack: when the rig no longer holds the START of this cycle and
// has not tripped, the machine aborts: it does not know why.
func TestStartTakenBack(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "warm")
	f.run(1_000)
	f.st.UsedArmID, f.st.Started, f.st.ArmID = 99, 0, 99
	f.untilState(2, Aborted)
	if f.m.reason != "the rig took START back" {
		t.Error(f.m.reason)
	}
}

// TestCycleLongest: the whole cycle, arming included, has its longest.
func TestCycleLongest(t *testing.T) {
	f := newFake(t, driven(t))
	j := job(1)
	j.Recipe.Longest = 20 * time.Second
	f.toPhase(j, "warm")
	f.untilState(90, Stopped)
	if f.m.reason != "the cycle took its longest" {
		t.Error(f.m.reason)
	}
}

// TestParkedFlameHasItsLongest: the profile's ParkLongest, then shut in order.
func TestParkedFlameHasItsLongest(t *testing.T) {
	p := *driven(t)
	p.Burner.ParkLongest = 30 * time.Second
	f := newFake(t, &p)
	f.toPhase(job(1), "unload")
	f.run(2_000)
	f.answer(true)
	f.untilState(2, Complete)
	f.run(29_000)
	if !f.m.parked || f.st.Burner != warden.BurnerRun {
		t.Fatal("shut before its longest")
	}
	f.run(2_000)
	if f.m.parked || f.st.Burner == warden.BurnerRun || f.st.Trips != 0 {
		t.Errorf("parked %v, burner %d, trips %x", f.m.parked, f.st.Burner, f.st.Trips)
	}
}

// TestNoParkingWithDoorInterlock: where a parked flame may not burn with the
// door open, the flame goes before hands come in.
func TestNoParkingWithDoorInterlock(t *testing.T) {
	p := *driven(t)
	p.Burner.ParkedDoorOpen = false
	f := newFake(t, &p)
	f.toPhase(job(1), "unload")
	if f.out.Status.Prompt != 0 {
		t.Error("the person is asked in while the flame burns")
	}
	if !f.until(5, func() bool { return f.out.Status.Prompt != 0 }) {
		t.Fatalf("never asked: %q", f.out.Status.Doing)
	}
	if f.st.Out.Bits&warden.OutFuel != 0 {
		t.Error("fuel is open")
	}
	f.set(warden.InDoorClosed, false) // opening the door is no trip now
	f.run(500)
	f.set(warden.InDoorClosed, true)
	f.answer(true)
	f.untilState(2, Complete)
	if f.m.parked || f.st.Trips != 0 {
		t.Errorf("parked %v, trips %x", f.m.parked, f.st.Trips)
	}
}

// TestTwoStrokes: a second press is only more phases; both have their contact.
func TestTwoStrokes(t *testing.T) {
	f := newFake(t, driven(t))
	s := f.listenTo()
	j := job(1)
	ph := j.Recipe.Phases
	second := append([]recipes.Phase(nil), ph[3:8]...) // fire to part, once more
	for i := range second {
		second[i].Name += "_2"
	}
	j.Recipe.Phases = append(append(append([]recipes.Phase(nil), ph[:8]...), second...), ph[8:]...)
	f.toPhase(j, "unload")
	contacts := 0
	for _, r := range s.all {
		if r.Kind == RecMark && r.Reason == "contact" {
			contacts++
		}
	}
	if contacts != 2 || f.st.Trips != 0 {
		t.Errorf("%d contacts, trips %x", contacts, f.st.Trips)
	}
}

// TestArmingsAreBounded: the sixteenth arming of a cycle stops it.
func TestArmingsAreBounded(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "warm")
	ids := map[uint16]bool{f.m.arm.id: true}
	for range MaxArmings - 1 {
		f.command(Hold)
		f.untilState(30, Held)
		f.command(Restart)
		f.pushStart()
		ids[f.m.arm.id] = true
		f.untilPhase(60, "warm")
	}
	f.command(Hold)
	f.untilState(30, Held)
	f.command(Restart)
	f.untilState(90, Stopped)
	if f.m.reason != "armed too often in one cycle" || len(ids) != MaxArmings || ids[0] {
		t.Errorf("%q, %d numbers", f.m.reason, len(ids))
	}
}

// TestTimeLeft: exact where time ends a phase, by the slope (which flattens, so
// it says too little at first) where a temperature
// does, none where a person decides.
func TestTimeLeft(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "seat")
	if f.out.Status.LeftMs != -1 {
		t.Errorf("seat: %d", f.out.Status.LeftMs)
	}
	f = newFake(t, driven(t))
	f.toPhase(job(1), "fire")
	f.run(5_000)
	from, left := f.now, f.out.Status.LeftMs
	f.untilPhase(60, "aside")
	if took := int64(f.now - from); left < took*7/10 || left > took*13/10 {
		t.Errorf("fire: said %d ms, took %d", left, took)
	}
	f.untilPhase(60, "set")
	f.run(1_000)
	if left := f.out.Status.LeftMs; left < 1_980 || left > 2_010 {
		t.Errorf("set: %d", left)
	}
}

// TestNames: every state and command has its name, and the name finds it.
func TestNames(t *testing.T) {
	for c := Start; c <= Resume; c++ {
		if CommandNamed(c.String()) != c {
			t.Errorf("%d is %q", c, c)
		}
	}
	for s := Idle; s <= Aborted; s++ {
		if s.String() == "" || s.String() == "state?" {
			t.Errorf("state %d has no name", s)
		}
	}
	if State(99).String() != "state?" || Command(99).String() != "command?" ||
		CommandNamed("launch") != NoCommand {
		t.Error("a number or name that does not exist")
	}
}
