package plan

import (
	"math"

	"pressrig/glass/forming"
)

// cooling is the piece from parting to the oven, and the oven.
type cooling struct {
	setS   float64 // light dwell
	soft   flame
	softC  float64
	softS  float64
	down   flame
	downC  float64 // skin at which it goes to the oven
	downS  float64
	oven   forming.Oven
	risk   float64 // of cracking
	keepNM float64 // retardation that a polariscope will show
	keepPa float64 // permanent tension in the middle
}

// Choices of cooling [common practice, no source].
const (
	liftS     = 2.0 // from parting to the flame back at the piece
	softForS  = 30.0
	softTrim  = 0.4  // how far it may be trimmed
	softUp    = 0.4  // of the way from annealing to softening point
	downLeast = 0.05 // L/min
	downMost  = 0.3
	downWantS = 40.0
	downMostS = 240.0
	toOvenK   = 20.0 // above the annealing point it goes to the oven
	keepMPa   = 1.0  // fine annealing leaves less than 0.5 to 1 MPa
)

// cool takes the pressed piece of the target to the oven and through it.
func (b *bench) cool() {
	g := b.glass
	anneal, soft := float64(g.AnnealingC), float64(g.SofteningC)
	c := cooling{softC: round(anneal+softUp*(soft-anneal), 10), softS: softForS, downC: anneal + toOvenK}
	m, _ := b.soft(b.targetC)
	c.setS = m.pressSet(&b.stroke, soft-setBelowK)
	m.around.Turning = true
	m.hold(liftS)
	fuel := bisect(b.fuelMin(softestFuel, softTrim), b.softMax(), func(fuel float64) bool {
		w := m.fork()
		w.heat(b.ratio.of(fuel, b.ratio.soft), c.softS, never)
		return w.state().SkinC >= c.softC
	})
	c.soft = b.ratio.of(b.fuelMin(round(fuel, 0.05), softTrim), b.ratio.soft)
	m.heat(c.soft, c.softS, never)
	c.down, c.downS = b.stepDown(m, c.downC)
	m.heat(c.down, downMostS, skinTo(c.downC))
	c.oven = forming.UsualOven(&b.job.Material)
	c.oven.CoolKS = b.coolRate(m.state().MeanC)
	m.blank.Anneal(&c.oven)
	o := m.blank.Outcome()
	c.risk, c.keepNM, c.keepPa = o.CoolCrack, o.RetardNM, o.CentreMPa*1e6
	b.cooling = c
}

// stepDown finds the hottest small flame under which the skin still reaches a
// temperature in good time.
func (b *bench) stepDown(m *march, toC float64) (flame, float64) {
	of := func(fuel float64) flame {
		if b.glass.Lead {
			return b.ratio.of(fuel, b.ratio.soft)
		}
		return flame{fuel, 0}
	}
	least := b.fuelMin(downLeast, 0)
	fuel := bisect(least, math.Max(least, downMost), func(fuel float64) bool {
		_, ok := m.fork().heat(of(fuel), downWantS, skinTo(toC))
		return !ok
	})
	f := of(math.Max(least, math.Floor(fuel*100-1)/100))
	s, ok := m.fork().heat(f, downMostS, skinTo(toC))
	if !ok {
		b.warn("flame-cool does not reach %.0f C within %.0f s: turn the burner away earlier", toC, downMostS)
	}
	return f, s
}

// fuelMin is a flow, or where that is more the one that, trimmed, is the least
// that the rig's flame stands with.
func (b *bench) fuelMin(flow, trim float64) float64 {
	return math.Max(flow, float64(b.profile.Gas.FuelMin)/(1-trim))
}

func skinTo(c float64) func(*forming.State) bool {
	return func(s *forming.State) bool { return s.SkinC <= c }
}

// coolRate is the rate that leaves keepMPa in the middle of the thickest
// section: E alpha q d^2/(24 kappa (1-nu)) (Adams and Williamson 1920, from
// memory), K/s.
func (b *bench) coolRate(celsius float64) float64 {
	m, d := &b.job.Material, b.order.Piece.Figures.ThickestMM/1000
	kappa := m.KWmK(celsius) / (m.DensityKgM3 * m.CpJkgK(celsius))
	q := keepMPa * 1e6 * 24 * kappa * (1 - m.Poisson) / (m.YoungPa * m.ExpansionPK * d * d)
	return math.Floor(q*60*2) / 2 / 60
}
