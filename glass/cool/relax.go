package cool

import (
	"math"

	"pressrig/glass/span"
)

// MaxwellS is the time constant of a held stress, s: viscosity over shear
// modulus. It is optimistic near the strain point, where glass is not in
// equilibrium: the rules of 15 min at the annealing and 4 h at the strain point
// [from memory] are 27 and 14 time constants.
func MaxwellS(viscosityPaS, shearPa float64) (float64, error) {
	if err := span.Check(span.Of{What: "viscosity in Pa.s", Value: viscosityPaS, Least: 1, Most: 1e20},
		span.Of{What: "shear modulus in Pa", Value: shearPa, Least: 1e9, Most: 1e12}); err != nil {
		return 0, err
	}
	return viscosityPaS / shearPa, nil
}

// Maxwell is what is left of a stress after a time: exp(-G t/eta).
func Maxwell(stressPa, viscosityPaS, shearPa, seconds float64) (float64, error) {
	tau, err := MaxwellS(viscosityPaS, shearPa)
	if err != nil {
		return 0, err
	}
	if err := span.Check(span.Of{What: "stress in Pa", Value: stressPa, Least: -1e10, Most: 1e10},
		ofSeconds(seconds)); err != nil {
		return 0, err
	}
	return stressPa * math.Exp(-seconds/tau), nil
}

func ofSeconds(s float64) span.Of { return span.Of{What: "time in s", Value: s, Least: 0, Most: 1e9} }

// AdamsWilliamson is what is left of a stress by 1/s - 1/s0 = A t. The constant
// A, 1/(Pa.s), is of the glass and its temperature; the law is too slow above
// and too fast below the annealing range (Preston 1952; abstract found).
func AdamsWilliamson(stressPa, constant, seconds float64) (float64, error) {
	if err := span.Check(ofTension("stress", stressPa), ofConstant(constant), ofSeconds(seconds)); err != nil {
		return 0, err
	}
	return 1 / (1/stressPa + constant*seconds), nil
}

// AdamsWilliamsonS is the time that the same law needs from one stress to a
// lower one, s.
func AdamsWilliamsonS(fromPa, toPa, constant float64) (float64, error) {
	if err := span.Check(ofTension("stress", fromPa), ofConstant(constant),
		span.Of{What: "end stress in Pa, which lies below the start,", Value: toPa, Least: 1, Most: fromPa},
	); err != nil {
		return 0, err
	}
	return (1/toPa - 1/fromPa) / constant, nil
}

func ofConstant(a float64) span.Of {
	return span.Of{What: "Adams-Williamson constant in 1/(Pa.s)", Value: a, Least: 1e-15, Most: 1}
}

// doublesK: A doubles about every 9 K [from memory].
const doublesK = 9.0

// ConstantAt is the constant of Adams and Williamson at another temperature
// than where it was found.
func ConstantAt(constant, foundC, celsius float64) (float64, error) {
	if err := span.Check(ofConstant(constant), span.Of{What: "temperature in C", Value: celsius,
		Least: foundC - 150, Most: foundC + 150}); err != nil {
		return 0, err
	}
	return constant * math.Exp2((celsius-foundC)/doublesK), nil
}

// Viscosity is log10 of the viscosity in Pa.s at a temperature.
type Viscosity func(celsius float64) float64

// Viscosities of the two points, log10 of Pa.s (ASTM C336, C598).
const (
	logAnnealing = 12.0
	logStrain    = 13.5
)

// Frozen-in glass follows no equilibrium curve: below the annealing point the
// equation of Vogel, Fulcher and Tammann stiffens too fast (ISO 7884-7). These
// are what a plate may relax by instead.

// Through is a straight line of log viscosity through annealing and strain
// point, as the two are measured.
func (g Glass) Through() Viscosity {
	return func(celsius float64) float64 {
		return logAnnealing + (logStrain-logAnnealing)*(g.AnnealingC-celsius)/(g.AnnealingC-g.StrainC)
	}
}

// Instant is glass that sets at once at a temperature: it flows freely above
// and not at all below.
func Instant(celsius float64) Viscosity {
	return func(c float64) float64 {
		if c > celsius {
			return 0
		}
		return 30
	}
}
