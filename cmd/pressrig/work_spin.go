package main

import (
	"pressrig/glass/heat"
	"pressrig/units"
)

var (
	takesSpeed  = quantity{name: "speed", in: units.Rotation, usual: "60 rpm", what: "of the spindle"}
	takesRadius = quantity{name: "radius", in: units.Length, usual: "15 mm", what: "of the ring"}
	takesEta    = quantity{name: "viscosity", in: units.Viscosity, usual: "1e4 Pa.s", what: "of the soft ring"}
	takesArc    = quantity{name: "arc", in: units.Share, usual: "25 %", what: "of a turn in the flame"}
	takesGamma  = quantity{name: "tension", in: units.Tension, usual: "0.315 N/m",
		what: "of the surface; float glass at 1,300 C"}
	takesFire = quantity{name: "flux", in: units.Flux, usual: "500 kW/m2", what: "in the flame"}
)

var spinQuestions = []question{
	{"spin", "ripple", "how far the surface swings each turn, and the speed for a limit",
		with(takesHeat, takesFire, takesArc, takesSpeed,
			quantity{name: "limit", in: units.Difference, usual: "100 K", what: "of the swing"}), answerRipple},
	{"spin", "growth", "how fast a soft ring widens as it turns, and the speed for a limit",
		[]quantity{takesRho, takesRadius, takesEta, takesSpeed,
			{name: "limit", in: units.Share, usual: "1 %", what: "of the radius"},
			{name: "time", in: units.Time, usual: "10 s", what: "that it is soft"}}, answerGrowth},
	{"spin", "balance", "speeds at which turning equals weight and surface tension",
		[]quantity{takesRho, takesRadius, takesGamma}, answerBalance},
	{"spin", "sag", "how far a soft ring on a level spindle sags in a turn, and the speed for a limit",
		[]quantity{takesRho, takesRadius, takesEta, takesSpeed,
			{name: "geometry", usual: "1", what: "factor of its shape; a guess"},
			{name: "limit", in: units.Share, usual: "2 %", what: "strain in a turn"}}, answerSag},
	{"spin", "window", "speeds that neither ripple, nor sag, nor widen the ring",
		with(takesHeat, takesFire, takesArc, takesRadius,
			quantity{name: "viscosity", in: units.Viscosity, usual: "1e5 Pa.s", what: "of the soft ring"},
			quantity{name: "ripple", in: units.Difference, usual: "100 K", what: "limit"},
			quantity{name: "spindle", words: []string{"level", "upright"}, usual: "level", what: "its axis"},
			quantity{name: "sag", in: units.Share, usual: "2 %", what: "limit a turn; level only"},
			quantity{name: "geometry", usual: "1", what: "factor of its shape; a guess"},
			quantity{name: "growth", in: units.Share, usual: "1 %", what: "limit of the widening"},
			quantity{name: "time", in: units.Time, usual: "20 s", what: "that it is soft"}), answerWindow},
	{"spin", "rounding", "how fast surface tension rounds an edge in the fire",
		[]quantity{takesEta, takesGamma,
			{name: "edge", in: units.Length, usual: "0.5 mm", what: "radius to reach"},
			{name: "time", in: units.Time, usual: "10 s", what: "in the fire"}}, answerRounding},
}

const ownSpin = "derived; no published limit found"

func answerRipple(g given) ([]figure, error) {
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	flux, arc, k := 1000*g.of("flux"), g.of("arc")/100, g.of("conductivity")
	ripple, err := heat.Ripple(flux, arc, g.of("speed"), k, kappa)
	if err != nil {
		return nil, err
	}
	least, err := heat.RippleSpeed(g.of("limit"), flux, arc, k, kappa)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "ripple", value: ripple, unit: "K", formula: "(2q/k) sqrt(kappa t/pi), t in the flame a turn",
			source: carslaw},
		{name: "meanflux", value: g.of("flux") * arc, unit: "kW/m2", formula: "q x part of a turn", source: ownSpin},
		{name: "leastspeed", value: least, unit: "rpm", formula: "the same, for the limit", source: ownSpin},
	}, nil
}

func answerGrowth(g given) ([]figure, error) {
	rho, r, eta := g.of("density"), g.of("radius")/1000, g.of("viscosity")
	rate, err := heat.Growth(rho, r, eta, g.of("speed"))
	if err != nil {
		return nil, err
	}
	hoop, err := heat.HoopStress(rho, r, g.of("speed"))
	if err != nil {
		return nil, err
	}
	most, err := heat.GrowthSpeed(rho, r, eta, g.of("limit")/100, g.of("time"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "hoop", value: hoop, unit: "Pa", formula: "rho w^2 r^2", source: ownSpin},
		{name: "growth", value: 100 * rate, unit: "%/s", formula: "rho w^2 r^2/(3 eta)", source: ownSpin},
		{name: "mostspeed", value: most, unit: "rpm", formula: "growth x time = limit", source: ownSpin},
	}, nil
}

func answerBalance(g given) ([]figure, error) {
	r := g.of("radius") / 1000
	weight, err := heat.GravitySpeed(r)
	if err != nil {
		return nil, err
	}
	tension, err := heat.TensionSpeed(g.of("tension"), g.of("density"), r)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "weight", value: weight, unit: "rpm", formula: "(30/pi) sqrt(g/r)", source: ownSpin},
		{name: "surfacetension", value: tension, unit: "rpm", formula: "rho w^2 r^3 = gamma", source: ownSpin},
	}, nil
}

func answerSag(g given) ([]figure, error) {
	rho, d, eta := g.of("density"), 2*g.of("radius")/1000, g.of("viscosity")
	sag, err := heat.Sag(rho, d, eta, g.of("speed"), g.of("geometry"))
	if err != nil {
		return nil, err
	}
	least, err := heat.SagSpeed(g.of("limit")/100, rho, d, eta, g.of("geometry"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "sag", value: 100 * sag, unit: "%", formula: "rho g D/eta x time of a turn x geometry",
			source: ownSpin},
		{name: "leastspeed", value: least, unit: "rpm", formula: "the same, for the limit", source: ownSpin},
	}, nil
}

func answerWindow(g given) ([]figure, error) {
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	t := heat.Turning{Density: g.of("density"), Radius: g.of("radius") / 1000,
		Viscosity: g.of("viscosity"), Conductivity: g.of("conductivity"), Diffusivity: kappa,
		Flux: 1000 * g.of("flux"), Arc: g.of("arc") / 100, Ripple: g.of("ripple"),
		Growth: g.of("growth") / 100, Seconds: g.of("time")}
	if g.word("spindle") == "level" {
		t.Sag, t.Geometry = max(g.of("sag")/100, 1e-9), g.of("geometry")
	}
	w, err := t.Speeds()
	if err != nil {
		return nil, err
	}
	open := "open"
	if !w.Open() {
		open = "shut: less flux, or stiffer glass while it turns"
	}
	return []figure{
		{name: "leastspeed", value: w.Least, unit: "rpm", formula: "set by " + w.LeastBy, source: ownSpin},
		{name: "mostspeed", value: w.Most, unit: "rpm", formula: "set by " + w.MostBy, source: ownSpin},
		{name: "window", text: open, formula: "least below most", source: ownSpin},
	}, nil
}

func answerRounding(g given) ([]figure, error) {
	seconds, err := heat.RoundingTime(g.of("viscosity"), g.of("edge")/1000, g.of("tension"))
	if err != nil {
		return nil, err
	}
	radius, err := heat.Rounding(g.of("viscosity"), g.of("tension"), g.of("time"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "needs", value: seconds, unit: "s", formula: "eta r/gamma", source: ownSpin},
		{name: "radius", value: 1000 * radius, unit: "mm", formula: "gamma t/eta", source: ownSpin},
	}, nil
}
