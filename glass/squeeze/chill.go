package squeeze

import (
	"fmt"
	"math"

	"pressrig/glass/heat"
	"pressrig/glass/span"
)

// Fluid is the glass in the gap during a stroke.
type Fluid interface {
	// GapPaS is the viscosity that an even gap would need to flow alike.
	GapPaS() float64
	// CorePaS is the viscosity of the softest glass in the gap.
	CorePaS() float64
	// SkinM is how much glass at the more chilled face counts as stiff.
	SkinM() float64
	// Step goes on by dtS seconds at a thickness.
	Step(dtS, thickM float64)
}

// Even is glass of one viscosity through the gap, a function of time since
// contact; it has no skin.
func Even(viscosityPaS func(seconds float64) float64) Fluid { return &even{paS: viscosityPaS} }

type even struct {
	paS     func(float64) float64
	seconds float64
}

func (e *even) GapPaS() float64     { return e.paS(e.seconds) }
func (e *even) CorePaS() float64    { return e.GapPaS() }
func (e *even) SkinM() float64      { return 0 }
func (e *even) Step(dtS, _ float64) { e.seconds += dtS }

// Touch is how glass meets a mould face: the gap between them begins thin and
// opens as the glass shrinks off. 5,000 to 10,000 W/(m2.K) falling to about 1,500
// are derived from a published gap of 0.25 um growing to 40 um in a second (TIB
// Hannover, found); fit them to the moulds in hand.
type Touch struct {
	MouldC     float64 // bulk of the mould
	Effusivity float64 // of the mould, W.s^0.5/(m2.K); heat.Effusivity
	FirstWM2K  float64
	LastWM2K   float64
	FallS      float64 // time constant from the one to the other
}

func (t Touch) check() error {
	return span.Check(span.Of{What: "mould in C", Value: t.MouldC, Least: -50, Most: 1500},
		span.Of{What: "effusivity of the mould in W.s^0.5/(m2.K)", Value: t.Effusivity, Least: 10, Most: 1e9},
		span.Of{What: "first contact in W/(m2.K)", Value: t.FirstWM2K, Least: 1, Most: 1e9},
		span.Of{What: "last contact in W/(m2.K)", Value: t.LastWM2K, Least: 1, Most: t.FirstWM2K},
		span.Of{What: "fall of the contact in s", Value: t.FallS, Least: 1e-3, Most: 1e4})
}

// film is the conductance from the glass's face into the mould's bulk: the gap,
// and the mould's own skin, which resists by sqrt(pi t)/e. With a perfect gap
// that gives the temperature of heat.ContactC.
func (t Touch) film(seconds float64) float64 {
	gap := t.LastWM2K + (t.FirstWM2K-t.LastWM2K)*math.Exp(-seconds/t.FallS)
	return 1 / (1/gap + math.Sqrt(math.Pi*seconds)/t.Effusivity)
}

// Hot is glass as a stroke needs it.
type Hot struct {
	LogPaS       func(celsius float64) float64 // log10 of the viscosity in Pa.s
	Density      float64                       // kg/m3
	Conductivity float64                       // W/(m.K), hot: with what it conducts by radiation
	Capacity     float64                       // J/(kg.K), hot
	StiffC       float64                       // colder glass counts as skin, such as the softening point
}

// Chilled is glass between two cold faces: its temperature across the gap, and
// how it flows as its skin stiffens. Glass flows out sideways layer by layer, so
// a layer keeps its temperature while the gap closes. Not safe for several
// goroutines.
type Chilled struct {
	hot          Hot
	lower, upper Touch
	slab         *heat.Slab
	seconds      float64 // since contact
	gap, core    float64 // Pa.s
}

// stiffest is the log10 of the viscosity, Pa.s, beyond which it makes no
// difference to a stroke.
const stiffest = 15.0

// NewChilled is glass even at startC that is touched by both faces now.
func NewChilled(hot Hot, thickM, startC float64, lower, upper Touch, nodes int) (*Chilled, error) {
	if hot.LogPaS == nil {
		return nil, fmt.Errorf("glass without a viscosity; give log10 of Pa.s as a function of C")
	}
	for _, t := range []Touch{lower, upper} {
		if err := t.check(); err != nil {
			return nil, err
		}
	}
	if err := span.Check(span.Of{What: "stiff below, in C,", Value: hot.StiffC, Least: 200, Most: 1500},
		ofThickness("thickness", thickM)); err != nil {
		return nil, err
	}
	k, err := heat.Constant(hot.Conductivity)
	if err != nil {
		return nil, fmt.Errorf("conductivity: %w", err)
	}
	cp, err := heat.Constant(hot.Capacity)
	if err != nil {
		return nil, fmt.Errorf("heat capacity: %w", err)
	}
	slab, err := heat.NewSlab(&heat.Material{Density: hot.Density, Conductivity: k, Capacity: cp}, thickM,
		startC, nodes)
	if err != nil {
		return nil, err
	}
	c := &Chilled{hot: hot, lower: lower, upper: upper, slab: slab}
	c.flow()
	return c, nil
}

// GapPaS is how stiff the gap is as a whole.
func (c *Chilled) GapPaS() float64 { return c.gap }

// CorePaS is how stiff its softest glass is.
func (c *Chilled) CorePaS() float64 { return c.core }

// Step goes on by dtS seconds at a thickness.
func (c *Chilled) Step(dtS, thickM float64) {
	if !(dtS > 0) {
		return
	}
	c.slab.Squeeze(thickM)
	// The film at the middle of the step: at its start a mould's skin would not
	// resist at all.
	middle := c.seconds + dtS/2
	var low, up heat.Face
	low.Exchange(c.lower.film(middle), c.lower.MouldC)
	up.Exchange(c.upper.film(middle), c.upper.MouldC)
	c.slab.Step(dtS, &low, &up)
	c.seconds += dtS
	c.flow()
}

// flow finds both viscosities. Between faces without slip a layer at height z of
// the fluidity f gives (z - z0)^2 f to the flow, z0 the height of no shear: the
// even gap that gives as much has GapPaS.
func (c *Chilled) flow() {
	nodes := c.slab.Nodes()
	c.core = math.Inf(1)
	var sum, first, second, even float64
	last := float64(len(nodes) - 1)
	for i, celsius := range nodes {
		log := c.hot.LogPaS(celsius)
		if !(log < stiffest) {
			log = stiffest
		}
		paS := math.Pow(10, max(log, -2))
		c.core = min(c.core, paS)
		w, z := c.slab.Weight(i), float64(i)/last
		sum += w / paS
		first += w * z / paS
		second += w * z * z / paS
		even += w * (z - 0.5) * (z - 0.5)
	}
	c.gap = even / max(second-first*first/sum, 1e-300)
}

// SkinM is the thickness of stiff glass at the face where there is more of it.
func (c *Chilled) SkinM() float64 {
	nodes := c.slab.Nodes()
	n := len(nodes)
	skin := func(at func(i int) float64) float64 {
		for i := range n {
			if at(i) < c.hot.StiffC {
				continue
			}
			if i == 0 {
				return 0
			}
			part := (c.hot.StiffC - at(i-1)) / (at(i) - at(i-1))
			return (float64(i-1) + part) / float64(n-1)
		}
		return 1
	}
	share := max(skin(func(i int) float64 { return nodes[i] }), skin(func(i int) float64 { return nodes[n-1-i] }))
	return share * c.slab.Thickness()
}

// FacesC are the temperatures of the glass's two faces.
func (c *Chilled) FacesC() (lower, upper float64) {
	n := c.slab.Nodes()
	return n[0], n[len(n)-1]
}

// MeanC is the mean temperature of the glass.
func (c *Chilled) MeanC() float64 { return c.slab.MeanC() }
