package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// setStroke adds what a phase asks of the press.
func (m *Machine) setStroke(p *recipes.Phase, w *want) {
	s := &p.Press
	switch s.Do {
	case recipes.DoClose:
		w.press = warden.PressClose
	case recipes.DoForce:
		w.press = warden.PressForce
	case recipes.DoOpen:
		w.press = warden.PressOpen
	default:
		return
	}
	w.toCmm = min(m.cfg.travelCmm(s.To), m.cfg.endCmm)
	w.cmms = min(hundredthsMMS(s.Speed), m.cfg.speedCmms)
	w.forceDN = min(tenthsN(s.Force), m.cfg.forceDN)
	if s.Do == recipes.DoForce && s.Speed == 0 {
		w.cmms = m.cfg.handCmms // force decides; this only bounds how fast it gets there
	}
	if s.Do == recipes.DoOpen {
		w.forceDN = m.cfg.pullDN
		if s.Speed == 0 {
			w.cmms = m.cfg.handCmms
		}
	}
	w.stroke = closes(p)
}

// open asks the press to open fully, at the recipe's parting speed while the
// glass may still grip, else at hold-to-run speed. Opening is a safing output.
func (m *Machine) openPress() {
	m.want.press = warden.PressOpen
	m.want.toCmm = 0
	m.want.cmms = m.cfg.handCmms
	m.want.forceDN = m.cfg.pullDN
	if m.rec == nil {
		return
	}
	for i := range m.rec.Phases {
		p := &m.rec.Phases[i]
		if p.Kind == recipes.Part && p.Press.Speed > 0 {
			m.want.cmms = min(hundredthsMMS(p.Press.Speed), m.cfg.handCmms)
			return
		}
	}
}

// window puts the recipe's press window into the request: taken by the warden
// at arming, and clipped there.
func (m *Machine) window(r *request) {
	if m.rec == nil || m.rec.Window.High <= m.rec.Window.Low {
		return
	}
	r.GlassLowDC = m.cfg.glassDC(m.rec.Window.Low)
	r.GlassHighDC = m.cfg.glassDC(m.rec.Window.High)
}

// estimate accompanies a stroke with an extrapolation when the thermometer
// cannot see the glass (invariant 9). The warden prefers a measured value.
func (m *Machine) estimate(r *request) {
	if m.touching || !m.want.stroke || !m.cfg.thermometer {
		return
	}
	if _, ok := m.glass(); ok {
		return
	}
	e := m.est.at(m.now)
	if !e.ok {
		return
	}
	r.Flags |= warden.ReqEstimate
	r.EstDC, r.EstUncDC, r.EstAgeMs = e.dC, e.uncDC, e.ageMs
}

// beforeStroke: the glass is still to be pressed, once or once more.
func (m *Machine) beforeStroke() bool {
	if m.touching || m.phase.index < 0 {
		return false
	}
	for i := m.phase.index; i < len(m.rec.Phases); i++ {
		if closes(&m.rec.Phases[i]) {
			return true
		}
	}
	return !m.rec.Strokes() // a recipe that only heats is always before it
}
