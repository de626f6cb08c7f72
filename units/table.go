package units

type unit struct {
	name   string
	factor float64 // to the base unit
}

type dimension struct {
	example string
	units   []unit // the base unit first
}

// order fixes which dimension an unknown-here unit is reported as.
var order = []Dimension{
	Temperature, Difference, Length, Speed, Force, Pressure, Flow,
	Rotation, Time, Mass, Power, Volume, Wavelength, Share,
	Viscosity, Stress, Conductivity, Transfer, Flux, HeatCapacity, Density, Expansion, Tension, Angle,
	Roughness, Rate, StressOptic,
}

var table = map[Dimension]dimension{
	Temperature: {"780 C", []unit{{"C", 1}}},
	Difference:  {"15 K", []unit{{"K", 1}}},
	Length:      {"17 mm", []unit{{"mm", 1}, {"cm", 10}, {"m", 1000}}},
	Speed:       {"5 mm/s", []unit{{"mm/s", 1}, {"m/s", 1000}}},
	Force:       {"45 N", []unit{{"N", 1}, {"kN", 1000}}},
	Pressure:    {"1.5 bar", []unit{{"bar", 1}, {"mbar", 1e-3}, {"kPa", 1e-2}}},
	Flow: {"3.0 L/min", []unit{{"L/min", 1}, {"mL/min", 1e-3}, {"m3/min", 1000},
		{"m3/h", 1000.0 / 60}}},
	Rotation:   {"60 rpm", []unit{{"rpm", 1}}},
	Time:       {"12 s", []unit{{"s", 1}, {"ms", 1e-3}, {"min", 60}, {"h", 3600}}},
	Mass:       {"0.6 kg", []unit{{"kg", 1}, {"g", 1e-3}}},
	Power:      {"4 kW", []unit{{"kW", 1}, {"W", 1e-3}}},
	Volume:     {"50 L", []unit{{"L", 1}, {"m3", 1000}, {"mL", 1e-3}, {"cm3", 1e-3}, {"mm3", 1e-6}}},
	Wavelength: {"5 um", []unit{{"um", 1}}},
	Share:      {"20 %", []unit{{"%", 1}}},
	// Of calculations about glass.
	Viscosity:    {"1e5 Pa.s", []unit{{"Pa.s", 1}, {"dPa.s", 0.1}, {"P", 0.1}}},
	Stress:       {"10 MPa", []unit{{"MPa", 1}, {"GPa", 1000}}},
	Conductivity: {"0.94 W/(m.K)", []unit{{"W/(m.K)", 1}}},
	Transfer:     {"1500 W/(m2.K)", []unit{{"W/(m2.K)", 1}}},
	Flux:         {"30 kW/m2", []unit{{"kW/m2", 1}, {"W/m2", 1e-3}}},
	HeatCapacity: {"880 J/(kg.K)", []unit{{"J/(kg.K)", 1}}},
	Density:      {"2500 kg/m3", []unit{{"kg/m3", 1}}},
	Expansion:    {"8.3e-6 /K", []unit{{"/K", 1}, {"ppm/K", 1e-6}, {"/F", 1.8}}},
	StressOptic:  {"2.6e-12 /Pa", []unit{{"/Pa", 1}, {"/TPa", 1e-12}}},
	Tension:      {"0.315 N/m", []unit{{"N/m", 1}}},
	Rate:         {"10 K/min", []unit{{"K/min", 1}, {"K/s", 60}, {"K/h", 1.0 / 60}}},
	// Of drawings.
	Angle:     {"5 deg", []unit{{"deg", 1}}},
	Roughness: {"0.3 um", []unit{{"um", 1}}},
}
