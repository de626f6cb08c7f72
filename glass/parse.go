package glass

import (
	"fmt"
	"strconv"
	"strings"

	"pressrig/units"
	"pressrig/yamlfile"
)

const (
	mostName   = 32
	mostLabel  = 80
	mostSource = 190
)

// Parse reads and checks one glass file; FORMAT.md describes it. The file name
// is used in messages only. An error is a yamlfile.Problems with every fault;
// the glass is nil then.
func Parse(file string, text []byte) (*Glass, error) {
	y := yamlfile.Read(file, text)
	g := &Glass{origins: map[string]Origin{}}
	m := y.Root().Map("glass", "label", "source", "lead", "softening", "annealing", "strain", "working",
		"curve", "density", "young", "poisson", "expansion", "conductivity", "stress_optical", "emissivity",
		"surface_tension", "mean_strength", "design_strength", "composition")
	g.Name = m.Need("glass", "name the glass as recipes shall call it").Ident(mostName)
	g.Label = m.Need("label", "write what the glass is, for people").Text(mostLabel)
	g.Source = m.Need("source", "write where the figures come from").Text(mostSource)
	g.Lead = m.Get("lead").Bool()
	for _, p := range properties {
		g.readProperty(m, p)
	}
	g.readCurve(m.Need("curve", "write the constants A, B and T0, or three points"))
	g.readComposition(m.Get("composition"))
	if y.Err() == nil {
		g.fill()
		g.checkPoints(m)
	}
	if err := y.Err(); err != nil {
		return nil, err
	}
	return g, nil
}

func (g *Glass) readProperty(m yamlfile.Map, p property) {
	n := m.Get(p.key)
	if p.needed {
		n = m.Need(p.key, p.right)
	}
	if !n.Present() {
		return
	}
	v := n.Map("value", "source", "confidence")
	value := v.Need("value", "write the number")
	if p.in != "" {
		*p.of(g) = value.Quantity(p.in, p.least, p.most)
	} else {
		*p.of(g) = number(value, p.least, p.most)
	}
	g.readOrigin(p.key, v)
}

func (g *Glass) readOrigin(key string, m yamlfile.Map) {
	g.origins[key] = Origin{
		Source: m.Need("source", "write where it comes from").Text(mostSource),
		Confidence: Confidence(m.Need("confidence", "write found, derived or from memory").
			Choice(string(Found), string(Derived), string(Memory))),
	}
}

// Bounds of the constants of a curve in a file; Fit's are narrower for what is
// computed from points.
const (
	leastA, mostA   = -20.0, 0.0
	leastB, mostB   = 100.0, 50e3
	mostT0          = 1000.0
	leastLog        = 0.0
	leastPoint      = 100.0
	mostPoint       = 2500.0
	pointsOfAVFT    = 3
	mostOxideInFile = 100.0
)

func (g *Glass) readCurve(n yamlfile.Node) {
	if !n.Present() {
		return
	}
	m := n.Map("A", "B", "T0", "points", "source", "confidence")
	g.readOrigin("curve", m)
	if points := m.Get("points"); points.Present() {
		for _, key := range []string{"A", "B", "T0"} {
			if c := m.Get(key); c.Present() {
				c.Fault("a constant beside points", "write either A, B and T0, or points")
			}
		}
		g.readPoints(points)
		return
	}
	g.Curve = VFT{
		A:  number(m.Need("A", "write it for Pa.s: that for poise less 1"), leastA, mostA),
		B:  m.Need("B", "write it in K").Quantity(units.Difference, leastB, mostB),
		T0: m.Need("T0", "write it in C").Quantity(units.Temperature, leastT0C, mostT0),
	}
}

func (g *Glass) readPoints(n yamlfile.Node) {
	list := n.List(pointsOfAVFT)
	if len(list) != pointsOfAVFT {
		n.Fault(fmt.Sprintf("%d points", len(list)), "write three, the hottest first")
		return
	}
	var p [pointsOfAVFT]Point
	good := true
	for i, e := range list {
		m := e.Map("log", "at")
		log, at := m.Need("log", "write log10 of the viscosity in Pa.s"), m.Need("at", "write its temperature")
		p[i] = Point{number(log, leastLog, LogStrain), at.Quantity(units.Temperature, leastPoint, mostPoint)}
		good = good && p[i].C > 0 && log.Present()
	}
	if !good {
		return
	}
	var err error
	if g.Curve, err = Fit(p[0], p[1], p[2]); err != nil {
		n.Fault("no curve: "+err.Error(), "write three points of equilibrium viscosities")
	}
}

func (g *Glass) readComposition(n yamlfile.Node) {
	if !n.Present() {
		return
	}
	m := n.Map("in", "oxides", "source", "confidence")
	g.readOrigin("composition", m)
	basis := m.Need("in", "write mol % or wt %").Choice("mol %", "wt %")
	list := m.Need("oxides", "write them like {SiO2: 72.6, Na2O: 13.9}")
	c := Composition{}
	for _, pair := range list.AnyMap().Pairs() {
		c[pair.Key.Word()] = number(pair.Value, 0, mostOxideInFile)
	}
	if err := c.check(); err != nil {
		list.Fault(err.Error(), "write the whole composition")
		return
	}
	if g.MolPercent = c; basis == "wt %" {
		g.MolPercent = MolFromMass(c)
	}
}

// fill computes what the file leaves out.
func (g *Glass) fill() {
	fromCurve := func(key string, c *units.Celsius, log float64) {
		if _, known := g.origins[key]; !known {
			*c = units.Celsius(g.Curve.At(log))
			g.origins[key] = Origin{fmt.Sprintf("10^%g Pa.s of the curve", log), Derived}
		}
	}
	fromCurve("softening", &g.SofteningC, LogSoftening)
	fromCurve("working", &g.WorkingC, LogWorking)
	if _, known := g.origins["conductivity"]; !known {
		g.ConductivityWmK = ModelConductivityWmK(usualCapacityJkgK, g.DensityKgM3)
		g.origins["conductivity"] = Origin{"from density and 800 J/(kg.K), within 12 %: van der Tempel 2002", Derived}
	}
}

// mostApartK is how far a fixed point may lie from where the curve has its
// viscosity; an annealing point lies 10 K off in SRM 710.
const mostApartK = 40.0

// checkPoints refuses fixed points that cannot all be of one glass.
func (g *Glass) checkPoints(m yamlfile.Map) {
	if !(g.StrainC < g.AnnealingC && g.AnnealingC < g.SofteningC && g.SofteningC < g.WorkingC) {
		m.Get("strain").Fault(fmt.Sprintf("strain %.0f, annealing %.0f, softening %.0f and working point %.0f C "+
			"do not rise", float64(g.StrainC), float64(g.AnnealingC), float64(g.SofteningC), float64(g.WorkingC)),
			"look them up again")
	}
	for _, p := range []struct {
		key string
		c   units.Celsius
		log float64
	}{{"softening", g.SofteningC, LogSoftening}, {"working", g.WorkingC, LogWorking}} {
		if at := g.Curve.At(p.log); !(at-float64(p.c) < mostApartK && float64(p.c)-at < mostApartK) {
			m.Get("curve").Fault(fmt.Sprintf("the curve has 10^%g Pa.s at %.0f C, the %s point is %.0f C",
				p.log, at, p.key, float64(p.c)),
				"look both up again; constants for poise need 1 off their A")
		}
	}
}

// number reads a plain number between least and most.
func number(n yamlfile.Node, least, most float64) float64 {
	if !n.Present() {
		return 0
	}
	right := fmt.Sprintf("write a plain number from %g to %g", least, most)
	v, err := plain(n.Word())
	if err != nil || n.IsMap() || n.IsList() {
		n.Fault(fmt.Sprintf("%s is %q, which is no plain number", n.Name(), shortened(n.Word())), right)
		return 0
	}
	if v < least || v > most {
		n.Fault(fmt.Sprintf("%s is %g", n.Name(), v), right)
		return 0
	}
	return v
}

// plain reads a finite number without a unit.
func plain(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || v-v != 0 { // NaN and the infinities
		return 0, fmt.Errorf("%q is no plain number; write it like 13.9", shortened(text))
	}
	return v, nil
}

func shortened(s string) string {
	const most = 40
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}
