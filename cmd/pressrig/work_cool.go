package main

import (
	"fmt"

	"pressrig/glass/cool"
	"pressrig/glass/heat"
	"pressrig/units"
)

var (
	coolBodies = []string{"plate", "oneface", "rod"}
	takesBody  = quantity{name: "body", words: coolBodies, usual: "plate",
		what: "cooled from both faces, from one, or a rod"}
	takesSize    = quantity{name: "size", in: units.Length, usual: "4 mm", what: "thickness, or radius of the rod"}
	takesOptical = quantity{name: "optical", usual: "2.62e-12", what: "stress-optical constant, 1/Pa; float glass"}
	takesCooling = with(with(takesHeat, takesFace...), takesAnneal)
)

var coolQuestions = []question{
	{"cool", "rate", "what a steady rate leaves, and the rate for a stress",
		with(takesCooling, takesBody, takesSize,
			quantity{name: "rate", in: units.Rate, usual: "10 K/min", what: "through the annealing range"},
			quantity{name: "faster", in: units.Rate, usual: "30 K/min", what: "below the strain point"},
			quantity{name: "allowed", in: units.Stress, usual: "1 MPa", what: "tension that may stay in the centre"},
		), answerRate},
	{"cool", "schedule", "how to cool for an allowed stress: holds and rates",
		with(takesCooling, takesBody, takesSize,
			quantity{name: "start", in: units.Temperature, usual: "650 C", what: "of the piece"},
			quantity{name: "above", in: units.Difference, usual: "15 K", what: "least hold above the annealing point"},
			quantity{name: "allowed", in: units.Stress, usual: "1 MPa", what: "tension that may stay in the centre"},
			quantity{name: "passing", in: units.Stress, usual: "5 MPa", what: "tension that the surface may bear on the way"},
			quantity{name: "end", in: units.Temperature, usual: "20 C", what: "where it is handed over"},
		), answerSchedule},
	{"cool", "air", "stress in a plate left to cool in a room, from even and soft",
		with(takesCooling, takesSize,
			quantity{name: "start", in: units.Temperature, usual: "600 C", what: "of the even plate"},
			takesRoom, takesEmit,
			quantity{name: "air", in: units.Transfer, usual: "8 W/(m2.K)", what: "natural convection; a guess"},
			quantity{name: "factor", usual: "1", what: "times the loss: 10 for a draught"}), answerAir},
	{"cool", "relax", "how a stress fades at a temperature",
		[]quantity{takesSoftStress,
			{name: "viscosity", in: units.Viscosity, usual: "1e12 Pa.s", what: "at the temperature"},
			{name: "shear", in: units.Stress, usual: "30 GPa", what: "modulus"},
			{name: "time", in: units.Time, usual: "100 s", what: "held"},
			{name: "constant", usual: "0.1", what: "of Adams and Williamson, 1/(MPa.s)"},
			{name: "to", in: units.Stress, usual: "0.5 MPa", what: "wanted"}}, answerRelax},
	{"cool", "shock", "sudden step of temperature that a surface stands",
		with(takesCooling, takesSize,
			quantity{name: "strength", in: units.Stress, usual: "19 MPa", what: "of the surface"},
			quantity{name: "film", in: units.Transfer, usual: "300 W/(m2.K)", what: "to air or water"}), answerShock},
	{"cool", "polariscope", "retardation of a stress, and stress of a retardation",
		[]quantity{{name: "difference", in: units.Stress, usual: "1 MPa", what: "of the principal stresses"},
			{name: "path", in: units.Length, usual: "4 mm", what: "of light"}, takesOptical,
			{name: "seen", usual: "10", what: "retardation measured, nm"}}, answerPolariscope},
	{"cool", "temper", "temper number of a turn of the analyser (ASTM C148)",
		[]quantity{{name: "analyser", in: units.Angle, usual: "30 deg", what: "turned to darkness"},
			{name: "wavelength", usual: "565", what: "of the light, nm"},
			{name: "thickness", in: units.Length, usual: "4 mm", what: "of the piece"}, takesOptical}, answerTemper},
	{"cool", "risk", "grade of a tension that acts for a time",
		[]quantity{{name: "tension", in: units.Stress, usual: "10 MPa", what: "of a surface"},
			{name: "time", in: units.Time, usual: "60 s", what: "that it acts"}}, answerRisk},
	{"cool", "allowed", "tensions that somebody allows, and who", nil, answerAllowed},
}

func answerAllowed(given) ([]figure, error) {
	var figures []figure
	for i, l := range cool.Limits() {
		figures = append(figures, figure{name: fmt.Sprintf("limit%d", i+1), value: l.Pa / 1e6, unit: "MPa", formula: l.What,
			source: l.Source})
	}
	return figures, nil
}

var takesSoftStress = quantity{name: "stress", in: units.Stress, usual: "5 MPa", what: "at the start"}

const (
	adamsWill = "Adams and Williamson 1920, from memory, checked by derivation"
	c148      = "ASTM C148, found; table of an instrument maker"
	fatigued  = "time exponent 10, Ashby and Jones, found; grades: EN 1595, Pilkington ATS-129, found"
)

func coolGlassOf(g given) cool.Glass {
	return cool.Glass{YoungPa: 1e6 * g.of("young"), Poisson: g.of("poisson"), PerK: g.of("expansion"),
		Conductivity: g.of("conductivity"), Density: g.of("density"), Capacity: g.of("capacity"),
		StrainC: g.of("strain"), AnnealingC: g.of("annealing")}
}

func coolBodyOf(g given) cool.Body {
	switch g.word("body") {
	case "oneface":
		return cool.PlateOne
	case "rod":
		return cool.Rod
	}
	return cool.PlateBoth
}

func answerRate(g given) ([]figure, error) {
	glass, body, size := coolGlassOf(g), coolBodyOf(g), g.of("size")/1000
	rate := g.of("rate") / 60
	spread, err := glass.SpreadK(body, size, rate)
	if err != nil {
		return nil, err
	}
	stays, err := glass.Permanent(body, size, rate)
	if err != nil {
		return nil, err
	}
	passes, err := glass.Passing(body, size, rate, g.of("faster")/60)
	if err != nil {
		return nil, err
	}
	allowed, err := glass.RateFor(body, size, 1e6*g.of("allowed"))
	if err != nil {
		return nil, err
	}
	grade, err := cool.Annealing(stays.Centre)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "spread", value: spread, unit: "K", formula: "q d^2/(8 kappa), one face /2, rod q R^2/(4 kappa): centre - surface",
			source: adamsWill},
		{name: "centre", value: stays.Centre / 1e6, unit: "MPa", formula: "stays: +E a spread/(3 (1-nu)), rod /2", source: adamsWill},
		{name: "surface", value: stays.Surface / 1e6, unit: "MPa", formula: "stays: -2 E a spread/(3 (1-nu)), rod /2", source: adamsWill},
		{name: "grade", text: grade, formula: "fine below 1, commercial below 3 MPa in the centre", source: "from memory"},
		{name: "passing", value: passes.Surface / 1e6, unit: "MPa", formula: "surface, while faster below the strain point: both together",
			source: adamsWill},
		{name: "rateallowed", value: 60 * allowed, unit: "K/min", formula: "the same, for the allowed centre tension", source: adamsWill},
	}, nil
}

func answerSchedule(g given) ([]figure, error) {
	legs, err := coolGlassOf(g).Schedule(cool.Wanted{Body: coolBodyOf(g), SizeM: g.of("size") / 1000,
		StartC: g.of("start"), HoldAboveK: g.of("above"), PermanentPa: 1e6 * g.of("allowed"),
		PassingPa: 1e6 * g.of("passing"), HandedOverC: g.of("end")})
	if err != nil {
		return nil, err
	}
	const source = "Adams and Williamson 1920 and Maxwell, run through a viscoelastic plate in a test"
	var figures []figure
	total := 0.0
	for i, l := range legs {
		what := fmt.Sprintf("to %.0f C at %.3g K/min, %.0f s", l.ToC, 60*l.RateKS, l.Seconds())
		if l.RateKS == 0 {
			what = fmt.Sprintf("at %.0f C for %.0f s", l.ToC, l.HoldS)
		}
		total += l.Seconds()
		figures = append(figures, figure{name: fmt.Sprintf("step%d", i+1), text: l.Name + ": " + what, formula: l.Why,
			source: source})
	}
	return append(figures, figure{name: "total", value: total / 60, unit: "min", formula: "sum; a computed least",
		source: source}), nil
}

const (
	airNodes = 25
	airStepS = 0.25
	airMostS = 6 * 3600.0
	airColdK = 5.0 // above the room counts as cold
)

func answerAir(g given) ([]figure, error) {
	glass := coolGlassOf(g)
	p, err := cool.NewPlate(glass, g.of("size")/1000, g.of("start"), glass.Through(), airNodes)
	if err != nil {
		return nil, err
	}
	if f := g.of("factor"); !(f >= 0.01 && f <= 1000) {
		return nil, fmt.Errorf("factor is %g; it must lie between 0.01 and 1000", f)
	}
	film, err := heat.RadiationFilm(g.of("start"), g.of("room"), g.of("emissivity"))
	if err != nil {
		return nil, err
	}
	if h := g.of("air"); !(h >= 0.1 && h <= 1e5) || !(g.of("room") <= g.of("start")-airColdK) || film > 1e5 {
		return nil, fmt.Errorf("air is %g W/(m2.K) around %g C; give 0.1 to 100,000 and a room colder than the "+
			"glass of %g C", h, g.of("room"), g.of("start"))
	}
	seconds := 0.0
	for ; p.CentreC() > g.of("room")+airColdK && seconds < airMostS; seconds += airStepS {
		var face heat.Face
		face.Exchange(g.of("factor")*g.of("air"), g.of("room"))
		face.Radiate(g.of("factor")*g.of("emissivity"), g.of("room"))
		p.Step(airStepS, &face, &face)
	}
	surface, _ := p.GreatestTension()
	risk, alike, err := cool.Risk(surface, 60)
	if err != nil {
		return nil, err
	}
	stays := p.Even()
	const source = "Maxwell plate, finite volumes; relaxes by a line through annealing and strain point, derived"
	return []figure{
		{name: "time", value: seconds, unit: "s", formula: "until 5 K above the room, at most 6 h", source: source},
		{name: "centre", value: stays.Centre / 1e6, unit: "MPa", formula: "that stays", source: source},
		{name: "surface", value: stays.Surface / 1e6, unit: "MPa", formula: "that stays", source: source},
		{name: "passing", value: surface / 1e6, unit: "MPa", formula: "greatest tension of a face on the way", source: source},
		{name: "risk", text: risk.String(), formula: fmt.Sprintf("of %.3g MPa: low below 7, some below 19, high below 41 MPa", alike/1e6),
			source: fatigued},
	}, nil
}

func answerRelax(g given) ([]figure, error) {
	tau, err := cool.MaxwellS(g.of("viscosity"), 1e6*g.of("shear"))
	if err != nil {
		return nil, err
	}
	left, err := cool.Maxwell(1e6*g.of("stress"), g.of("viscosity"), 1e6*g.of("shear"), g.of("time"))
	if err != nil {
		return nil, err
	}
	adams, err := cool.AdamsWilliamson(1e6*g.of("stress"), g.of("constant")/1e6, g.of("time"))
	if err != nil {
		return nil, err
	}
	needs, err := cool.AdamsWilliamsonS(1e6*g.of("stress"), 1e6*g.of("to"), g.of("constant")/1e6)
	if err != nil {
		return nil, err
	}
	const maxwell, adamsSource = "Maxwell; optimistic near the strain point", "Adams and Williamson 1920, from memory; its constant is of the glass"
	return []figure{
		{name: "constant", value: tau, unit: "s", formula: "eta/G", source: maxwell},
		{name: "left", value: left / 1e6, unit: "MPa", formula: "s exp(-G t/eta)", source: maxwell},
		{name: "adamsleft", value: adams / 1e6, unit: "MPa", formula: "1/s - 1/s0 = A t", source: adamsSource},
		{name: "adamstime", value: needs, unit: "s", formula: "(1/s - 1/s0)/A", source: adamsSource},
	}, nil
}

func answerShock(g given) ([]figure, error) {
	glass := coolGlassOf(g)
	sudden, err := glass.ShockK(1e6 * g.of("strength"))
	if err != nil {
		return nil, err
	}
	slower, err := glass.ShockFilmK(1e6*g.of("strength"), g.of("size")/1000, g.of("film"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "sudden", value: sudden, unit: "K", formula: "s (1-nu)/(E a), perfect contact", source: "derived"},
		{name: "through", value: slower, unit: "K", formula: "x 1.5 + 3.25/Bi - 0.5 exp(-16/Bi)", source: "Kingery, from memory"},
	}, nil
}

func answerPolariscope(g given) ([]figure, error) {
	nm, err := cool.RetardationNM(1e6*g.of("difference"), g.of("path"), g.of("optical"))
	if err != nil {
		return nil, err
	}
	pa, err := cool.DifferencePa(g.of("seen"), g.of("path"), g.of("optical"))
	if err != nil {
		return nil, err
	}
	const source = "law of Brewster; constant of float glass from its data sheet, of DURAN 4.0e-12, found"
	return []figure{
		{name: "retardation", value: nm, unit: "nm", formula: "C t (s1 - s2)", source: source},
		{name: "stress", value: pa / 1e6, unit: "MPa", formula: "seen/(C t)", source: source},
	}, nil
}

func answerTemper(g given) ([]figure, error) {
	apparent, err := cool.ApparentTemper(g.of("analyser"))
	if err != nil {
		return nil, err
	}
	real, err := cool.RealTemper(float64(apparent), g.of("thickness"))
	if err != nil {
		return nil, err
	}
	nm, err := cool.SenarmontNM(g.of("wavelength"), g.of("analyser"))
	if err != nil {
		return nil, err
	}
	pa, err := cool.DifferencePa(nm, g.of("thickness"), g.of("optical"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "apparent", value: float64(apparent), formula: "temper number of the turn", source: c148},
		{name: "real", value: real, formula: "apparent x 4.06/thickness", source: "ASTM C148, found"},
		{name: "retardation", value: nm, unit: "nm", formula: "lambda phi/180", source: "Senarmont, ASTM F218"},
		{name: "stress", value: pa / 1e6, unit: "MPa", formula: "retardation/(C t)", source: "law of Brewster"},
	}, nil
}

func answerRisk(g given) ([]figure, error) {
	risk, alike, err := cool.Risk(1e6*g.of("tension"), g.of("time"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "alike", value: alike / 1e6, unit: "MPa", formula: "s (t/60 s)^(1/10): as dangerous for 60 s", source: fatigued},
		{name: "risk", text: risk.String(), formula: "low below 7, some below 19, high below 41 MPa; a grade, not a promise",
			source: fatigued},
	}, nil
}
