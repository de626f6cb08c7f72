package controller

import "pressrig/safety/warden"

// beginStopping leaves the phase; what an orderly end needs follows in steps.
func (m *Machine) beginStopping(out *Output) {
	m.endPhase(out, "stop")
	m.stage = stageNone
	m.arm.asking = false
}

// actStopping ends in order: oxygen, then fuel (the warden sequences when the
// flame is no longer asked for), the press opens, and what is soft keeps
// turning until it is stiff.
func (m *Machine) actStopping(out *Output) {
	age := m.since(m.stateAt)
	if !m.guarded || (m.open && !m.arm.started && !m.energised()) {
		m.become(NoCommand, m.reason, out)
		return
	}
	shut := m.home() || age >= SettleMs
	if !shut {
		m.openPress()
	}
	turning := m.hot && age < TurnAfterMs
	if turning || !shut {
		m.want.spinRPM = m.set.spinRPM
	}
	quiet := (!m.alive() && m.burner() != warden.BurnerOff) || age >= QuietMs
	if quiet && shut && !turning {
		m.hot = false
		m.become(NoCommand, m.reason, out)
	}
}

// energised: the rig drives something that needs an orderly end.
func (m *Machine) energised() bool {
	return m.see.snap.Out&energising != 0 || m.alive()
}

// beginAborting gives everything up at once.
func (m *Machine) beginAborting(out *Output) {
	m.endPhase(out, "abort")
	m.stage = stageNone
	m.arm.release()
	m.parked, m.hot = false, false
	m.horn()
}

// actAborting repeats the abort until the rig has latched it, or shows that
// there was nothing to shut, or does not answer.
func (m *Machine) actAborting(out *Output) {
	age := m.since(m.stateAt)
	latched := m.see.snap.Lock >= warden.LockAbort
	idle := age >= 2*sampleMs && !m.energised() && !m.startHeld()
	if !m.guarded || latched || idle || m.see.session == 0 || age >= AbortWaitMs {
		m.become(NoCommand, m.reason, out)
	}
}

// resetRefusal says why a reset is refused: a lockout belongs to the button at
// the rig, and an abort needs its cause gone and acknowledged.
func (m *Machine) resetRefusal(in *Input) string {
	s := &m.see.snap
	tripped := m.state == Aborted || s.Lock != warden.LockNone
	switch {
	case m.guarded && s.Lock == warden.LockLockout:
		return lockoutWords
	case tripped && m.doubt.board != 0 && m.alarm.unacked == 0:
		return distrustRefusal
	case tripped && m.alarm.unacked != 0:
		return "acknowledge first"
	case !m.guarded:
		return ""
	case m.state == Aborted && in.Session == 0:
		return "the link to the rig is down"
	case s.Lock != warden.LockNone && s.Present&s.Trips != 0:
		return "the cause is still present"
	case m.state == Aborted && m.alarm.shown&supervisorLocks != 0:
		return "the cause is still present"
	}
	return ""
}

// enterIdle forgets the cycle's troubles and asks the rig to do the same.
func (m *Machine) enterIdle() {
	m.alarm.clear()
	m.reason = ""
	m.guarded = m.cfg.guarded
	m.resetting, m.resetAt = m.see.snap.Lock != warden.LockNone, m.now
	m.phase.index = -1
}
