package main

import (
	"fmt"

	"pressrig/glass/heat"
)

const (
	blankStepS = 0.01
	blankMostS = 600.0
)

// blankGrid is fine enough for the foot, and fast enough for a question.
var blankGrid = heat.Grid{Radial: 8, Axial: 12}

// blankOf is the ring of a question, and what acts on it.
func blankOf(g given) (*heat.Ring, *heat.Surroundings, error) {
	shape := heat.Shape{Inner: g.of("bore") / 2000, Outer: g.of("outside") / 2000,
		Height: g.of("height") / 1000}
	k, err := heat.Constant(g.of("conductivity"))
	if err != nil {
		return nil, nil, fmt.Errorf("conductivity: %w", err)
	}
	cp, err := heat.Constant(g.of("capacity"))
	if err != nil {
		return nil, nil, fmt.Errorf("capacity: %w", err)
	}
	glass := &heat.Material{Density: g.of("density"), Conductivity: k, Capacity: cp}
	ring, err := heat.NewRing(shape, blankGrid, glass, g.of("start"))
	if err != nil {
		return nil, nil, err
	}
	var s heat.Surroundings
	if err := s.Open(shape, heat.Room{Celsius: g.of("room"), Film: g.of("air"),
		Emissivity: g.of("emissivity")}); err != nil {
		return nil, nil, err
	}
	if err := s.Heat(shape, heat.Burner{Share: g.of("share"), Flame: g.of("flame"),
		Side: g.of("side"), Bore: g.of("inbore")}, 1000*g.of("power")); err != nil {
		return nil, nil, err
	}
	if h := g.of("contact"); !(h >= 0 && h <= 1e6) {
		return nil, nil, fmt.Errorf("contact is %g W/(m2.K); it must lie between 0 and 1e+06", h)
	}
	s.Foot.Exchange(g.of("contact"), g.of("mould"))
	return ring, &s, nil
}

func answerBurner(g given) ([]figure, error) {
	shape := heat.Shape{Outer: g.of("outside") / 2000, Height: g.of("height") / 1000}
	b := heat.Burner{Share: g.of("share"), Flame: g.of("flame"), Side: g.of("side")}
	cold, err := b.OntoOutside(shape, 1000*g.of("power"), 20)
	if err != nil {
		return nil, err
	}
	warm, err := b.OntoOutside(shape, 1000*g.of("power"), g.of("surface"))
	if err != nil {
		return nil, err
	}
	power, err := b.PowerFor(shape, 1000*g.of("limit"))
	if err != nil {
		return nil, err
	}
	const source = "burner model, derived; share, flame and part are guesses until fitted"
	return []figure{
		{name: "cold", value: cold / 1000, unit: "kW/m2", formula: "share x power x side/outside, at 20 C",
			source: source},
		{name: "warm", value: warm / 1000, unit: "kW/m2", formula: "cold x (flame-surface)/(flame-20)",
			source: source},
		{name: "softfire", value: power / 1000, unit: "kW", formula: "power for the limit on cold glass",
			source: source},
	}, nil
}

func answerGap(g given) ([]figure, error) {
	film, err := heat.GapFilm(g.of("gas"), g.of("gap")/1000)
	if err != nil {
		return nil, err
	}
	return []figure{{name: "film", value: film, unit: "W/(m2.K)", formula: "k/gap; too much below about 1 um",
		source: "gap of a study at TIB Hannover, found; fit it to your moulds"}}, nil
}

func answerBlank(g given) ([]figure, error) {
	if t := g.of("time"); !(t >= blankStepS && t <= blankMostS) {
		return nil, fmt.Errorf("time is %g s; it must lie between %g and %g s", t, blankStepS, blankMostS)
	}
	ring, around, err := blankOf(g)
	if err != nil {
		return nil, err
	}
	plateau, err := around.Plateau(ring.Shape())
	if err != nil {
		return nil, err
	}
	e := elasticOf(g)
	start, in := ring.Enthalpy(), 0.0
	worst, atS := heat.Stress{}, 0.0
	steps := int(g.of("time") / blankStepS)
	for n := range steps {
		ring.Step(blankStepS, around)
		in += ring.Into().Total() * blankStepS
		now, err := ring.Tension(e)
		if err != nil {
			return nil, err
		}
		if now.Tension > worst.Tension {
			worst, atS = now, float64(n+1)*blankStepS
		}
	}
	risk, err := riskFigure(worst.Tension)
	if err != nil {
		return nil, err
	}
	held := ring.Enthalpy() - start
	const tube = "Timoshenko: long tube and thin shell, from memory; elastic below the strain point"
	return []figure{
		{name: "mean", value: ring.MeanC(), unit: "C", formula: "mean by volume", source: ringSolver},
		{name: "skin", value: ring.SkinC(), unit: "C", formula: "mean of the outside", source: ringSolver},
		{name: "top", value: ring.TopC(), unit: "C", formula: "mean of the upper face", source: ringSolver},
		{name: "foot", value: ring.FootC(), unit: "C", formula: "mean of the lower face", source: ringSolver},
		{name: "tomould", value: -ring.Into().Foot, unit: "W", formula: "h A (foot - mould)", source: ringSolver},
		{name: "taken", value: held / 1000, unit: "kJ", formula: "heat that the glass took", source: ringSolver},
		{name: "balance", value: 100 * (held - in) / max(held, 1), unit: "%",
			formula: "(heat held - heat through the faces)/held", source: "of this calculation"},
		{name: "plateau", value: plateau, unit: "C", formula: "flame = radiation + convection + foot",
			source: "even body, derived"},
		{name: "tension", value: worst.Tension / 1e6, unit: "MPa",
			formula: fmt.Sprintf("largest on the way: %s, zone %d of %d, after %.1f s", worst.Place, worst.Zone+1,
				blankGrid.Axial, atS), source: tube},
		risk,
	}, nil
}
