package seal

import (
	"math"

	"pressrig/glass/span"
)

// Elastic is how a body gives: Young's modulus in Pa and Poisson's ratio.
type Elastic struct{ YoungPa, Poisson float64 }

func (e Elastic) check(what string) error {
	return span.Check(span.Of{What: "Young's modulus of the " + what + " in Pa", Value: e.YoungPa, Least: 1e9, Most: 1e12},
		span.Of{What: "Poisson's ratio of the " + what, Value: e.Poisson, Least: 0, Most: 0.49})
}

// Shape is a round pin in a round bead.
type Shape struct{ PinMM, BeadMM float64 } // diameters

func (s Shape) check() error {
	return span.Check(span.Of{What: "pin in mm", Value: s.PinMM, Least: 0.01, Most: 100},
		span.Of{What: "bead in mm, which is wider than its pin,", Value: s.BeadMM, Least: 1.01 * s.PinMM,
			Most: 1000})
}

// Ratio is bead over pin diameter. The strength of a seal of 3 is half that of
// 9 (Milner, J. Soc. Glass Technol. 1939, abstract found).
func (s Shape) Ratio() float64 { return s.BeadMM / s.PinMM }

// Stress is what is left in the glass at the pin, and in the pin, Pa, tension
// positive.
type Stress struct {
	Radial, Hoop, Axial float64 // in the glass at the pin
	PinAxial            float64
}

// Tension is the greatest tension in the glass at the pin, at least 0.
func (s Stress) Tension() float64 { return max(0, s.Radial, s.Hoop, s.Axial) }

func check(s Shape, glass, pin Elastic, mismatch float64) error {
	if err := s.check(); err != nil {
		return err
	}
	if err := glass.check("glass"); err != nil {
		return err
	}
	if err := pin.check("pin"); err != nil {
		return err
	}
	return span.Check(span.Of{What: "mismatch in m/m", Value: mismatch, Least: -0.02, Most: 0.02})
}

// Bead is the stress of a bead that is flat against its pin's length: Lame's
// thick ring in plane stress (formulas found, the combination derived).
func Bead(s Shape, glass, pin Elastic, mismatch float64) (Stress, error) {
	if err := check(s, glass, pin, mismatch); err != nil {
		return Stress{}, err
	}
	k := lame(s.Ratio())
	pressure := mismatch / ((k+glass.Poisson)/glass.YoungPa + (1-pin.Poisson)/pin.YoungPa)
	return Stress{Radial: -pressure, Hoop: pressure * k}, nil
}

// lame is (b2 + a2)/(b2 - a2).
func lame(ratio float64) float64 { return (ratio*ratio + 1) / (ratio*ratio - 1) }

// Long is the stress of a seal many diameters long: pin and glass share their
// axial strain. The two mismatches are the same for an even metal and differ
// for a clad wire. Derived: hoop and axial strain of both are equal at the pin,
// and the axial forces cancel.
func Long(s Shape, glass, pin Elastic, radialMismatch, axialMismatch float64) (Stress, error) {
	if err := check(s, glass, pin, radialMismatch); err != nil {
		return Stress{}, err
	}
	if err := check(s, glass, pin, axialMismatch); err != nil {
		return Stress{}, err
	}
	k, rest := lame(s.Ratio()), s.Ratio()*s.Ratio()-1 // rest: area of glass over pin's
	// Unknown are the radial stress at the pin, r, and the glass's axial stress,
	// z; the glass's hoop stress is -k r, its sum of both (1-k) r, the pin's axial
	// stress -rest z. Each line: a r + b z = pin's free shrinkage less the glass's.
	eg, em, ng, nm := glass.YoungPa, pin.YoungPa, glass.Poisson, pin.Poisson
	a1, b1 := (1-nm)/em+(k+ng)/eg, nm*rest/em+ng/eg   // hoop
	a2, b2 := -2*nm/em+ng*(1-k)/eg, -(rest/em + 1/eg) // axial
	d1, d2 := -radialMismatch, -axialMismatch
	det := a1*b2 - a2*b1
	r := (d1*b2 - d2*b1) / det
	z := (a1*d2 - a2*d1) / det
	return Stress{Radial: r, Hoop: -k * r, Axial: z, PinAxial: -rest * z}, nil
}

// MismatchFor is the mismatch at which a bead's hoop tension reaches a limit.
func MismatchFor(s Shape, glass, pin Elastic, limitPa float64) (float64, error) {
	if err := span.Check(span.Of{What: "limit in Pa", Value: limitPa, Least: 1e3, Most: 1e10}); err != nil {
		return 0, err
	}
	const one = 1e-6
	got, err := Bead(s, glass, pin, one)
	if err != nil {
		return 0, err
	}
	return one * limitPa / math.Abs(got.Hoop), nil
}
