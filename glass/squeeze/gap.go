package squeeze

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Shape is what is squeezed.
type Shape int

// The shapes: a disc; a ring whose bore is open, so that glass also flows
// inwards; a ring round a core that closes its bore.
const (
	Disc Shape = iota
	OpenBore
	ClosedBore
)

// Gap is glass between two parallel faces.
type Gap struct {
	Shape     Shape
	OuterM    float64 // radius
	InnerM    float64 // radius of the bore, 0 for a disc
	ThickM    float64
	ThickPart bool // with the part that a sample has which is not thin: Gent
}

func (g Gap) check() error {
	if g.Shape < Disc || g.Shape > ClosedBore {
		return fmt.Errorf("shape %d is none; use Disc, OpenBore or ClosedBore", g.Shape)
	}
	if err := span.Check(ofRadius("outer radius", g.OuterM), ofThickness("thickness", g.ThickM)); err != nil {
		return err
	}
	if g.Shape == Disc {
		if g.InnerM != 0 {
			return fmt.Errorf("a disc with a bore of radius %g m; use OpenBore or ClosedBore", g.InnerM)
		}
		return nil
	}
	return span.Check(span.Of{What: "inner radius in m, inside the outer one,", Value: g.InnerM,
		Least: 1e-9 * g.OuterM, Most: 0.999 * g.OuterM})
}

// AreaM2 is the area of a face.
func (g Gap) AreaM2() float64 { return math.Pi * (g.OuterM - g.InnerM) * (g.OuterM + g.InnerM) }

// radial is the bracket that stands for R^4 in Stefan's law: the integral of
// Reynolds's equation over the shape.
func (g Gap) radial() float64 {
	a, r := g.InnerM, g.OuterM
	switch g.Shape {
	case OpenBore:
		square := (r - a) * (r + a)
		return r*r*r*r - a*a*a*a - square*square/math.Log(r/a)
	case ClosedBore:
		return r*r*r*r - 4*a*a*r*r + 3*a*a*a*a + 4*a*a*a*a*math.Log(r/a)
	}
	return r * r * r * r
}

// drag is force over speed, N.s/m.
func (g Gap) drag(eta float64) float64 {
	h := g.ThickM
	drag := 1.5 * math.Pi * eta * g.radial() / (h * h * h)
	if g.ThickPart {
		// 3 eta A v/h, Trouton's stretching: for a disc it makes Stefan's law times
		// 1 + 2h^2/R^2 (Gent 1960, as in ASTM C1351M; from memory, both limits
		// checked). For a ring it is a guess.
		drag += 3 * eta * g.AreaM2() / h
	}
	return drag
}

// Force is what a closing speed needs, N: 3 pi eta R^4 v/(2 h^3) for a disc
// (Stefan 1874; Reynolds).
func (g Gap) Force(viscosityPaS, speedMS float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofViscosity(viscosityPaS), ofSpeed(speedMS)); err != nil {
		return 0, err
	}
	return g.drag(viscosityPaS) * speedMS, nil
}

// Speed is the closing speed that a force gives, m/s.
func (g Gap) Speed(viscosityPaS, forceN float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofViscosity(viscosityPaS), ofForce(forceN)); err != nil {
		return 0, err
	}
	return forceN / g.drag(viscosityPaS), nil
}

// Pressure is what a force puts on the glass, Pa: the mean over the face, and
// the greatest. In a disc that is the centre, twice the mean; at a core it is
// the core.
func (g Gap) Pressure(forceN float64) (mean, greatest float64, err error) {
	if err := g.check(); err != nil {
		return 0, 0, err
	}
	if err := span.Check(ofForce(forceN)); err != nil {
		return 0, 0, err
	}
	mean = forceN / g.AreaM2()
	return mean, mean * g.crest(), nil
}

// crest is the greatest pressure over the mean one. With p = s (R^2 - r^2 +
// bracket ln(r/R)) the force is s pi/2 radial(), and the shapes differ in the
// bracket.
func (g Gap) crest() float64 {
	a, r := g.InnerM, g.OuterM
	square := (r - a) * (r + a)
	profile := r * r // disc: at the centre
	switch g.Shape {
	case OpenBore:
		c := square / math.Log(r/a)
		top2 := c / 2 // r^2 of the crest, where 2r = c/r
		profile = r*r - top2 + c*math.Log(math.Sqrt(top2)/r)
	case ClosedBore:
		profile = square - 2*a*a*math.Log(r/a)
	}
	return profile * 2 * square / g.radial()
}

// Way is a stroke of constant force from one thickness to a smaller one.
type Way struct{ FromM, ToM, ForceN, ViscosityPaS float64 }

func (w Way) check() error {
	return span.Check(ofThickness("thickness at the start", w.FromM),
		span.Of{What: "thickness at the end in m, below the start,", Value: w.ToM, Least: 1e-6, Most: w.FromM},
		ofForce(w.ForceN), ofViscosity(w.ViscosityPaS))
}

// ConstantAreaS is how long a disc takes that fills its mould all the while:
// 1/h^2 - 1/h0^2 = 4 F t/(3 pi eta R^4) (Bird, Stewart, Lightfoot, problem 3C.1,
// from memory, checked by derivation).
func (w Way) ConstantAreaS(radiusM float64) (float64, error) {
	if err := w.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofRadius("radius", radiusM)); err != nil {
		return 0, err
	}
	return 0.75 * math.Pi * w.ViscosityPaS * math.Pow(radiusM, 4) / w.ForceN *
		(1/(w.ToM*w.ToM) - 1/(w.FromM*w.FromM)), nil
}

// ConstantVolumeS is how long a disc takes that spreads freely: 1/h^4 - 1/h0^4 =
// 8 pi F t/(3 eta V^2) (the same source). With thickPart the part of a sample
// that is not thin comes on top, 3 eta V/F (1/h - 1/h0).
func (w Way) ConstantVolumeS(volumeM3 float64, thickPart bool) (float64, error) {
	if err := w.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofVolume(volumeM3)); err != nil {
		return 0, err
	}
	quart := math.Pow(w.ToM, -4) - math.Pow(w.FromM, -4)
	t := 3 * w.ViscosityPaS * volumeM3 * volumeM3 / (8 * math.Pi * w.ForceN) * quart
	if thickPart {
		t += 3 * w.ViscosityPaS * volumeM3 / w.ForceN * (1/w.ToM - 1/w.FromM)
	}
	return t, nil
}
