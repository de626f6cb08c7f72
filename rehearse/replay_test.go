package rehearse

import (
	"reflect"
	"strings"
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// stored is one step as a journal would keep it.
type stored struct {
	in   controller.Input
	snap rig.Snapshot
	has  bool
	req  rig.Request
}

// deck is a cycle machine over the simulated rig in virtual time: the least
// loop that there can be.
type deck struct {
	t     *testing.T
	rig   *bench.Rig
	m     *controller.Machine
	head  wire.Header
	recv  wire.Receiver
	split wire.Splitter
	frame wire.Frame
	snap  rig.Snapshot
	fresh bool
	next  controller.Input
	out   controller.Output
	tick  uint64
	done  uint32 // newest committed start record
	steps []stored
	keep  bool
	bytes []byte
}

func newDeck(t *testing.T, profile *rig.Profile) *deck {
	t.Helper()
	r, err := bench.New(bench.Options{Profile: profile, Config: profile.WardenConfig(), Seed: 3,
		Operator: true})
	if err != nil {
		t.Fatal(err)
	}
	d := &deck{t: t, rig: r, m: controller.New(controller.Config{Profile: profile})}
	d.head = wire.Header{Device: profile.Device, HostSession: 0x1000, Seq: 7}
	d.recv = wire.NewHostReceiver(profile.Device, d.head.HostSession)
	d.rig.Receive([]byte{0})
	d.send(wire.AppendHelloRequest(nil, &d.head))
	return d
}

func (d *deck) send(frame []byte) {
	d.rig.Receive(frame)
	d.head.Seq++
}

// run lets ms milliseconds pass; the machine steps every 10.
func (d *deck) run(ms int) {
	for range ms {
		d.rig.Step()
		d.bytes = d.rig.Transmit(d.bytes[:0])
		for _, b := range d.bytes {
			if raw, whole := d.split.Feed(b); whole {
				d.take(raw)
			}
		}
		if d.rig.Ms()%10 == 0 && d.head.MCUSession != 0 {
			d.step()
		}
	}
}

func (d *deck) take(raw []byte) {
	if d.recv.Take(raw, uint32(d.rig.Ms()), &d.frame) != wire.Accepted {
		return
	}
	switch d.frame.Class {
	case wire.ClassHello:
		d.head.MCUSession = d.frame.MCUSession
		d.snap.StampMs = d.frame.Hello.StampMs
	case wire.ClassSnapshot:
		d.snap, d.fresh = d.frame.Snapshot, true
	}
}

func (d *deck) step() {
	d.tick++
	in := d.next
	d.next = controller.Input{}
	in.Tick, in.ElapsedMs, in.Session = d.tick, d.rig.Ms(), d.head.MCUSession
	in.Journal = controller.JournalHealth{Writable: true, Started: d.done}
	s := stored{has: d.fresh, snap: d.snap}
	if d.fresh {
		in.Snap = &d.snap
	}
	d.fresh = false
	d.m.Step(&in, &d.out)
	ended := false
	for _, r := range d.out.Records[:d.out.N] {
		switch r.Kind {
		case controller.RecStart:
			d.done, d.keep = r.Cycle, true
		case controller.RecEnd:
			ended = true
		}
	}
	if d.keep {
		s.in, s.req = in, d.out.Request
		d.steps = append(d.steps, s)
	}
	if ended {
		d.keep = false
	}
	if d.out.Send {
		m := wire.Request{EchoMs: d.snap.StampMs, Want: d.out.Request}
		d.send(wire.AppendRequest(nil, &d.head, &m))
	}
}

// person does what the page asks for; START and the lever are the bench's own
// operator's.
func (d *deck) person() {
	s := &d.out.Status
	if s.Prompt != 0 {
		d.next.Answer = controller.Answer{Prompt: s.Prompt, Yes: true}
	}
	switch s.Doing {
	case "swing the burner to the blank":
		d.rig.Hand(bench.HandBurnerIn)
	case "swing the burner clear":
		d.rig.Hand(bench.HandBurnerClear)
	case "push SOFT when the glass is soft":
		if s.PhaseKind == recipes.Fire && s.PhaseMs > 48_000 {
			d.rig.Press(bench.ButtonSoft, 200)
		}
	}
}

// recorded runs a recipe on the simulated rig to its end and keeps its steps.
func recorded(t *testing.T, profileName, recipeName string) (controller.Job, controller.Config,
	[]stored) {
	t.Helper()
	profile, err := rig.Builtin(profileName)
	if err != nil {
		t.Fatal(err)
	}
	sample, err := recipes.Named(recipeName)
	if err != nil {
		t.Fatal(err)
	}
	recipe, err := recipes.Parse(recipeName, sample.Text, profile)
	if err != nil {
		t.Fatal(err)
	}
	job := controller.Job{Cycle: 5, Run: 2, Piece: 1, Last: true, By: "ann", Recipe: recipe}
	d := newDeck(t, profile)
	d.run(2_000)
	d.next = controller.Input{Command: controller.Start, By: "ann", Job: &job}
	for range 900_000 / 10 {
		d.run(10)
		d.person()
		if s := d.m.State(); s == controller.Complete || s == controller.Stopped ||
			s == controller.Aborted {
			break
		}
	}
	if d.m.State() != controller.Complete {
		t.Fatalf("%s on %s: %v, %q, doing %q, phase %q, trips %x", recipeName, profileName, d.m.State(),
			d.out.Status.Reason, d.out.Status.Doing, d.out.Status.PhaseName, d.snap.Trips)
	}
	return job, controller.Config{Profile: profile}, d.steps
}

// feed gives the steps as a journal does, each from its own copy.
func feed(steps []stored) func() (*controller.Input, *rig.Request, bool) {
	i := 0
	return func() (*controller.Input, *rig.Request, bool) {
		if i >= len(steps) {
			return nil, nil, false
		}
		s := steps[i]
		i++
		s.in.Snap = nil
		if s.has {
			s.in.Snap = &s.snap
		}
		s.in.Job = nil // the job is given by itself
		return &s.in, &s.req, true
	}
}

// TestReplay replays whole cycles of three rigs on the simulated rig: every
// request is equal (SV-070, bit-equal replay).
func TestReplay(t *testing.T) {
	for _, c := range []struct{ profile, recipe string }{
		{"driven", "practice-disc"}, {"no-thermometer", "by-eye-disc"},
		{"weights", "hand-pulled-disc"}, {"driven", "dry-run"},
	} {
		t.Run(c.recipe, func(t *testing.T) {
			job, cfg, steps := recorded(t, c.profile, c.recipe)
			n, diff := Replay(job, cfg, feed(steps))
			if diff != nil || n != len(steps) {
				t.Fatalf("%d of %d equal; %v", n, len(steps), diff)
			}
			different := map[rig.Request]bool{}
			for _, s := range steps {
				different[s.req] = true
			}
			if len(different) < 5 {
				t.Errorf("only %d different requests: the test compares little", len(different))
			}
			t.Logf("%d steps, %d different requests", n, len(different))
		})
	}
}

// TestReplayFindsAlteredInputs: with one stored input altered, replay reports
// the first request that comes out otherwise, and where.
func TestReplayFindsAlteredInputs(t *testing.T) {
	job, cfg, steps := recorded(t, "driven", "practice-disc")
	firing := 0 // a step in the sharp flame, with a snapshot
	for i := range steps {
		if steps[i].req.OxygenMl > 3_000 && steps[i].has {
			firing = i + 200
			break
		}
	}
	for !steps[firing].has {
		firing++
	}
	for _, c := range []struct {
		name  string
		alter func(*stored)
	}{
		{"a command", func(s *stored) { s.in.Command = controller.Stop }},
		{"a lockout in a snapshot", func(s *stored) {
			s.snap.Lock, s.snap.First, s.snap.Trips = warden.LockLockout, 3, 1<<3
		}},
		{"the link", func(s *stored) { s.in.Session = 0 }},
		{"a glass temperature", func(s *stored) { s.snap.Analog[warden.AiGlass] += 600 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			altered := append([]stored(nil), steps...)
			c.alter(&altered[firing])
			n, diff := Replay(job, cfg, feed(altered))
			if diff == nil || diff.Gap || n != firing || diff.Tick != altered[firing].in.Tick {
				t.Fatalf("after %d of %d: %v", n, firing, diff)
			}
			if len(diff.Fields) == 0 || diff.Fields[0].Name != "Lease" {
				t.Errorf("%v", diff)
			}
		})
	}
}

// TestReplayFindsAlteredRequests names field, stored and replayed value.
func TestReplayFindsAlteredRequests(t *testing.T) {
	job, cfg, steps := recorded(t, "driven", "dry-run")
	at := len(steps) / 2
	was := steps[at].req
	steps[at].req.SpindleDrpm ^= 3
	n, diff := Replay(job, cfg, feed(steps))
	want := &Difference{Tick: steps[at].in.Tick, Fields: []Field{{"SpindleDrpm",
		int64(was.SpindleDrpm ^ 3), int64(was.SpindleDrpm)}}}
	if n != at || !reflect.DeepEqual(diff, want) {
		t.Errorf("after %d: %v, want %v", n, diff, want)
	}
	if !strings.Contains(diff.String(), "SpindleDrpm: stored") {
		t.Error(diff.String())
	}
}

// TestReplayReadsRequestsOnlyToCompare: with all stored requests empty, the
// first step with a request that is not differs, whatever came before.
func TestReplayReadsRequestsOnlyToCompare(t *testing.T) {
	job, cfg, steps := recorded(t, "driven", "dry-run")
	first := -1
	for i := range steps {
		if first < 0 && steps[i].req != (rig.Request{}) {
			first = i
		}
		steps[i].req = rig.Request{}
	}
	n, diff := Replay(job, cfg, feed(steps))
	if n != first || diff == nil || diff.Gap {
		t.Errorf("after %d, want %d: %v", n, first, diff)
	}
}

// TestReplayStopsAtAGap: at a marked gap, and at a tick that does not follow.
func TestReplayStopsAtAGap(t *testing.T) {
	job, cfg, steps := recorded(t, "driven", "dry-run")
	at := len(steps) / 3
	holed := append(append([]stored(nil), steps[:at]...), steps[at+4:]...)
	n, diff := Replay(job, cfg, feed(holed))
	if n != at || diff == nil || !diff.Gap || diff.Tick != steps[at-1].in.Tick {
		t.Errorf("hole: after %d, want %d: %v", n, at, diff)
	}
	if !strings.Contains(diff.String(), "missing") {
		t.Error(diff.String())
	}
	give, i := feed(steps), 0
	n, diff = Replay(job, cfg, func() (*controller.Input, *rig.Request, bool) {
		if i++; i > at {
			return nil, nil, true
		}
		return give()
	})
	if n != at || diff == nil || !diff.Gap || diff.Tick != steps[at-1].in.Tick {
		t.Errorf("mark: after %d, want %d: %v", n, at, diff)
	}
}
