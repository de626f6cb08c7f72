package warden

import "testing"

// The budget of unburnt fuel is a machine of its own: one integer, one input
// that counts (fuel open and no flame), so every pattern of 30 s can be
// explored exactly. The least sum that a pattern can leave is enough: more trips
// sooner. For each count of unburnt ms the least sum after each ms follows from
// those of the ms before, by the real senseUnburnt.
//
// SV-023, invariant 3: with the valve's closing at most 4 s in any 30 s (case
// study of a gas burner, duration calculus).
func TestExploreBudget(t *testing.T) {
	const windowMs, mostMs = 30000, 4200
	least := make([]uint32, mostMs+1)
	for u := range least {
		least[u] = forever32
	}
	least[0] = 0 // whatever was before only adds
	s := State{}
	s.Out.Bits = OutFuel
	steps := 0
	for range windowMs {
		for u := mostMs; u >= 0; u-- {
			best := uint32(forever32)
			if least[u] != forever32 {
				s.Unburnt = least[u]
				senseUnburnt(&s, true)
				best = s.Unburnt
			}
			if u > 0 && least[u-1] != forever32 {
				s.Unburnt = least[u-1]
				senseUnburnt(&s, false)
				best = min(best, s.Unburnt)
			}
			least[u] = best
			steps++
		}
	}
	t.Logf("budget: %d patterns' least sums, %d steps", mostMs, steps)
	for closing := uint16(0); closing <= 1000; closing += 100 {
		c := testConfig()
		c.ValveCloseMs = closing
		limit := unburntLimit(&c)
		longest := uint32(0)
		for u, sum := range least {
			if sum < limit+120 { // the ms that trips is still unburnt
				longest = uint32(u)
			}
		}
		total := longest + uint32(closing)
		if total > 4000 {
			t.Errorf("closing in %d ms: %d ms of unburnt fuel in 30 s", closing, total)
		}
		if total < 3900 {
			t.Errorf("closing in %d ms: trips already at %d ms in 30 s: the budget is 4 s", closing, total)
		}
	}
}

const forever32 = 0xFFFFFFFF

// Each ms counts as the comment of senseUnburnt says, and only with fuel open.
func TestExploreBudgetSteps(t *testing.T) {
	for _, c := range []struct {
		fuel   uint16
		flame  bool
		before uint32
		after  uint32
	}{{OutFuel, false, 0, 120}, {OutFuel, true, 500, 499}, {0, false, 500, 499}, {0, true, 0, 0}, {OutFuel, true, 0, 0}} {
		s := State{Unburnt: c.before}
		s.Out.Bits = c.fuel
		if senseUnburnt(&s, c.flame); s.Unburnt != c.after {
			t.Errorf("%+v: %d", c, s.Unburnt)
		}
	}
}
