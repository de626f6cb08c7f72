package rehearse_test

import (
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// snapshotsMs is two snapshots at 100 Hz.
const snapshotsMs = 20

// lyingBoards are boards that say, of a rig in which nothing is wrong, what cannot be
// so; found is one of the numbers that stand for it.
var lyingBoards = []struct {
	name  string
	idle  bool // else while the glass is fired
	lie   func(*rig.Snapshot)
	found []uint8
	over  bool // it is none any more once the cycle was aborted
}{
	{"emergency stop open, no reaction", false, func(s *rig.Snapshot) { s.In &^= warden.InEstopOK }, []uint8{7, 40}, false},
	{"safety door open, no reaction", false, func(s *rig.Snapshot) { s.In &^= warden.InDoorClosed }, []uint8{43}, false},
	{"flame gone, burner in run", false, func(s *rig.Snapshot) { s.In &^= warden.InFlame }, []uint8{3, 6, 44}, true},
	{"all outputs off, phases go on", false, func(s *rig.Snapshot) { s.Out, s.FuelMl, s.OxygenMl, s.SpindleDrpm = 0, 0, 0, 0 },
		[]uint8{32, 35, 36, 37}, false},
	{"fuel flow 32.7 L/min", false, func(s *rig.Snapshot) { s.Analog[warden.AiFuelFlow] = 32_700 }, []uint8{69}, true},
	{"all leases dead", false, func(s *rig.Snapshot) { s.LeaseCs = [warden.NumLeases]uint8{255, 255, 255, 255} },
		[]uint8{10, 11, 13}, true},
	{"echo stuck", false, func(s *rig.Snapshot) { s.EchoSeq = 99 }, []uint8{14}, false},
	{"tripped without a latch", false, func(s *rig.Snapshot) { s.Trips, s.First = 1<<warden.CauseEstop, warden.CauseEstop },
		[]uint8{19, 22}, false},
	{"lockout without a cause", false, func(s *rig.Snapshot) { s.Lock, s.Trips = warden.LockLockout, 1<<warden.CauseEstop },
		[]uint8{8, 19, 24}, false},
	{"burner runs unasked", true, func(s *rig.Snapshot) {
		s.Burner, s.Out, s.FuelMl = warden.BurnerRun, s.Out|warden.OutFuel|warden.OutFan, 3000
		s.In |= warden.InFlame | warden.InExtraction
		s.LeaseCs[0] = 1
	}, []uint8{31, 60, 61, 67}, false},
	{"emergency stop open while idle", true, func(s *rig.Snapshot) { s.In &^= warden.InEstopOK }, []uint8{40}, false},
	{"cause tripped while idle, no latch", true, func(s *rig.Snapshot) { s.Trips, s.First = 1<<warden.CauseDoor, warden.CauseDoor },
		[]uint8{22}, false},
	{"lockout without a cause while idle", true, func(s *rig.Snapshot) { s.Lock = warden.LockLockout }, []uint8{22}, false},
}

// A board that contradicts itself, the rig or what was asked is found within its
// rule's own time, 300 ms and two snapshots. Nothing more is asked of it, the cycle is
// aborted in the record, a person is told what was seen and what to do, and nothing
// starts until the person has acknowledged a board that agrees again.
func TestLyingWardenIsFound(t *testing.T) {
	for _, tt := range lyingBoards {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			h, job := fired(t, tt.idle)
			from := h.Rig.Ms()
			h.Alter = tt.lie
			if !h.Run(5000, func() bool { return h.Out.Status.Contradiction != 0 }) {
				t.Fatalf("not found: %+v", h.Out.Status)
			}
			took := h.Rig.Ms() - from
			k := safety.ContradictionOf(h.Out.Status.Contradiction)
			config := h.BoardConfig()
			if most := uint64(k.Longest(&config)) + safety.SecondOpinionMs + snapshotsMs + 20; took > most {
				t.Errorf("found after %d ms, at most %d", took, most)
			}
			expected := false
			for _, n := range tt.found {
				expected = expected || n == k.Number
			}
			if !expected {
				t.Errorf("found as %d, %s", k.Number, k.What)
			}
			quiet(t, h)
			told(t, h, k.What, tt.idle)
			refuses(t, h, job, tt.over)
			comesBack(t, h, job)
		})
	}
}

// fired is a rig whose glass is being fired, or an idle one, and a job for it.
func fired(t *testing.T, idle bool) (*rehearse.Rehearsal, controller.Job) {
	p, r := profileAndRecipe(t, "practice-disc")
	config := p.WardenConfig()
	config.CheckMs, config.PurgeMs, config.PostPurgeMs = 500, 1000, 1000
	h, err := rehearse.New(rehearse.Options{Profile: p, Config: &config, Seed: 4, Answers: true, NoTrace: true})
	if err != nil {
		t.Fatal(err)
	}
	job := controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r}
	if idle {
		h.Run(1000, func() bool { return false })
		if h.Out.Status.Doing != "ready" {
			t.Fatalf("idle: %q", h.Out.Status.Doing)
		}
		return h, job
	}
	h.Start(job)
	if !h.Run(120_000, func() bool { return h.Out.Status.PhaseKind == recipes.Fire }) {
		t.Fatalf("never fired: %+v", h.Out.Status)
	}
	h.Run(3000, func() bool { return false })
	return h, job
}

// quiet: from now on nothing is asked for but an abort.
func quiet(t *testing.T, h *rehearse.Rehearsal) {
	t.Helper()
	asked := false
	h.Run(3000, func() bool {
		r := h.Out.Request
		r.Flags &^= warden.ReqAbort
		asked = asked || r != rig.Request{}
		return asked
	})
	if asked {
		t.Errorf("asked for %+v", h.Out.Request)
	}
	if _, out, _, _ := h.Rig.Warden(); out.Bits&(warden.OutFuel|warden.OutOxygen|warden.OutIgniter) != 0 {
		t.Errorf("outputs %x: the board was sound and heard nothing", out.Bits)
	}
}

// told: state, words and record.
func told(t *testing.T, h *rehearse.Rehearsal, what string, idle bool) {
	t.Helper()
	s := &h.Out.Status
	const do = "do not trust the board: press the emergency stop, shut the gas by hand"
	if s.Doing != do || s.Reason != what || !s.AckNeeded || s.Alarms&(1<<safety.RowImplausible) == 0 {
		t.Errorf("told %+v", s)
	}
	alarms, end := 0, controller.Record{}
	for _, r := range h.Records {
		switch {
		case r.Kind == controller.RecAlarm && r.Cause == safety.RowImplausible:
			alarms++
			if r.Reason != what || r.Name != "contradiction" || r.Value != float64(s.Contradiction) {
				t.Errorf("recorded %+v", r)
			}
		case r.Kind == controller.RecEnd:
			end = r
		}
	}
	if alarms != 1 {
		t.Errorf("recorded %d times", alarms)
	}
	if !idle && (s.State != controller.Aborted || end.State != controller.Aborted) {
		t.Errorf("the cycle ended %v: %s", end.State, end.Reason)
	}
}

// refuses: neither a start nor a reset while the board lies, nor does an
// acknowledgement end it.
func refuses(t *testing.T, h *rehearse.Rehearsal, job controller.Job, over bool) {
	t.Helper()
	refusal := func(what string) {
		h.Run(30, func() bool { return h.Out.Refusal != "" })
		if h.Out.Refusal == "" {
			t.Errorf("%s is taken", what)
		}
		h.Run(20, func() bool { return false })
	}
	job.Cycle = 2
	h.Start(job)
	refusal("a start")
	if !over {
		h.Ack()
		refusal("an acknowledgement of what stands")
	}
	h.Command(controller.Reset)
	refusal("a reset")
	h.Run(200, func() bool { return false })
	if s := &h.Out.Status; s.Doing == "ready" || s.Contradiction == 0 || s.Armed || !s.AckNeeded {
		t.Errorf("%+v", s)
	}
}

// comesBack: a board that agrees again, a person who has seen to it.
func comesBack(t *testing.T, h *rehearse.Rehearsal, job controller.Job) {
	t.Helper()
	h.Alter = nil
	h.Run(1000, func() bool { return false })
	if s := &h.Out.Status; s.Doing == "ready" || s.Contradiction == 0 {
		t.Fatalf("forgotten by itself: %+v", s)
	}
	if !h.BackToIdle(300_000, func() bool { return false }) {
		t.Fatalf("no way back: %+v", h.Out.Status)
	}
	h.Ack()
	h.Run(1000, func() bool { return false })
	if h.Out.Status.Contradiction != 0 || h.Out.Status.Doing != "ready" {
		t.Errorf("acknowledged: %+v", h.Out.Status)
	}
	job.Cycle = 3
	h.Start(job)
	if !h.Run(1000, func() bool { return h.State() == controller.Running }) {
		t.Errorf("no start: %+v", h.Out.Status)
	}
}

// A purge of 2 s by a board that says it has the configured limits.
func TestShortPurgeEndsTheCycle(t *testing.T) {
	p, r := profileAndRecipe(t, "practice-disc")
	short := func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		bent := *c
		bent.PurgeMs = 2000
		warden.Step(&bent, s, in, out)
	}
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 4, Answers: true, NoTrace: true, Warden: short})
	if err != nil {
		t.Fatal(err)
	}
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	fuelMs := 0
	h.Each = func() {
		if _, out, _, _ := h.Rig.Warden(); out.Bits&warden.OutFuel != 0 {
			fuelMs++
		}
	}
	if !h.Run(60_000, h.Ended) || h.Out.Status.Contradiction != 31 || h.State() != controller.Aborted || fuelMs != 0 {
		t.Errorf("fuel was open for %d ms: %+v", fuelMs, h.Out.Status)
	}
}

// A sound board is believed: set-up with every hold-to-run, a flame parked with the
// door open, creep after a lost link, an emergency stop, a restart, lost snapshots. The
// stored recipes, the faults of the simulated traces and those of the campaign are
// held to the same in their own tests.
func TestSoundWardenIsBelieved(t *testing.T) {
	for name, play := range map[string]func(*testing.T, *rehearse.Rehearsal){
		"set-up": func(_ *testing.T, h *rehearse.Rehearsal) {
			wait := func(ms int) { h.Run(ms, func() bool { return false }) }
			h.Command(controller.Stop)
			h.Run(120_000, func() bool { return h.State() == controller.Stopped })
			h.Command(controller.Reset)
			wait(40_000)
			h.Rig.SetSetUp(true)
			for _, open := range []bool{false, true} {
				h.Rig.SetDoor(!open)
				wait(500)
				for _, b := range []bench.Button{bench.ButtonClose, bench.ButtonTurn, bench.ButtonOpen} {
					h.Rig.Press(bench.ButtonLeft, 2000)
					h.Rig.Press(b, 2000)
					wait(1000)
					h.Rig.SetDoor(true) // opened and closed under the hand
					wait(300)
					h.Rig.SetDoor(!open)
					wait(3000)
				}
			}
			h.Rig.SetSetUp(false)
		},
		"set-up in a lit cycle": func(_ *testing.T, h *rehearse.Rehearsal) { h.Rig.SetSetUp(true) },
		"door":                  func(_ *testing.T, h *rehearse.Rehearsal) { h.Rig.SetDoor(false) },
		"emergency stop":        func(_ *testing.T, h *rehearse.Rehearsal) { h.Rig.SetEstop(true) },
		"restart of the board":  func(_ *testing.T, h *rehearse.Rehearsal) { h.Rig.Reset() },
		"restart of the daemon": func(_ *testing.T, h *rehearse.Rehearsal) { h.RestartHost() },
		"creep":                 inject("line_cut for 3s"),
		"lost snapshots":        inject("line_drop 60 %"),
		"late snapshots":        inject("line_delay 150 ms"),
		"flame out":             inject("flame_out"),
		"abort":                 func(_ *testing.T, h *rehearse.Rehearsal) { h.Command(controller.Abort) },
		"hold":                  func(_ *testing.T, h *rehearse.Rehearsal) { h.Command(controller.Hold) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			h, _ := fired(t, false)
			play(t, h)
			h.Run(40_000, func() bool { return false })
			h.Rig.SetDoor(true)
			h.Rig.SetEstop(false)
			h.Rig.SetSetUp(false)
			if !h.BackToIdle(600_000, func() bool { return false }) {
				t.Errorf("no way back: %+v", h.Out.Status)
			}
			believed(t, h)
		})
	}
}

func inject(line string) func(*testing.T, *rehearse.Rehearsal) {
	return func(t *testing.T, h *rehearse.Rehearsal) {
		f, err := bench.ParseFault(line)
		if err == nil {
			err = h.Rig.Inject(f)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func believed(t *testing.T, h *rehearse.Rehearsal) {
	t.Helper()
	for _, r := range h.Records {
		if r.Kind == controller.RecAlarm && r.Cause == safety.RowImplausible {
			t.Errorf("not believed at %d ms: %g, %s", r.ElapsedMs, r.Value, r.Reason)
		}
	}
}

// A soft flame parked between two pieces, the door open for loading.
func TestParkedFlameIsBelieved(t *testing.T) {
	p, r := profileAndRecipe(t, "practice-disc")
	h, err := rehearse.New(rehearse.Options{Profile: p, Seed: 4, Answers: true, NoTrace: true})
	if err != nil {
		t.Fatal(err)
	}
	for piece := range uint32(2) {
		h.Start(controller.Job{Cycle: piece + 1, Run: 1, Piece: uint16(piece + 1), By: "test", Recipe: r})
		if !h.Run(20*60*1000, h.Ended) || h.State() != controller.Complete {
			t.Fatalf("piece %d: %+v", piece+1, h.Out.Status)
		}
		h.Command(controller.Reset)
		h.Run(5000, func() bool { return false })
		h.Rig.SetDoor(false)
		h.Run(20_000, func() bool { return false })
		h.Rig.SetDoor(true)
		h.Run(1000, func() bool { return false })
	}
	believed(t, h)
}
