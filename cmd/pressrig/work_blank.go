package main

import (
	"pressrig/glass/blank"
	"pressrig/units"
)

const litreMM3 = 1e6 // volumes are given in L, as mm3 or cm3 they are parsed to it

var takesTube = []quantity{
	{name: "outside", in: units.Length, usual: "29 mm", what: "of the tube"},
	{name: "bore", in: units.Length, usual: "24 mm", what: "of the tube"},
	{name: "outsidetolerance", in: units.Length, usual: "0.2 mm", what: "+-, data sheet"},
	{name: "walltolerance", in: units.Length, usual: "0.1 mm", what: "+-, data sheet; 0 if the bore is bound"},
	{name: "boretolerance", in: units.Length, usual: "0 mm", what: "+-, data sheet; 0 if the wall is bound"},
	{name: "density", in: units.Density, usual: "2500 kg/m3", what: "of the glass"},
}

var blankQuestions = []question{
	{"blank", "volume", "how much glass a piece needs: a disc with draft, holes, beads, tubulation, flash",
		[]quantity{
			{name: "diameter", in: units.Length, usual: "30 mm", what: "of the disc at its narrow face"},
			{name: "height", in: units.Length, usual: "6 mm", what: "of the disc"},
			{name: "draft", in: units.Angle, usual: "5 deg", what: "of its side; common practice, no source"},
			{name: "holes", in: units.Volume, usual: "0 mm3", what: "that pins and bores take out"},
			{name: "beads", usual: "0", what: "number of beads"},
			{name: "hole", in: units.Length, usual: "2.6 mm", what: "bead hole"},
			{name: "pin", in: units.Length, usual: "1 mm", what: "in it"},
			{name: "bead", in: units.Length, usual: "1.5 mm", what: "height of a bead"},
			{name: "tubulation", in: units.Volume, usual: "0 mm3", what: "pressed with the piece"},
			{name: "flash", in: units.Share, usual: "2 %", what: "added; 1 to 3, from memory"},
		}, answerVolume},
	{"blank", "cut", "how long a blank is cut, and how tolerances spread length and mass",
		with(takesTube,
			quantity{name: "volume", in: units.Volume, usual: "4000 mm3", what: "that the blank must have, cold"},
			quantity{name: "saw", in: units.Length, usual: "0.1 mm", what: "+- of the cut"},
			quantity{name: "tube", in: units.Length, usual: "1500 mm", what: "length at hand"},
			quantity{name: "held", in: units.Length, usual: "60 mm", what: "of it that the saw keeps"},
			quantity{name: "mouldheight", in: units.Length, usual: "25 mm", what: "tallest blank that the mould takes"},
			quantity{name: "mouldbore", in: units.Length, usual: "30 mm", what: "widest blank that the mould takes"},
		), answerCut},
	{"blank", "hot", "how much larger a volume is when hot",
		[]quantity{
			{name: "volume", in: units.Volume, usual: "4000 mm3", what: "cold"},
			{name: "expansion", in: units.Expansion, usual: "8.3e-6 /K", what: "of the glass, below its transformation"},
			{name: "transformation", in: units.Temperature, usual: "548 C", what: "about the annealing point"},
			{name: "hot", in: units.Temperature, usual: "900 C", what: "temperature"},
		}, answerHot},
	{"blank", "leaves", "whether a face of the piece leaves its mould",
		[]quantity{
			{name: "face", words: []string{"outside", "core", "post"}, usual: "outside", what: "which"},
			{name: "draft", in: units.Angle, usual: "5 deg", what: "negative is undercut"},
			{name: "height", in: units.Length, usual: "6 mm", what: "of the face"},
		}, answerLeaves},
}

const solid = "solid geometry, derived"

func answerVolume(g given) ([]figure, error) {
	disc, wide, err := blank.FrustumMM3(g.of("diameter")/2, g.of("height"), g.of("draft"))
	if err != nil {
		return nil, err
	}
	one, err := blank.BeadMM3(g.of("hole"), g.of("pin"), g.of("bead"))
	if err != nil {
		return nil, err
	}
	b := blank.Balance{Body: disc, Holes: litreMM3 * g.of("holes"), Beads: one * g.of("beads"),
		Tubulation: litreMM3 * g.of("tubulation"), Flash: g.of("flash") / 100}
	piece, err := b.Piece()
	if err != nil {
		return nil, err
	}
	whole, err := b.Blank()
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "disc", value: disc, unit: "mm3", formula: "pi h (R1^2+R1 R2+R2^2)/3", source: solid},
		{name: "wide", value: 2 * wide, unit: "mm", formula: "diameter at the wide face", source: solid},
		{name: "beads", value: b.Beads, unit: "mm3", formula: "number x pi/4 (hole^2-pin^2) height", source: solid},
		{name: "piece", value: piece, unit: "mm3", formula: "disc - holes + beads + tubulation", source: "volume balance, derived"},
		{name: "blank", value: whole, unit: "mm3", formula: "piece x (1 + flash)", source: "flash from memory, nothing published found"},
	}, nil
}

func answerCut(g given) ([]figure, error) {
	t := blank.Tube{OutsideMM: g.of("outside"), BoreMM: g.of("bore"), OutsideTolMM: g.of("outsidetolerance"),
		WallTolMM: g.of("walltolerance"), BoreTolMM: g.of("boretolerance")}
	c, err := t.Cut(litreMM3*g.of("volume"), g.of("density"), g.of("saw"))
	if err != nil {
		return nil, err
	}
	p := blank.Place{TubeMM: g.of("tube"), HeldMM: g.of("held"), MouldMM: g.of("mouldheight"),
		MouldBoreMM: g.of("mouldbore")}
	if err := p.Takes(c.LengthMM, t.OutsideMM); err != nil {
		return nil, err
	}
	const worst = "worst case of the data sheet's tolerances, derived"
	return []figure{
		{name: "length", value: c.LengthMM, unit: "mm", formula: "4 V/(pi (OD^2-ID^2))", source: solid},
		{name: "shortest", value: c.ShortestMM, unit: "mm", formula: "the same volume from the thickest tube", source: worst},
		{name: "longest", value: c.LongestMM, unit: "mm", formula: "the same volume from the thinnest tube", source: worst},
		{name: "mass", value: c.MassG, unit: "g", formula: "V rho: weigh the blank, and the tube's tolerances are gone", source: solid},
		{name: "leastmass", value: c.LeastMassG, unit: "g", formula: "of the nominal length, thinnest tube, short cut", source: worst},
		{name: "mostmass", value: c.GreatestMassG, unit: "g", formula: "of the nominal length, thickest tube, long cut", source: worst},
		{name: "likely", value: 100 * c.LikelyMassShare, unit: "%", formula: "+-, root of the sum of squares",
			source: "tolerances taken as independent, derived"},
	}, nil
}

func answerHot(g given) ([]figure, error) {
	cold := litreMM3 * g.of("volume")
	hot, err := blank.HotMM3(cold, g.of("expansion"), g.of("transformation"), g.of("hot"))
	if err != nil {
		return nil, err
	}
	more := 0.0
	if cold > 0 {
		more = 100 * (hot/cold - 1)
	}
	const source = "below the transformation derived; three times the expansion above it from memory"
	return []figure{
		{name: "hot", value: hot, unit: "mm3", formula: "V (1 + 3 a dT + 9 a dT above)", source: source},
		{name: "more", value: more, unit: "%", formula: "hot/cold - 1", source: source},
	}, nil
}

func answerLeaves(g given) ([]figure, error) {
	warning, err := blank.Leaves(g.word("face"), g.of("draft"), g.of("height"))
	if err != nil {
		return nil, err
	}
	if warning == "" {
		warning = "leaves its mould"
	}
	return []figure{{name: "verdict", text: warning, formula: "no draft is refused, below 2 degrees warned of",
		source: "5 degrees common practice, no source; 2 to 5 from memory"}}, nil
}
