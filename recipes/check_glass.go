package recipes

import (
	"fmt"

	"pressrig/units"
	"pressrig/yamlfile"
)

// Margins about the glass's own points, kelvin: common practice, no source.
const (
	warmBelowStrain  = 50 // a warm phase ends no colder than strain less this
	coolAboveAnneal  = 30 // a flame-cool phase ends no hotter than annealing plus this
	mouldBelowStrain = 150
)

// between reports value v at n when it lies outside low..high.
func between(n yamlfile.Node, name string, v, low, high float64, why string) {
	if v < low || v > high {
		n.Fault(fmt.Sprintf("%s is %s", name, units.Format(v, units.Temperature)),
			fmt.Sprintf("write %s to %s: %s", units.Format(low, units.Temperature),
				units.Format(high, units.Temperature), why))
	}
}

// checkGlass holds the temperatures of a phase to the glass's own points, and
// once, with the first phase, those of the head.
func (d *reader) checkGlass(i int) {
	if d.r.Known == nil {
		return
	}
	if i == 0 {
		d.checkWindow()
		d.checkMoulds()
	}
	ph, at := &d.r.Phases[i], &d.at[i]
	low, high, why := d.limits(ph.Kind)
	if why == "" {
		return
	}
	if ph.Flame.HasHold && at.hold.Present() {
		between(at.hold, "hold", float64(ph.Flame.HoldC), low, high, why)
	}
	if c := ph.End.When; c != nil && c.Channel == "glass" {
		between(at.when, "glass at the end", c.Value, low, high, why)
		d.checkSense(i)
	}
}

// checkSense: heating ends upward, cooling downward.
func (d *reader) checkSense(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	heats := ph.Kind == Warm || ph.Kind == Fire
	cools := ph.Kind == FlameCool
	if heats && !ph.End.When.AtLeast {
		at.when.Fault(ph.Kind.phase()+" ends by <=",
			"glass gets hotter here: write glass >=")
	}
	if cools && ph.End.When.AtLeast {
		at.when.Fault("a flame_cool phase ends by >=", "glass gets colder here: write glass <=")
	}
}

// limits are the glass temperatures that make sense in a phase of kind k.
func (d *reader) limits(k Kind) (low, high float64, why string) {
	g := d.r.Known
	soft, anneal, strain := float64(g.SofteningC), float64(g.AnnealingC), float64(g.StrainC)
	switch k {
	case Warm:
		return strain - warmBelowStrain, soft,
			"warming leads past the brittle range and ends below the softening point of " + g.Name
	case Fire, Soak:
		return soft, float64(g.WorkingC), "glass flows between softening and working point of " +
			"" + g.Name
	case SoftFlame:
		return strain, soft, "a soft flame keeps the piece between strain and softening point " +
			"of " + g.Name
	case FlameCool:
		return strain, anneal + coolAboveAnneal,
			"flame-cooling ends near the annealing point and never below the strain point of " +
				"" + g.Name
	}
	return 0, 0, ""
}

func (d *reader) checkWindow() {
	n := d.root.Get("window")
	if !n.Present() {
		return
	}
	w, g := &d.r.Window, d.r.Known
	soft, work := float64(g.SofteningC), float64(g.WorkingC)
	m := n.Map("from", "to")
	why := "glass flows between softening and working point of " + g.Name
	between(m.Get("from"), "from", float64(w.Low), soft, work, why)
	between(m.Get("to"), "to", float64(w.High), soft, work, why)
	if w.High-w.Low < 2 && w.High >= w.Low {
		m.Get("to").Fault("the window is narrower than 2 K",
			"no thermometer is that good: widen it")
	}
	if t := d.profile; d.onRig() && t.Thermometer.Fitted {
		th := &t.Thermometer
		between(m.Get("from"), "from", float64(w.Low), float64(th.Low), float64(th.High),
			"the thermometer's range")
		between(m.Get("to"), "to", float64(w.High), float64(th.Low), float64(th.High),
			"the thermometer's range")
	}
}

// checkMoulds: a mould above the annealing point sticks; a very cold one
// chills, which spoils the piece and hurts nobody, so it is a warning.
func (d *reader) checkMoulds() {
	n := d.root.Get("moulds")
	if !n.Present() {
		return
	}
	g := d.r.Known
	m := n.Map("lower", "upper", "lower_at", "upper_at", "band")
	for key, v := range map[string]units.Celsius{"lower_at": d.r.Moulds.LowerC,
		"upper_at": d.r.Moulds.UpperC} {
		at := m.Get(key)
		if !at.Present() {
			continue
		}
		if v > g.AnnealingC {
			at.Fault(fmt.Sprintf("%s is %s", key, units.Format(float64(v), units.Temperature)),
				"glass sticks: write at most the annealing point of "+g.Name+", "+
					units.Format(float64(g.AnnealingC), units.Temperature))
		}
		if v < g.StrainC-mouldBelowStrain {
			at.Warn(fmt.Sprintf("%s is %s", key, units.Format(float64(v), units.Temperature)),
				"a cold mould chills and wrinkles the piece")
		}
	}
	if d.r.Moulds.Band > 0 && d.onRig() && !d.r.Assisted &&
		!(d.profile.Fits("mould_lower") && d.profile.Fits("mould_upper")) {
		m.Get("band").Fault("a mould band, but mould_lower and mould_upper are not both fitted "+
			"on "+d.profile.Name,
			"remove band; the operator then answers for the moulds")
	}
}
