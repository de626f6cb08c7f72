package plan

import (
	"fmt"
	"math"

	"pressrig/glass/forming"
)

// firing is the ring from cold to soft.
type firing struct {
	warm, fire, soak flame
	warmToC          float64 // skin at which warming ends
	warmS, fireS     float64 // by the march
	soakS            float64
	hardSoak         bool    // it takes more than a soft flame
	tensionMPa       float64 // greatest in the ring until nothing is brittle any more
	spreadK          float64 // skin against the coldest place, at the end of the soak
	endC             float64 // skin there
	asideK           float64 // that the skin loses from there to contact
}

// Choices of the firing [common practice, no source].
const (
	warmMostS   = 90.0
	fireWantS   = 45.0  // sharp fire takes 35 to 50 s
	fireMostS   = 120.0 // devitrification and patience end it
	soakMostS   = 12.0
	overshootK  = 15.0 // the skin runs ahead of the mean; soak takes it back
	tensionMPa  = 10.0 // cut edges stand about 7 to 19 MPa
	warmStepK   = 40.0
	softestFuel = 0.15 // L/min, below it a flame blows off
)

// ratios are oxygen over fuel by volume, of each fire.
type ratios struct{ warm, fire, soft float64 }

// ratiosFor: lead glass turns grey in a reducing flame, so that it gets at
// least 1.1 of what burns the fuel everywhere; a hard glass needs a sharper
// fire than lamp glass [common practice, no source].
func ratiosFor(stoichiometric float64, lead bool, softeningC float64) ratios {
	switch {
	case lead:
		r := leanShare * stoichiometric
		return ratios{r, r, r}
	case softeningC > hardGlassC:
		return ratios{0.3 * stoichiometric, 0.8 * stoichiometric, 0.1 * stoichiometric}
	}
	return ratios{0.22 * stoichiometric, 0.32 * stoichiometric, 0.08 * stoichiometric}
}

const (
	leanShare  = 1.1
	hardGlassC = 770.0
	holdsK     = 5.0 // colder by this still counts as held
)

func (r ratios) of(fuel, ratio float64) flame {
	return flame{fuel, math.Ceil(fuel*ratio*20) / 20}
}

// warming finds the softest flame that is quick enough: the strongest one that
// keeps the tension in the ring at its limit through warming and firing, and
// how far to warm before the fire may be sharp.
func (b *bench) warming() error {
	g := b.glass
	best := math.Inf(1)
	found := false
	for to := float64(g.StrainC) - 20; to <= float64(g.SofteningC)-40; to += warmStepK {
		f := firing{warmToC: to}
		fuel := bisect(b.fuelMin(softestFuel, 0), b.softMax(), func(fuel float64) bool {
			f.warm = b.ratio.of(fuel, b.ratio.warm)
			_, ok := b.cold().heat(f.warm, warmMostS, skinFrom(to))
			return ok && b.cold().tension(f.warm, to) >= tensionMPa
		})
		f.warm = b.ratio.of(round(fuel*0.98, 0.01), b.ratio.warm)
		m := b.cold()
		s, ok := m.heat(f.warm, warmMostS, skinFrom(to))
		if !ok {
			continue
		}
		f.warmS = s
		if !b.firingFrom(m, &f) {
			continue
		}
		if total := f.warmS + f.fireS; f.tensionMPa <= tensionMPa*1.05 && total < best {
			b.firing, best, found = f, total, true
		}
	}
	if !found {
		return fmt.Errorf("no flame of this rig warms a ring of %s by %s x %s mm and fires it to %.0f C within %.0f s "+
			"without more than %.0f MPa; take thinner tubing, or a burner that gives more",
			g.Name, number(b.job.Ring.OuterMM), number(b.job.Ring.LengthMM), b.targetC, warmMostS+fireMostS, tensionMPa)
	}
	return nil
}

// tension warms a cold ring and tells the greatest tension.
func (m *march) tension(f flame, toC float64) float64 {
	m.heat(f, warmMostS, skinFrom(toC))
	return m.blank.Outcome().WarmMPa
}

// firingFrom finds the sharp fire after warming: about as quick as the trade
// has it, and no more tension than allowed.
func (b *bench) firingFrom(m *march, f *firing) bool {
	most := math.Min(b.fuelMax(), b.oxygenMax()/b.ratio.fire)
	fuel := bisect(f.warm.fuel, most, func(fuel float64) bool {
		s, ok := m.fork().heat(b.ratio.of(fuel, b.ratio.fire), fireMostS, skinFrom(b.targetC+overshootK))
		return ok && s <= fireWantS
	})
	for ; fuel > f.warm.fuel; fuel -= 0.1 {
		f.fire = b.ratio.of(round(fuel, 0.05), b.ratio.fire)
		hot := m.fork()
		s, ok := hot.heat(f.fire, fireMostS, skinFrom(b.targetC+overshootK))
		if !ok {
			return false
		}
		f.fireS, f.tensionMPa = s, hot.blank.Outcome().WarmMPa
		if f.tensionMPa <= tensionMPa*1.05 {
			b.soaking(hot, f)
			return true
		}
	}
	return false
}

// soaking finds the flame that holds the skin at the target while the core
// comes up: a soft one, with more oxygen where the fuel of a soft flame is not
// enough.
func (b *bench) soaking(m *march, f *firing) {
	f.soakS = soakMostS
	holds := func(x flame) bool {
		hot := m.fork()
		hot.heat(x, f.soakS, never)
		return hot.state().SkinC >= b.targetC-holdsK
	}
	most := math.Min(f.fire.fuel, float64(b.profile.Gas.SoftMax)/(1+soakTrim))
	fuel := bisect(b.fuelMin(0.2, soakTrim), most, func(fuel float64) bool { return holds(b.ratio.of(fuel, b.ratio.fire)) })
	f.soak = b.ratio.of(math.Min(most, round(fuel, 0.05)), b.ratio.fire)
	if !holds(b.ratio.of(most, b.ratio.fire)) {
		f.soak.fuel = math.Floor(most*50) / 50
		ratio := bisect(b.ratio.fire, b.oxygenMax()/most, func(r float64) bool { return holds(b.ratio.of(f.soak.fuel, r)) })
		f.soak = b.ratio.of(f.soak.fuel, ratio)
	}
	if f.hardSoak = !holds(b.ratio.of(most, b.oxygenMax()/most)); f.hardSoak { // no soft flame holds it: the sharp one, less of it
		fuel = bisect(most, f.fire.fuel, func(fuel float64) bool { return holds(b.ratio.of(fuel, b.ratio.fire)) })
		f.soak = b.ratio.of(round(fuel, 0.05), b.ratio.fire)
	}
	hot := m.fork()
	hot.heat(f.soak, f.soakS, never)
	s := hot.state()
	f.spreadK, f.endC = s.SkinC-s.CoreC, s.SkinC
	hot.heat(flame{}, transferS, never)
	f.asideK = s.SkinC - hot.state().SkinC
}

// soakTrim is how far the soaking flame may be trimmed to hold its temperature.
const soakTrim = 0.05

// soft is the blank after warming, firing and soak at a target of its own.
func (b *bench) soft(targetC float64) (*march, bool) {
	m := b.cold()
	f := b.firing
	m.heat(f.warm, warmMostS, skinFrom(f.warmToC))
	if _, ok := m.heat(f.fire, fireMostS, skinFrom(targetC+overshootK)); !ok {
		return m, false
	}
	hold := b.targetC
	b.targetC = targetC
	b.soaking(m, &f)
	b.targetC = hold
	m.heat(f.soak, f.soakS, never)
	return m, true
}

func (b *bench) cold() *march { return newMarch(&b.job, b.moulds.lowerC, b.moulds.upperC) }

func (b *bench) softMax() float64 {
	return math.Min(float64(b.profile.Gas.SoftMax), b.oxygenMax()/b.ratio.warm)
}
func (b *bench) fuelMax() float64   { return 0.95 * float64(b.profile.Gas.FuelMax) }
func (b *bench) oxygenMax() float64 { return 0.95 * float64(b.profile.Gas.OxygenMax) }

func round(v, step float64) float64 { return math.Round(v/step) * step }

func (m *march) state() forming.State { return m.blank.State() }
