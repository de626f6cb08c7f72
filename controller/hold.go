package controller

import (
	"pressrig/recipes"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// holding is what a hold does with the piece. Before contact it acts at once;
// from contact on it first finishes set, part and flame-cool.
type holding struct {
	at        uint64
	finishing bool // phases that finish the piece still run
	denied    bool // no flame: a cause shut the gas
	warmMs    uint64
	fuelMl    uint16 // soft flame that keeps the piece warm
	coolAt    uint64 // keeping warm ended
	cooling   bool

	resumeAt int // phase that Restart enters
	step     restartStep
	stepAt   uint64
}

// restartStep is where a restart stands.
type restartStep uint8

const (
	restartClear restartStep = 0 // the rig's hold is being reset
	restartArm   restartStep = 1 // a new START is awaited
	restartLight restartStep = 2 // a full light-up
)

// beginHolding takes the hold in hand from whatever ran.
func (m *Machine) beginHolding(out *Output) {
	m.hold = holding{at: m.now, coolAt: m.now, cooling: true, denied: m.hold.denied}
	m.horn()
	p := m.current()
	if m.guarded && (m.contacted || m.see.touch) {
		m.contacted = true
		m.hold.finishing = true
		if p != nil && (m.finishes(p) || (closes(p) && m.see.touch)) {
			return // it runs to its own end
		}
		m.endPhase(out, endBoundary)
		m.finishNext(m.phase.last+1, out)
		return
	}
	if p != nil && p.OnHold.KeepWarm {
		m.hold.warmMs = min(ms(p.OnHold.For), KeepWarmLongestMs)
		m.hold.fuelMl = min(millilitres(p.OnHold.Fuel), m.cfg.softMaxMl)
		m.hold.cooling = false
	}
	m.endPhase(out, endBoundary)
}

// finishes: the phase still makes sense once the piece is pressed.
func (m *Machine) finishes(p *recipes.Phase) bool {
	switch p.Kind {
	case recipes.Set:
		return m.see.touch
	case recipes.Part, recipes.Out:
		return true
	case recipes.SoftFlame, recipes.FlameCool:
		return !m.hold.denied && m.lit()
	}
	return false
}

// finishNext runs the next phase from i on that finishes the piece.
func (m *Machine) finishNext(i int, out *Output) {
	for ; i < len(m.rec.Phases); i++ {
		if m.finishes(&m.rec.Phases[i]) {
			m.beginPhase(i, out)
			return
		}
	}
	m.hold.finishing = false
	m.hold.cooling = true
	m.set = want{}
}

// actHolding runs until the press is open and the piece is in keeping.
func (m *Machine) actHolding(_ *Input, out *Output) {
	if m.hold.finishing {
		m.runPhase(out)
		return
	}
	m.wantHold()
	if !m.guarded || m.home() || !m.cfg.pressDriven || m.since(m.hold.at) >= SettleMs {
		m.become(NoCommand, m.reason, out)
	}
}

// actHeld keeps the piece as the recipe says and ends a hold that nobody
// restarts.
func (m *Machine) actHeld(out *Output) {
	m.wantHold()
	m.want.hands = true
	if m.since(m.stateAt) >= HeldLongestMs {
		m.fault(Stop, m.heldWords(), out)
	}
}

// heldWords tell of a hold that ran out, by its cause.
func (m *Machine) heldWords() string {
	switch m.alarm.cause {
	case safety.RowThermoBroken:
		return "thermometer broken: held, then stopped"
	case safety.RowThermoNonsense:
		return "thermometer stuck, jumping or not rising: held, then stopped"
	case safety.RowTooHot:
		return "glass too hot: held, then stopped"
	}
	return "held, and nobody restarted"
}

// wantHold asks for what a held piece needs: a soft flame for its time, turning
// until the glass is stiff, the press open. After contact only a parked flame.
func (m *Machine) wantHold() {
	h := &m.hold
	if !m.guarded {
		return
	}
	if m.contacted {
		m.want.flame = m.mayPark() && !h.denied
		m.want.fuelMl = m.softFuel()
		m.arm.release()
		return
	}
	if !m.home() && m.since(h.at) < SettleMs {
		m.openPress()
	}
	warm := !h.cooling && !h.denied && m.lit() && m.arm.started && m.since(h.at) < h.warmMs
	if !warm && !h.cooling {
		h.cooling, h.coolAt = true, m.now
	}
	turn := m.hot && (warm || m.since(h.coolAt) < TurnAfterMs)
	if turn {
		m.want.spinRPM = m.set.spinRPM
	}
	if warm {
		m.want.flame, m.want.fuelMl = true, h.fuelMl
		m.want.in = m.pressOpen()
	}
	if !warm && !m.hot { // nothing lies in the flame's way: keep it parked
		m.want.flame, m.want.fuelMl = m.mayPark() && !h.denied, m.softFuel()
	}
	if !warm && !turn {
		m.hot = false
		m.arm.release()
	}
}

// restartRefusal says why a held cycle may not go on, "" when it may.
func (m *Machine) restartRefusal() string {
	s := &m.see.snap
	switch {
	case !m.guarded:
		return ""
	case s.Lock > warden.LockHold:
		return "the rig is locked"
	case m.alarm.unacked != 0:
		return "acknowledge first"
	case s.Lock != warden.LockNone && s.Present&s.Trips != 0:
		return "the cause is still present"
	}
	return ""
}

// beginRestarting chooses where to go on: unload once the piece was pressed,
// else the recipe's resume phase, never past warming.
func (m *Machine) beginRestarting(out *Output) {
	m.arm.release()
	m.alarm.clear()
	m.resetting, m.resetAt = m.see.snap.Lock != warden.LockNone, m.now
	m.hold.step, m.hold.stepAt = restartClear, m.now
	m.hold.denied = false
	m.hold.resumeAt = min(m.rec.Resume, m.phase.last) // never past what was reached
	if m.contacted {
		m.hold.resumeAt = m.unloadPhase()
		return
	}
	m.lights = 0
	if !m.alive() {
		m.lights = 1
	}
	if m.fired {
		m.refired = true
		m.mark(out, "re-fired")
	}
}

// unloadPhase is the first unload, or the end of the recipe.
func (m *Machine) unloadPhase() int {
	for i := range m.rec.Phases {
		if m.rec.Phases[i].Kind == recipes.Unload {
			return i
		}
	}
	return len(m.rec.Phases)
}

// actRestarting resets the rig's hold, takes a new START, lights up if the
// flame is out, and goes on.
func (m *Machine) actRestarting(out *Output) {
	m.keepParked()
	if m.hot {
		m.want.spinRPM = m.set.spinRPM
	}
	if !m.guarded {
		m.goOn(out)
		return
	}
	if !m.home() && m.cfg.pressDriven {
		m.openPress()
	}
	switch m.hold.step {
	case restartClear:
		m.restartCleared(out)
	case restartArm:
		if m.startSeen() {
			m.mark(out, "start pressed")
			m.hold.step, m.hold.stepAt = restartLight, m.now
		} else if m.since(m.arm.at) >= StartWaitMs {
			m.arm.release()
			m.fault(Stop, "START was not pressed within 60 s", out)
		}
	case restartLight:
		m.restartLit(out)
	}
}

func (m *Machine) restartCleared(out *Output) {
	if m.see.snap.Lock != warden.LockNone {
		if m.since(m.hold.stepAt) >= ResetWaitMs {
			m.fault(Hold, "the rig's hold does not clear", out)
		}
		return
	}
	m.resetting = false
	i := m.hold.resumeAt
	if i >= len(m.rec.Phases) || !energises(&m.rec.Phases[i]) {
		m.goOn(out)
		return
	}
	m.hold.step, m.hold.stepAt = restartArm, m.now
	m.armNow(out)
}

// restartLit runs the whole light-up again where the resume phase is past it.
func (m *Machine) restartLit(out *Output) {
	p := &m.rec.Phases[m.hold.resumeAt]
	if !p.Flame.Lit || p.Kind == recipes.Light || m.lit() {
		m.goOn(out)
		return
	}
	m.want.flame, m.want.light, m.want.fuelMl = true, true, m.softFuel()
	failed := m.lights == 0 && !m.alive() && m.since(m.hold.stepAt) >= FlameMissingMs
	if failed || m.since(m.hold.stepAt) >= RelightMs {
		m.fault(Hold, "the flame did not light", out)
	}
}

// goOn leaves Restarting for the phase that was chosen.
func (m *Machine) goOn(out *Output) {
	m.become(NoCommand, "restarted", out)
	m.see.aside = false
	m.toPhase(m.hold.resumeAt, out)
}
