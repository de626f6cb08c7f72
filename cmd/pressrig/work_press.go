package main

import (
	"fmt"
	"math"

	"pressrig/glass/squeeze"
	"pressrig/units"
)

var (
	takesShape = quantity{name: "shape", words: []string{"disc", "openbore", "closedbore"}, usual: "disc",
		what: "a ring's bore is open, or closed by a core"}
	takesWide   = quantity{name: "outside", in: units.Length, usual: "20 mm", what: "outer diameter"}
	takesBore   = quantity{name: "bore", in: units.Length, usual: "6 mm", what: "diameter; not of a disc"}
	takesThick  = quantity{name: "thickness", in: units.Length, usual: "4 mm", what: "of the glass"}
	takesForce  = quantity{name: "force", in: units.Force, usual: "200 N", what: "of the press"}
	takesSoft   = quantity{name: "viscosity", in: units.Viscosity, usual: "1e4 Pa.s", what: "of the glass"}
	takesPocket = []quantity{
		{name: "pocket", words: []string{"slot", "hole"}, usual: "slot", what: "slot between pin and hole, or a round hole"},
		{name: "size", in: units.Length, usual: "0.8 mm", what: "width of the slot, radius of the hole"},
		{name: "depth", in: units.Length, usual: "1.5 mm", what: "to be filled"},
	}
	takesEdge  = quantity{name: "edge", in: units.Length, usual: "2 mm", what: "radius when the glass reaches the wall"}
	takesPress = quantity{name: "pressure", in: units.Stress, usual: "0.42 MPa", what: "on the glass; 300 N on 30 mm"}
)

var pressQuestions = []question{
	{"press", "force", "force that a closing speed needs, and the pressure",
		[]quantity{takesShape, takesWide, takesBore, takesThick, takesSoft,
			{name: "speed", in: units.Speed, usual: "1 mm/s", what: "of closing"}}, answerForce},
	{"press", "time", "how long a force takes from one thickness to another, without skin",
		[]quantity{{name: "outside", in: units.Length, usual: "20 mm", what: "diameter at the start"},
			{name: "from", in: units.Length, usual: "10 mm", what: "thickness"},
			{name: "to", in: units.Length, usual: "4 mm", what: "thickness"}, takesForce, takesSoft}, answerPressTime},
	{"press", "stroke", "a whole stroke on glass that chills: how it ends, and what fills",
		with([]quantity{
			{name: "kind", glass: true, usual: "soda-lime-lamp", what: "of glass"},
			takesHot, takesMould, takesMetal,
			{name: "conductivity", in: units.Conductivity, usual: "1.6 W/(m.K)", what: "of hot glass; from memory"},
			{name: "density", in: units.Density, usual: "2500 kg/m3", what: "of the glass"},
			{name: "capacity", in: units.HeatCapacity, usual: "1300 J/(kg.K)", what: "of hot glass; from memory"},
			{name: "outside", in: units.Length, usual: "23.7 mm", what: "diameter of the soft glass at touch"},
			{name: "from", in: units.Length, usual: "8 mm", what: "its height"},
			{name: "wall", in: units.Length, usual: "30 mm", what: "diameter of the mould"},
			{name: "to", in: units.Length, usual: "5 mm", what: "thickness wanted"},
			{name: "drive", words: []string{"force", "speed"}, usual: "force",
				what: "slows down at the force, or keeps its speed and trips"},
			{name: "force", in: units.Force, usual: "250 N", what: "limit of the press"},
			{name: "speed", in: units.Speed, usual: "10 mm/s", what: "commanded"},
			{name: "hold", in: units.Time, usual: "2 s", what: "pressed after the stroke"}, takesEdge,
			{name: "tension", in: units.Tension, usual: "0.315 N/m", what: "of the surface"},
		}, with(takesTouch, takesPocket...)...), answerStroke},
	{"press", "pocket", "how long a bead hole takes to fill, and whether its skin shuts it",
		with(takesPocket, takesSoft, takesPress,
			quantity{name: "glass", in: units.Temperature, usual: "900 C", what: "that flows in"},
			quantity{name: "pin", in: units.Temperature, usual: "500 C", what: "between glass and pin or wall"},
			quantity{name: "stiff", in: units.Temperature, usual: "740 C", what: "below which glass is skin"},
			quantity{name: "diffusivity", usual: "4.26e-7", what: "of the glass, m2/s"},
			takesUnder), answerPocket},
	{"press", "edge", "how round an edge stays under a pressure",
		[]quantity{takesEdge, takesPress, takesSoft, takesUnder,
			{name: "tension", in: units.Tension, usual: "0.315 N/m", what: "of the surface"}}, answerEdge},
}

var takesUnder = quantity{name: "time", in: units.Time, usual: "2 s", what: "under pressure"}

const (
	stefanFlow = "Stefan 1874, Reynolds; from memory, confirmed by derivation"
	gentFlow   = "Gent 1960 as in ASTM C1351M; from memory, both limits derived"
	birdFlow   = "Bird, Stewart, Lightfoot 3C.1; from memory, confirmed by derivation"
	ringFlow   = "Reynolds's equation integrated, derived"
	poiseuille = "Poiseuille, integrated over the filled depth, derived"
	chillFlow  = "finite volumes and layered Newtonian flow, derived; contact is a guess until fitted"
	edgeGuess  = "derived size; that walls slow it three times is a guess, fit it"
)

// gapOf is the gap of a question.
func gapOf(g given) squeeze.Gap {
	gap := squeeze.Gap{OuterM: g.of("outside") / 2000, ThickM: g.of("thickness") / 1000}
	switch g.word("shape") {
	case "openbore":
		gap.Shape, gap.InnerM = squeeze.OpenBore, g.of("bore")/2000
	case "closedbore":
		gap.Shape, gap.InnerM = squeeze.ClosedBore, g.of("bore")/2000
	}
	return gap
}

func answerForce(g given) ([]figure, error) {
	gap := gapOf(g)
	eta, speed := g.of("viscosity"), g.of("speed")/1000
	thin, err := gap.Force(eta, speed)
	if err != nil {
		return nil, err
	}
	gap.ThickPart = true
	thick, err := gap.Force(eta, speed)
	if err != nil {
		return nil, err
	}
	mean, crest, err := gap.Pressure(thick)
	if err != nil {
		return nil, err
	}
	formula, source := "3 pi eta R^4 v/(2 h^3)", stefanFlow
	switch gap.Shape {
	case squeeze.OpenBore:
		formula, source = "3 pi eta v/(2h^3) [R^4-a^4-(R^2-a^2)^2/ln(R/a)]", ringFlow
	case squeeze.ClosedBore:
		formula, source = "3 pi eta v/(2h^3) [R^4-4a^2R^2+3a^4+4a^4 ln(R/a)]", ringFlow
	}
	return []figure{
		{name: "force", value: thin, unit: "N", formula: formula, source: source},
		{name: "thickforce", value: thick, unit: "N", formula: "force + 3 eta A v/h, of a sample that is not thin", source: gentFlow},
		{name: "mean", value: mean / 1e6, unit: "MPa", formula: "thickforce/area", source: source},
		{name: "greatest", value: crest / 1e6, unit: "MPa", formula: "at the centre, the core or between the edges", source: source},
	}, nil
}

func answerPressTime(g given) ([]figure, error) {
	r := g.of("outside") / 2000
	w := squeeze.Way{FromM: g.of("from") / 1000, ToM: g.of("to") / 1000, ForceN: g.of("force"),
		ViscosityPaS: g.of("viscosity")}
	area, err := w.ConstantAreaS(r)
	if err != nil {
		return nil, err
	}
	volume := math.Pi * r * r * w.FromM
	free, err := w.ConstantVolumeS(volume, false)
	if err != nil {
		return nil, err
	}
	thick, err := w.ConstantVolumeS(volume, true)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "area", value: area, unit: "s", formula: "3 pi eta R^4/(4F) (1/h1^2 - 1/h0^2), area constant", source: birdFlow},
		{name: "volume", value: free, unit: "s", formula: "3 eta V^2/(8 pi F) (1/h1^4 - 1/h0^4), volume constant", source: birdFlow},
		{name: "thick", value: thick, unit: "s", formula: "volume + 3 eta V/F (1/h1 - 1/h0)", source: gentFlow},
	}, nil
}

// strokeNodes across the gap: twice as many change a time by half a per cent.
const strokeNodes = 25

func answerStroke(g given) ([]figure, error) {
	kind := g.glasses["kind"]
	touch, err := touchOf(g)
	if err != nil {
		return nil, err
	}
	hot := squeeze.Hot{LogPaS: kind.LogViscosityPaS, Density: g.of("density"), Conductivity: g.of("conductivity"),
		Capacity: g.of("capacity"), StiffC: float64(kind.SofteningC)}
	h0 := g.of("from") / 1000
	c, err := squeeze.NewChilled(hot, h0, g.of("glass"), touch, touch, strokeNodes)
	if err != nil {
		return nil, err
	}
	s := squeeze.Stroke{Gap: squeeze.Gap{OuterM: g.of("outside") / 2000, ThickM: h0, ThickPart: true}, Spreads: true,
		WallM: g.of("wall") / 2000, ToM: g.of("to") / 1000, SpeedMS: g.of("speed") / 1000, ForceN: g.of("force"),
		LongS: 60}
	if g.word("drive") == "speed" {
		s.Drive = squeeze.BySpeed
	}
	run, err := s.Close(c)
	if err != nil {
		return nil, err
	}
	figures := strokeFigures(run)
	if run.End == squeeze.OverForce {
		return figures, nil // a press that tripped holds nothing
	}
	held, err := run.Hold(c, g.of("force"), g.of("hold"))
	if err != nil {
		return nil, err
	}
	filled, err := fillFigures(g, append(run.Trace, held...))
	return append(figures, filled...), err
}

func strokeFigures(run squeeze.Run) []figure {
	first, last := run.Trace[0], run.Trace[len(run.Trace)-1]
	return []figure{
		{name: "end", text: run.End.String(), formula: "closed, full, frozen, over-force or out of time", source: chillFlow},
		{name: "time", value: run.S, unit: "s", formula: "from touch", source: chillFlow},
		{name: "thickness", value: 1000 * run.ThickM, unit: "mm", formula: "reached", source: chillFlow},
		{name: "width", value: 2000 * run.OuterM, unit: "mm", formula: "diameter reached, volume constant", source: chillFlow},
		{name: "peak", value: run.PeakN, unit: "N", formula: "greatest force of the stroke", source: chillFlow},
		{name: "before", value: math.Log10(first.GapPaS), formula: "log10 of Pa.s of the gap at touch", source: chillFlow},
		{name: "after", value: math.Log10(last.GapPaS), formula: "log10 of Pa.s of the gap at the end, with its skin", source: chillFlow},
		{name: "skin", value: 1000 * last.SkinM, unit: "mm", formula: "below the softening point, at each face", source: chillFlow},
	}
}

func pocketOf(g given) squeeze.Pocket {
	return squeeze.Pocket{Slot: g.word("pocket") == "slot", SizeM: g.of("size") / 1000, DepthM: g.of("depth") / 1000}
}

func fillFigures(g given, all []squeeze.Moment) ([]figure, error) {
	bead, err := pocketOf(g).Fill(all)
	if err != nil {
		return nil, err
	}
	edge, err := squeeze.Edge{StartM: g.of("edge") / 1000, WallM: g.of("wall") / 2000,
		TensionNM: g.of("tension")}.LeftM(all)
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "bead", value: 1000 * bead.DepthM, unit: "mm", formula: "depth filled by stroke and hold, pins as hot as the glass",
			source: poiseuille},
		{name: "edge", value: 1000 * edge, unit: "mm", formula: "radius left: dr/dt = -(p r - gamma)/(6 eta) once at the wall",
			source: edgeGuess},
	}, nil
}

// pocketSteps divide the time of a question about steady pressure.
const pocketSteps = 400

// steadyAt is a constant pressure on glass of one viscosity.
func steadyAt(g given, wallM float64) []squeeze.Moment {
	list := make([]squeeze.Moment, pocketSteps+1)
	for i := range list {
		list[i] = squeeze.Moment{S: g.of("time") * float64(i) / pocketSteps, OuterM: wallM,
			MeanPa: 1e6 * g.of("pressure"), GapPaS: g.of("viscosity"), CorePaS: g.of("viscosity")}
	}
	return list
}

func answerPocket(g given) ([]figure, error) {
	p := pocketOf(g)
	free, err := p.Seconds(g.of("viscosity"), 1e6*g.of("pressure"))
	if err != nil {
		return nil, err
	}
	f := squeeze.Freeze{GlassC: g.of("glass"), InterfaceC: g.of("pin"), StiffC: g.of("stiff"),
		Diffusivity: g.of("diffusivity")}
	if _, err := f.SkinM(max(g.of("time"), 1e-3)); err != nil {
		return nil, err
	}
	p.SkinM = func(s float64) float64 {
		skin, err := f.SkinM(s)
		if err != nil {
			return 0 // before the first microsecond; the rest was checked above
		}
		return skin
	}
	got, err := p.Fill(steadyAt(g, 0))
	if err != nil {
		return nil, err
	}
	verdict := "still flowing"
	switch {
	case got.Full:
		verdict = fmt.Sprintf("full after %.3g s", got.S)
	case got.Closed:
		verdict = fmt.Sprintf("shut by its skin after %.3g s", got.S)
	}
	const closing = "derived: r^4/r^2 or s^3/s of what the skin leaves open"
	return []figure{
		{name: "without", value: free, unit: "s", formula: "4 (hole) or 6 (slot) x eta L^2/(size^2 p), without skin", source: poiseuille},
		{name: "depth", value: 1000 * got.DepthM, unit: "mm", formula: "filled within the time, its walls chilling", source: closing},
		{name: "verdict", text: verdict, formula: "full before its skin shuts it", source: closing},
	}, nil
}

func answerEdge(g given) ([]figure, error) {
	const wall = 0.01 // any: the glass stands at it
	e := squeeze.Edge{StartM: g.of("edge") / 1000, WallM: wall, TensionNM: g.of("tension")}
	least, err := e.LeastM(1e6 * g.of("pressure"))
	if err != nil {
		return nil, err
	}
	if t := g.of("time"); !(t >= 0 && t <= 600) {
		return nil, fmt.Errorf("time is %g s; it must lie between 0 and 600 s", t)
	}
	if eta := g.of("viscosity"); !(eta >= 1 && eta <= 1e18) {
		return nil, fmt.Errorf("viscosity is %g Pa.s; it must lie between 1 and 1e+18", eta)
	}
	left, err := e.LeftM(steadyAt(g, wall))
	if err != nil {
		return nil, err
	}
	return []figure{
		{name: "left", value: 1000 * left, unit: "mm", formula: "least + (edge - least) exp(-p t/(6 eta))", source: edgeGuess},
		{name: "least", value: 1000 * least, unit: "mm", formula: "gamma/p: never the limit, freezing is", source: "surface tension, derived"},
	}, nil
}
