package main

import (
	"pressrig/glass/pyrometer"
	"pressrig/units"
)

var (
	takesLow = quantity{name: "low", in: units.Wavelength, usual: "4.9 um",
		what: "shortest wavelength that the instrument sees"}
	takesHigh = quantity{name: "high", in: units.Wavelength, usual: "5.3 um", what: "longest"}
	takesSet  = quantity{name: "set", usual: "0.97", what: "emissivity that the instrument is set to"}
	takesTrue = quantity{name: "emissivity", usual: "0.97", what: "of the glass at this wavelength"}
	takesBack = quantity{name: "surroundings", in: units.Temperature, usual: "20 C",
		what: "that the glass throws back"}
	takesSurface = quantity{name: "surface", in: units.Temperature, usual: "900 C", what: "of the glass"}
)

var pyrometerQuestions = []question{
	{"pyrometer", "planck", "what a black body gives off at a wavelength",
		[]quantity{takesSurface, {name: "wavelength", in: units.Wavelength, usual: "5 um", what: "seen"}},
		answerPlanck},
	{"pyrometer", "reads", "what an instrument shows of an opaque surface",
		[]quantity{takesLow, takesHigh, takesSet, takesTrue, takesBack, takesSurface}, answerReads},
	{"pyrometer", "true", "the surface behind a reading",
		[]quantity{takesLow, takesHigh, takesSet, takesTrue, takesBack,
			{name: "reading", in: units.Temperature, usual: "880 C", what: "that the instrument shows"}},
		answerTrue},
	{"pyrometer", "depth", "how deep a wavelength looks into glass, and whether it may guard",
		[]quantity{takesLow, takesHigh, takesWall}, answerDepth},
	{"pyrometer", "wall", "what an instrument shows of a wall that is hotter or colder inside",
		[]quantity{takesLow, takesHigh, takesSet, takesTrue, takesBack, takesSurface, takesWall,
			{name: "inside", in: units.Temperature, usual: "850 C", what: "face of the bore; straight between"},
			{name: "behind", in: units.Temperature, usual: "450 C", what: "what stands behind the wall"}},
		answerSeesWall},
	{"pyrometer", "average", "the time to average over whole turns",
		[]quantity{takesSpeed, {name: "least", in: units.Time, usual: "0.5 s", what: "to average"}}, answerAverage},
}

const (
	planckLaw = "Planck's law, CODATA 2018; checked against published blackbody functions"
	depths    = "Neuroth 1952 and Gardon 1961, from memory, good to a factor of two"
)

func channelOf(g given) pyrometer.Channel {
	return pyrometer.Channel{Low: g.of("low"), High: g.of("high"), Emissivity: g.of("set"), Ambient: 20}
}

func answerPlanck(g given) ([]figure, error) {
	um, c := g.of("wavelength"), g.of("surface")
	power, err := pyrometer.SpectralPower(um, c)
	if err != nil {
		return nil, err
	}
	peak, err := pyrometer.Peak(c)
	if err != nil {
		return nil, err
	}
	below, err := pyrometer.Fraction(um * (c + 273.15))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "power", value: power, unit: "W/(m2.um)", formula: "c1/(l^5 (exp(c2/(l T)) - 1))",
			source: planckLaw},
		{name: "peak", value: peak, unit: "um", formula: "2897.77 um.K/T", source: "Wien, CODATA 2018"},
		{name: "below", value: 100 * below, unit: "%", formula: "part of all power below the wavelength",
			source: planckLaw},
	}, nil
}

func answerReads(g given) ([]figure, error) {
	reading, err := channelOf(g).Reads(g.of("surface"), g.of("emissivity"), g.of("surroundings"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "reading", value: reading, unit: "C",
			formula: "e S(T) + (1-e) S(surroundings), taken back with the set e and 20 C", source: planckLaw},
		{name: "error", value: reading - g.of("surface"), unit: "K", formula: "reading - surface",
			source: planckLaw},
	}, nil
}

func answerTrue(g given) ([]figure, error) {
	surface, err := channelOf(g).True(g.of("reading"), g.of("emissivity"), g.of("surroundings"))
	if err != nil {
		return nil, err
	}
	return []figure{{name: "surface", value: surface, unit: "C",
		formula: "the same backwards, with the true e and surroundings", source: planckLaw}}, nil
}

func answerDepth(g given) ([]figure, error) {
	c := pyrometer.Channel{Low: g.of("low"), High: g.of("high"), Emissivity: 1, Ambient: 20}
	depth, err := pyrometer.Depth(c.Middle())
	if err != nil {
		return nil, err
	}
	sight, err := pyrometer.Sees(c.Middle(), g.of("wall")/1000)
	if err != nil {
		return nil, err
	}
	guard := "its wavelength does not forbid it"
	if why := pyrometer.RefuseInterlock(c); why != nil {
		guard = why.Error()
	}
	return []figure{
		{name: "depth", value: 1000 * depth, unit: "mm", formula: "63 % of the light comes from within",
			source: depths},
		{name: "sees", text: sight.String(), formula: "surface: 95 % from the outer tenth; through: over 5 % from behind",
			source: depths},
		{name: "interlock", text: guard, formula: "at least 4.8 um, at most 14 um",
			source: "common practice, no source"},
	}, nil
}

func answerSeesWall(g given) ([]figure, error) {
	const layers = 200
	profile := make([]float64, layers)
	for i := range profile {
		part := (float64(i) + 0.5) / layers
		profile[i] = g.of("surface") + part*(g.of("inside")-g.of("surface"))
	}
	reading, err := channelOf(g).ReadsWall(profile, g.of("wall")/1000, g.of("emissivity"), g.of("behind"),
		g.of("surroundings"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "reading", value: reading, unit: "C",
			formula: "layers weighted by exp(-depth/path), then what is behind", source: depths},
		{name: "error", value: reading - g.of("surface"), unit: "K", formula: "reading - surface", source: depths},
	}, nil
}

func answerAverage(g given) ([]figure, error) {
	seconds, err := pyrometer.AveragingTime(g.of("least"), g.of("speed"))
	if err != nil {
		return nil, err
	}
	return []figure{{name: "time", value: seconds, unit: "s", formula: "whole turns",
		source: "common practice, no source"}}, nil
}
