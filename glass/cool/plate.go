package cool

import (
	"fmt"
	"math"

	"pressrig/glass/heat"
	"pressrig/glass/span"
)

// Plate follows temperature and stress across a plate through any history of
// cooling. Each layer is a Maxwell body held in both directions of the plane;
// the plate does not bend, and its stresses balance at every moment. It is not
// safe for several goroutines.
type Plate struct {
	glass     Glass
	slab      *heat.Slab
	viscosity Viscosity
	stress    []float64 // Pa, of each node
	stiff     []float64 // of a step: the part of a strain that becomes stress
	before    []float64 // C
	surface   float64   // greatest tension of a face so far
	inside    float64   // greatest tension anywhere so far
}

// NewPlate is an even plate, free of stress.
func NewPlate(g Glass, thickM, startC float64, v Viscosity, nodes int) (*Plate, error) {
	if err := g.check(); err != nil {
		return nil, err
	}
	if v == nil {
		return nil, fmt.Errorf("a plate needs a viscosity to relax by; use Glass.Through or Instant")
	}
	if err := span.Check(ofSize(thickM)); err != nil {
		return nil, err
	}
	k, err := heat.Constant(g.Conductivity)
	if err != nil {
		return nil, err
	}
	cp, err := heat.Constant(g.Capacity)
	if err != nil {
		return nil, err
	}
	slab, err := heat.NewSlab(&heat.Material{Density: g.Density, Conductivity: k, Capacity: cp}, thickM,
		startC, nodes)
	if err != nil {
		return nil, err
	}
	return &Plate{glass: g, slab: slab, viscosity: v, stress: make([]float64, nodes),
		stiff: make([]float64, nodes), before: make([]float64, nodes)}, nil
}

// Step goes on by dtS seconds between what acts on its faces.
func (p *Plate) Step(dtS float64, lower, upper *heat.Face) {
	if !(dtS > 0) {
		return
	}
	copy(p.before, p.slab.Nodes())
	p.slab.Step(dtS, lower, upper)
	p.strain(dtS)
}

// strain turns the step's change of temperature into stress. In the plane of a
// plate a layer's strain rate is s'(1-nu)/E + s/(6 eta) + alpha T', so a held
// stress fades with 6 eta (1-nu)/E: only its shear part flows. The common strain
// of all layers is what makes their stresses balance.
func (p *Plate) strain(dtS float64) {
	modulus := p.glass.YoungPa / (1 - p.glass.Poisson)
	now := p.slab.Nodes()
	pull, stiff := 0.0, 0.0
	for i := range now {
		viscosity := math.Pow(10, min(max(p.viscosity((now[i]+p.before[i])/2), 0), 30))
		x := dtS * modulus / (6 * viscosity)
		p.stiff[i] = modulus * fading(x)
		p.stress[i] = p.stress[i]*math.Exp(-x) - p.stiff[i]*p.glass.PerK*(now[i]-p.before[i])
		w := p.slab.Weight(i)
		pull += w * p.stress[i]
		stiff += w * p.stiff[i]
	}
	common := -pull / stiff
	last := len(now) - 1
	for i := range now {
		p.stress[i] += p.stiff[i] * common
		p.inside = max(p.inside, p.stress[i])
	}
	p.surface = max(p.surface, p.stress[0], p.stress[last])
}

// fading is (1 - exp(-x))/x.
func fading(x float64) float64 {
	if x < 1e-12 {
		return 1
	}
	return -math.Expm1(-x) / x
}

// Ramp goes on until the faces have reached a temperature at a rate in K/s,
// both faces held to it, in steps of stepS.
func (p *Plate) Ramp(toC, rateKS, stepS float64) error {
	from := p.SurfaceC()
	if err := span.Check(ofRate(rateKS), span.Of{What: "step in s", Value: stepS, Least: 1e-4, Most: 600},
		span.Of{What: "end in C", Value: toC, Least: -50, Most: 1500}); err != nil {
		return err
	}
	seconds := math.Abs(toC-from) / rateKS
	steps := int(math.Ceil(seconds / stepS))
	if steps > mostSteps {
		return fmt.Errorf("%g s in steps of %g s are too many; take steps of %.2g s or more", seconds, stepS,
			seconds/mostSteps)
	}
	for n := 1; n <= steps; n++ {
		p.held(from+(toC-from)*float64(n)/float64(steps), seconds/float64(steps))
	}
	return nil
}

// Hold keeps the faces at the temperature that they have.
func (p *Plate) Hold(seconds, stepS float64) error {
	if err := span.Check(ofSeconds(seconds), span.Of{What: "step in s", Value: stepS,
		Least: max(1e-4, seconds/mostSteps), Most: 600}); err != nil {
		return err
	}
	at := p.SurfaceC()
	steps := max(1, int(math.Ceil(seconds/stepS)))
	for range steps {
		p.held(at, seconds/float64(steps))
	}
	return nil
}

const (
	mostSteps = 1_000_000
	heldFilm  = 1e7 // W/(m2.K): so good a contact that the face takes the temperature
)

func (p *Plate) held(celsius, dtS float64) {
	var face heat.Face
	face.Exchange(heldFilm, celsius)
	p.Step(dtS, &face, &face)
}

// SurfaceC is the mean temperature of the two faces.
func (p *Plate) SurfaceC() float64 {
	c := p.slab.Nodes()
	return (c[0] + c[len(c)-1]) / 2
}

// CentreC is the temperature in the middle.
func (p *Plate) CentreC() float64 { return p.slab.Nodes()[len(p.stress)/2] }

// Stress is that of centre and faces now, Pa; of the faces the one that is
// more in tension.
func (p *Plate) Stress() Stress {
	return Stress{p.stress[len(p.stress)/2], max(p.stress[0], p.stress[len(p.stress)-1])}
}

// Even is the stress that will be there once all has the same temperature,
// cold, if nothing flows any more: the permanent one.
func (p *Plate) Even() Stress {
	mean, c, last := p.slab.MeanC(), p.slab.Nodes(), len(p.stress)-1
	at := func(i int) float64 { return p.stress[i] + p.glass.perKelvin()*(c[i]-mean) }
	return Stress{at(last / 2), max(at(0), at(last))}
}

// GreatestTension is what has been so far, of a face and anywhere, Pa.
func (p *Plate) GreatestTension() (surface, anywhere float64) { return p.surface, p.inside }
