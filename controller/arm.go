package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// arming is the way to a START at the rig. The panel arms; the button starts.
type arming struct {
	id      uint16
	n       uint8 // armings of this cycle
	asking  bool
	at      uint64
	started bool
	lost    bool // START is no longer seen in force, since lostAt
	lostAt  uint64
}

// release gives START up.
func (a *arming) release() { a.asking, a.started, a.lost = false, false, false }

// armNow begins a new arming with a number that no other has: each start needs
// its own START edge.
func (m *Machine) armNow(out *Output) {
	if m.arm.n >= MaxArmings {
		m.fault(Stop, "armed too often in one cycle", out)
		return
	}
	n := m.arm.n + 1
	m.arm = arming{id: uint16(m.job.Cycle)<<4 | uint16(n), n: n, asking: true, at: m.now}
}

// startSeen takes over a START that the rig reports for this arming. It
// reports whether START is in force.
func (m *Machine) startSeen() bool {
	if m.arm.started {
		return true
	}
	s := &m.see.snap
	if m.arm.asking && m.see.fresh && s.Link == warden.LinkStarted && s.ArmID == m.arm.id {
		m.arm.started, m.arm.asking = true, false
	}
	return m.arm.started
}

// awaitStart waits for START and then enters the phase that needs it.
func (m *Machine) awaitStart(out *Output) {
	if m.startSeen() {
		m.mark(out, "start pressed")
		m.beginPhase(m.next, out)
		return
	}
	if m.since(m.arm.at) >= StartWaitMs {
		m.arm.release()
		m.fault(Stop, "START was not pressed within 60 s", out)
	}
}

// startLost finds that the rig no longer holds the START that this cycle
// stands on, without having tripped.
func (m *Machine) startLost() bool {
	a := &m.arm
	if !a.started || m.startHeld() {
		a.lost = false
		return false
	}
	if !a.lost {
		a.lost, a.lostAt = true, m.now
	}
	return m.since(a.lostAt) >= StartLostMs
}

// startHeld: the rig holds the START of this cycle, in force or taken back.
func (m *Machine) startHeld() bool {
	s := &m.see.snap
	return (s.Link == warden.LinkStarted || s.Link == warden.LinkWaiting) && s.ArmID == m.arm.id
}

// takenBack: the rig lets nothing of this cycle move or heat until START is
// pushed again: the safety door was opened, or this machine asked for it.
func (m *Machine) takenBack() bool {
	return m.guarded && m.arm.started && m.startHeld() && m.see.snap.Link == warden.LinkWaiting
}

// handsPhase follows a phase in which hands are at the moulds of a cycle that
// START began. Motion and heat are taken back at the rig first; then closing the
// door and pushing START is the answer, and nothing at the desk is.
func (m *Machine) handsPhase(p *recipes.Phase, out *Output) {
	if p.Kind != recipes.Hands || !m.guarded || !m.arm.started {
		return
	}
	switch {
	case !m.phase.settled || !m.phase.handed:
		m.want.hands = true
		m.phase.handed = m.phase.settled && m.takenBack()
	case m.see.fresh && m.see.snap.Link == warden.LinkStarted && m.startHeld():
		m.mark(out, "start pressed")
		m.phase.answered = true
	}
}

// doorOpen: hands may be at the moulds.
func (m *Machine) doorOpen() bool {
	return m.guarded && m.see.have && !m.see.snap.Has(warden.InDoorClosed)
}

const (
	closeDoorWords = "close the safety door first"
	pushStartWords = "close the safety door and push START at the rig: that is the answer"
)
