package controller

import (
	"pressrig/safety"
	"pressrig/safety/warden"
)

// doubt is what a person has to see before anything may start again: a board that
// said what cannot be so, or a daemon that ended in a cycle. It outlives the
// contradiction; a person ends it once the board agrees with itself again. A daemon
// that starts anew knows of none and judges anew.
type doubt struct {
	board       uint8 // number of the contradiction seen first, 0 none
	boardAt     uint64
	interrupted bool // the daemon before this one ended in a cycle
}

// rows are the rows of the matrix that stand for what is doubted.
func (d *doubt) rows() (set uint64) {
	if d.board != 0 {
		set |= 1 << safety.RowImplausible
	}
	if d.interrupted {
		set |= 1 << safety.RowDaemonRestarted
	}
	return set
}

// row is the first of them as a first cause, 0 none.
func (d *doubt) row() uint8 {
	switch {
	case d.board != 0:
		return safety.RowImplausible
	case d.interrupted:
		return safety.RowDaemonRestarted
	}
	return 0
}

// noteDoubt takes up what the second opinion has found, once until a person has
// seen to it.
func (m *Machine) noteDoubt(v *safety.Verdict, out *Output) {
	if v.Contradiction == 0 || m.doubt.board != 0 {
		return
	}
	m.doubt.board, m.doubt.boardAt = v.Contradiction, m.now
	m.alarm.unacked |= 1 << safety.RowImplausible
	m.arm.release()
	if m.parked {
		m.unpark()
	}
	m.reason = m.boardWords()
	m.record(out, Record{Kind: RecAlarm, Cause: safety.RowImplausible, Causes: m.alarm.shown | m.doubt.rows(),
		Name: "contradiction", Value: float64(v.Contradiction), Reason: m.reason})
}

// boardWords say what was seen of a board that is not believed.
func (m *Machine) boardWords() string {
	if k := safety.ContradictionOf(m.doubt.board); k != nil {
		return k.What
	}
	return ""
}

// distrustWords are for the person in front of the rig.
const (
	distrustWords    = "do not trust the board: press the emergency stop, shut the gas by hand"
	distrustRefusal  = "the board contradicts itself: see to it, then acknowledge"
	stillWords       = "the board still contradicts itself"
	interruptedWords = "the daemon ended in a cycle: look at the rig, then acknowledge"
)

// acknowledge ends what a person has seen; what the board still says stays.
func (m *Machine) acknowledge(in *Input, out *Output) {
	if !in.Ack || m.alarm.unacked == 0 && m.doubt.rows() == 0 {
		return
	}
	m.record(out, Record{Kind: RecMark, Reason: "acknowledged", By: in.By, User: in.User,
		Cause: m.alarm.cause, Causes: m.alarm.causes | m.doubt.rows()})
	m.alarm.unacked = 0
	m.doubt.interrupted = false
	if m.verdict.Contradiction != 0 {
		out.Refusal = stillWords
		return
	}
	m.doubt.board = 0
}

// askDoubted is what goes to a board that is not believed: nothing, and an abort as
// long as it may still listen and says that something runs.
func (m *Machine) askDoubted(r *request) {
	*r = request{}
	if m.energised() && m.see.snap.Lock < warden.LockAbort && m.since(m.doubt.boardAt) < AbortWaitMs {
		r.Flags |= warden.ReqAbort
	}
}

// unready says why no cycle of this rig may start now, whatever the recipe; "" when
// one may. Status and Start ask the same. A cycle of a person alone needs no
// rig, but none whose board is not believed.
func (m *Machine) unready(assisted bool) string {
	s := &m.see.snap
	switch {
	case !m.see.journal.Writable:
		return "the journal cannot be written: no cycle may start"
	case m.doubt.board != 0:
		return distrustRefusal
	case !m.cfg.guarded || assisted:
		return m.unseen()
	case m.see.session == 0:
		return "the link to the rig is down"
	case !m.live():
		return "no word from the rig"
	case s.Lock == warden.LockLockout:
		return lockoutWords
	case s.Lock != warden.LockNone:
		return "the rig is locked: acknowledge, then reset"
	case s.Trips != 0 || s.Present != 0:
		return "a cause of a trip is present at the rig"
	}
	return m.unseen()
}

// unseen: nobody has acknowledged yet that the daemon ended in a cycle.
func (m *Machine) unseen() string {
	if m.doubt.interrupted {
		return interruptedWords
	}
	return ""
}
