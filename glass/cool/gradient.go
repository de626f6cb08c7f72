package cool

import "pressrig/glass/span"

// SpreadK is how much hotter the centre is than the surface of a body that
// cools steadily: q d^2/(8 kappa) for a plate from both faces, q d^2/(2 kappa)
// from one, q R^2/(4 kappa) for a rod (Adams and Williamson 1920, from memory,
// checked by derivation).
func (g Glass) SpreadK(b Body, sizeM, rateKS float64) (float64, error) {
	if err := g.checkBody(b, sizeM); err != nil {
		return 0, err
	}
	if err := span.Check(ofRate(rateKS)); err != nil {
		return 0, err
	}
	return rateKS * g.spreadPerRate(b, sizeM), nil
}

func (g Glass) checkBody(b Body, sizeM float64) error {
	if err := g.check(); err != nil {
		return err
	}
	if err := b.check(); err != nil {
		return err
	}
	return span.Check(ofSize(sizeM))
}

func (g Glass) spreadPerRate(b Body, sizeM float64) float64 {
	return sizeM * sizeM / (b.divisor() * g.diffusivity())
}

// Stress is what the centre and the surface of a body feel, Pa, tension
// positive.
type Stress struct{ Centre, Surface float64 }

// Permanent is the stress that stays, cold and even, in a body that was cooled
// at a rate from free of stress through the annealing range: tension inside,
// compression at the surface.
func (g Glass) Permanent(b Body, sizeM, rateKS float64) (Stress, error) {
	spread, err := g.SpreadK(b, sizeM, rateKS)
	if err != nil {
		return Stress{}, err
	}
	centre, surface := b.shares()
	m := g.perKelvin()
	return Stress{centre * m * spread, -surface * m * spread}, nil
}

// Passing is the stress while a body that set at one rate cools at another
// below its strain point: both gradients together. At the same rate there is
// none; a faster one puts the surface in tension, which is what cracks a piece
// that is cooled with a flame.
func (g Glass) Passing(b Body, sizeM, setRateKS, rateKS float64) (Stress, error) {
	set, err := g.Permanent(b, sizeM, setRateKS)
	if err != nil {
		return Stress{}, err
	}
	now, err := g.Permanent(b, sizeM, rateKS)
	return Stress{set.Centre - now.Centre, set.Surface - now.Surface}, err
}

// RateFor is the rate through the annealing range that leaves a tension in the
// centre, K/s.
func (g Glass) RateFor(b Body, sizeM, centrePa float64) (float64, error) {
	if err := g.checkBody(b, sizeM); err != nil {
		return 0, err
	}
	if err := span.Check(ofTension("allowed tension", centrePa)); err != nil {
		return 0, err
	}
	centre, _ := b.shares()
	return centrePa / (centre * g.perKelvin() * g.spreadPerRate(b, sizeM)), nil
}

// FasterRate is the rate below the strain point at which the passing tension of
// the surface reaches a limit in a body that set at setRateKS, K/s.
func (g Glass) FasterRate(b Body, sizeM, setRateKS, surfacePa float64) (float64, error) {
	if err := g.checkBody(b, sizeM); err != nil {
		return 0, err
	}
	if err := span.Check(ofRate(setRateKS), ofTension("allowed tension", surfacePa)); err != nil {
		return 0, err
	}
	_, surface := b.shares()
	return setRateKS + surfacePa/(surface*g.perKelvin()*g.spreadPerRate(b, sizeM)), nil
}
