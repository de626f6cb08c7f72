package campaign

import (
	"fmt"
	"slices"
	"strings"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// Step is warden.Step or one that is broken on purpose, to see that the
// campaign notices.
type Step func(*warden.Config, *warden.State, *warden.Input, *warden.Output)

// run is one run under way.
type run struct {
	h       *rehearse.Rehearsal
	profile *rig.Profile
	recipe  *recipes.Recipe
	config  warden.Config

	todo      []Action
	foreign   string // what strange bytes come in between, "" for none
	header    wire.Header
	started   bool
	held      bool   // and stopped by the operator
	forkedMs  uint64 // until then it was another run
	settledMs uint64 // since when nothing more happens
	promptMs  uint64 // since when the open prompt stands
	prompt    uint16

	watch  safety.Watch
	look   look
	detect detection
	react  reaction
	host   hostLook
	follow follow
	clock  uint64 // of the warden's newest tick
	judged bool   // the run is over; what follows is not part of it

	all    digest // everything the warden saw and drove
	driven digest // what it drove
	story  story
	tell   func(ms uint64, what string) // nil: nobody listens
}

func (r *run) say(format string, args ...any) {
	if r.tell != nil {
		r.tell(r.h.Rig.Ms(), fmt.Sprintf(format, args...))
	}
}

// answerMs is how long a person takes to answer a prompt.
const answerMs = 2000

// longestMs ends a run that does not end by itself: a failure.
const longestMs = 20 * 60 * 1000

// takenMs is how long the machine may take to take a job or to refuse it.
const takenMs = 50

// settleMs is how long the end of a cycle is looked at before the way back.
const settleMs = 3000

func begin(s *Script, step Step) (*run, error) {
	v, ok := rigNamed(s.Rig)
	if !ok {
		return nil, fmt.Errorf("no rig %q; one of %s", s.Rig, strings.Join(Rigs(), ", "))
	}
	p, recipe, err := v.load()
	if err != nil {
		return nil, err
	}
	r := &run{profile: p, recipe: recipe, config: configOf(s.Rig, p), todo: s.flat()}
	r.watch.Config, r.look.c = r.config, &r.config
	r.h, err = rehearse.New(rehearse.Options{Profile: p, Config: &r.config, Seed: s.Seed,
		Warden: step, NoTrace: true})
	if err != nil {
		return nil, err
	}
	r.h.Each, r.h.Steps = r.tick, r.machine
	return r, nil
}

// play runs the script to its end and the rig back to idle.
func (r *run) play() {
	h := r.h
	r.story.end(r, h.Run(longestMs, r.done))
	r.foreign = ""
	if !h.BackToIdle(12*60*1000, func() bool { return false }) {
		r.story.fail(r, fmt.Sprintf("17: no way back to idle: lock %d trips %x present %x burner %d press %d, %+v",
			h.Snap.Lock, h.Snap.Trips, h.Snap.Present, h.Snap.Burner, h.Snap.Press, h.Out.Status))
	}
	r.judged = true
	if !h.Writable {
		h.Start(r.job(2))
		h.Run(takenMs, func() bool { return false })
		if h.State() != controller.Idle {
			r.story.fail(r, "a cycle started although the journal cannot be written")
		}
	}
}

func (r *run) job(cycle uint32) controller.Job {
	return controller.Job{Cycle: cycle, Run: cycle, Piece: 1, Last: true, By: "campaign", Recipe: r.recipe}
}

// done does what this millisecond asks for and reports whether the end of the
// cycle has been looked at for long enough. A held cycle is stopped by the
// operator then, once.
func (r *run) done() bool {
	h, now := r.h, r.h.Rig.Ms()
	r.act()
	if !r.started && now >= startMs {
		r.started = true
		h.Start(r.job(1))
	}
	if now < startMs+takenMs || !r.over() || len(r.todo) > 0 {
		r.settledMs = now
	}
	if now-r.settledMs < settleMs {
		return false
	}
	if h.State() == controller.Held && !r.held {
		r.held = true
		h.Command(controller.Stop)
		r.settledMs = now
		return false
	}
	return true
}

// fork is the same run a second time, with a script that has not begun yet.
func (r *run) fork(s *Script) *run {
	f := *r
	f.h, f.todo = r.h.Fork(), s.flat()
	f.look.c = &f.config
	f.forkedMs = f.h.Rig.Ms()
	f.story.failures = slices.Clone(r.story.failures)
	f.h.Each, f.h.Steps = f.tick, f.machine
	return &f
}

// over: the cycle has ended, or is held, or never began, and no gas is about.
func (r *run) over() bool {
	switch s := r.h.State(); s {
	case controller.Complete, controller.Stopped, controller.Aborted, controller.Held, controller.Idle:
		_, _, state, _ := r.h.Rig.Warden()
		quiet := state.Burner == warden.BurnerStandby || state.Burner == warden.BurnerLockout
		return quiet || s == controller.Held
	}
	return false
}

// answer lets a person answer the open prompt after a while.
func (r *run) answer() {
	s, now := &r.h.Out.Status, r.h.Rig.Ms()
	if s.Prompt != r.prompt {
		r.prompt, r.promptMs = s.Prompt, now
	}
	if s.Prompt != 0 && s.State == controller.Running && now-r.promptMs >= answerMs {
		r.promptMs = now
		r.h.Answer(true)
	}
}

// act does what the script wants done by now.
func (r *run) act() {
	r.answer()
	for len(r.todo) > 0 && r.h.Rig.Ms() >= r.todo[0].AtMs {
		what := r.todo[0].What
		r.todo = r.todo[1:]
		r.do(what)
	}
	if r.foreign != "" && r.h.Rig.Ms()%20 == 0 {
		r.h.Rig.Receive(r.strange())
	}
}

func (r *run) do(what string) {
	r.say("done: %s", what)
	word, rest, _ := strings.Cut(what, " ")
	h := r.h
	switch word {
	case wordFault:
		f, err := bench.ParseFault(rest)
		if err == nil {
			err = h.Rig.Inject(f)
		}
		if err != nil {
			r.story.fail(r, err.Error())
		}
	case wordCommand:
		h.Command(controller.CommandNamed(rest))
	case wordAck:
		h.Ack()
	case wordReset:
		h.Rig.Press(bench.ButtonReset, 200)
	case wordJournal:
		h.Writable = rest == "on"
	case wordClock:
		var ms uint64
		if _, err := fmt.Sscan(rest, &ms); err == nil {
			h.ClockAheadMs += ms
		}
		r.host.jumped(h.Rig.Ms())
	case wordDaemon:
		h.RestartHost()
		r.story.restarts++
		r.story.lost = r.story.starts - r.story.ends // nobody is left to end it but the journal
	case wordForeign:
		r.foreign = rest
	}
}

// strange is what somebody else might put on the line: a right request of
// another session or for another device, which asks for everything, or text of
// a console.
func (r *run) strange() []byte {
	if r.foreign == "text" {
		return append([]byte("rst:0x1 (POWERON_RESET),boot:0x13\r\nAT+GMR\r\nOK\r\n> M3 S1000\r\n"), 0)
	}
	r.header.Seq++
	r.header.Device, r.header.HostSession = r.profile.Device, 0xBADBAD01
	r.header.MCUSession = r.h.Rig.Truth().Session
	if r.foreign == "device" {
		r.header.Device++
		r.header.HostSession = 0xC0FFEE01
	}
	m := wire.Request{EchoMs: r.h.Snap.StampMs, Want: rig.Request{Lease: 15, Press: warden.PressClose,
		Flags:  warden.ReqArm | warden.ReqCycle | warden.ReqFlame | warden.ReqOxygen | warden.ReqBurnerIn,
		FuelMl: 4000, OxygenMl: 16000, SpindleDrpm: 2000, TravelCmm: 6000, SpeedCmms: 6000, ForceDN: 4000}}
	return wire.AppendRequest(nil, &r.header, &m)
}

// machine follows the daemon's side after each of its steps, while a person does
// by hand what is not driven.
func (r *run) machine(in *controller.Input, out *controller.Output) {
	r.h.ByHand(r.profile, r.recipe, out)
	r.host.step(r, in, out)
	r.story.records(r, out)
}

// tick judges one millisecond of the warden.
func (r *run) tick() {
	in, out, after, clock := r.h.Rig.Warden()
	if clock == r.clock || uint32(clock) == 0 || r.judged {
		return // held in reset, or just out of it: nothing has run yet
	}
	boot := clock>>32 != r.clock>>32
	r.clock = clock
	r.all.input(in)
	r.all.output(out)
	r.driven.output(out)
	if b := r.watch.Step(&safety.Tick{In: in, Out: out, After: after, Boot: boot}); b.Number != 0 {
		r.story.fail(r, fmt.Sprintf("invariant %d: %s", b.Number, b.What))
	}
	l := &r.look
	l.begin(in, out, after, boot, r.h.Rig.Ms())
	r.story.causes(r)
	if row := r.detect.overdue(l); row != 0 {
		r.story.fail(r, fmt.Sprintf("row %d did not act in its time", row))
	}
	if wrong := r.react.step(l); wrong != "" {
		r.story.fail(r, wrong)
	}
	if wrong := r.host.tick(r, out); wrong != "" {
		r.story.fail(r, wrong)
	}
	l.end()
	r.follow.step(r.h.Rig.Ms(), after, &r.h.Out.Status)
}

// observe runs an undisturbed cycle for its phases.
func observe(s Script) (Timeline, error) {
	r, err := begin(&s, nil)
	if err != nil {
		return Timeline{}, err
	}
	r.play()
	if r.story.ended != "complete" || len(r.story.failures) > 0 || r.follow.next != numPhases {
		return Timeline{}, fmt.Errorf("the undisturbed cycle on rig %s ended %s after %d phases: %v; status %+v", s.Rig,
			r.story.ended, r.follow.next, r.story.failures, r.h.Out.Status)
	}
	return r.follow.line, nil
}
