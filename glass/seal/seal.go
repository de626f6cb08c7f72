// Package seal computes what glass and a metal pin do to each other as they
// cool: how far their contractions differ, what stress that leaves, and what is
// known against it.
//
// It never says that a seal will hold: oxide, shape and annealing decide as
// much, and a seal that must hold vacuum or pressure is tested. From a constant
// expansion it warns and does not refuse, because such pairs are in practice.
//
// One sign throughout: a mismatch is positive where the glass shrinks more than
// the metal, and then squeezes it. Stresses are Pa, tension positive; mismatches
// are lengths over lengths (1e-6 is a ppm). Start reading at Mismatch; stresses
// are in stress.go, alloys in table.go, warnings in judge.go.
package seal

import (
	"fmt"
	"slices"

	"pressrig/glass/span"
)

const coldC = 20.0

// Mean is a mean coefficient of expansion from 20 C (or 25) up to a
// temperature, as data sheets list them.
type Mean struct{ ToC, PerK float64 }

// Curve is how a material has expanded from 20 C on, from its means.
type Curve struct {
	means []Mean
	alone bool // one coefficient, taken as constant
}

// NewCurve is a curve from means in rising order of temperature; one alone is
// taken as constant, up to any temperature and with a warning.
func NewCurve(means ...Mean) (Curve, error) {
	if len(means) == 0 {
		return Curve{}, fmt.Errorf("no expansion coefficient; give at least one mean and its temperature")
	}
	before := coldC + 1
	for _, m := range means {
		if err := span.Check(span.Of{What: "expansion in 1/K", Value: m.PerK, Least: 1e-7, Most: 5e-5},
			span.Of{What: "temperature in C, which rises from mean to mean,", Value: m.ToC, Least: before,
				Most: 1500}); err != nil {
			return Curve{}, err
		}
		before = m.ToC + 0.1
	}
	return Curve{slices.Clone(means), len(means) == 1}, nil
}

// Constant tells whether the curve is one coefficient alone.
func (c Curve) Constant() bool { return c.alone }

// From20 is the expansion from 20 C to a temperature, m/m. Between the means'
// temperatures it is straight; beyond the last it refuses, save where the curve
// is one coefficient.
func (c Curve) From20(celsius float64) (float64, error) {
	if len(c.means) == 0 {
		return 0, fmt.Errorf("an expansion curve without values; make it with NewCurve")
	}
	last := c.means[len(c.means)-1]
	if c.alone {
		last.ToC = 1500
	}
	if err := span.Check(span.Of{What: "temperature in C, within the known expansion,", Value: celsius,
		Least: coldC, Most: last.ToC}); err != nil {
		return 0, err
	}
	if c.alone {
		return last.PerK * (celsius - coldC), nil
	}
	lowC, low := coldC, 0.0
	for _, m := range c.means {
		high := m.PerK * (m.ToC - coldC)
		if celsius <= m.ToC {
			return low + (high-low)*(celsius-lowC)/(m.ToC-lowC), nil
		}
		lowC, low = m.ToC, high
	}
	return low, nil
}

// Mismatch is the integral of the glass's expansion less the metal's from 20 C
// to the set point.
func Mismatch(glass, metal Curve, setC float64) (float64, error) {
	g, err := glass.From20(setC)
	if err != nil {
		return 0, fmt.Errorf("glass: %w", err)
	}
	m, err := metal.From20(setC)
	if err != nil {
		return 0, fmt.Errorf("metal: %w", err)
	}
	return g - m, nil
}

// SetPoint is where the glass is taken to become stiff.
type SetPoint int

// The definitions, both from memory. The true one depends on cooling rate and
// metal (J. Am. Ceram. Soc. 63 (1980) 311, abstract found), so a result that
// changes with the definition is not to be trusted.
const (
	StrainPlus5 SetPoint = iota // strain point + 5 K (Kohl)
	MeanOfBoth                  // mean of annealing and strain point
)

// C is the set point of a glass.
func (s SetPoint) C(strainC, annealingC float64) (float64, error) {
	if err := span.Check(span.Of{What: "strain point in C", Value: strainC, Least: 200, Most: 1100},
		span.Of{What: "annealing point in C, which lies above the strain point,", Value: annealingC,
			Least: strainC + 1, Most: 1200}); err != nil {
		return 0, err
	}
	switch s {
	case StrainPlus5:
		return strainC + 5, nil
	case MeanOfBoth:
		return (strainC + annealingC) / 2, nil
	}
	return 0, fmt.Errorf("set point %d is none; use StrainPlus5 or MeanOfBoth", s)
}
