package heat

import (
	"math"
	"testing"
)

func slabOf(t *testing.T, thick, celsius float64, nodes int) *Slab {
	t.Helper()
	k, err := Constant(0.937)
	if err != nil {
		t.Fatal(err)
	}
	cp, err := Constant(880)
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewSlab(&Material{Density: 2500, Conductivity: k, Capacity: cp}, thick, celsius, nodes)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Sudden convection on both faces at Bi 1: series values H05 and H06 (derived
// from Incropera's equations), and second order in the nodes.
func TestSlabEqualsTheSeries(t *testing.T) {
	const thick, h = 0.004, 0.937 / 0.002
	kappa := 0.937 / (2500 * 880.0)
	var both Face
	both.Exchange(h, 100)
	run := func(nodes int, fo float64) (middle, surface float64) {
		s := slabOf(t, thick, 600, nodes)
		end := fo * 0.002 * 0.002 / kappa
		const steps = 20000
		for range steps {
			s.Step(end/steps, &both, &both)
		}
		return (s.Nodes()[nodes/2] - 100) / 500, (s.Nodes()[nodes-1] - 100) / 500
	}
	middle, surface := run(81, 0.2)
	near(t, "H05 middle", middle, 0.95064, 1e-4) // H05
	near(t, "H05 surface", surface, 0.64339, 1e-4)
	middle, surface = run(81, 0.5)
	near(t, "H06 middle", middle, 0.77253, 1e-4) // H06
	near(t, "H06 surface", surface, 0.50452, 1e-4)
	exact, err := Left(Wall, 1, 0.2, 1)
	if err != nil {
		t.Fatal(err)
	}
	_, coarse := run(11, 0.2)
	_, fine := run(21, 0.2)
	if order := math.Log2((coarse - exact) / (fine - exact)); order < 1.8 || order > 2.2 {
		t.Errorf("order in the nodes is %.2f, want 2", order)
	}
}

// Heat in equals heat held to rounding; a squeeze keeps temperatures; one face
// insulated is half of a plate of twice the thickness.
func TestSlabKeepsHeat(t *testing.T) {
	s := slabOf(t, 0.005, 900, 25)
	var cold, air Face
	cold.Exchange(3000, 450)
	air.Radiate(0.85, 20)
	air.Exchange(8, 20)
	into := 0.0
	for range 500 {
		s.Step(0.01, &cold, &air)
		a, b := s.Into()
		into += (a + b) * 0.01
	}
	held := 2500 * 880 * 0.005 * (s.MeanC() - 900)
	near(t, "balance", held/into, 1, 1e-9)
	mean := s.MeanC()
	s.Squeeze(0.0025)
	s.Squeeze(math.NaN())
	s.Squeeze(-1)
	near(t, "mean after a squeeze", s.MeanC(), mean, 0)
	near(t, "thickness", s.Thickness(), 0.0025, 0)

	half, whole := slabOf(t, 0.003, 600, 31), slabOf(t, 0.006, 600, 61)
	var none Face
	for range 200 {
		half.Step(0.05, &none, &cold)
		whole.Step(0.05, &cold, &cold)
	}
	for i, c := range half.Nodes() {
		near(t, "half", c, whole.Nodes()[30+i], 1e-8)
	}
	if _, err := NewSlab(s.glass, -1, 20, 10); err == nil {
		t.Error("a negative thickness passes")
	}
	if _, err := NewSlab(s.glass, 0.003, 20, 2); err == nil {
		t.Error("two nodes pass")
	}
}
