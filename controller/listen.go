package controller

import "pressrig/safety/warden"

// listen takes what people gave: acknowledgement, answer, command.
func (m *Machine) listen(in *Input, out *Output) {
	m.acknowledge(in, out)
	m.takeAnswer(in, out)
	if m.waits {
		m.pendingStart(in, out)
	}
	if in.Command != NoCommand {
		m.command(in, out)
	}
}

// command takes or refuses one command; both are recorded.
func (m *Machine) command(in *Input, out *Output) {
	if reason := m.refusal(in); reason != "" {
		m.refuse(in.Command, reason, in.By, in.User, out)
		return
	}
	if in.Command == Start {
		m.start(in.Job, in, out)
		return
	}
	m.record(out, Record{Kind: RecCommand, Command: in.Command, By: in.By, User: in.User})
	if m.unlocks(in.Command) {
		m.resetting, m.resetAt = true, m.now
		return
	}
	m.become(in.Command, byCommand, out)
}

const byCommand = "by command"

// refusal says why in.Command is refused, "" when it is taken.
func (m *Machine) refusal(in *Input) string {
	if !m.may(in.Command) && !m.unlocks(in.Command) {
		return m.stateRefusal(in.Command)
	}
	switch in.Command {
	case Start:
		return m.startRefusal(in.Job, in)
	case Reset:
		return m.resetRefusal(in)
	case Restart:
		return m.restartRefusal()
	case Resume:
		if m.doorOpen() {
			return closeDoorWords
		}
	}
	return ""
}

// stateRefusal says why the state takes no such command; for a start, what
// would be right.
func (m *Machine) stateRefusal(c Command) string {
	switch {
	case c != Start:
	case m.guarded && m.see.snap.Lock == warden.LockLockout:
		return lockoutWords
	case m.state == Aborted:
		return "the cycle before was aborted: acknowledge, then reset"
	case m.state == Complete || m.state == Stopped:
		return "the cycle before has ended: reset first"
	}
	return "not in this state"
}

// unlocks: a rig that tripped while idle is reset from Idle. The state does not
// change, as the table says.
func (m *Machine) unlocks(c Command) bool {
	return c == Reset && m.state == Idle && m.guarded && m.see.snap.Lock != warden.LockNone
}

func (m *Machine) refuse(c Command, reason, by, user string, out *Output) {
	m.reason, out.Refusal = reason, reason
	m.record(out, Record{Kind: RecCommand, Command: c, Reason: reason, By: by, User: user})
}

// start begins a cycle in a step that has a snapshot, or waits for one: the
// cycle's first step must show whether a flame burns already.
func (m *Machine) start(job *Job, in *Input, out *Output) {
	if in.Snap == nil && m.cfg.guarded && !job.Recipe.Assisted {
		m.waits, m.waiting, m.pendingAt = true, *job, m.now
		return
	}
	taken := *job
	m.anew(taken, in)
	m.take(in)
	m.openCycle(out)
}

// pendingStart goes on with a start that waited for a snapshot. Any command in
// between takes its place.
func (m *Machine) pendingStart(in *Input, out *Output) {
	job := &m.waiting
	reason := m.startRefusal(job, in)
	switch {
	case in.Command != NoCommand:
		reason = "another command came first"
	case reason == "" && in.Snap == nil && m.since(m.pendingAt) < SnapshotWaitMs:
		return
	case reason == "" && in.Snap == nil:
		reason = "no word from the rig"
	}
	m.waits = false
	if reason != "" {
		m.refuse(Start, reason, job.By, job.User, out)
		return
	}
	m.start(job, in, out)
}
