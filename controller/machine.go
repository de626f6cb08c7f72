package controller

import (
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// Machine is the cycle machine of one rig. It is a plain value: Begin makes it
// anew from a Job, so nothing of one cycle reaches the next.
type Machine struct {
	cfg limits

	state   State
	stateAt uint64 // ElapsedMs when the state was entered
	now     uint64 // ElapsedMs of this step

	job     Job
	rec     *recipes.Recipe // nil before the first cycle
	open    bool            // RecStart is out, RecEnd is not
	guarded bool            // this cycle has a warden behind it
	beganAt uint64

	waits     bool // a Start waits for a snapshot to begin from
	waiting   Job
	pendingAt uint64

	see     sight
	super   safety.Supervisor
	view    safety.SupervisorView // in the machine, so that a step allocates nothing
	verdict safety.Verdict        // of the newest step
	doubt   doubt
	asked   request // what was last sent
	est     estimator
	trim    trimmer
	totals  totals

	stage   stage // within Running and Pausing
	phase   phase
	next    int  // phase that follows a boundary, while waiting for START or paused
	set     want // set-points of the phase
	want    want // what this step asks for
	arm     arming
	hold    holding
	prompt  prompt
	alarm   alarms
	telling telling

	contacted bool // the press has touched the glass in this cycle
	touching  bool // in contact, until seen open again
	hot       bool // glass has been in the flame and not yet in the mould
	fired     bool // glass has been in the flame
	refired   bool
	lights    uint8 // light-ups this cycle may still begin
	darkAt    uint64
	dark      bool // the phase needs a flame that is not there
	parked    bool // flame lit, burner clear, between two pieces
	parkedAt  uint64
	resetting bool // ReqReset goes out until the lock is gone
	resetAt   uint64
	hornUntil uint64

	reason string // of the last hold, stop, abort or refusal
}

// stage is where a running cycle stands.
type stage uint8

const (
	stageNone    stage = 0
	stageJournal stage = 1 // the start record is being committed
	stageArm     stage = 2 // START at the rig is awaited
	stagePhase   stage = 3 // a phase runs
)

// New makes an idle machine for one rig.
func New(cfg Config) *Machine {
	m := &Machine{cfg: limitsOf(cfg.Profile), state: Idle, doubt: doubt{interrupted: cfg.Interrupted}}
	if cfg.Board != nil && m.cfg.guarded {
		board := *cfg.Board
		m.cfg.board = &board
	}
	m.guarded = m.cfg.guarded
	m.phase.index = -1
	return m
}

// State is the machine's cycle state.
func (m *Machine) State() State { return m.state }

// Step advances the machine by one input. It overwrites out and keeps no
// pointer beyond the call but the recipe of a Job that was accepted.
func (m *Machine) Step(in *Input, out *Output) {
	out.N, out.Refusal = 0, ""
	m.take(in)
	m.listen(in, out)
	m.finish(in, out)
}

// Begin starts a cycle from job in this step, without asking whether it may:
// Step asks and then begins; a replay begins what once was allowed.
func (m *Machine) Begin(job Job, in *Input, out *Output) {
	out.N, out.Refusal = 0, ""
	m.anew(job, in)
	m.take(in)
	m.openCycle(out)
	m.finish(in, out)
}

// anew forgets everything but the rig's limits.
func (m *Machine) anew(job Job, in *Input) {
	*m = Machine{cfg: m.cfg, state: Running, stateAt: in.ElapsedMs, now: in.ElapsedMs,
		job: job, rec: job.Recipe, beganAt: in.ElapsedMs}
	m.guarded = m.cfg.guarded && !job.Recipe.Assisted
	m.stage = stageJournal
	m.phase.index = -1
	m.lights = 1
	m.prompt.base = uint16(job.Cycle) << 8
}

// finish is the part of a step that follows commands: what is wrong, what the
// state does, what is asked of the rig and what is told.
func (m *Machine) finish(in *Input, out *Output) {
	m.watch(in, out)
	m.want = want{}
	m.act(in, out)
	m.ask(in, out)
	m.tell(out)
}

// act does what the state does by itself.
func (m *Machine) act(in *Input, out *Output) {
	switch m.state {
	case Idle, Complete:
		m.actParked()
	case Running, Pausing:
		m.actRunning(in, out)
	case Paused:
		m.actPaused(out)
	case Holding:
		m.actHolding(in, out)
	case Held:
		m.actHeld(out)
	case Restarting:
		m.actRestarting(out)
	case Stopping:
		m.actStopping(out)
	case Aborting:
		m.actAborting(out)
	case Stopped, Aborted:
		// Nothing is asked for but what a person resets.
	}
}

// become moves the machine along one cell of the table. A cell that does not
// exist is a fault of this program; the caller has asked Next before.
func (m *Machine) become(by Command, reason string, out *Output) {
	to, ok := Next(m.state, by)
	if !ok {
		return
	}
	m.state, m.stateAt = to, m.now
	m.reason = reason
	m.record(out, Record{Kind: RecState, Command: by, Reason: reason, Cause: m.alarm.cause})
	switch to {
	case Complete:
		m.closeCycle(out)
		m.arm.release()
		m.park()
	case Holding:
		m.beginHolding(out)
	case Restarting:
		m.beginRestarting(out)
	case Stopping:
		m.beginStopping(out)
	case Aborting:
		m.beginAborting(out)
	case Stopped, Aborted:
		m.closeCycle(out)
		m.arm.release()
		m.horn()
	case Idle:
		m.enterIdle()
	case Running:
		m.enterRunning(by, out)
	case Paused, Pausing, Held:
	}
}

// may reports whether the table lets by act now.
func (m *Machine) may(by Command) bool {
	_, ok := Next(m.state, by)
	return ok
}

// fault gives a command on the machine's own behalf, where the table lets it.
func (m *Machine) fault(by Command, reason string, out *Output) {
	if m.may(by) {
		m.become(by, reason, out)
	}
}

// since is the time since an earlier step.
func (m *Machine) since(at uint64) uint64 { return m.now - at }

func (m *Machine) horn() { m.hornUntil = m.now + HornMs }

// burner is the warden's burner phase, standby where no warden is.
func (m *Machine) burner() uint8 { return m.see.snap.Burner }

// alive reports whether a flame is lit or being lit.
func (m *Machine) alive() bool {
	b := m.burner()
	return b >= warden.BurnerCheck && b <= warden.BurnerRun
}

func (m *Machine) lit() bool { return m.burner() == warden.BurnerRun }

// pressOpen reports whether nothing stands between burner and glass.
func (m *Machine) pressOpen() bool {
	s := &m.see.snap
	return s.Has(warden.InPressOpen) ||
		(s.OK(warden.AiTravel) && s.Analog[warden.AiTravel] <= m.cfg.openCmm)
}

// home reports whether the press stands at its open end switch, which is what
// the warden asks for before it lights or lets the burner in.
func (m *Machine) home() bool { return m.see.snap.Has(warden.InPressOpen) }

// request is the type that goes to the rig; named here so that readers of this
// file need not look it up.
type request = rig.Request
