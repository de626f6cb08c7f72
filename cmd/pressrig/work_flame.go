package main

import (
	"pressrig/glass/flame"
	"pressrig/units"
)

// fuelNames are the gases that a burner may burn here.
var fuelNames = []string{"propane", "methane", "natural_gas", "butane", "hydrogen"}

var (
	takesFuel   = quantity{name: "fuel", words: fuelNames, usual: "propane", what: "the gas"}
	takesFlow   = quantity{name: "flow", in: units.Flow, usual: "2.5 L/min", what: "fuel, at 0 C"}
	takesOxygen = quantity{name: "oxygen", in: units.Flow, usual: "12.5 L/min", what: "at 0 C"}
	takesAir    = quantity{name: "air", in: units.Flow, usual: "0 L/min",
		what: "fed or drawn from the room, at 0 C"}
)

const (
	hess     = "formation heats of published tables; propane's and butane's from memory"
	griMech  = "NASA polynomials of GRI-Mech 3.0, found; Gibbs minimum, derived"
	byCounts = "stoichiometry, exact"
)

var flameQuestions = []question{
	{"flame", "fuel", "what a fuel is worth and how much oxygen it needs",
		[]quantity{takesFuel}, answerFuel},
	{"flame", "power", "heat that a fuel flow sets free",
		[]quantity{takesFuel, takesFlow}, answerPower},
	{"flame", "temperature", "temperature and gases of a flame that loses no heat",
		[]quantity{takesFuel, takesFlow, takesOxygen, takesAir}, answerTemperature},
	{"flame", "character", "whether a flame reduces or oxidises, and may touch lead glass",
		[]quantity{takesFuel, takesFlow, takesOxygen, takesAir}, answerCharacter},
	{"flame", "cost", "gas that a time of burning uses, and its price",
		[]quantity{takesFuel, takesFlow, takesOxygen,
			{name: "time", in: units.Time, usual: "60 s", what: "of burning"},
			{name: "fuelprice", usual: "3", what: "of a kg of fuel, any currency; an invented figure"},
			{name: "oxygenprice", usual: "5", what: "of a m3 of oxygen; an invented figure"},
		}, answerCost},
}

func answerFuel(g given) ([]figure, error) {
	f, err := flame.Named(g.word("fuel"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "lower", value: f.LowerMJPerKg(), unit: "MJ/kg",
			formula: "Hess's law, water as gas", source: hess},
		{name: "higher", value: f.HigherMJPerKg(), unit: "MJ/kg",
			formula: "Hess's law, water as liquid", source: hess},
		{name: "lowerbyvolume", value: f.LowerMJPerM3(), unit: "MJ/m3",
			formula: "ideal gas at 0 C; real propane 2 % more", source: hess},
		{name: "oxygen", value: f.OxygenPerFuel(), unit: "",
			formula: "volumes to one of fuel: C + H/4", source: byCounts},
		{name: "air", value: f.AirPerFuel(), unit: "",
			formula: "volumes to one of fuel: oxygen/0.2095", source: byCounts},
		{name: "oxygenbymass", value: f.OxygenKgPerKg(), unit: "kg/kg",
			formula: "molar masses", source: byCounts},
	}, nil
}

func answerPower(g given) ([]figure, error) {
	f, err := flame.Named(g.word("fuel"))
	if err != nil {
		return nil, err
	}
	kw, err := f.PowerKW(g.of("flow"), 0)
	if err != nil {
		return nil, err
	}
	return []figure{{name: "power", value: kw, unit: "kW",
		formula: "moles a second x lower heating value", source: hess}}, nil
}

// mixtureOf is the mixture of a question's flows.
func mixtureOf(g given) (flame.Mixture, error) {
	f, err := flame.Named(g.word("fuel"))
	if err != nil {
		return flame.Mixture{}, err
	}
	return flame.Mixed(f, flame.Feed{Fuel: g.of("flow"), Oxygen: g.of("oxygen"), Air: g.of("air")})
}

func ratioFigure(m flame.Mixture) figure {
	return figure{name: "ratio", value: m.Ratio(), formula: "oxygen supplied / stoichiometric",
		source: byCounts}
}

func answerTemperature(g given) ([]figure, error) {
	m, err := mixtureOf(g)
	if err != nil {
		return nil, err
	}
	burnt, err := m.Burn()
	if err != nil {
		return nil, err
	}
	figures := []figure{ratioFigure(m), {name: "temperature", value: burnt.Celsius, unit: "C",
		formula: "enthalpy kept, gases in equilibrium at 1 atm, fed at 25 C", source: griMech}}
	for _, gas := range []string{"H2O", "CO2", "CO", "H2", "O2", "OH", "H", "O", "NO", "N2"} {
		share, err := burnt.Share(gas)
		if err != nil {
			return nil, err
		}
		figures = append(figures, figure{name: gas, value: 100 * share, unit: "%",
			formula: "share of the moles", source: griMech})
	}
	return figures, nil
}

func answerCharacter(g given) ([]figure, error) {
	m, err := mixtureOf(g)
	if err != nil {
		return nil, err
	}
	c, err := flame.CharacterOf(m.Ratio())
	if err != nil {
		return nil, err
	}
	lead := "fit"
	if why := flame.SpoilsLead(m.Ratio()); why != nil {
		lead = why.Error()
	}
	const trade = "common practice, no source"
	return []figure{ratioFigure(m),
		{name: "character", text: c.String(), formula: "neutral from 0.95 to 1.05", source: trade},
		{name: "lead", text: lead, formula: "ratio at least 1.1", source: trade},
	}, nil
}

func answerCost(g given) ([]figure, error) {
	f, err := flame.Named(g.word("fuel"))
	if err != nil {
		return nil, err
	}
	u, err := f.Burnt(g.of("flow"), g.of("oxygen"), g.of("time"))
	if err != nil {
		return nil, err
	}
	cost, err := u.Cost(g.of("fuelprice"), g.of("oxygenprice"))
	if err != nil {
		return nil, err
	}
	const ideal = "ideal gas, derived"
	return []figure{
		{name: "fuelused", value: u.FuelG, unit: "g", formula: "flow x time x molar mass", source: ideal},
		{name: "oxygenused", value: u.OxygenL, unit: "L", formula: "flow x time, at 0 C", source: ideal},
		{name: "energy", value: u.EnergyKJ, unit: "kJ", formula: "moles x lower heating value", source: hess},
		{name: "cost", value: cost, formula: "sum of both, in the currency of the prices",
			source: "prices as given"},
	}, nil
}
