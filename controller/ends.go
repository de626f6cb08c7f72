package controller

import (
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Tolerances of "in place". The press stops within its drive's own error; a
// recipe's position is not finer than this.
const (
	placeCmm   = 10  // 0.1 mm
	placeDrpm  = 20  // 2 rpm
	standsDrpm = 10  // the warden's own standstill, 1 rpm
	placeShare = 10  // or a tenth of the speed
	settleMs   = 500 // hands-in: still for this long
)

// ended is the reason for which the phase ends now, "" while it does not.
func (m *Machine) ended(p *recipes.Phase, out *Output) string {
	e := &p.End
	condition := m.condition(e.When)
	if m.see.soft && (e.Soft || m.hasSoftPermit(p)) && !m.phase.soft {
		m.phase.soft = true
		m.noteSoft(out)
	}
	if !m.phase.active || m.since(m.phase.activeAt) < ms(e.Least) {
		return ""
	}
	if !m.guarded {
		return m.endedAssisted(p)
	}
	if p.Kind == recipes.Unload || (p.Kind == recipes.Load && onlyAnswer(e)) {
		return choose(m.phase.answered, endAnswer) // piece out: nothing else ends it
	}
	switch {
	case e.Answer && m.phase.answered:
		return endAnswer
	case e.Soft && m.phase.soft:
		return endSoft
	case p.Kind == recipes.Light && m.lit():
		return endLit
	case e.Lit && m.lit():
		return endLit
	case condition:
		return endWhen
	case e.There && m.there(p):
		return endThere
	case e.After > 0 && m.since(m.phase.activeAt) >= ms(e.After):
		return endTime
	}
	return ""
}

func choose(yes bool, reason string) string {
	if yes {
		return reason
	}
	return ""
}

// onlyAnswer: the recipe names no other end, so a person ends it.
func onlyAnswer(e *recipes.End) bool {
	return e.After == 0 && e.When == nil && !e.Soft && !e.There && !e.Lit
}

// hasSoftPermit: without a thermometer SOFT is the stroke's permit, and its
// moment is worth a mark in any heating phase.
func (m *Machine) hasSoftPermit(p *recipes.Phase) bool {
	return !m.cfg.thermometer && glassMatters(p.Kind)
}

// noteSoft logs the moment at which the eye said soft.
func (m *Machine) noteSoft(out *Output) {
	m.mark(out, "soft")
	m.measure(out, "soft_s", float64(m.since(m.phase.at))/1000, "s")
	if dC, ok := m.glass(); ok {
		m.measure(out, "soft_C", m.cfg.trueOf(warden.AiGlass, dC), "C")
	}
}

// condition follows c and reports whether it has held for its time. A channel
// that is not to be believed never holds.
func (m *Machine) condition(c *recipes.Condition) bool {
	if c == nil {
		return false
	}
	if !m.conditionNow(c) {
		m.phase.cond = false
		return false
	}
	if !m.phase.cond {
		m.phase.cond, m.phase.condAt = true, m.now
	}
	return m.since(m.phase.condAt) >= ms(c.For)
}

func (m *Machine) conditionNow(c *recipes.Condition) bool {
	if c.Switch != 0 {
		return m.see.have && m.see.snap.Has(c.Switch) == c.On
	}
	n, ok := m.channel(c.AI)
	if !ok {
		return false
	}
	if c.AtLeast {
		return n >= c.Count
	}
	return n <= c.Count
}

// there: burner at its place, press at its target, and, where the stroke comes
// next, the spindle in its state.
func (m *Machine) there(p *recipes.Phase) bool {
	if !m.burnerThere() || !m.pressThere(p) {
		return false
	}
	return p.Kind != recipes.Clear || m.spindleThere()
}

func (m *Machine) burnerThere() bool {
	if m.cfg.fixed || m.cfg.slide == rig.NotFitted {
		return true
	}
	s := &m.see.snap
	if m.set.in {
		return s.Has(warden.InBurnerAtBlank) && !s.Has(warden.InBurnerClear)
	}
	return s.Has(warden.InBurnerClear) && !s.Has(warden.InBurnerAtBlank)
}

func (m *Machine) pressThere(p *recipes.Phase) bool {
	if !moves(p.Press.Do) {
		return true
	}
	to := m.cfg.travelCmm(p.Press.To)
	s := &m.see.snap
	if p.Press.Do == recipes.DoOpen {
		if to <= max(m.cfg.openCmm, placeCmm) {
			return s.Has(warden.InPressOpen)
		}
		return s.OK(warden.AiTravel) && s.Analog[warden.AiTravel] <= to+placeCmm
	}
	if !s.OK(warden.AiTravel) {
		return m.see.touch // no travel sensor: contact is what can be known
	}
	return s.Analog[warden.AiTravel] >= to-placeCmm
}

func (m *Machine) spindleThere() bool {
	if !m.cfg.spindleDrv {
		return true
	}
	n, ok := m.channel(warden.AiSpindle)
	if !ok {
		return false
	}
	set := int32(m.set.spinRPM)
	if set == 0 {
		return n <= standsDrpm
	}
	off := int32(n) - set
	return max(off, -off) <= max(placeDrpm, set/placeShare)
}

// arrive starts the clock of After and Least. With a burner swung by hand it
// waits until the burner is where the phase wants it.
func (m *Machine) arrive(p *recipes.Phase) {
	if m.phase.active {
		return
	}
	byHand := m.guarded && m.cfg.slide == rig.HandWithSwitch && !m.cfg.fixed && p.Flame.Lit
	if byHand && !m.burnerThere() {
		return
	}
	m.phase.active, m.phase.activeAt = true, m.now
}

// noteContact takes the moment of contact: its temperature and how long the
// piece was on its way without flame.
func (m *Machine) noteContact(out *Output) {
	p := m.current()
	if m.touching || p == nil || !closes(p) || !m.see.touch {
		return
	}
	m.contacted, m.touching, m.hot = true, true, false
	m.mark(out, "contact")
	if e := m.est.at(m.now); e.ok {
		m.measure(out, "contact_C", m.cfg.trueOf(warden.AiGlass, e.dC), "C")
	}
	if m.see.aside {
		m.measure(out, "transfer_s", float64(m.since(m.see.asideAt))/1000, "s")
	}
}
