package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// phaseFaults looks for what ends a phase badly: a missing flame, a START that
// is gone, a channel outside its band. It reports whether the state changed.
func (m *Machine) phaseFaults(p *recipes.Phase, out *Output) bool {
	before := m.state
	switch {
	case m.guarded && m.startLost():
		m.fault(Abort, "the rig took START back", out)
	case m.state != Holding && m.opened(p):
		m.fault(Hold, "the safety door was opened", out)
	case m.state != Holding && m.flameFault(p):
		m.hold.denied = true
		m.fault(Hold, "the flame is out", out)
	case m.state != Holding:
		m.bands(p, out)
	}
	return m.state != before
}

// opened: the safety door was opened in a phase that asks for motion or heat and
// keeps no hands at the moulds; restart takes a new START. A stroke under two
// hands answers for itself.
func (m *Machine) opened(p *recipes.Phase) bool {
	const both = warden.InTwoHandLeft | warden.InTwoHandRight
	return !handsIn(p.Kind) && m.takenBack() && m.see.snap.In&both != both
}

// bands follows the phase's bands; the first that is outside for longer than
// its grace acts.
func (m *Machine) bands(p *recipes.Phase, out *Output) {
	for i := range min(len(p.Bands), MaxBands) {
		b := &p.Bands[i]
		n, ok := m.channel(b.AI)
		outside := ok && (n < b.LowCount || n > b.HighCount)
		if !outside {
			m.phase.bandOut[i] = false
			continue
		}
		if !m.phase.bandOut[i] {
			m.phase.bandOut[i], m.phase.bandAt[i] = true, m.now
		}
		if m.since(m.phase.bandAt[i]) >= ms(b.Grace) {
			m.record(out, Record{Kind: RecMark, Name: b.Channel, Value: float64(n),
				Reason: "outside its band"})
			m.horn()
			m.fault(commandOf(b.Fault), "a channel is outside its band", out)
			return
		}
	}
}
