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
// tube (Timoshenko and Goodier, section 150); along the height that of a thin
// shell whose zones would widen differently (shell.go). Glass above its strain
// point counts as no hotter than that. It is an estimate to grade a risk by.
func (r *Ring) Tension(e Elastic) (Stress, error) {
	if err := e.check(); err != nil {
		return Stress{}, err
	}
	worst := Stress{Place: "bore"}
	r.shell(e)
	for j := range r.grid.Axial {
		mean := r.scratch.free[j] / e.Expansion
		between := e.Young * (r.scratch.bent[j] - r.scratch.free[j])
		bending := r.bending(e, j)
		for _, p := range []struct {
			place   string
			celsius float64
			axial   float64
		}{{"bore", r.bore[j], bending}, {"outside", r.outside[j], -bending}} {
			across := e.perKelvin() * (mean - e.capped(p.celsius))
			if s := across + max(p.axial, between+e.Poisson*p.axial); s > worst.Tension {
				worst = Stress{s, j, p.place}
			}
		}
		for i := range r.grid.Radial {
			if s := r.hoop(i, j, mean, e)*e.perKelvin() + between; s > worst.Tension {
				worst = Stress{s, j, "inside the wall"}
			}
		}
	}
	return worst, nil
}

// capped is the temperature that counts for stress.
func (e Elastic) capped(celsius float64) float64 { return min(celsius, e.Strain) }

// hoop is the larger of hoop and axial stress in a cell over E alpha/(1-nu).
func (r *Ring) hoop(i, j int, mean float64, e Elastic) float64 {
	axial := mean - e.capped(r.Cell(i, j))
	within := 0.0 // integral of T r dr from the bore to the cell's middle
	a, b := r.shape.Inner, r.shape.Outer
	square := (b - a) * (b + a)
	for n := range i {
		within += e.capped(r.Cell(n, j)) * (r.part[n+1] - r.part[n])
	}
	to := (r.radius[i] - a) * (r.radius[i] + a) / square
	within += e.capped(r.Cell(i, j)) * (to - r.part[i])
	rr := r.radius[i] * r.radius[i]
	hoop := (mean*(rr+a*a)+within*square)/(2*rr) - e.capped(r.Cell(i, j))
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
