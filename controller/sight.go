package controller

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// sight is what the machine has seen of the rig.
type sight struct {
	snap    rig.Snapshot // newest; zero before the first
	have    bool
	fresh   bool // snap is of this step
	at      uint64
	session uint32
	journal JournalHealth

	clear    bool // burner proven clear since clearAt
	clearAt  uint64
	softSeen bool // SOFT seen released since the phase began
	soft     bool // SOFT was pressed in this step
	touch    bool // press in contact
	aside    bool // burner has left the blank since asideAt
	asideAt  uint64
	pullDN   int16 // strongest pull since contact, negative
}

// ViewMs: workshop.md 2.11, the thermometer is believed 0.3 s after the burner
// went aside.
const viewMs = 300

// take looks at an input before anything is decided.
func (m *Machine) take(in *Input) {
	m.now = in.ElapsedMs
	s := &m.see
	s.fresh, s.soft = false, false
	s.session = in.Session
	s.journal = in.Journal
	if in.Snap == nil {
		return
	}
	before := s.snap
	dt := uint64(0)
	if s.have {
		dt = m.now - s.at
	}
	if m.open && dt > 0 && dt <= 1_000 { // a longer gap is not known gas
		m.totals.add(m, dt)
	}
	s.snap, s.have, s.fresh, s.at = *in.Snap, true, true, m.now
	s.snap.AnalogOK &= m.cfg.analogOK
	m.takeEdges(&before)
	m.noteLight(before.Burner)
	if m.pressOpen() {
		m.touching = false
	}
	m.takeGlass(dt)
}

// takeEdges finds what has changed from one snapshot to the next.
func (m *Machine) takeEdges(before *rig.Snapshot) {
	s := &m.see
	clear := m.cfg.fixed || s.snap.Has(warden.InBurnerClear)
	if clear && !s.clear {
		s.clearAt = m.now
	}
	s.clear = clear
	pressed := s.snap.Has(warden.InSoft)
	s.soft = pressed && s.softSeen
	s.softSeen = !pressed
	if before.Has(warden.InBurnerAtBlank) && !s.snap.Has(warden.InBurnerAtBlank) {
		s.aside, s.asideAt = true, m.now
	}
	touching := s.snap.Press == warden.PressContact || s.snap.Flags&rig.FlagTouching != 0
	s.touch = touching && !m.home()
	if s.snap.OK(warden.AiForce) {
		s.pullDN = min(s.pullDN, s.snap.Analog[warden.AiForce])
	}
}

// sightFree: the thermometer's line of sight does not cross the flame.
func (m *Machine) sightFree() bool {
	return m.cfg.viewAlways || (m.see.clear && m.since(m.see.clearAt) >= viewMs)
}

// glass is the glass temperature when it is to be believed now.
func (m *Machine) glass() (dC int16, ok bool) {
	s := &m.see.snap
	if !m.see.have || !m.cfg.thermometer || !s.OK(warden.AiGlass) ||
		s.Flags&rig.FlagViewFree == 0 || s.GlassAgeMs > sampleMs {
		return 0, false
	}
	return s.Analog[warden.AiGlass], true
}

// channel is an analog channel's count when it is to be believed now.
func (m *Machine) channel(ai uint8) (n int16, ok bool) {
	if ai == warden.AiGlass {
		return m.glass()
	}
	if ai >= warden.NumAnalog || !m.see.have || !m.see.snap.OK(ai) {
		return 0, false
	}
	return m.see.snap.Analog[ai], true
}
