package forming

import (
	"math"
	"testing"
)

// Steady cooling of a plate from both faces at q leaves the tension E alpha q
// d^2/(24 kappa (1-nu)) in its middle (Adams and Williamson 1920, from memory);
// it grows with the rate.
func TestOvenLeavesTheStressOfItsRate(t *testing.T) {
	for _, kMin := range []float64{1, 2, 4} {
		b := New(PlainDisc(lamp(t), Ring{90, 60, 40}, 5)) // so wide that its rim cools it little
		b.Load(600)
		b.Squash(5)
		b.Anneal(&Oven{HoldC: 522, HoldS: 1200, CoolKS: kMin / 60, ToC: 420})
		m := lamp(t)
		kappa := m.KWmK(478) / (m.DensityKgM3 * m.CpJkgK(478))
		want := m.stressPerK() * kMin / 60 * math.Pow(0.005, 2) / (24 * kappa) / 1e6
		within(t, "tension in the middle, MPa", b.Outcome().CentreMPa, 0.9*want, 1.1*want)
		within(t, "temperature at the end, C", b.State().MeanC, 19, handC)
	}
}

// A ring that was never pressed, or an oven that does not cool, changes nothing.
func TestOvenRefusesWhatItCannotDo(t *testing.T) {
	b := plain(t)
	b.Anneal(&Oven{HoldC: 522, HoldS: 60, CoolKS: 0.1, ToC: 420})
	if b.State().MeanC != 20 {
		t.Error("a ring went into the oven")
	}
	b.Squash(5)
	b.Anneal(&Oven{HoldC: 522, HoldS: 60})
	if b.State().MeanC != 20 {
		t.Error("an oven without a rate ran")
	}
}
