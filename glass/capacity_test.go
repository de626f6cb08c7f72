package glass_test

import (
	"math"
	"testing"

	"pressrig/glass"
)

// Regression only: the coefficients are from memory, the means derived.
func TestSharpGinther(t *testing.T) {
	mass := composition(t, floatMass)
	for _, c := range [][2]float64{{24, 766}, {100, 835}, {300, 966}, {500, 1053}, {700, 1115}, {900, 1161}} {
		mean, local, err := glass.SharpGinther(mass, c[0])
		if err != nil {
			t.Fatal(err)
		}
		// The means were derived with parts that sum to 1.005; ours sum to 1.
		near(t, "mean heat capacity", mean, c[1]/1.005, 1)
		// The true value is the slope of the heat content.
		above, _, _ := glass.SharpGinther(mass, c[0]+.01)
		below, _, _ := glass.SharpGinther(mass, c[0]-.01)
		near(t, "true heat capacity", local, ((c[0]+.01)*above-(c[0]-.01)*below)/.02, .01)
	}
	for _, c := range []float64{-1, 1301, math.NaN()} {
		if _, _, err := glass.SharpGinther(mass, c); err == nil {
			t.Errorf("took %g C", c)
		}
	}
	if _, _, err := glass.SharpGinther(composition(t, "SiO2=70,BaO=30"), 20); err == nil {
		t.Error("took 30 % of an oxide without coefficient")
	}
}
