package main

import (
	"fmt"
	"math"
	"os"
	"strings"
	"text/tabwriter"

	"pressrig/glass"
	"pressrig/units"
)

type glassCmd struct {
	Name      string `help:"A glass by its name." xor:"which"`
	File      string `help:"A glass file of your own." type:"existingfile" xor:"which"`
	Wt        string `help:"A composition in percent of mass, like SiO2=72.6,Na2O=13.9,..." xor:"which"`
	Mol       string `help:"A composition in mol percent." xor:"which"`
	Points    string `help:"Three points, like working=1005C,softening=695C,annealing=514C." xor:"which"`
	At        string `help:"Answer the viscosity at a temperature, like 850C."`
	Viscosity string `help:"Answer the temperature of a viscosity, like 1e5Pa.s."`
}

func (glassCmd) Help() string {
	return "Lists the glasses, built-in and of --glasses, or shows one and answers how stiff it is. Every figure tells " +
		"its source and whether that was found, derived or from memory: the data sheet of your own " +
		"glass stands above all of them. A figure here is no permission and no safety device."
}

// curveOf is a way to the viscosity, as one command line names it.
type curveOf struct {
	title  string
	name   string // of the curve, where there are several
	curve  glass.VFT
	origin glass.Origin
}

// Run lists the glasses, or answers for the one that was named.
func (c *glassCmd) Run(e *env) error {
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	if c.Name+c.File+c.Wt+c.Mol+c.Points == "" {
		if c.At+c.Viscosity != "" {
			return usage("no glass is named; add --name, --file, --wt, --mol or --points")
		}
		return e.listGlasses(shelf)
	}
	g, curves, err := c.read(shelf)
	if err != nil {
		return err
	}
	title := curves[0].title
	var figures []glassFigure
	if g != nil {
		figures = figuresOf(g)
	}
	for _, v := range curves {
		more, err := c.answer(v, g == nil)
		if err != nil {
			return err
		}
		figures = append(figures, more...)
	}
	if e.flags.JSON {
		return e.printJSON(glassAsJSON(title, figures))
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, title)
	for _, f := range figures {
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", f.name, strings.TrimSpace(sixDigits(f.value)+" "+f.unit),
			f.Confidence, f.Source)
	}
	return w.Flush()
}

// read finds the glass, nil for a bare curve, and its curves.
func (c *glassCmd) read(shelf *glass.Shelf) (*glass.Glass, []curveOf, error) {
	switch {
	case c.Name != "":
		g, known := shelf.Named(c.Name)
		if !known {
			return nil, nil, usage("no glass %q; there are %s", c.Name, strings.Join(shelf.Names(), ", "))
		}
		return &g, curveOfGlass(&g), nil
	case c.File != "":
		text, err := os.ReadFile(c.File)
		if err != nil {
			return nil, nil, err
		}
		g, err := glass.Parse(c.File, text)
		if err != nil {
			return nil, nil, exit{exitUsage, err}
		}
		return g, curveOfGlass(g), nil
	case c.Points != "":
		p, err := glass.ParsePoints(c.Points)
		if err != nil {
			return nil, nil, usage("--points: %w", err)
		}
		v, err := glass.Fit(p[0], p[1], p[2])
		if err != nil {
			return nil, nil, usage("--points: %w", err)
		}
		return nil, []curveOf{{"glass through three points", "fit", v,
			glass.Origin{Source: "exact curve through the three points", Confidence: glass.Derived}}}, nil
	case c.Wt != "":
		curves, err := ofComposition("--wt", c.Wt, true)
		return nil, curves, err
	}
	curves, err := ofComposition("--mol", c.Mol, false)
	return nil, curves, err
}

func curveOfGlass(g *glass.Glass) []curveOf {
	o, _ := g.Origin("curve")
	return []curveOf{{g.Name + ": " + g.Label, "curve", g.Curve, o}}
}

// ofComposition is what both models make of a composition. One that is out of
// its range is left out when the other holds.
func ofComposition(flag, text string, byMass bool) ([]curveOf, error) {
	given, err := glass.ParseComposition(text)
	if err != nil {
		return nil, usage("%s: %w", flag, err)
	}
	mass, mol := given, glass.MolFromMass(given)
	if !byMass {
		mass, mol = glass.MassFromMol(given), given
	}
	const title = "glass by composition"
	var curves []curveOf
	p, fluegel := glass.Fluegel(mol)
	if fluegel == nil {
		var v glass.VFT
		if v, fluegel = glass.Fit(p[0], p[1], p[2]); fluegel == nil {
			curves = append(curves, curveOf{title, "fluegel", v, glass.Origin{Confidence: glass.Derived,
				Source: "Fluegel, Glass Technol. 48 (2007) 13; standard error 9 to 17 C"}})
		}
	}
	v, _, lakatos := glass.Lakatos(mass)
	if lakatos == nil {
		curves = append(curves, curveOf{title, "lakatos", v, glass.Origin{Confidence: glass.Derived,
			Source: "Lakatos 1976; standard deviation 3 to 5 C at 10 to 1e5 Pa.s"}})
	}
	if len(curves) == 0 {
		return nil, usage("%s: no model holds: %w; %w", flag, fluegel, lakatos)
	}
	return curves, nil
}

// glassFigure is one number to show.
type glassFigure struct {
	name  string
	value float64
	unit  string
	glass.Origin
}

func figuresOf(g *glass.Glass) []glassFigure {
	var out []glassFigure
	for _, f := range g.Figures() {
		out = append(out, glassFigure{f.Key, f.Value, f.Unit, f.Origin})
	}
	const elastic = "from young, poisson and expansion; no better known than they are"
	out = append(out, glassFigure{"shear", g.ShearMPa(), "MPa", glass.Origin{Source: elastic, Confidence: glass.Derived}},
		glassFigure{"thermal_stress", g.StressPerKelvinMPa(), "MPa/K",
			glass.Origin{Source: elastic, Confidence: glass.Derived}})
	if o, known := g.Origin("composition"); known {
		for _, part := range g.MolPercent.Parts() {
			out = append(out, glassFigure{part.Oxide, part.Percent, "mol %", o})
		}
	}
	return out
}

// answer is the curve, and for a bare one its fixed points, with what was asked.
func (c *glassCmd) answer(v curveOf, bare bool) ([]glassFigure, error) {
	out := []glassFigure{{v.name + "_A", v.curve.A, "", v.origin}, {v.name + "_B", v.curve.B, "K", v.origin},
		{v.name + "_T0", v.curve.T0, "C", v.origin}}
	from := glass.Origin{Source: "log10(Pa.s) = A + B/(T - T0); " + v.origin.Source, Confidence: glass.Derived}
	if v.origin.Confidence == glass.Memory { // what is computed from memory is no better than it
		from.Confidence = glass.Memory
	}
	if bare {
		for _, p := range glass.FixedPoints {
			out = append(out, glassFigure{v.name + "_" + p.Name, v.curve.At(p.Log), "C", from})
		}
	}
	if c.At != "" {
		at, err := units.Parse(c.At, units.Temperature)
		if err != nil {
			return nil, usage("--at: %w", err)
		}
		log := v.curve.Log(at)
		if !inRange(log) {
			return nil, usage("--at: the %s holds from %.0f to %.0f C, not at %g C", v.name,
				v.curve.At(glass.LogMost), v.curve.At(glass.LogLeast), at)
		}
		out = append(out, glassFigure{v.name + "_viscosity", math.Pow(10, log), "Pa.s", from},
			glassFigure{v.name + "_log10_viscosity", log, "log Pa.s", from})
	}
	if c.Viscosity != "" {
		pas, err := units.Parse(c.Viscosity, units.Viscosity)
		if err != nil {
			return nil, usage("--viscosity: %w", err)
		}
		log := math.Log10(pas)
		if !inRange(log) {
			return nil, usage("--viscosity: the curve holds from 1e%g to 1e%g Pa.s, not at %g Pa.s",
				glass.LogLeast, glass.LogMost, pas)
		}
		out = append(out, glassFigure{v.name + "_temperature", v.curve.At(log), "C", from})
	}
	return out, nil
}

// inRange is written so that the NaN of a negative viscosity is outside.
func inRange(log float64) bool { return log >= glass.LogLeast && log <= glass.LogMost+1e-9 }

type glassJSON struct {
	Glass   string                     `json:"glass"`
	Figures map[string]glassFigureJSON `json:"figures"`
}

type glassFigureJSON struct {
	Value      float64          `json:"value"`
	Source     string           `json:"source"`
	Confidence glass.Confidence `json:"confidence"`
}

func glassAsJSON(title string, figures []glassFigure) glassJSON {
	out := glassJSON{title, map[string]glassFigureJSON{}}
	for _, f := range figures {
		key := keyed(f.name, strings.ReplaceAll(f.unit, " ", "_"))
		out.Figures[key] = glassFigureJSON{f.value, f.Source, f.Confidence}
	}
	return out
}

type glassRow struct {
	Name       string  `json:"name"`
	Label      string  `json:"label"`
	SofteningC float64 `json:"softening_C"`
	AnnealingC float64 `json:"annealing_C"`
	StrainC    float64 `json:"strain_C"`
	Source     string  `json:"source"`
}

func (e *env) listGlasses(shelf *glass.Shelf) error {
	var rows []glassRow
	for _, name := range shelf.Names() {
		g, _ := shelf.Named(name)
		rows = append(rows, glassRow{g.Name, g.Label, float64(g.SofteningC), float64(g.AnnealingC),
			float64(g.StrainC), g.Source})
	}
	if e.flags.JSON {
		return e.printJSON(rows)
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "GLASS\tIS\tSOFTENING\tANNEALING\tSTRAIN")
	for _, r := range rows {
		fmt.Fprintf(w, "%s\t%s\t%.0f C\t%.0f C\t%.0f C\n", r.Name, r.Label, r.SofteningC, r.AnnealingC, r.StrainC)
	}
	return w.Flush()
}
