package main

import (
	"fmt"

	"pressrig/glass/heat"
	"pressrig/glass/mould"
	"pressrig/glass/squeeze"
	"pressrig/units"
)

var (
	takesStrain = quantity{name: "strain", in: units.Temperature, usual: "511 C", what: "strain point"}
	takesAnneal = quantity{name: "annealing", in: units.Temperature, usual: "548 C", what: "annealing point"}
	takesHot    = quantity{name: "glass", in: units.Temperature, usual: "900 C", what: "at contact"}
	takesMould  = quantity{name: "mould", in: units.Temperature, usual: "450 C", what: "before contact"}
	takesMetal  = quantity{name: "material", words: mould.Names(), usual: "cast-iron", what: "of the mould"}
	takesCoat   = quantity{name: "coating", in: units.Difference, usual: "0 K",
		what: "more than bare metal stands; carbon 20 to 40"}
	takesStiff = quantity{name: "stiff", in: units.Temperature, usual: "715 C", what: "below which glass is skin"}
	takesTouch = []quantity{
		{name: "first", in: units.Transfer, usual: "6000 W/(m2.K)", what: "contact at touch; a guess, fit it"},
		{name: "last", in: units.Transfer, usual: "1800 W/(m2.K)", what: "contact once the glass shrank; a guess"},
		{name: "fall", in: units.Time, usual: "0.5 s", what: "from the one to the other; a guess"},
	}
)

var mouldQuestions = []question{
	{"mould", "window", "how warm a mould may be for a glass, between chill and sticking",
		with(takesHeat, takesStrain, takesAnneal, takesHot, takesMetal, takesCoat), answerMouldWindow},
	{"mould", "run", "how a mould half warms over a run of pieces",
		[]quantity{
			{name: "rest", in: units.Temperature, usual: "430 C", what: "where its own heating holds it"},
			{name: "start", in: units.Temperature, usual: "430 C", what: "before the first piece"},
			{name: "blank", in: units.Mass, usual: "8.8 g", what: "mass of a piece"},
			{name: "from", in: units.Temperature, usual: "900 C", what: "mean of the piece at contact"},
			{name: "to", in: units.Temperature, usual: "690 C", what: "mean of the piece at parting"},
			{name: "capacity", in: units.HeatCapacity, usual: "1180 J/(kg.K)", what: "of the glass between"},
			{name: "share", in: units.Share, usual: "50 %", what: "of that heat into this half"},
			{name: "flame", in: units.Power, usual: "60 W", what: "into this half while the blank is heated; a guess"},
			{name: "heating", in: units.Time, usual: "45 s", what: "of the blank"},
			{name: "half", in: units.Mass, usual: "0.6 kg", what: "mass of the mould half"}, takesMetal,
			{name: "constant", in: units.Time, usual: "420 s", what: "of falling back; measure it"},
			{name: "cycle", in: units.Time, usual: "180 s", what: "from piece to piece"},
			{name: "pieces", usual: "6", what: "number pressed"},
			{name: "band", in: units.Difference, usual: "5 K", what: "that counts as settled"},
		}, answerRun},
	{"mould", "size", "how large a mould is cut cold for a piece",
		[]quantity{
			{name: "part", in: units.Length, usual: "30 mm", what: "size of the cold piece"},
			{name: "expansion", in: units.Expansion, usual: "8.3e-6 /K", what: "of the glass, 20 C to setting"},
			{name: "set", in: units.Temperature, usual: "530 C", what: "where the glass sets"},
			takesMetal, takesMould,
			{name: "parting", in: units.Temperature, usual: "500 C", what: "of the piece when it is let go"},
		}, answerSize},
	{"mould", "material", "what is known of a mould material", []quantity{takesMetal}, answerMaterial},
	{"chill", "face", "temperature between glass and mould, and whether it sticks or chills",
		with(takesHeat, takesStrain, takesAnneal, takesHot, takesMould, takesMetal, takesCoat), answerFace},
	{"chill", "freeze", "how long before the skin has eaten a gap",
		with(takesHeat, with(takesTouch, takesHot, takesMould, takesMetal, takesStiff,
			quantity{name: "gap", in: units.Length, usual: "4 mm", what: "thickness of the glass"},
			takesSec)...), answerFreeze},
}

const (
	sticking = "common practice, no source: annealing point +20 K and the coating, strain point -100 K"
	lumped   = "lumped, derived; +13 K and 7 min for 0.6 kg are common practice, no source"
)

// pairOf is the glass of a question and the effusivity of its mould.
func pairOf(g given) (mould.Glass, mould.Material, error) {
	e, err := heat.Effusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return mould.Glass{}, mould.Material{}, err
	}
	m, err := mould.Named(g.word("material"))
	return mould.Glass{StrainC: g.of("strain"), AnnealingC: g.of("annealing"), Effusivity: e}, m, err
}

func answerMouldWindow(g given) ([]figure, error) {
	glass, metal, err := pairOf(g)
	if err != nil {
		return nil, err
	}
	between, err := glass.InterfaceC(g.of("coating"))
	if err != nil {
		return nil, err
	}
	w, err := glass.MouldC(g.of("glass"), metal.Effusivity(), g.of("coating"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "leastinterface", value: between.LeastC, unit: "C", formula: "strain point - 100 K: colder chills", source: sticking},
		{name: "mostinterface", value: between.MostC, unit: "C", formula: "annealing point + 20 K + coating: hotter sticks", source: sticking},
		{name: "leastmould", value: w.LeastC, unit: "C", formula: "Ti - e1/e2 (Tglass - Ti)", source: effusion},
		{name: "mostmould", value: w.MostC, unit: "C", formula: "the same, for the hottest interface", source: effusion},
	}, nil
}

func answerFace(g given) ([]figure, error) {
	glass, metal, err := pairOf(g)
	if err != nil {
		return nil, err
	}
	v, err := glass.Judge(g.of("glass"), g.of("mould"), metal.Effusivity(), g.of("coating"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "interface", value: v.InterfaceC, unit: "C", formula: "(e1 T1 + e2 T2)/(e1 + e2), perfect contact", source: effusion},
		{name: "tosticking", value: v.ToStickK, unit: "K", formula: "annealing point + 20 K + coating - interface", source: sticking},
		{name: "tochill", value: v.ToChillK, unit: "K", formula: "interface - (strain point - 100 K)", source: sticking},
		{name: "verdict", text: v.String(), formula: "both distances positive", source: sticking},
	}, nil
}

func answerRun(g given) ([]figure, error) {
	metal, err := mould.Named(g.word("material"))
	if err != nil {
		return nil, err
	}
	joule, err := mould.HeatOfPiece(g.of("blank"), g.of("from"), g.of("to"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	joule = joule*g.of("share")/100 + 1000*g.of("flame")*g.of("heating")
	rise, err := mould.RisePerPieceK(joule, g.of("half"), metal.Capacity.Value)
	if err != nil {
		return nil, err
	}
	w := mould.Warming{RestC: g.of("rest"), RisePerK: rise, ConstantS: g.of("constant"), CycleS: g.of("cycle")}
	n := g.of("pieces")
	if !(n >= 0 && n <= 1e6) || n != float64(int(n)) {
		return nil, fmt.Errorf("pieces is %g; give a whole number from 0 to 1,000,000", n)
	}
	after, err := w.BeforeC(g.of("start"), int(n))
	if err != nil {
		return nil, err
	}
	settles, err := w.SettlesC()
	if err != nil {
		return nil, err
	}
	dummies, err := w.PiecesTo(g.of("start"), g.of("band"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "rise", value: rise, unit: "K", formula: "(share x m cp (from - to) + flame x heating)/(M c), a piece", source: lumped},
		{name: "after", value: after, unit: "C", formula: "before the next piece: T r^n + rise (r + ... + r^n)", source: lumped},
		{name: "settles", value: settles, unit: "C", formula: "rest + rise/(exp(cycle/constant) - 1)", source: lumped},
		{name: "pieces", value: float64(dummies), formula: "until within the band: dummies", source: lumped},
	}, nil
}

func answerSize(g given) ([]figure, error) {
	metal, err := mould.Named(g.word("material"))
	if err != nil {
		return nil, err
	}
	p := mould.Pair{GlassPerK: g.of("expansion"), SetC: g.of("set"), MouldPerK: metal.PerK.Value, MouldC: g.of("mould")}
	room, err := p.MouldMM(g.of("part"))
	if err != nil {
		return nil, err
	}
	p.MouldPerK = metal.HotPerK.Value
	hot, err := p.MouldMM(g.of("part"))
	if err != nil {
		return nil, err
	}
	grip, err := p.GripMM(g.of("part"), g.of("parting"))
	if err != nil {
		return nil, err
	}
	const formula = "part (1 + ag (set-20))/(1 + am (mould-20))"
	return []figure{
		{name: "mould", value: room, unit: "mm", formula: formula + ", expansion of the cold mould",
			source: "derived; expansion: " + metal.PerK.Source},
		{name: "mouldhot", value: hot, unit: "mm", formula: formula + ", mean expansion to 450 C: take this one",
			source: "derived; expansion: " + metal.HotPerK.Source},
		{name: "grip", value: grip, unit: "mm", formula: "part ag (set - parting): lets go of the cavity, grips cores and posts",
			source: "derived"},
	}, nil
}

func answerMaterial(g given) ([]figure, error) {
	m, err := mould.Named(g.word("material"))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "is", text: m.Label, formula: "name of the material", source: "table of this program"},
		{name: "expansion", value: m.PerK.Value, unit: "/K", formula: "at room temperature", source: m.PerK.Source},
		{name: "hotexpansion", value: m.HotPerK.Value, unit: "/K", formula: "mean from 20 to 450 C", source: m.HotPerK.Source},
		{name: "conductivity", value: m.Conductivity.Value, unit: "W/(m.K)", formula: "table", source: m.Conductivity.Source},
		{name: "density", value: m.Density.Value, unit: "kg/m3", formula: "table", source: m.Density.Source},
		{name: "capacity", value: m.Capacity.Value, unit: "J/(kg.K)", formula: "table", source: m.Capacity.Source},
		{name: "effusivity", value: m.Effusivity(), unit: "W.s^0.5/(m2.K)", formula: "sqrt(k rho cp)", source: "derived"},
	}, nil
}

// freezeNodes are enough for a skin, mostFreezeS longer than any press.
const (
	freezeNodes = 61
	mostFreezeS = 30.0
)

// touchOf is how both mould faces meet the glass of a question.
func touchOf(g given) (squeeze.Touch, error) {
	m, err := mould.Named(g.word("material"))
	return squeeze.Touch{MouldC: g.of("mould"), Effusivity: m.Effusivity(), FirstWM2K: g.of("first"),
		LastWM2K: g.of("last"), FallS: g.of("fall")}, err
}

func answerFreeze(g given) ([]figure, error) {
	touch, err := touchOf(g)
	if err != nil {
		return nil, err
	}
	e, err := heat.Effusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	kappa, err := heat.Diffusivity(g.of("conductivity"), g.of("density"), g.of("capacity"))
	if err != nil {
		return nil, err
	}
	between, err := heat.ContactC(g.of("glass"), e, g.of("mould"), touch.Effusivity)
	if err != nil {
		return nil, err
	}
	f := squeeze.Freeze{GlassC: g.of("glass"), InterfaceC: between, StiffC: g.of("stiff"), Diffusivity: kappa}
	skin, err := f.SkinM(g.of("time"))
	if err != nil {
		return nil, err
	}
	limit, err := f.LimitS(g.of("gap") / 1000)
	if err != nil {
		return nil, err
	}
	// its viscosity does not matter to a gap that stands
	hot := squeeze.Hot{LogPaS: func(float64) float64 { return 4 }, Density: g.of("density"),
		Conductivity: g.of("conductivity"), Capacity: g.of("capacity"), StiffC: g.of("stiff")}
	c, err := squeeze.NewChilled(hot, g.of("gap")/1000, g.of("glass"), touch, touch, freezeNodes)
	if err != nil {
		return nil, err
	}
	real, froze, err := c.FreezesS(mostFreezeS)
	if err != nil {
		return nil, err
	}
	contact := figure{name: "throughcontact", value: real, unit: "s",
		formula: "the same through a contact that falls", source: "finite volumes, derived; contact is a guess until fitted"}
	if !froze {
		contact.text, contact.unit = "not within 30 s", ""
	}
	return []figure{
		{name: "interface", value: between, unit: "C", formula: "(e1 T1 + e2 T2)/(e1 + e2), perfect contact", source: effusion},
		{name: "skin", value: 1000 * skin, unit: "mm", formula: "2 sqrt(kappa t) erfinv((stiff-interface)/(glass-interface))",
			source: carslaw},
		{name: "limit", value: limit, unit: "s", formula: "skin of a quarter of the gap from each side, perfect contact",
			source: "derived, to be tuned"},
		contact,
	}, nil
}
