package squeeze

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Pocket is what glass is pressed into from the gap: a round bead hole, or the
// slot between a pin and its hole. Pockets limit a press, not the disc: they are
// narrow and chill at once.
type Pocket struct {
	Slot   bool
	SizeM  float64 // radius of a hole, width of a slot
	DepthM float64
	// SkinM is the stiff glass on its walls by its age, nil for none; Freeze.SkinM
	// with the temperature of the pin is one.
	SkinM func(seconds float64) float64
}

func (p Pocket) check() error {
	return span.Check(ofThickness("size of the pocket", p.SizeM), ofThickness("depth of the pocket", p.DepthM))
}

// resistance: from empty L^2 = size^2 p t/(4 eta) in a hole and /(6 eta) in a slot
// (Poiseuille, integrated over the depth filled so far; derived).
func (p Pocket) resistance() float64 {
	if p.Slot {
		return 6
	}
	return 4
}

// Seconds is how long a pocket without skin takes at a constant pressure.
func (p Pocket) Seconds(viscosityPaS, pressurePa float64) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofViscosity(viscosityPaS), ofPressure(pressurePa)); err != nil {
		return 0, err
	}
	return p.resistance() * viscosityPaS * p.DepthM * p.DepthM / (p.SizeM * p.SizeM * pressurePa), nil
}

// Filled is what became of a pocket.
type Filled struct {
	DepthM float64
	Full   bool
	S      float64 // when it was full, or when its skin closed it; 0 if neither
	Closed bool    // by its skin, before it was full
}

// Fill drives a pocket through moments in order of time, with the mean pressure
// and the softest glass of each. Its skin narrows it from the first moment on.
func (p Pocket) Fill(moments []Moment) (Filled, error) {
	if err := p.check(); err != nil {
		return Filled{}, err
	}
	square := 0.0
	for i := 1; i < len(moments); i++ {
		a, b := &moments[i-1], &moments[i]
		dt := b.S - a.S
		if !(dt >= 0) || !(a.CorePaS > 0 && b.CorePaS > 0) {
			return Filled{}, fmt.Errorf("moment %d: %g s after the one before, %g Pa.s; give moments in order "+
				"of time with a positive viscosity", i, dt, b.CorePaS)
		}
		size := p.open((a.S+b.S)/2 - moments[0].S)
		if size == 0 {
			return Filled{DepthM: math.Sqrt(square), S: a.S, Closed: true}, nil
		}
		// What still flows fills the pocket's full width: a hole by r^4/r^2, a slot by
		// s^3/s.
		narrow := size * size
		if p.Slot {
			narrow *= size / p.SizeM
		} else {
			narrow *= narrow / (p.SizeM * p.SizeM)
		}
		drive := max(0, (a.MeanPa/a.CorePaS+b.MeanPa/b.CorePaS)/2)
		gain := narrow * drive * dt / p.resistance()
		if full := p.DepthM * p.DepthM; square+gain >= full {
			return Filled{DepthM: p.DepthM, Full: true, S: a.S + dt*(full-square)/gain}, nil
		}
		square += gain
	}
	return Filled{DepthM: math.Sqrt(square)}, nil
}

// open is the size that the skin leaves, 0 when it has closed the pocket.
func (p Pocket) open(seconds float64) float64 {
	if p.SkinM == nil {
		return p.SizeM
	}
	skin := p.SkinM(seconds)
	if p.Slot {
		skin *= 2
	}
	if !(skin < p.SizeM) {
		return 0
	}
	return p.SizeM - max(skin, 0)
}

// Edge is an empty corner of a mould, where its wall meets a face.
type Edge struct {
	StartM    float64 // radius of the glass's edge when it reaches the wall
	WallM     float64 // radius of the wall; before the glass is there nothing fills
	TensionNM float64 // surface tension, N/m
}

// edgeFlow: the radius shrinks by dr/dt = -(p r - gamma)/(6 eta). The size is
// derived, from a cylindrical hole that closes with p/(2 eta); that walls without
// slip make it three times slower is a guess, to be fitted.
const edgeFlow = 6.0

// atWall: glass this near to the wall touches it.
const atWall = 0.995

// LeastM is the radius that pressure leaves against surface tension alone:
// gamma/p, a micrometre. It is never the limit; freezing is.
func (e Edge) LeastM(pressurePa float64) (float64, error) {
	if err := e.check(); err != nil {
		return 0, err
	}
	return e.TensionNM / pressurePa, span.Check(ofPressure(pressurePa))
}

func (e Edge) check() error {
	return span.Check(ofThickness("edge radius at the start", e.StartM), ofRadius("radius of the wall", e.WallM),
		span.Of{What: "surface tension in N/m", Value: e.TensionNM, Least: 0.01, Most: 2})
}

// LeftM is the edge radius that is left after moments in order of time: those
// count in which the glass stands at the wall. The viscosity is that of the gap
// as a whole, because its faces chill first.
func (e Edge) LeftM(moments []Moment) (float64, error) {
	if err := e.check(); err != nil {
		return 0, err
	}
	radius := e.StartM
	for i := 1; i < len(moments); i++ {
		a, b := &moments[i-1], &moments[i]
		dt := b.S - a.S
		if !(dt >= 0) || !(a.GapPaS > 0 && b.GapPaS > 0) {
			return 0, fmt.Errorf("moment %d: %g s after the one before, %g Pa.s; give moments in order of "+
				"time with a positive viscosity", i, dt, b.GapPaS)
		}
		pressure := (a.MeanPa + b.MeanPa) / 2
		if a.OuterM < atWall*e.WallM || !(pressure > 0) {
			continue
		}
		least := e.TensionNM / pressure
		if radius > least {
			radius = least + (radius-least)*math.Exp(-dt*pressure*(1/a.GapPaS+1/b.GapPaS)/2/edgeFlow)
		}
	}
	return radius, nil
}
