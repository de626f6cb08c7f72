// Package heat computes how a blank warms and cools: the closed formulas of
// conduction, the temperature field of a ring of glass that stands on a mould,
// what a burner brings, how fast glass may be warmed before it cracks, and what
// a spindle speed does to a soft ring.
//
// It never looks at a clock, never opens a valve and never says that a flame
// or a speed is safe. Its coefficients of burner, contact and loss are guesses
// until they were fitted to a heating test of the rig in hand: a computed
// temperature is a place to start from.
//
// Units are SI, temperatures degrees Celsius, as each name says. Start reading
// at Ring in ring.go, the solver; what acts on a blank is in surroundings.go,
// the formulas with analytic answers, which also check the solver, are in
// series.go and halfspace.go; cracking is in crack.go, turning in spin.go.
package heat

import (
	"fmt"
	"math"
)

// Stefan is the Stefan-Boltzmann constant, W/(m2.K4) (CODATA 2018).
const Stefan = 5.670374419e-8

const (
	zeroK   = 273.15
	gravity = 9.80665 // m/s2, standard
)

// span is a quantity that must lie between two values.
type span struct {
	what        string
	value       float64
	least, most float64
}

// within refuses the first quantity that does not lie in its span. NaN lies in
// none.
func within(list ...span) error {
	for _, s := range list {
		if !(s.value >= s.least && s.value <= s.most) {
			return fmt.Errorf("%s is %g; it must lie between %g and %g", s.what, s.value, s.least,
				s.most)
		}
	}
	return nil
}

// Spans of the quantities that formulas here share: wider than any bench,
// narrow enough that a wrong unit is noticed.
func ofConductivity(k float64) span { return span{"conductivity in W/(m.K)", k, 0.01, 1000} }
func ofDensity(rho float64) span    { return span{"density in kg/m3", rho, 1, 30000} }
func ofCapacity(cp float64) span    { return span{"heat capacity in J/(kg.K)", cp, 10, 1e5} }
func ofDiffusivity(a float64) span  { return span{"diffusivity in m2/s", a, 1e-9, 1e-2} }
func ofFlux(q float64) span         { return span{"heat flux in W/m2", q, 0, 1e8} }
func ofTime(t float64) span         { return span{"time in s", t, 1e-6, 1e9} }
func ofFilm(h float64) span         { return span{"heat transfer in W/(m2.K)", h, 1e-6, 1e7} }
func ofLength(what string, m float64) span {
	return span{what, m, 1e-6, 1000}
}
func ofCelsius(what string, c float64) span {
	return span{what, c, -zeroK, 5000}
}
func ofViscosity(eta float64) span { return span{"viscosity in Pa.s", eta, 1e-3, 1e18} }
func ofTurning(rpm float64) span   { return span{"spindle speed in rpm", rpm, 0.01, 1e5} }

// Diffusivity is k/(rho cp), m2/s.
func Diffusivity(conductivity, density, capacity float64) (float64, error) {
	if err := within(ofConductivity(conductivity), ofDensity(density),
		ofCapacity(capacity)); err != nil {
		return 0, err
	}
	return conductivity / (density * capacity), nil
}

func fourth(celsius float64) float64 {
	t := celsius + zeroK
	return t * t * t * t
}

// halve finds where rising f crosses nought between low and high.
func halve(low, high float64, f func(float64) float64) float64 {
	for range 200 {
		middle := (low + high) / 2
		if middle == low || middle == high {
			break
		}
		if f(middle) < 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// thermal names the bodies of series.go.
func (b Body) thermal() error {
	if b < Wall || b > Sphere {
		return fmt.Errorf("body %d is none; use Wall, Cylinder or Sphere", b)
	}
	return nil
}

// sinc is sin(z)/z.
func sinc(z float64) float64 {
	if z == 0 {
		return 1
	}
	return math.Sin(z) / z
}
