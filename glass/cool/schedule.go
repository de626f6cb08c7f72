package cool

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Wanted is what a piece is and what it may keep and bear while it cools.
type Wanted struct {
	Body        Body
	SizeM       float64
	StartC      float64 // the piece when it leaves the mould or the flame
	HoldAboveK  float64 // above the annealing point; 5 to 20 in an oven, more in a flame
	PermanentPa float64 // tension that may stay in the centre
	PassingPa   float64 // tension that the surface may bear on the way
	HandedOverC float64 // where the schedule ends, such as 20
}

// Leg is a part of a schedule: a hold, or a way from one temperature to another
// at a rate.
type Leg struct {
	Name       string
	FromC, ToC float64
	RateKS     float64 // 0 for a hold
	HoldS      float64
	Why        string
}

// Seconds is how long a leg takes.
func (l Leg) Seconds() float64 {
	if l.RateKS > 0 {
		return math.Abs(l.FromC-l.ToC) / l.RateKS
	}
	return l.HoldS
}

const (
	belowStrainK = 20.0 // so far below, relaxing is about 6 times slower: derived
	stands       = 3    // time constants after which a gradient counts as steady
	secondK      = 50.0 // the second stage's length [from memory]
	twice        = 2.0  // its rate over the first one's [from memory]
	faded        = 100  // an excess that is this many times smaller counts as gone
)

func (w Wanted) check(g Glass) error {
	if err := g.checkBody(w.Body, w.SizeM); err != nil {
		return err
	}
	return span.Check(
		span.Of{What: "hold above the annealing point in K", Value: w.HoldAboveK, Least: 0, Most: 150},
		span.Of{What: "start in C", Value: w.StartC, Least: g.StrainC, Most: 1500},
		ofTension("permanent tension allowed", w.PermanentPa), ofTension("passing tension allowed", w.PassingPa),
		span.Of{What: "end in C, below the strain point,", Value: w.HandedOverC, Least: 0,
			Most: g.StrainC - belowStrainK})
}

// Schedule is how to cool for an allowed stress: even out above the annealing
// point, slowly to below the strain point, then as fast as the passing tension
// of the surface allows. It is a computed least; an oven's rules of practice
// hold longer.
func (g Glass) Schedule(w Wanted) ([]Leg, error) {
	if err := w.check(g); err != nil {
		return nil, err
	}
	slow, err := g.RateFor(w.Body, w.SizeM, w.PermanentPa)
	if err != nil {
		return nil, err
	}
	if err := span.Check(span.Of{What: "rate that the permanent tension allows in K/s", Value: slow,
		Least: 1e-6, Most: 100}); err != nil {
		return nil, fmt.Errorf("%w; ask for a permanent tension between 0.1 and 20 MPa", err)
	}
	fast, err := g.FasterRate(w.Body, w.SizeM, slow, w.PassingPa)
	if err != nil {
		return nil, err
	}
	holdC := max(g.AnnealingC+w.HoldAboveK, g.settledC(w, slow))
	turnC := g.StrainC - belowStrainK - slow*g.spreadPerRate(w.Body, w.SizeM)
	legs := []Leg{
		{Name: "to the hold", FromC: w.StartC, ToC: holdC, RateKS: fast,
			Why: "glass this soft keeps no stress; colder glass is warmed under the passing limit"},
		{Name: "hold", FromC: holdC, ToC: holdC, HoldS: g.holdS(w, holdC),
			Why: fmt.Sprintf("even out and relax to 1/%d; ovens hold %.0f min by practice", faded,
				PracticeHoldS(w.SizeM)/60)},
	}
	if w.StartC == holdC {
		legs = legs[1:]
	}
	atC := holdC
	for _, l := range []Leg{
		{Name: "slow", ToC: turnC, RateKS: slow, Why: "sets the permanent stress"},
		{Name: "second", ToC: turnC - secondK, RateKS: min(twice*slow, fast),
			Why: "twice the rate, under the passing limit"},
		{Name: "final", ToC: w.HandedOverC, RateKS: fast, Why: "passing tension of the surface at its limit"},
	} {
		l.FromC, l.ToC = atC, max(l.ToC, w.HandedOverC)
		if l.ToC < l.FromC {
			legs = append(legs, l)
		}
		atC = l.ToC
	}
	return legs, nil
}

// Follow takes a plate through a leg of a schedule, both faces held to it.
func (p *Plate) Follow(l Leg, stepS float64) error {
	if l.RateKS > 0 {
		return p.Ramp(l.ToC, l.RateKS, stepS)
	}
	return p.Hold(l.HoldS, stepS)
}

// settledC is where a rate must begin so that its gradient stands, and what its
// beginning caused has relaxed, before the glass sets: the faster, the hotter.
// Otherwise less stress stays than foreseen, and more of it is felt on the way.
func (g Glass) settledC(w Wanted, rateKS float64) float64 {
	// It sets where a kelvin takes as long as relaxing: the time constant is then
	// 1/(rate x slope of its logarithm).
	slope := math.Ln10 * (logStrain - logAnnealing) / (g.AnnealingC - g.StrainC)
	setC := g.AnnealingC + math.Log(g.relaxS(g.AnnealingC)*rateKS*slope)/slope
	return setC + belowStrainK + stands*g.slowestS(w)*rateKS
}

// relaxS is the time constant of a plate's stress, s; see Plate.
func (g Glass) relaxS(celsius float64) float64 {
	return 6 * math.Pow(10, g.Through()(celsius)) * (1 - g.Poisson) / g.YoungPa
}

// holdS is what evening out and relaxing need, one after the other.
func (g Glass) holdS(w Wanted, holdC float64) float64 {
	return math.Log(faded) * (g.slowestS(w) + g.relaxS(holdC))
}

// slowestS is the time constant of the slowest mode of cooling, s.
func (g Glass) slowestS(w Wanted) float64 {
	// the slowest mode of a plate of thickness d decays with d^2/(pi^2 kappa), one
	// face insulated with four times that, of a rod with R^2/(5.783 kappa)
	slowest := w.SizeM * w.SizeM / g.diffusivity()
	switch w.Body {
	case PlateBoth:
		slowest /= math.Pi * math.Pi
	case PlateOne:
		slowest /= math.Pi * math.Pi / 4
	case Rod:
		slowest /= 5.783
	}
	return slowest
}

// PracticeHoldS is how long ovens hold a thickness: 5, 15 and 30 min for 1/8,
// 1/4 and 1/2 inch (Corning booklet, from memory), straight between, s.
func PracticeHoldS(thicknessM float64) float64 {
	const eighth = 0.0254 / 8
	x := thicknessM / eighth
	switch {
	case x <= 2:
		return 60 * max(5, 5+10*(x-1))
	case x <= 4:
		return 60 * (15 + 7.5*(x-2))
	}
	return 60 * (30 + 7.5*(x-4))
}
