package bench

import (
	"math"
	"testing"

	"pressrig/safety/warden"
)

// A flow is as small as asked, the least that a recipe may ask included, it is
// measured so, and its flame stands.
func TestFlowIsAsLowAsAsked(t *testing.T) {
	for _, c := range []struct{ fuel, oxygen uint16 }{{900, 0}, {300, 300}, {200, 0}, {50, 300}, {25, 0}} {
		h := lit(t)
		h.heat(900, 1200, 100, 20000)
		h.want.FuelMl, h.want.OxygenMl = c.fuel, c.oxygen
		h.ms(3000)
		truth := h.r.Truth()
		if math.Abs(truth.FuelMl-float64(c.fuel)) > 0.5 || math.Abs(truth.OxygenMl-float64(c.oxygen)) > 0.5 {
			t.Errorf("%d and %d mL/min asked, %.1f and %.1f leave the burner", c.fuel, c.oxygen, truth.FuelMl, truth.OxygenMl)
		}
		for ai, asked := range map[uint8]uint16{warden.AiFuelFlow: c.fuel, warden.AiOxygenFlow: c.oxygen} {
			if got := h.snap.Analog[ai]; math.Abs(float64(got)-float64(asked)) > 0.02*float64(asked)+1 {
				t.Errorf("%d mL/min asked, %d measured by channel %d", asked, got, ai)
			}
		}
		if !truth.Flame || truth.Trips != 0 || truth.UnburntMs > 3000 {
			t.Errorf("%d mL/min: flame %v, trips %x, %d ms unburnt", c.fuel, truth.Flame, truth.Trips, truth.UnburntMs)
		}
	}
}

// Too little fuel burns nowhere, and does not count as unburnt either.
func TestNoFlameBelowTheLeast(t *testing.T) {
	h := lit(t)
	h.want.FuelMl = leastBurnMl - 2
	h.until("out", 2000, func() bool { return !h.r.Truth().Flame })
	if got := h.r.Truth(); got.Unburnt30Ms > 3000 {
		t.Errorf("%d ms unburnt", got.Unburnt30Ms)
	}
}

// Gas that nobody asked for flows only where a valve stands open by itself: a
// stuck valve behind one that shuts lets nothing through, both let through what
// leaks past a flow controller that is asked for nothing.
func TestOnlyAStuckValveLeaks(t *testing.T) {
	for _, c := range []struct {
		faults []string
		want   float64
	}{
		{nil, 0},
		{[]string{"fuel1_stuck_open"}, 0},
		{[]string{"fuel2_stuck_open"}, 0},
		{[]string{"fuel1_stuck_open", "fuel2_stuck_open"}, leakMl},
	} {
		h := idle(t)
		for _, line := range c.faults {
			h.inject(line)
		}
		h.ms(2000)
		if got := h.r.Truth().FuelMl; math.Abs(got-c.want) > 0.5 {
			t.Errorf("%v: %.1f mL/min with no flow asked; %v", c.faults, got, c.want)
		}
		h = lit(t)
		for _, line := range c.faults {
			h.inject(line)
		}
		h.want.FuelMl = 50
		h.until("as asked", 2000, func() bool { return math.Abs(h.r.Truth().FuelMl-50) < 0.5 })
	}
}
