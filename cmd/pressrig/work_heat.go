package main

import (
	"pressrig/glass/heat"
	"pressrig/units"
)

// What questions about heat take; the usual glass is float glass at room
// temperature (data sheet, found), in the flame it conducts and holds more.
var (
	takesK = quantity{name: "conductivity", in: units.Conductivity, usual: "0.937 W/(m.K)",
		what: "of the glass; hot, more"}
	takesRho = quantity{name: "density", in: units.Density, usual: "2500 kg/m3", what: "of the glass"}
	takesCp  = quantity{name: "capacity", in: units.HeatCapacity, usual: "880 J/(kg.K)",
		what: "of the glass; hot, more"}
	takesHeat = []quantity{takesK, takesRho, takesCp}
	takesSec  = quantity{name: "time", in: units.Time, usual: "1 s", what: "since it began"}
	takesFrom = quantity{name: "from", in: units.Temperature, usual: "900 C", what: "of the glass before"}
	takesEmit = quantity{name: "emissivity", usual: "0.85", what: "of the glass, all wavelengths"}
	takesRoom = quantity{name: "room", in: units.Temperature, usual: "20 C", what: "around the glass"}
	takesOne  = quantity{name: "flux", in: units.Flux, usual: "30 kW/m2", what: "onto the glass"}
	takesWall = quantity{name: "wall", in: units.Length, usual: "2.5 mm", what: "thickness"}
	takesFace = []quantity{
		{name: "young", in: units.Stress, usual: "72 GPa", what: "modulus"},
		{name: "poisson", usual: "0.23", what: "ratio"},
		{name: "expansion", in: units.Expansion, usual: "8.3e-6 /K", what: "of the glass"},
		{name: "strain", in: units.Temperature, usual: "511 C", what: "strain point"},
	}
	bodies = []string{"wall", "cylinder", "sphere"}
)

// with is a list of quantities and more of them.
func with(list []quantity, more ...quantity) []quantity {
	return append(append([]quantity{}, list...), more...)
}

var heatQuestions = []question{
	{"heat", "series", "how far a body has followed the gas around it",
		with(takesHeat, quantity{name: "body", words: bodies, usual: "wall", what: "its shape"},
			quantity{name: "half", in: units.Length, usual: "1.25 mm", what: "half thickness or radius"},
			quantity{name: "film", in: units.Transfer, usual: "300 W/(m2.K)", what: "to the gas"},
			takesFrom, quantity{name: "gas", in: units.Temperature, usual: "20 C", what: "around"},
			takesSec), answerSeries},
	{"heat", "rise", "how far the surface rises under a flux, before it reaches the far side",
		with(takesHeat, takesOne, takesSec), answerRise},
	{"heat", "slab", "how uneven a wall is that is heated evenly on both faces",
		with(takesHeat, takesOne, takesWall), answerSlab},
	{"heat", "skin", "how deep a cold surface has chilled, to a temperature",
		with(takesHeat, takesFrom,
			quantity{name: "surface", in: units.Temperature, usual: "494 C", what: "as it was cooled to"},
			quantity{name: "stiff", in: units.Temperature, usual: "715 C", what: "below which glass is stiff"},
			takesSec), answerSkin},
	{"heat", "contact", "temperature between glass and mould",
		with(takesHeat, takesFrom,
			quantity{name: "mould", in: units.Temperature, usual: "450 C", what: "before"},
			quantity{name: "mouldconductivity", in: units.Conductivity, usual: "50 W/(m.K)", what: "cast iron"},
			quantity{name: "moulddensity", in: units.Density, usual: "7200 kg/m3", what: "cast iron"},
			quantity{name: "mouldcapacity", in: units.HeatCapacity, usual: "480 J/(kg.K)", what: "cast iron"},
		), answerContact},
	{"heat", "radiation", "how fast glass cools by radiation alone",
		[]quantity{takesRho, takesCp, takesEmit, takesFrom,
			{name: "to", in: units.Temperature, usual: "600 C", what: "in the end"}, takesRoom,
			{name: "depth", in: units.Length, usual: "1.25 mm", what: "volume over radiating surface"},
		}, answerRadiation},
	{"heat", "warming", "tension in a ring that a flame warms from one side, and the flux it stands",
		with(takesFace, takesK, takesOne, takesWall,
			quantity{name: "allowed", in: units.Stress, usual: "10 MPa", what: "tension of a cut edge"},
		), answerWarming},
	{"heat", "burner", "flux of a burner onto a cold blank, and how soft it must be for a limit",
		[]quantity{takesOutside, takesHeight, takesPower, takesShare, takesFlame, takesSide,
			{name: "surface", in: units.Temperature, usual: "450 C", what: "of the warm glass"},
			{name: "limit", in: units.Flux, usual: "30 kW/m2", what: "onto cold glass"}}, answerBurner},
	{"heat", "gap", "heat transfer through the gap between glass and mould",
		[]quantity{{name: "gap", in: units.Length, usual: "0.04 mm", what: "0.00025 at first, 0.04 after a second"},
			{name: "gas", in: units.Conductivity, usual: "0.058 W/(m.K)", what: "air at 600 C"}}, answerGap},
	{"heat", "blank", "a ring on its mould in the flame, after a time",
		with(takesFace, blankQuantities...), answerBlank},
}

var (
	takesOutside = quantity{name: "outside", in: units.Length, usual: "29 mm", what: "outer diameter"}
	takesHeight  = quantity{name: "height", in: units.Length, usual: "17 mm", what: "of the ring"}
	takesPower   = quantity{name: "power", in: units.Power, usual: "4 kW", what: "that the gas sets free"}
	takesShare   = quantity{name: "share", usual: "0.13", what: "of it that a cold blank takes; a guess, fit it"}
	takesFlame   = quantity{name: "flame", in: units.Temperature, usual: "2000 C", what: "effective; a guess"}
	takesSide    = quantity{name: "side", usual: "0.55", what: "part onto the outside; a guess"}
)

var blankQuantities = []quantity{
	{name: "conductivity", in: units.Conductivity, usual: "1.3 W/(m.K)", what: "mean while heating"},
	takesRho,
	{name: "capacity", in: units.HeatCapacity, usual: "1100 J/(kg.K)", what: "mean while heating"},
	takesOutside,
	{name: "bore", in: units.Length, usual: "24 mm", what: "inner diameter"},
	takesHeight,
	{name: "start", in: units.Temperature, usual: "20 C", what: "of the glass"},
	takesPower, takesShare, takesFlame, takesSide,
	{name: "inbore", usual: "0.3", what: "part into the bore, the rest onto the top; a guess"},
	{name: "mould", in: units.Temperature, usual: "450 C", what: "under the foot"},
	{name: "contact", in: units.Transfer, usual: "500 W/(m2.K)", what: "of the foot; 200 to 1,000, a guess"},
	takesEmit, takesRoom,
	{name: "air", in: units.Transfer, usual: "8 W/(m2.K)", what: "natural convection; a guess"},
	{name: "time", in: units.Time, usual: "40 s", what: "in the flame"},
}

const (
	exact      = "exact series, Incropera 5.39-5.52, found; tables from memory"
	carslaw    = "Carslaw and Jaeger, from memory"
	effusion   = "law of effusivities, found; mould figures from memory"
	bejan      = "Bejan, Heat Transfer Handbook, eq. 3.283, found"
	stefanLaw  = "Stefan-Boltzmann, CODATA 2018"
	ringSolver = "finite volumes 8 x 12, 10 ms; burner, contact and loss are guesses until fitted"
	grades     = "EN 1595, Pilkington ATS-129, found; cut edges 7 to 19 MPa, common practice"
)

func answerSeries(g given) ([]figure, error) {
	body := heat.Wall
	switch g.word("body") {
	case "cylinder":
		body = heat.Cylinder
	case "sphere":
		body = heat.Sphere
	}
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	half := g.of("half") / 1000
	biot, fourier := g.of("film")*half/g.of("conductivity"), kappa*g.of("time")/(half*half)
	middle, err := heat.Left(body, biot, fourier, 0)
	if err != nil {
		return nil, err
	}
	surface, err := heat.Left(body, biot, fourier, 1)
	if err != nil {
		return nil, err
	}
	gone, err := heat.HeatGone(body, biot, fourier)
	if err != nil {
		return nil, err
	}
	step := g.of("from") - g.of("gas")
	return []figure{
		{name: "biot", value: biot, formula: "h L/k", source: exact},
		{name: "fourier", value: fourier, formula: "k t/(rho cp L^2)", source: exact},
		{name: "middle", value: g.of("gas") + step*middle, unit: "C",
			formula: "gas + step x sum C exp(-z^2 Fo)", source: exact},
		{name: "surface", value: g.of("gas") + step*surface, unit: "C",
			formula: "the same at the surface", source: exact},
		{name: "gone", value: 100 * gone, unit: "%", formula: "heat that has left", source: exact},
	}, nil
}

func answerRise(g given) ([]figure, error) {
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	rise, err := heat.FluxRise(1000*g.of("flux"), g.of("conductivity"), kappa, g.of("time"))
	if err != nil {
		return nil, err
	}
	return []figure{{name: "rise", value: rise, unit: "K",
		formula: "(2q/k) sqrt(kappa t/pi)", source: carslaw}}, nil
}

func answerSlab(g given) ([]figure, error) {
	surface, middle, rate, err := heat.FluxSpread(1000*g.of("flux"), g.of("wall")/2000,
		g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "surface", value: surface, unit: "K", formula: "q L/(3k) above the mean", source: carslaw},
		{name: "middle", value: middle, unit: "K", formula: "-q L/(6k)", source: carslaw},
		{name: "rate", value: rate, unit: "K/s", formula: "q/(rho cp L)", source: carslaw},
	}, nil
}

func answerSkin(g given) ([]figure, error) {
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	hot := g.of("from") - g.of("surface")
	share := 0.0
	if hot != 0 {
		share = (g.of("stiff") - g.of("surface")) / hot
	}
	depth, err := heat.FixedSurfaceDepth(kappa, share, g.of("time"))
	if err != nil {
		return nil, err
	}
	return []figure{{name: "skin", value: 1000 * depth, unit: "mm",
		formula: "2 sqrt(kappa t) erfinv((stiff-surface)/(from-surface))", source: carslaw}}, nil
}

func answerContact(g given) ([]figure, error) {
	glass, err := heat.Effusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	mould, err := heat.Effusivity(g.of("mouldconductivity"), g.of("moulddensity"), g.of("mouldcapacity"))
	if err != nil {
		return nil, err
	}
	between, err := heat.ContactC(g.of("from"), glass, g.of("mould"), mould)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "glasseffusivity", value: glass, unit: "W.s^0.5/(m2.K)", formula: "sqrt(k rho cp)",
			source: effusion},
		{name: "mouldeffusivity", value: mould, unit: "W.s^0.5/(m2.K)", formula: "sqrt(k rho cp)",
			source: effusion},
		{name: "interface", value: between, unit: "C", formula: "(e1 T1 + e2 T2)/(e1 + e2), perfect contact",
			source: effusion},
	}, nil
}

func answerRadiation(g given) ([]figure, error) {
	seconds, err := heat.RadiationTime(g.of("from"), g.of("to"), g.of("room"), g.of("emissivity"),
		g.of("density"), g.of("capacity"), g.of("depth")/1000)
	if err != nil {
		return nil, err
	}
	film, err := heat.RadiationFilm(g.of("from"), g.of("room"), g.of("emissivity"))
	if err != nil {
		return nil, err
	}
	flux := film * (g.of("from") - g.of("room"))
	return []figure{
		{name: "time", value: seconds, unit: "s", formula: "integral of rho cp V/A dT over radiation",
			source: bejan},
		{name: "film", value: film, unit: "W/(m2.K)", formula: "e sigma (T^2+Ts^2)(T+Ts), at the start",
			source: stefanLaw},
		{name: "flux", value: flux / 1000, unit: "kW/m2", formula: "e sigma (T^4-Ts^4), at the start",
			source: stefanLaw},
	}, nil
}

func elasticOf(g given) heat.Elastic {
	return heat.Elastic{Young: 1e6 * g.of("young"), Poisson: g.of("poisson"),
		Expansion: g.of("expansion"), Strain: g.of("strain")}
}

func riskFigure(tension float64) (figure, error) {
	risk, err := heat.RiskOf(tension)
	return figure{name: "risk", text: risk.String(), formula: "low below 7, some below 19, high below 41 MPa",
		source: grades}, err
}

func answerWarming(g given) ([]figure, error) {
	e := elasticOf(g)
	wall, k := g.of("wall")/1000, g.of("conductivity")
	tension, err := heat.WarmingStress(e, 1000*g.of("flux"), wall, k)
	if err != nil {
		return nil, err
	}
	limit, err := heat.FluxLimit(e, 1e6*g.of("allowed"), wall, k)
	if err != nil {
		return nil, err
	}
	risk, err := riskFigure(tension)
	if err != nil {
		return nil, err
	}
	const source = "Carslaw and Jaeger 3.8 with a wall that cannot bend, derived"
	return []figure{
		{name: "tension", value: tension / 1e6, unit: "MPa", formula: "E a q d/(6 k (1-nu)), cold face",
			source: source},
		risk,
		{name: "fluxlimit", value: limit / 1000, unit: "kW/m2", formula: "the same, for the allowed tension",
			source: source},
	}, nil
}
