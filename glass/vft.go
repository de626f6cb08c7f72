package glass

import (
	"fmt"
	"math"
)

// VFT holds the constants of the Vogel-Fulcher-Tammann equation
// log10(viscosity in Pa.s) = A + B/(T - T0), T and T0 in degrees Celsius, B in
// kelvin (Fluegel, Glass Technol. 48 (2007) 13, equation 1).
type VFT struct {
	A, B, T0 float64
}

// Log is log10 of the viscosity in Pa.s at c degrees Celsius, +Inf at and
// below T0, where the equation has no value.
func (v VFT) Log(c float64) float64 {
	if c <= v.T0 {
		return math.Inf(1)
	}
	return v.A + v.B/(c-v.T0)
}

// At is the temperature in degrees Celsius of the viscosity 10^log Pa.s, +Inf
// for log at or below A, which the equation never reaches.
func (v VFT) At(log float64) float64 {
	if log <= v.A {
		return math.Inf(1)
	}
	return v.T0 + v.B/(log-v.A)
}

// Point is one known viscosity.
type Point struct {
	Log float64 // log10 of Pa.s
	C   float64 // degrees Celsius
}

// Bounds of an accepted curve: outside them one of the points is wrong or does
// not belong into the equation.
const (
	leastT0C   = -100.0 // no oxide glass of this trade lies lower
	aboveT0C   = 50.0   // the coldest point stays this far above T0
	mostLogFit = LogAnnealing + 0.5
)

// Fit finds the curve through three points, hottest first. It refuses the
// strain point: "the insertion of the strain point into the VFT-equation is
// always impossible" (ISO 7884-7, scope), and refuses a result that no glass
// has: B > 0, A < 0 and -100 C < T0 < coldest point - 50 K are demanded.
func Fit(hot, middle, cold Point) (VFT, error) {
	if hot.C <= middle.C || middle.C <= cold.C {
		return VFT{}, fmt.Errorf("temperatures %g, %g, %g C do not fall; give the hottest "+
			"point first",
			hot.C, middle.C, cold.C)
	}
	if cold.Log > mostLogFit {
		return VFT{}, fmt.Errorf("log viscosity %g is at the strain point, where the equation "+
			"does not hold; "+
			"give a point at 10^%g Pa.s or below", cold.Log, LogAnnealing)
	}
	k := (hot.Log - middle.Log) * (middle.C - cold.C) /
		((middle.Log - cold.Log) * (hot.C - middle.C))
	t0 := (cold.C - k*hot.C) / (1 - k)
	b := (hot.Log - middle.Log) * (hot.C - t0) * (middle.C - t0) / (middle.C - hot.C)
	v := VFT{A: hot.Log - b/(hot.C-t0), B: b, T0: t0}
	// Written so that a NaN is refused too.
	if !(v.B > 0 && v.A < 0 && v.T0 > leastT0C && v.T0 < cold.C-aboveT0C) {
		return VFT{}, fmt.Errorf("points give A %.3f, B %.0f, T0 %.0f C, which no glass has; "+
			"check the points, they must be equilibrium viscosities", v.A, v.B, v.T0)
	}
	return v, nil
}
