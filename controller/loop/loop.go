package loop

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"pressrig/controller"
	"pressrig/drivers"
	"pressrig/rig"
)

// idle is the silence, in real time, after which a step is made without a
// snapshot: every lease is renewed several times over within the 100 ms that
// requests may be apart. It is no shorter with a scaled rig: while that rig's
// time stands, requests would pile up on its line and come too late.
const idle = 15 * time.Millisecond

// startWaits is how long, in real time, a start waits for a snapshot to be
// judged on: longer than the port takes to find that the line is down. A start
// that goes on without one is answered before it is judged.
const startWaits = time.Second

// Errors that end Run.
var (
	// ErrPanic is a broken invariant in a step. The port was halted first.
	ErrPanic = errors.New("internal error in a step: the rig was left without requests")
	// ErrScale is a rig with scaled time where none is allowed.
	ErrScale = errors.New("the rig's clock is scaled, and only a simulated rig may have that")

	errPortClosed = errors.New("the port was closed")
)

// NoteKind says what a Note is about.
type NoteKind uint8

// Notes for the daemon's log.
const (
	NoteLinkUp    NoteKind = 1 // Caps
	NoteLinkDown  NoteKind = 2 // Err
	NoteRefused   NoteKind = 3 // Caps, Err: a rig that is not the one of the profile
	NoteWallClock NoteKind = 4 // By: the wall clock was set
	NoteEvent     NoteKind = 5 // Event, Value: the microcontroller says something
	NoteSend      NoteKind = 6 // Err: the port takes no request; once until it does
	NotePanic     NoteKind = 7 // Err, Stack
	NoteNoisy     NoteKind = 8 // the line's error budget is used up; once until acknowledged

	numNotes = 9
)

// Note is one line for the daemon's log.
type Note struct {
	Kind  NoteKind
	Caps  rig.Capabilities
	Err   error
	By    time.Duration
	Event uint16
	Value uint32
	Stack []byte
	// LeftOut is how many notes of this kind were left out before this one.
	LeftOut uint32
}

// Options are the parts that a Loop joins. Port, Machine and Journal are
// needed; a zero Clock is the system's; nil functions are not called.
type Options struct {
	Port       drivers.Port
	Machine    Machine
	Journal    Journal
	Publishers []Publisher
	Clock      Clock
	// Log must not wait; it is called on the control path.
	Log func(Note)
	// Accept looks at each hello; an error keeps the link down for the machine.
	Accept func(*rig.Capabilities) error
	// Simulated allows a rig whose clock is scaled.
	Simulated bool
}

// Loop is the running supervisor. Run is called once; Do from anywhere.
type Loop struct {
	o      Options
	orders chan *waiting
	stop   chan *waiting
	abort  chan *waiting
	done   chan struct{}

	in       controller.Input
	out      controller.Output
	report   drivers.Report
	time     scaled
	wall     wallWatch
	session  uint32
	bad      uint8
	sendFail bool
	why      string // the link is down, or the rig was refused
	noisy    bool   // the line's error budget is used up, and nobody has seen to it
	quotas   [numNotes]quota
	held     *waiting // a start that waits for a snapshot, for startWaits at most
	heldAt   time.Duration
	reports  <-chan drivers.Report
}

// New joins the parts. Nothing runs before Run.
func New(o Options) *Loop {
	if o.Clock.Mono == nil {
		o.Clock = SystemClock()
	}
	if o.Log == nil {
		o.Log = func(Note) {}
	}
	return &Loop{
		o:      o,
		orders: make(chan *waiting, MaxOrders),
		stop:   make(chan *waiting, 1),
		abort:  make(chan *waiting, 1),
		done:   make(chan struct{}),
		time:   scaled{scale: 1},
	}
}

// Run makes steps until ctx ends, which is no error. Whatever ends it, the port
// is halted before Run returns, so the warden's leases run out.
func (l *Loop) Run(ctx context.Context) (err error) {
	defer close(l.done)
	defer l.o.Port.Halt()
	defer func() {
		if p := recover(); p != nil {
			l.o.Port.Halt() // inert first, then words
			err = fmt.Errorf("%w: %v", ErrPanic, p)
			l.o.Log(Note{Kind: NotePanic, Err: err, Stack: debug.Stack()})
		}
	}()
	timer := time.NewTimer(idle)
	defer timer.Stop()
	l.time.at = l.o.Clock.Mono()
	l.reports = l.o.Port.Reports()
	for {
		stepped, err := l.wait(ctx, timer.C)
		if err != nil || ctx.Err() != nil {
			return err
		}
		if stepped {
			timer.Reset(idle)
		}
	}
}

// wait takes the next thing to happen and reports whether a step was made.
// Abort comes before Stop, and both before anything else.
func (l *Loop) wait(ctx context.Context, silent <-chan time.Time) (bool, error) {
	select {
	case w := <-l.abort:
		return l.serveFirst(w), nil
	default:
	}
	select {
	case w := <-l.stop:
		return l.serveFirst(w), nil
	default:
	}
	select {
	case w := <-l.abort:
		return l.serveFirst(w), nil
	case w := <-l.stop:
		return l.serveFirst(w), nil
	case w := <-l.orders:
		return l.order(w), nil
	case r, ok := <-l.reports:
		if !ok {
			l.reports = nil // the port was closed: no more of it
			r = drivers.Report{Kind: drivers.ReportDown, Err: errPortClosed}
		}
		l.report = r
		return l.take(&l.report)
	case <-silent:
		if l.held != nil && l.o.Clock.Mono()-l.heldAt < startWaits {
			l.step()
		} else {
			l.stepHeld()
		}
		return true, nil
	case <-ctx.Done():
		return false, nil
	}
}

// order serves an order at once, but a start, which is judged, and answered, on
// a snapshot.
func (l *Loop) order(w *waiting) bool {
	if w.Command == controller.Start && l.session != 0 && l.held == nil {
		l.held, l.heldAt = w, l.o.Clock.Mono()
		return false
	}
	return l.serve(w)
}

// serveFirst serves a Stop or an Abort. A start that waits does not outlive it:
// whoever stops must not see a cycle begin a moment later.
func (l *Loop) serveFirst(w *waiting) bool {
	if l.held != nil {
		l.held.reply <- Reply{Reason: "a " + w.Command.String() + " came before it began",
			State: l.out.Status.State, Cycle: l.out.Status.Cycle}
		l.held = nil
	}
	return l.serve(w)
}

// take handles one report of the port.
func (l *Loop) take(r *drivers.Report) (bool, error) {
	switch r.Kind {
	case drivers.ReportSnapshot:
		l.time.snapshot(l.o.Clock.Mono(), r.Snap.StampMs)
		if l.session == 0 {
			return false, nil // of a rig that was refused
		}
		l.in.Snap = &r.Snap
		l.stepHeld()
		return true, nil
	case drivers.ReportHello:
		return false, l.hello(&r.Caps)
	case drivers.ReportBad:
		l.bad += min(1, 255-l.bad) // saturates
		if r.Noisy && !l.noisy {
			l.noisy = true
			l.note(Note{Kind: NoteNoisy})
		}
	case drivers.ReportEvent:
		l.note(Note{Kind: NoteEvent, Event: r.Event, Value: r.Value})
	case drivers.ReportDown:
		l.session = 0
		l.why = "the line to the rig is down"
		if r.Err != nil {
			l.why = r.Err.Error()
		}
		l.note(Note{Kind: NoteLinkDown, Err: r.Err})
		l.stepHeld()
		return true, nil
	}
	return false, nil
}

// hello begins a session with the rig, or refuses it.
func (l *Loop) hello(c *rig.Capabilities) error {
	l.session = 0
	if c.Scale != 1 && !l.o.Simulated {
		return fmt.Errorf("%w: it runs at %d times", ErrScale, c.Scale)
	}
	if l.o.Accept != nil {
		if err := l.o.Accept(c); err != nil {
			l.why = err.Error()
			l.note(Note{Kind: NoteRefused, Caps: *c, Err: err})
			return nil
		}
	}
	l.session, l.why = c.Session, ""
	l.time.rescale(l.o.Clock.Mono(), c.Scale)
	l.note(Note{Kind: NoteLinkUp, Caps: *c})
	return nil
}

// stepHeld makes a step, with the start that waited for it.
func (l *Loop) stepHeld() {
	w := l.held
	if w == nil {
		l.step()
		return
	}
	l.held = nil
	l.serve(w)
}

// serve makes a step with one order and answers who gave it.
func (l *Loop) serve(w *waiting) bool {
	l.in.Command, l.in.Job, l.in.By, l.in.User = w.Command, w.Job, w.By, w.User
	l.in.Answer, l.in.Ack = w.Answer, w.Ack
	l.step()
	w.reply <- Reply{
		Taken:  l.out.Refusal == "",
		Reason: l.out.Refusal,
		State:  l.out.Status.State,
		Cycle:  l.out.Status.Cycle,
	}
	return true
}

// step makes one step of the machine and hands its outputs on in the order of
// their fields. The part of the input that an order or a snapshot gave is
// forgotten afterwards.
func (l *Loop) step() {
	now := l.o.Clock.Mono()
	l.in.Tick++
	l.in.ElapsedMs = l.time.elapsed(now)
	l.in.Session = l.session
	l.in.BadFrames = l.bad
	l.in.Journal = l.o.Journal.Health()
	l.out.Refusal = ""
	l.o.Machine.Step(&l.in, &l.out)
	l.lineStatus()
	l.persist()
	l.send()
	l.tell()
	l.watchWall(now)
	l.in = controller.Input{Tick: l.in.Tick}
	l.bad = 0
}

// lineStatus puts into the status what only the loop knows of the line. An
// acknowledgement is for its noise too.
func (l *Loop) lineStatus() {
	if l.in.Ack && l.noisy {
		l.noisy = false
		if p, ok := l.o.Port.(interface{ ResetBudget() }); ok {
			p.ResetBudget()
		}
	}
	switch s := &l.out.Status; {
	case l.why != "":
		s.Line = l.why
	case l.noisy:
		s.Line = noisyWords
	default:
		s.Line = ""
	}
}

const noisyWords = "too many corrupt frames from the rig: look at cable and earth, then acknowledge"

func (l *Loop) persist() {
	for _, r := range l.out.Records[:l.out.N] {
		l.o.Journal.Append(r)
	}
	l.o.Journal.AppendStep(&l.in, &l.out.Request)
}

func (l *Loop) send() {
	if !l.out.Send {
		return
	}
	err := l.o.Port.Send(&l.out.Request)
	if err != nil && !l.sendFail {
		l.o.Log(Note{Kind: NoteSend, Err: err})
	}
	l.sendFail = err != nil
}

func (l *Loop) tell() {
	for _, p := range l.o.Publishers {
		for _, r := range l.out.Records[:l.out.N] {
			p.Record(r)
		}
		p.Tell(&l.out.Status, l.in.Snap)
	}
}

// watchWall logs that the wall clock was set. It steers nothing: row 25 of the
// matrix is a line in the log and a mark in the cycle's story.
func (l *Loop) watchWall(now time.Duration) {
	by := l.wall.look(l.o.Clock, now)
	if by == 0 {
		return
	}
	l.o.Log(Note{Kind: NoteWallClock, By: by})
	s := &l.out.Status
	if s.Cycle == 0 || !active(s.State) {
		return
	}
	l.o.Journal.Append(controller.Record{
		Kind: controller.RecMark, Cycle: s.Cycle, ElapsedMs: l.in.ElapsedMs,
		Phase: s.Phase, State: s.State, Name: "wall_clock_set",
		Value: by.Seconds(), Unit: "s", Reason: "the wall clock was set",
	})
}

// active reports whether a cycle is under way.
func active(s controller.State) bool {
	switch s {
	case controller.Idle, controller.Complete, controller.Stopped, controller.Aborted:
		return false
	}
	return true
}
