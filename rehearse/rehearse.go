package rehearse

import (
	"slices"
	"time"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/glass/forming"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// Options describe a rehearsal.
type Options struct {
	Profile *rig.Profile   // required
	Config  *warden.Config // nil: the profile's
	Seed    uint64
	Answers bool         // prompts of a running cycle are answered with yes
	NoTrace bool         // Trace stays empty
	Job     *forming.Job // what is pressed from what; nil: the bench's own
	LowerC  float64      // mould halves at the start; 0: the bench's own
	UpperC  float64
	// Warden replaces warden.Step in the simulated rig; nil is the real one.
	Warden func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
	// Board takes the place of the simulated microcontroller; nil is that.
	Board bench.Board
	// Sent is called with each frame that the host sends, nil for nothing.
	Sent func(frame []byte)
}

// Rehearsal is a cycle machine and a simulated rig in virtual time. They share
// only bytes. It is not safe for several goroutines.
type Rehearsal struct {
	Rig      *bench.Rig
	Snap     rig.Snapshot      // newest
	Out      controller.Output // of the newest step
	Writable bool              // what the machine is told of the journal
	// ClockAheadMs is how far the host's clock has run away from the rig's.
	ClockAheadMs uint64
	Records      []controller.Record
	Trace        trials.Trace // of the cycle under way, or the last one
	// Each is called after every millisecond of the rig, nil for nothing.
	Each func()
	// Alter is called with every snapshot before the machine gets it, nil for nothing:
	// a board that says otherwise than it is.
	Alter func(*rig.Snapshot)
	// Steps is called after every step of the machine, nil for nothing.
	Steps func(*controller.Input, *controller.Output)

	profile *rig.Profile
	board   warden.Config
	machine *controller.Machine
	answers bool
	noTrace bool
	sent    func([]byte)
	in      controller.Input
	snap    rig.Snapshot
	tick    uint64
	started uint32
	bad     uint8
	idleMs  int
	header  wire.Header
	recv    wire.Receiver
	split   wire.Splitter
	frame   wire.Frame
	bytes   []byte
	fromMs  uint64 // when the traced cycle began
	tracing bool
}

// idleMost is how long the host waits for a snapshot before it steps without
// one, as the loop does.
const idleMost = 20

// New makes a rig that has just been switched on and connects to it.
func New(o Options) (*Rehearsal, error) {
	config := o.Profile.WardenConfig()
	if o.Config != nil {
		config = *o.Config
	}
	r, err := bench.New(bench.Options{Profile: o.Profile, Config: config, Seed: o.Seed,
		Operator: true, Warden: o.Warden, Job: o.Job, LowerC: o.LowerC, UpperC: o.UpperC, Board: o.Board})
	if err != nil {
		return nil, err
	}
	h := &Rehearsal{Rig: r, Writable: true, answers: o.Answers,
		noTrace: o.NoTrace, sent: o.Sent, profile: o.Profile, board: config}
	h.header.HostSession = 0xC0FFEE00
	h.RestartHost()
	h.Trace.Analog = make([][]int16, warden.NumAnalog)
	h.Run(2000, func() bool { return h.in.Session != 0 && h.tick > 2 })
	return h, nil
}

// Fork is the same rehearsal a second time: both go on from here as one would
// have. Each, Alter, Steps and Options.Sent are not taken over.
func (h *Rehearsal) Fork() *Rehearsal {
	f := *h
	machine := *h.machine
	f.Rig, f.machine = h.Rig.Fork(), &machine
	f.Records = slices.Clone(h.Records)
	t := &f.Trace
	t.Analog = slices.Clone(t.Analog)
	for i := range t.Analog {
		t.Analog[i] = slices.Clone(t.Analog[i])
	}
	t.Ms, t.OK, t.In, t.Out = slices.Clone(t.Ms), slices.Clone(t.OK), slices.Clone(t.In), slices.Clone(t.Out)
	t.Burner, t.Press, t.Flags = slices.Clone(t.Burner), slices.Clone(t.Press), slices.Clone(t.Flags)
	f.frame, f.bytes, f.Each, f.sent, f.Steps = wire.Frame{}, nil, nil, nil, nil
	f.Alter = nil
	return &f
}

// RestartHost ends the daemon without a word and starts it anew: a machine that
// remembers nothing, a session of its own, the line as it stands. What the dead
// one has not told the journal it never will.
func (h *Rehearsal) RestartHost() {
	session := h.header.HostSession + 1
	h.machine = controller.New(controller.Config{Profile: h.profile, Board: &h.board})
	h.header = wire.Header{Device: h.profile.Device, HostSession: session}
	h.recv = wire.NewHostReceiver(h.profile.Device, session)
	h.split = wire.Splitter{}
	h.in, h.Out, h.started, h.bad, h.tracing = controller.Input{}, controller.Output{}, 0, 0, false
}

// Start gives a job to the machine, which takes it with the next snapshot.
func (h *Rehearsal) Start(job controller.Job) {
	h.in.Command, h.in.Job, h.in.By = controller.Start, &job, job.By
	h.Trace = trials.Trace{Analog: make([][]int16, warden.NumAnalog)}
	h.fromMs, h.tracing = h.Rig.Ms(), !h.noTrace
}

// Command gives a command with the next step.
func (h *Rehearsal) Command(c controller.Command) { h.in.Command, h.in.By = c, "rehearsal" }

// Answer answers the open prompt with the next step.
func (h *Rehearsal) Answer(yes bool) {
	h.in.Answer, h.in.By = controller.Answer{Prompt: h.Out.Status.Prompt, Yes: yes}, "rehearsal"
}

// Ack acknowledges with the next step.
func (h *Rehearsal) Ack() { h.in.Ack, h.in.By = true, "rehearsal" }

// State is the cycle state.
func (h *Rehearsal) State() controller.State { return h.Out.Status.State }

// Run lets at most mostMs pass, until done holds, and reports whether it did.
func (h *Rehearsal) Run(mostMs int, done func() bool) bool {
	for range mostMs {
		if done() {
			return true
		}
		h.step()
	}
	return done()
}

// Ended: the cycle is over.
func (h *Rehearsal) Ended() bool {
	switch h.State() {
	case controller.Complete, controller.Stopped, controller.Aborted:
		return true
	}
	return false
}

// step is one millisecond.
func (h *Rehearsal) step() {
	if h.Rig.Ms()%100 == 0 && h.in.Session == 0 {
		hello := h.header
		hello.MCUSession = 0 // not known yet, or no longer
		h.send(wire.AppendHelloRequest([]byte{0}, &hello))
	}
	h.Rig.Step()
	if h.Each != nil {
		h.Each()
	}
	h.bytes = h.Rig.Transmit(h.bytes[:0])
	for _, b := range h.bytes {
		if raw, whole := h.split.Feed(b); whole {
			h.take(raw)
		}
	}
	if h.idleMs++; h.idleMs >= idleMost {
		h.advance(nil)
	}
}

func (h *Rehearsal) send(frame []byte) {
	h.Rig.Receive(frame)
	if h.sent != nil {
		h.sent(frame)
	}
	h.header.Seq++
}

func (h *Rehearsal) take(raw []byte) {
	switch h.recv.Take(raw, uint32(h.Rig.Ms()), &h.frame) {
	case wire.Accepted:
	case wire.Corrupt:
		h.bad++
		return
	default:
		return
	}
	switch h.frame.Class {
	case wire.ClassHello:
		h.in.Session, h.header.MCUSession = h.frame.MCUSession, h.frame.MCUSession
		h.snap.StampMs = h.frame.Hello.StampMs
	case wire.ClassSnapshot:
		h.snap = h.frame.Snapshot
		if h.Alter != nil {
			h.Alter(&h.snap)
		}
		h.advance(&h.snap)
	}
}

// advance is one step of the machine and the request that it wants sent.
func (h *Rehearsal) advance(snap *rig.Snapshot) {
	if h.recv.Silent(uint32(h.Rig.Ms())) {
		h.in.Session = 0
	}
	h.idleMs = 0
	h.tick++
	in := &h.in
	in.Tick, in.ElapsedMs, in.Snap, in.BadFrames = h.tick, h.Rig.Ms()+h.ClockAheadMs, snap, h.bad
	in.Journal = controller.JournalHealth{Writable: h.Writable, Started: h.started}
	if s := &h.Out.Status; h.answers && s.Prompt != 0 && s.State == controller.Running {
		in.Answer, in.By = controller.Answer{Prompt: s.Prompt, Yes: true}, "rehearsal"
	}
	h.machine.Step(in, &h.Out)
	if h.Steps != nil {
		h.Steps(in, &h.Out)
	}
	h.keep(snap)
	if h.Out.Send && in.Session != 0 {
		m := wire.Request{EchoMs: h.snap.StampMs, Want: h.Out.Request}
		h.send(wire.AppendRequest(nil, &h.header, &m))
	}
	h.in, h.bad = controller.Input{Session: in.Session}, 0
}

func (h *Rehearsal) keep(snap *rig.Snapshot) {
	for _, r := range h.Out.Records[:h.Out.N] {
		h.Records = append(h.Records, r)
		if r.Kind == controller.RecStart {
			h.started = r.Cycle // the journal of a rehearsal is never slow
		}
	}
	if snap == nil {
		return
	}
	h.Snap = *snap
	if !h.tracing {
		return
	}
	t := &h.Trace
	t.Ms = append(t.Ms, uint32(h.Rig.Ms()-h.fromMs))
	for ai := range warden.NumAnalog {
		t.Analog[ai] = append(t.Analog[ai], snap.Analog[ai])
	}
	t.OK, t.In, t.Out = append(t.OK, snap.AnalogOK), append(t.In, snap.In), append(t.Out, snap.Out)
	t.Burner, t.Press = append(t.Burner, snap.Burner), append(t.Press, snap.Press)
	t.Flags = append(t.Flags, snap.Flags)
	if h.Ended() {
		h.tracing = false
	}
}

// Cycle is the story of the newest cycle, for a comparison or a picture.
func (h *Rehearsal) Cycle(recipe, rigName string) trials.Cycle {
	c := trials.Cycle{Rig: rigName, Recipe: recipe, Guarded: true}
	since := func(ms uint64) time.Duration {
		return time.Duration(int64(ms)-int64(h.fromMs)) * time.Millisecond
	}
	for _, r := range h.Records {
		switch r.Kind {
		case controller.RecStart:
			c.Number, c.Phases, c.Measures = r.Cycle, nil, nil
		case controller.RecPhaseBegin:
			c.Phases = append(c.Phases, trials.Phase{Name: r.Name, Begin: since(r.ElapsedMs)})
		case controller.RecPhaseEnd:
			if n := len(c.Phases); n > 0 {
				c.Phases[n-1].End, c.Phases[n-1].Reason = since(r.ElapsedMs), r.Reason
			}
		case controller.RecMeasure:
			c.Measures = append(c.Measures, trials.Measure{Name: r.Name, Value: r.Value, Unit: r.Unit,
				At: since(r.ElapsedMs)})
		case controller.RecEnd:
			c.State, c.Reason, c.Cause, c.Lockout = r.State.String(), r.Reason, r.Cause, r.Lockout
			c.CauseText = safety.Sentence(r.Cause)
		}
	}
	return c
}

// BoardConfig are the limits that the board has.
func (h *Rehearsal) BoardConfig() warden.Config { return h.board }
