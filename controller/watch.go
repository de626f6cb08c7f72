package controller

import (
	"pressrig/recipes"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// alarms is what is wrong and what a person has still to see.
type alarms struct {
	shown   uint64 // rows that hold now or are latched at the rig
	fresh   uint64 // of those, come up in this step
	tripped bool   // a trip was recorded and is in force
	cause   uint8  // first cause of the trip in force
	causes  uint64 // all rows of that trip
	unacked uint64
}

func (a *alarms) clear() { a.tripped, a.cause, a.causes, a.unacked = false, 0, 0, 0 }

// supervisorLocks are the supervisor's rows that end a cycle.
const supervisorLocks = 1<<safety.RowLinkLost | 1<<safety.RowClocksDiffer | 1<<safety.RowImplausible

// watch hears the warden and the supervisor's own interlocks and gives the
// command that the strongest of them stands for.
func (m *Machine) watch(in *Input, out *Output) {
	m.view = m.look(in)
	m.verdict = m.super.Step(&m.view)
	verdict := m.verdict
	m.view.Snap = nil // the caller's
	m.noteDoubt(&verdict, out)
	lock := warden.LockNone
	set := verdict.Causes | m.doubt.rows()
	if m.guarded && m.see.have {
		lock = m.see.snap.Lock
		set |= m.see.snap.Trips | m.see.snap.Present
	}
	m.noteAlarms(set, out)
	m.noteTrip(verdict, lock, out)
	m.react(verdict.Reaction, lock, out)
}

// react drives the state from the strongest lock; a cause of the supervisor
// never locks out.
func (m *Machine) react(r warden.Reaction, lock uint8, out *Output) {
	if !m.open {
		return
	}
	switch worst := max(lock, r.Lock); {
	case worst >= warden.LockAbort:
		m.fault(Abort, m.abortWords(), out)
	case worst == warden.LockHold && !(m.state == Restarting && m.resetting):
		if r.Gas >= warden.GasSequenced {
			m.hold.denied = true
		}
		if lock == warden.LockHold {
			m.arm.release()
		}
		m.fault(Hold, safety.Sentence(m.alarm.cause), out)
	}
}

// abortWords say why a cycle is aborted: of a board that is not believed, what it
// said.
func (m *Machine) abortWords() string {
	if m.alarm.cause == safety.RowImplausible && m.doubt.board != 0 {
		return m.boardWords()
	}
	return safety.Sentence(m.alarm.cause)
}

// noteAlarms records rows that have come up and lock nothing; the others come
// as a trip.
func (m *Machine) noteAlarms(set uint64, out *Output) {
	fresh := set &^ m.alarm.shown
	m.alarm.fresh, m.alarm.shown = fresh, set
	for cause := uint8(1); fresh != 0 && cause < 64; cause++ {
		if fresh&(1<<cause) == 0 {
			continue
		}
		fresh &^= 1 << cause
		if lockOf(cause) == warden.LockNone && m.mayTell() {
			m.record(out, Record{Kind: RecAlarm, Cause: cause, Causes: set,
				Reason: safety.Sentence(cause)})
		}
	}
}

// noteTrip records the first cause, once, and asks for its acknowledgement.
func (m *Machine) noteTrip(v safety.Verdict, lock uint8, out *Output) {
	a := &m.alarm
	tripped := lock != warden.LockNone || (m.open && v.Reaction.Lock != warden.LockNone)
	if !tripped {
		if m.state == Idle {
			a.clear()
		}
		return
	}
	if m.resetting {
		return // the old trip is on its way out
	}
	for cause := range uint8(64) { // a later lock wants to be seen too
		if a.fresh&(1<<cause) != 0 && lockOf(cause) != warden.LockNone {
			a.unacked |= 1 << cause
		}
	}
	a.causes |= a.shown
	first := v.First
	if lock != warden.LockNone {
		first = m.see.snap.First
	}
	if a.tripped { // recorded once, whatever its first cause is said to be
		if a.cause == warden.CauseNone {
			a.cause = first
		}
		return
	}
	a.tripped, a.cause = true, first
	a.causes = a.shown
	a.unacked |= a.shown | 1<<a.cause
	if m.mayTell() {
		m.record(out, Record{Kind: RecTrip, Cause: a.cause, Causes: a.causes,
			Lockout: lock == warden.LockLockout, Reason: safety.Sentence(a.cause)})
	}
}

// mayTell bounds the trips and alarms that are recorded: as many a second as the
// protocol lets a board tell events. A board that flaps fills no disk.
func (m *Machine) mayTell() bool {
	t := &m.telling
	t.left = min(toldMost, t.left+(m.now-t.at)/toldEveryMs)
	t.at = m.now - (m.now-t.at)%toldEveryMs
	if !t.begun {
		t.begun, t.left, t.at = true, toldMost, m.now
	}
	if t.left == 0 {
		return false
	}
	t.left--
	return true
}

// telling is how many trips and alarms may still be recorded.
type telling struct {
	begun bool
	left  uint64
	at    uint64
}

// lockOf is the lock column of a row, the warden's or the supervisor's.
func lockOf(cause uint8) uint8 {
	for i := range safety.SupervisorRows {
		if r := &safety.SupervisorRows[i]; r.Row == cause {
			return r.Reacts.Lock
		}
	}
	if cause < warden.NumCauses {
		return warden.Matrix[cause].Lock
	}
	return warden.LockNone
}

// look is what the supervisor's rows look at in this step.
func (m *Machine) look(in *Input) safety.SupervisorView {
	v := safety.SupervisorView{
		ElapsedMs: m.now, Snap: in.Snap, Session: in.Session, Guarded: m.guarded,
		Cycle: m.open, Config: m.cfg.board, Asked: m.asked, Starting: in.Command == Start || m.waits,
		JournalWritable: in.Journal.Writable,
		Sight:           m.sightFree(),
		PressOpen: m.pressOpen() || (m.see.snap.OK(warden.AiTravel) &&
			m.see.snap.Analog[warden.AiTravel] <= m.cfg.heatCmm),
	}
	p := m.current()
	if p == nil || !m.guarded || !m.cfg.thermometer || handsIn(p.Kind) {
		return v
	}
	before := m.beforeStroke()
	// Cold glass lies below a radiation thermometer's range: while warming the
	// row is armed once the thermometer has shown something in this phase.
	seen := p.Kind != recipes.Warm || (m.est.n > 0 && m.est.back(0).ms >= m.phase.at)
	v.Needed = seen && (usesGlass(p) || (before && m.rec.Strokes() && glassMatters(p.Kind)))
	v.Heating = before && heats(p.Kind) && m.lit() && m.atBlank()
	v.Rising = v.Heating && m.belowTarget(p)
	if before && (heats(p.Kind) || p.Kind == recipes.Clear) {
		v.LimitDC, v.HasLimit = m.hotLimit(p)
	}
	return v
}

func (m *Machine) atBlank() bool {
	return m.cfg.fixed || m.see.snap.Has(warden.InBurnerAtBlank)
}

// usesGlass: an end, a band or a held temperature stands on the thermometer.
func usesGlass(p *recipes.Phase) bool {
	if p.Flame.Lit && p.Flame.HasHold || endsOnGlass(p) {
		return true
	}
	for i := range p.Bands {
		if p.Bands[i].AI == warden.AiGlass {
			return true
		}
	}
	return false
}

func endsOnGlass(p *recipes.Phase) bool {
	w := p.End.When
	return w != nil && w.Switch == 0 && w.AI == warden.AiGlass
}

// glassMatters: hot glass on its way to the stroke. Cold glass in the warming
// phase may lie below the thermometer's range.
func glassMatters(k recipes.Kind) bool {
	return k == recipes.Fire || k == recipes.Soak || k == recipes.Clear
}

// belowTarget: heated to a temperature that is still well above the glass.
func (m *Machine) belowTarget(p *recipes.Phase) bool {
	if !endsOnGlass(p) || !p.End.When.AtLeast || !m.see.snap.OK(warden.AiGlass) {
		return false
	}
	return int32(m.see.snap.Analog[warden.AiGlass]) < int32(p.End.When.Count)-RiseMarginDC
}

// hotLimit is the highest temperature that the phase or the stroke aims at,
// with a margin for the surface running ahead of the core.
func (m *Machine) hotLimit(p *recipes.Phase) (limit int16, ok bool) {
	high := int32(0)
	if m.rec.Strokes() {
		high = int32(m.cfg.glassDC(m.rec.Window.High))
	}
	if p.Flame.HasHold {
		high = max(high, int32(m.cfg.glassDC(p.Flame.HoldC)))
	}
	if endsOnGlass(p) {
		high = max(high, int32(p.End.When.Count))
	}
	if high <= 0 {
		return 0, false
	}
	return int16(min(high+HotMarginDC, 32_767)), true
}

// live reports whether the snapshot is young enough to be shown as live.
func (m *Machine) live() bool { return m.see.have && m.since(m.see.at) < safety.LinkLostMs }
