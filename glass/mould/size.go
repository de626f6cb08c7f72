package mould

import "pressrig/glass/span"

const coldC = 20.0

// Pair is a glass in a mould at the moment when the glass sets: from there each
// shrinks by itself.
type Pair struct {
	GlassPerK float64 // mean expansion of the glass from 20 C to where it sets
	SetC      float64 // where it sets: strain point + 5 K, or mean of annealing and strain
	MouldPerK float64 // mean expansion of the mould from 20 C to MouldC
	MouldC    float64
}

func (p Pair) check() error {
	return span.Check(ofExpansion("expansion of the glass", p.GlassPerK),
		ofExpansion("expansion of the mould", p.MouldPerK),
		span.Of{What: "setting in C", Value: p.SetC, Least: 200, Most: 1200},
		span.Of{What: "mould in C", Value: p.MouldC, Least: coldC, Most: 1200})
}

// ratio is cold mould over cold piece.
func (p Pair) ratio() float64 {
	return (1 + p.GlassPerK*(p.SetC-coldC)) / (1 + p.MouldPerK*(p.MouldC-coldC))
}

func ofSize(what string, mm float64) span.Of {
	return span.Of{What: what, Value: mm, Least: 0.01, Most: 1000}
}

// MouldMM is how large the mould is cut at 20 C for a piece of partMM at 20 C:
// both have the same size where the glass sets.
func (p Pair) MouldMM(partMM float64) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	return partMM * p.ratio(), span.Check(ofSize("size of the piece in mm", partMM))
}

// PartMM is how large a piece comes from a mould of mouldMM at 20 C.
func (p Pair) PartMM(mouldMM float64) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	return mouldMM / p.ratio(), span.Check(ofSize("size of the mould in mm", mouldMM))
}

// GripMM is how much a piece of partMM has shrunk off the hot mould when it is
// parted at partingC: so much it lets go of the cavity, and so much it grips
// cores and posts of that size. Why it must not stay too long.
func (p Pair) GripMM(partMM, partingC float64) (float64, error) {
	if err := p.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofSize("size of the piece in mm", partMM),
		span.Of{What: "parting in C, where the glass has set,", Value: partingC, Least: coldC, Most: p.SetC}); err != nil {
		return 0, err
	}
	return partMM * p.GlassPerK * (p.SetC - partingC), nil
}
