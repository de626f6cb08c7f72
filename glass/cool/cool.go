// Package cool computes what cooling does to a pressed piece: the difference of
// temperature across it, the stress that passes and the stress that stays, how
// to cool for an allowed stress, and what a polariscope shows.
//
// It never says that a piece is whole: from a stress it gives a grade of risk,
// because one scratch changes the strength of glass more than any rate. Real
// glass relaxes less near its strain point than the formulas here say.
//
// Tension is positive, in Pa; temperatures are degrees Celsius, rates K/s, the
// rest SI as each name says. Start reading at Body and Spread in gradient.go,
// the closed formulas; plate.go follows a cooling history, relax.go is how
// stress fades, schedule.go how to cool, polariscope.go what is seen,
// strength.go what glass stands.
package cool

import (
	"fmt"

	"pressrig/glass/span"
)

// Glass is what a glass means to cooling.
type Glass struct {
	YoungPa      float64
	Poisson      float64
	PerK         float64 // expansion below the strain point, 1/K
	Conductivity float64 // W/(m.K)
	Density      float64 // kg/m3
	Capacity     float64 // J/(kg.K)
	StrainC      float64
	AnnealingC   float64
}

func (g Glass) check() error {
	return span.Check(span.Of{What: "Young's modulus in Pa", Value: g.YoungPa, Least: 1e9, Most: 1e12},
		span.Of{What: "Poisson's ratio", Value: g.Poisson, Least: 0, Most: 0.49},
		span.Of{What: "expansion in 1/K", Value: g.PerK, Least: 1e-7, Most: 5e-5},
		span.Of{What: "conductivity in W/(m.K)", Value: g.Conductivity, Least: 0.1, Most: 10},
		span.Of{What: "density in kg/m3", Value: g.Density, Least: 1000, Most: 10000},
		span.Of{What: "heat capacity in J/(kg.K)", Value: g.Capacity, Least: 200, Most: 3000},
		span.Of{What: "strain point in C", Value: g.StrainC, Least: 200, Most: 1100},
		span.Of{What: "annealing point in C, which lies above the strain point,", Value: g.AnnealingC,
			Least: g.StrainC + 1, Most: 1200})
}

// perKelvin is E alpha/(1-nu), Pa/K: what a layer takes that is held in both
// directions.
func (g Glass) perKelvin() float64 { return g.YoungPa * g.PerK / (1 - g.Poisson) }

func (g Glass) diffusivity() float64 { return g.Conductivity / (g.Density * g.Capacity) }

func ofSize(m float64) span.Of {
	return span.Of{What: "thickness or radius in m", Value: m, Least: 1e-5, Most: 0.5}
}
func ofRate(kPerS float64) span.Of {
	return span.Of{What: "cooling rate in K/s", Value: kPerS, Least: 1e-7, Most: 1000}
}
func ofTension(what string, pa float64) span.Of {
	return span.Of{What: what + " in Pa", Value: pa, Least: 1e3, Most: 1e10}
}

// Body is a shape that cools.
type Body int

// The bodies: a plate that loses heat from both faces or from one, and a rod. A
// plate that cools from one face is taken not to bend, as a disc that is part of
// a stiffer piece.
const (
	PlateBoth Body = iota // size is its thickness
	PlateOne              // size is its thickness
	Rod                   // size is its radius
)

func (b Body) check() error {
	if b < PlateBoth || b > Rod {
		return fmt.Errorf("body %d is none; use PlateBoth, PlateOne or Rod", b)
	}
	return nil
}

// divisor is that of q d^2/(divisor kappa).
func (b Body) divisor() float64 {
	switch b {
	case PlateOne:
		return 2
	case Rod:
		return 4
	}
	return 8
}

// shares are what of M times the difference the centre and the surface feel.
func (b Body) shares() (centre, surface float64) {
	if b == Rod {
		return 1.0 / 2, 1.0 / 2
	}
	return 1.0 / 3, 2.0 / 3
}
