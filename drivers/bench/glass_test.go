package bench

import (
	"math"
	"testing"

	"pressrig/glass/forming"
)

// A half of 0.6 kg gains about 13 K a piece and falls back with a time
// constant of about 7 min: a stem maker's computation.
func TestMouldsFallBack(t *testing.T) {
	m := moulds{lowerC: 463, upperC: 430, lowerSetC: 450, upperSetC: 430}
	rnd := chance(1)
	for range 42000 { // 420 s
		m.step(0.01, &forming.State{}, 0, &rnd)
	}
	want := 450 + 13/math.E
	if math.Abs(m.lowerC-want) > driftC {
		t.Errorf("463 C falls to %.1f C in 420 s; %.1f +- %v", m.lowerC, want, driftC)
	}
}

// Propane: lower heating value 91.16 MJ/m3 at 0 C from heats of formation, so
// that 1 L/min is 1.519 kW; and stoichiometric oxygen is 5 by volume.
func TestFlamePower(t *testing.T) {
	g := gas{lit: true, fuelMl: 1000}
	if got := g.powerKW(); math.Abs(got-91.16/60) > 0.002 {
		t.Errorf("1 L/min gives %.3f kW; %.3f", got, 91.16/60)
	}
	for fuel := 0.5; fuel <= 4; fuel += 0.5 {
		w, c := forming.FlameAt(fuel, 1.6*fuel)
		if share := w * (c - 20) / (1000 * fuel * propaneKW); share > 0.25 {
			t.Errorf("%v L/min: %.0f %% of the heat into a cold ring; it cannot take a quarter",
				fuel, 100*share)
		}
		if _, soft := forming.FlameAt(fuel, 0); soft >= c {
			t.Errorf("oxygen does not make the flame hotter at %v L/min", fuel)
		}
	}
}
