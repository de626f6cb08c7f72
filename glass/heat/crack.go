package heat

import (
	"fmt"
	"math"
)

// Elastic is how a glass answers to a difference of temperature.
type Elastic struct {
	Young     float64 // Pa
	Poisson   float64
	Expansion float64 // 1/K
	Strain    float64 // strain point, C: hotter glass is taken to yield
}

func (e Elastic) check() error {
	return within(span{"Young's modulus in Pa", e.Young, 1e9, 1e12},
		span{"Poisson's ratio", e.Poisson, 0, 0.49}, span{"expansion in 1/K", e.Expansion, 1e-8, 1e-4},
		span{"strain point in C", e.Strain, 100, 2000})
}

// perKelvin is E alpha/(1-nu): the stress of a layer held in both directions.
func (e Elastic) perKelvin() float64 { return e.Young * e.Expansion / (1 - e.Poisson) }

// WarmingStress is the tension on the cold face of a wall that a flame heats on
// the other, Pa, once the flux has reached through: the wall cannot bend,
// because it is a ring. E alpha q d/(6 k (1-nu)): the cold face is q d/(6 k)
// below the mean (Carslaw and Jaeger, section 3.8, half a symmetric slab).
func WarmingStress(e Elastic, flux, wall, conductivity float64) (float64, error) {
	if err := e.check(); err != nil {
		return 0, err
	}
	if err := within(ofFlux(flux), ofLength("wall in m", wall), ofConductivity(conductivity)); err != nil {
		return 0, err
	}
	return e.perKelvin() * flux * wall / (6 * conductivity), nil
}

// FluxLimit is the flux onto one face at which WarmingStress reaches a tension,
// W/m2.
func FluxLimit(e Elastic, tension, wall, conductivity float64) (float64, error) {
	one, err := WarmingStress(e, 1, wall, conductivity)
	if err != nil {
		return 0, err
	}
	if err := within(span{"tension in Pa", tension, 1e3, 1e10}); err != nil {
		return 0, err
	}
	return tension / one, nil
}

// Stress is the largest tension in a ring and where it is.
type Stress struct {
	Tension float64 // Pa, 0 where all glass is hotter than its strain point
	Zone    int     // from the foot
	Place   string  // "bore", "inside the wall", "outside"
}

// Tension is the largest tension that the temperatures in the ring cause, if
// it was free of stress when it was even. Across the wall it is that of a long
// tube (Timoshenko and Goodier, section 150); between zones it is E alpha times
// how far a zone is colder than the straight line through all, because a ring
// whose temperature falls evenly along its height only turns its wall and stays
// free. Glass above its strain point counts as no hotter than that. It is an
// estimate to grade a risk by.
func (r *Ring) Tension(e Elastic) (Stress, error) {
	if err := e.check(); err != nil {
		return Stress{}, err
	}
	nr, nz := r.grid.Radial, r.grid.Axial
	capped := func(c float64) float64 { return min(c, e.Strain) }
	level, slope := r.line(capped)
	worst := Stress{Place: "bore"}
	for j := range nz {
		mean := 0.0
		for i := range nr {
			mean += capped(r.Cell(i, j)) * (r.part[i+1] - r.part[i])
		}
		between := e.Young * e.Expansion * (level + slope*float64(j) - mean)
		for _, p := range []struct {
			place   string
			celsius float64
		}{{"bore", r.bore[j]}, {"outside", r.outside[j]}} {
			// On both faces hoop and axial stress are M (mean - T).
			rim := e.perKelvin()*(mean-capped(p.celsius)) + between
			if rim > worst.Tension {
				worst = Stress{rim, j, p.place}
			}
		}
		for i := range nr {
			if s := r.hoop(i, j, mean, capped)*e.perKelvin() + between; s > worst.Tension {
				worst = Stress{s, j, "inside the wall"}
			}
		}
	}
	return worst, nil
}

// line is the straight line through the zones' means: its value at zone 0 and
// its rise from zone to zone.
func (r *Ring) line(capped func(float64) float64) (level, slope float64) {
	nr, nz := r.grid.Radial, r.grid.Axial
	middle := float64(nz-1) / 2
	sum, moment, square := 0.0, 0.0, 0.0
	for j := range nz {
		mean := 0.0
		for i := range nr {
			mean += capped(r.Cell(i, j)) * (r.part[i+1] - r.part[i])
		}
		d := float64(j) - middle
		sum += mean
		moment += mean * d
		square += d * d
	}
	if square > 0 {
		slope = moment / square
	}
	return sum/float64(nz) - slope*middle, slope
}

// hoop is the larger of hoop and axial stress in a cell over E alpha/(1-nu).
func (r *Ring) hoop(i, j int, mean float64, capped func(float64) float64) float64 {
	axial := mean - capped(r.Cell(i, j))
	within := 0.0 // integral of T r dr from the bore to the cell's middle
	a, b := r.shape.Inner, r.shape.Outer
	square := (b - a) * (b + a)
	for n := range i {
		within += capped(r.Cell(n, j)) * (r.part[n+1] - r.part[n])
	}
	to := (r.radius[i] - a) * (r.radius[i] + a) / square
	within += capped(r.Cell(i, j)) * (to - r.part[i])
	rr := r.radius[i] * r.radius[i]
	hoop := (mean*(rr+a*a)+within*square)/(2*rr) - capped(r.Cell(i, j))
	return max(axial, hoop)
}

// Risk grades a tension against how glass is known to break.
type Risk int

// The grades.
const (
	RiskLow Risk = iota
	RiskSome
	RiskHigh
	RiskVeryHigh
)

// Tensions between the grades, Pa: 7 MPa is what EN 1595 permits for
// borosilicate, 19 MPa the design value of annealed float glass at 0.8 %
// breakage and 41 MPa its mean (Pilkington ATS-129). Cut edges stand about 7
// to 19 [common practice, no source].
const (
	permitted = 7e6
	designed  = 19e6
	breaks    = 41e6
)

// RiskOf is the grade of a tension in Pa. It is a grade, not a promise: one
// scratch changes it.
func RiskOf(tension float64) (Risk, error) {
	switch {
	case math.IsNaN(tension) || math.IsInf(tension, 0):
		return 0, fmt.Errorf("tension %g Pa; give a finite one", tension)
	case tension < permitted:
		return RiskLow, nil
	case tension < designed:
		return RiskSome, nil
	case tension < breaks:
		return RiskHigh, nil
	}
	return RiskVeryHigh, nil
}

// String is the grade in words.
func (r Risk) String() string {
	switch r {
	case RiskLow:
		return "low"
	case RiskSome:
		return "some"
	case RiskHigh:
		return "high"
	case RiskVeryHigh:
		return "very high"
	}
	return "unknown"
}
