package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// setFor turns a phase's figures into set-points within the rig's limits.
// Hands-in phases move nothing and keep at most a parked soft flame.
func (m *Machine) setFor(i int) want {
	p := &m.rec.Phases[i]
	if handsIn(p.Kind) {
		return want{flame: m.mayPark(), fuelMl: m.softFuel()}
	}
	w := want{in: m.set.in, spinRPM: m.spindleAt(i)}
	if p.Flame.At != recipes.PlaceKeep {
		w.in = p.Flame.At == recipes.AtBlank
	}
	if p.Flame.Lit {
		w.flame = true
		w.fuelMl = min(millilitres(p.Flame.Fuel), m.cfg.fuelMaxMl)
		w.oxyMl = min(millilitres(p.Flame.Oxygen), m.cfg.oxygenMaxMl)
	}
	if p.Kind == recipes.Light {
		w.flame, w.light, w.in, w.oxyMl = true, true, false, 0
		if w.fuelMl == 0 {
			w.fuelMl = m.softFuel()
		}
	}
	m.setStroke(p, &w)
	return w
}

// spindleAt is the speed set in phase i: its own, or that of the nearest phase
// before it that names one.
func (m *Machine) spindleAt(i int) uint16 {
	for ; i >= 0; i-- {
		if p := &m.rec.Phases[i]; !p.SpindleKeep {
			return min(tenthsRPM(p.SpindleRPM), m.cfg.spindleDrpm)
		}
	}
	return 0
}

// apply asks for the set-points of the phase, trimmed where a temperature is
// held.
func (m *Machine) apply(p *recipes.Phase) {
	m.want = m.set
	if m.trim.on && m.set.flame {
		m.want.fuelMl, m.want.oxyMl = m.trim.flows(m.cfg.fuelMaxMl, m.cfg.oxygenMaxMl)
	}
	if m.hold.denied && m.state == Holding {
		m.want.flame, m.want.in = false, false
	}
	if handsIn(p.Kind) && !m.lit() {
		m.want.flame = false
	}
}

// softFuel is the flow of a soft flame of fuel alone: the recipe's light phase,
// else the smallest lit flow, within the rig's soft limit.
func (m *Machine) softFuel() uint16 {
	if m.rec == nil {
		return 0
	}
	best := uint16(0)
	for i := range m.rec.Phases {
		f := &m.rec.Phases[i].Flame
		ml := millilitres(f.Fuel)
		if m.rec.Phases[i].Kind == recipes.Light && ml > 0 {
			best = ml
			break
		}
		if f.Lit && ml > 0 && (best == 0 || ml < best) {
			best = ml
		}
	}
	return min(best, m.cfg.softMaxMl)
}

// flameFault finds a flame that the phase needs and that is not there. There
// is no relight: the machine holds (invariant 6).
func (m *Machine) flameFault(p *recipes.Phase) bool {
	missing := m.guarded && m.set.flame && !m.alive() && !handsIn(p.Kind)
	if p.Kind == recipes.Light {
		missing = missing && m.lights == 0
	}
	if !missing {
		m.dark = false
		return false
	}
	if !m.dark {
		m.dark, m.darkAt = true, m.now
	}
	return m.since(m.darkAt) >= FlameMissingMs
}

// Constants of the temperature trim. A flame is slow and its effect on the
// glass slower: 10 K off moves the fuel by 10 % at once, the rest in 20 s.
// Invented for the simulated rig; tune on yours by a heat-only run.
const (
	trimPerDC   = 1      // permille of fuel per 0.1 K
	trimTiMs    = 20_000 // integral time
	trimStepMax = 1_000  // longest interval integrated, ms
)

// trimmer holds a glass temperature by trimming fuel about the recipe's flow
// at the recipe's own oxygen ratio: a bounded PI controller in integers.
type trimmer struct {
	on      bool
	fuelMl  uint16
	oxyMl   uint16
	setDC   int16
	bound   int64 // permille
	sum     int64 // integral, permille x trimTiMs
	current int64 // permille
}

func newTrimmer(l *limits, p *recipes.Phase, w want) trimmer {
	if !p.Flame.Lit || !p.Flame.HasHold {
		return trimmer{}
	}
	return trimmer{on: true, fuelMl: w.fuelMl, oxyMl: w.oxyMl, setDC: l.glassDC(p.Flame.HoldC),
		bound: int64(count(float64(p.Flame.Trim), 10))}
}

// step takes one believed temperature. The integral stands still while the
// output is at its bound and the error would push it further (anti-windup).
func (t *trimmer) step(dC int16, dtMs uint64) {
	if !t.on {
		return
	}
	off := int64(t.setDC) - int64(dC)
	dt := int64(min(dtMs, trimStepMax))
	free := off*trimPerDC + t.sum/trimTiMs
	if (free < t.bound || off < 0) && (free > -t.bound || off > 0) {
		t.sum += off * trimPerDC * dt
		t.sum = max(-t.bound*trimTiMs, min(t.bound*trimTiMs, t.sum))
	}
	t.current = max(-t.bound, min(t.bound, off*trimPerDC+t.sum/trimTiMs))
}

// flows are the trimmed flows, oxygen in the recipe's ratio to fuel.
func (t *trimmer) flows(fuelMax, oxyMax uint16) (fuel, oxygen uint16) {
	f := int64(t.fuelMl) * (1000 + t.current) / 1000
	f = max(0, min(int64(fuelMax), f))
	if t.fuelMl == 0 {
		return 0, 0
	}
	o := f * int64(t.oxyMl) / int64(t.fuelMl)
	if o > int64(oxyMax) { // keep the ratio: less fuel rather than a sooty flame
		o = int64(oxyMax)
		f = o * int64(t.fuelMl) / int64(t.oxyMl)
	}
	return uint16(f), uint16(o)
}

// noteLight takes a light-up off the cycle's account when it is seen to begin.
func (m *Machine) noteLight(before uint8) {
	was := before >= warden.BurnerCheck && before <= warden.BurnerRun
	if m.open && !was && m.alive() && m.lights > 0 {
		m.lights--
	}
}
