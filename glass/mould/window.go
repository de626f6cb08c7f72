package mould

import (
	"fmt"

	"pressrig/glass/heat"
	"pressrig/glass/span"
)

// Limits of the temperature between glass and mould, common practice without a
// source: it sticks from 20 K above the annealing point on bare metal, from 20
// to 40 K more with a good carbon coating; more than 100 K below the strain
// point it chills and wrinkles.
const (
	stickAboveK   = 20.0
	chillBelowK   = 100.0
	mostCoatK     = 40.0
	CautiousCoatK = 20.0 // what a carbon coating is trusted with at first
)

// LimitsSource says how far the limits of sticking and chill can be trusted.
const LimitsSource = "common practice, no source"

// Glass is what a glass means to a mould.
type Glass struct {
	StrainC, AnnealingC float64
	Effusivity          float64 // sqrt(k rho cp), W.s^0.5/(m2.K); heat.Effusivity
}

func (g Glass) check() error {
	return span.Check(span.Of{What: "strain point in C", Value: g.StrainC, Least: 200, Most: 1100},
		span.Of{What: "annealing point in C, which lies above the strain point,", Value: g.AnnealingC,
			Least: g.StrainC + 1, Most: 1200}, ofEffusivity("effusivity of the glass", g.Effusivity))
}

// Window is a range of temperatures between glass and mould or, from MouldC, of
// the mould itself.
type Window struct{ LeastC, MostC float64 }

// Open tells whether any temperature lies in the window.
func (w Window) Open() bool { return w.LeastC < w.MostC }

// InterfaceC is the window of the temperature between glass and mould. coatK is
// what a coating allows more, 0 for bare metal, at most 40 K.
func (g Glass) InterfaceC(coatK float64) (Window, error) {
	if err := g.check(); err != nil {
		return Window{}, err
	}
	if err := span.Check(span.Of{What: "allowance for the coating in K", Value: coatK, Least: 0,
		Most: mostCoatK}); err != nil {
		return Window{}, err
	}
	return Window{g.StrainC - chillBelowK, g.AnnealingC + stickAboveK + coatK}, nil
}

// MouldC is the window of the mould's own temperature for glass that comes at
// glassC: perfect contact of two deep bodies, heat.ContactC turned round. Real
// contact lets the mould's face stay cooler, so the upper end is on the cautious
// side and the lower end is not. No mould is colder than the room.
func (g Glass) MouldC(glassC, mouldEffusivity, coatK float64) (Window, error) {
	between, err := g.InterfaceC(coatK)
	if err != nil {
		return Window{}, err
	}
	if err := span.Check(ofEffusivity("effusivity of the mould", mouldEffusivity),
		span.Of{What: "glass in C, which is hotter than it may be at the mould,", Value: glassC,
			Least: between.MostC, Most: 2000}); err != nil {
		return Window{}, err
	}
	mould := func(interfaceC float64) float64 {
		return interfaceC - g.Effusivity/mouldEffusivity*(glassC-interfaceC)
	}
	w := Window{max(mould(between.LeastC), coldC), mould(between.MostC)}
	if !w.Open() {
		return Window{}, fmt.Errorf("glass of %g C sticks even to a mould of %g C, which ends up at %.0f C "+
			"between them; press it colder, or in a mould of higher effusivity", glassC, coldC,
			(g.Effusivity*glassC+mouldEffusivity*coldC)/(g.Effusivity+mouldEffusivity))
	}
	return w, nil
}

// Verdict is what a mould temperature does to a piece.
type Verdict struct {
	InterfaceC float64
	ToStickK   float64 // below sticking; negative sticks
	ToChillK   float64 // above chill; negative wrinkles
}

// Judge finds what lies between glass at glassC and a mould at mouldC.
func (g Glass) Judge(glassC, mouldC, mouldEffusivity, coatK float64) (Verdict, error) {
	between, err := g.InterfaceC(coatK)
	if err != nil {
		return Verdict{}, err
	}
	if err := span.Check(ofCelsius("mould in C", mouldC), ofCelsius("glass in C", glassC),
		ofEffusivity("effusivity of the mould", mouldEffusivity)); err != nil {
		return Verdict{}, err
	}
	c, err := heat.ContactC(glassC, g.Effusivity, mouldC, mouldEffusivity)
	if err != nil {
		return Verdict{}, err
	}
	return Verdict{c, between.MostC - c, c - between.LeastC}, nil
}

// String is the verdict in words.
func (v Verdict) String() string {
	switch {
	case v.ToStickK < 0:
		return fmt.Sprintf("sticks: %.0f K too hot between glass and mould", -v.ToStickK)
	case v.ToChillK < 0:
		return fmt.Sprintf("chills: %.0f K too cold between glass and mould", -v.ToChillK)
	}
	return fmt.Sprintf("in the window: %.0f K below sticking, %.0f K above chill", v.ToStickK, v.ToChillK)
}
