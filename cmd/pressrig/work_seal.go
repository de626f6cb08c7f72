package main

import (
	"fmt"

	"pressrig/glass/seal"
	"pressrig/units"
)

// The usual glass of a seal is a lamp soda-lime glass, from memory.
var takesSealGlass = []quantity{
	{name: "expansion", in: units.Expansion, usual: "9.3e-6 /K", what: "of the glass, mean to the set point"},
	{name: "young", in: units.Stress, usual: "70 GPa", what: "of the glass"},
	{name: "poisson", usual: "0.22", what: "of the glass"},
	{name: "strain", in: units.Temperature, usual: "473 C", what: "strain point"},
	{name: "annealing", in: units.Temperature, usual: "514 C", what: "annealing point"},
}

var sealQuestions = []question{
	{"seal", "pin", "mismatch and stress of a pin in a glass, and what is known against it",
		with(takesSealGlass,
			quantity{name: "alloy", words: seal.Names(), usual: "dumet", what: "of the pin"},
			quantity{name: "pin", in: units.Length, usual: "0.4 mm", what: "diameter"},
			quantity{name: "bead", in: units.Length, usual: "2 mm", what: "diameter of the glass around it"},
			quantity{name: "form", words: []string{"bead", "long"}, usual: "bead", what: "flat, or many diameters long"},
		), answerPin},
	{"seal", "alloys", "which pin alloys a glass bears, or why it stays pinless", takesSealGlass, answerAlloys},
	{"seal", "alloy", "what is known of a pin alloy",
		[]quantity{{name: "alloy", words: seal.Names(), usual: "dumet", what: "of the pin"},
			{name: "to", in: units.Temperature, usual: "400 C", what: "up to which it expands"}}, answerAlloy},
}

const (
	contraction = "integral from the set point, strain point + 5 K (Kohl, from memory)"
	lameSeal    = "Lame, formulas found, combination derived"
	sealGrades  = "ASTM F14, found: about 300 ppm; 100 and 500 ppm from memory"
)

func sealGlassOf(g given) (seal.Glass, error) {
	c, err := seal.NewCurve(seal.Mean{ToC: 300, PerK: g.of("expansion")})
	return seal.Glass{Expansion: c, Elastic: seal.Elastic{YoungPa: 1e6 * g.of("young"), Poisson: g.of("poisson")},
		StrainC: g.of("strain"), AnnealingC: g.of("annealing")}, err
}

func answerPin(g given) ([]figure, error) {
	glass, err := sealGlassOf(g)
	if err != nil {
		return nil, err
	}
	alloy, err := seal.Named(g.word("alloy"))
	if err != nil {
		return nil, err
	}
	shape := seal.Shape{PinMM: g.of("pin"), BeadMM: g.of("bead")}
	j, err := seal.Seal{Glass: glass, Alloy: alloy, Shape: shape, Long: g.word("form") == "long"}.Judge()
	if err != nil {
		return nil, err
	}
	reach, err := seal.MismatchFor(shape, glass.Elastic, alloy.Elastic, seal.HullBurgerPa)
	if err != nil {
		return nil, err
	}
	source := contraction + "; metal: " + alloy.Expansion
	figures := []figure{
		{name: "set", value: j.SetC, unit: "C", formula: "strain point + 5 K", source: "Kohl, from memory"},
		{name: "mismatch", value: 1e6 * j.Mismatch, unit: "ppm", formula: "across the pin; positive: glass shrinks more", source: source},
		{name: "mismatchmean", value: 1e6 * j.OtherMismatch, unit: "ppm", formula: "the same from the mean of annealing and strain point",
			source: "from memory"},
		{name: "along", value: 1e6 * j.Axial, unit: "ppm", formula: "along the pin", source: source},
		{name: "radial", value: j.Stress.Radial / 1e6, unit: "MPa", formula: "in the glass at the pin, tension positive", source: lameSeal},
		{name: "hoop", value: j.Stress.Hoop / 1e6, unit: "MPa", formula: "in the glass at the pin", source: lameSeal},
		{name: "axial", value: j.Stress.Axial / 1e6, unit: "MPa", formula: "in the glass at the pin; 0 in a flat bead", source: lameSeal},
		{name: "reach", value: 1e6 * reach, unit: "ppm", formula: "mismatch of 1 kg/mm2 = 9.81 MPa hoop in a flat bead",
			source: "Hull and Burger, by later abstracts, found; often exceeded safely"},
		{name: "fit", text: j.Fit.String(), formula: "match below 100, usable to 300, doubtful to 500 ppm", source: sealGrades},
	}
	for i, w := range j.Warnings {
		figures = append(figures, figure{name: fmt.Sprintf("warning%d", i+1), text: "warned of", formula: w, source: sealGrades})
	}
	return figures, nil
}

func answerAlloys(g given) ([]figure, error) {
	glass, err := sealGlassOf(g)
	if err != nil {
		return nil, err
	}
	fits, pinless, err := seal.Pins(glass)
	if err != nil {
		return nil, err
	}
	if pinless != "" {
		return []figure{{name: "verdict", text: "pinless", formula: pinless, source: sealGrades}}, nil
	}
	var figures []figure
	for _, c := range fits {
		figures = append(figures, figure{name: c.Alloy, value: 1e6 * c.Mismatch, unit: "ppm",
			formula: c.Fit.String() + "; glass less metal from the set point", source: contraction})
	}
	return figures, nil
}

func answerAlloy(g given) ([]figure, error) {
	a, err := seal.Named(g.word("alloy"))
	if err != nil {
		return nil, err
	}
	across, err := a.Radial.From20(g.of("to"))
	if err != nil {
		return nil, err
	}
	along, err := a.Axial.From20(g.of("to"))
	if err != nil {
		return nil, err
	}
	known := "a curve"
	if a.Radial.Constant() {
		known = "one coefficient alone"
	}
	figures := []figure{
		{name: "is", text: a.Label, formula: "its expansion is known as " + known, source: a.Expansion},
		{name: "across", value: 1e6 * across, unit: "ppm", formula: "expansion from 20 C across the pin", source: a.Expansion},
		{name: "along", value: 1e6 * along, unit: "ppm", formula: "expansion from 20 C along the pin", source: a.Expansion},
		{name: "young", value: a.Elastic.YoungPa / 1e9, unit: "GPa", formula: "modulus", source: a.Elasticity},
	}
	if a.MostMM > 0 {
		figures = append(figures, figure{name: "wire", value: a.MostMM, unit: "mm",
			formula: fmt.Sprintf("thickest wire; warned of above %g mm", a.WarnMM),
			source:  "below about 0.5 mm: ASTM F29 in an encyclopaedia, found; up to 0.8 mm common practice, no source"})
	}
	return figures, nil
}
