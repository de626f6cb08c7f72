package plan

import (
	"fmt"

	gas "pressrig/glass/flame"
)

// Figure is one thing that the plan found. Source tells where its formula comes
// from, Standing how far to trust it.
type Figure struct {
	Topic    string  `json:"topic"`
	What     string  `json:"what"`
	Value    float64 `json:"value"`
	Unit     string  `json:"unit,omitempty"`
	Text     string  `json:"text,omitempty"` // in place of a value
	From     float64 `json:"from,omitempty"` // of a window
	To       float64 `json:"to,omitempty"`
	Formula  string  `json:"formula"`
	Source   string  `json:"source"`
	Standing string  `json:"standing"` // found | from memory | derived | simulated
}

// Standings of a figure.
const (
	found     = "found"
	memory    = "from memory"
	derived   = "derived"
	simulated = "simulated on usual figures"
)

// teller gathers figures topic by topic.
type teller struct {
	topic string
	list  []Figure
}

func (t *teller) tell(what string, value float64, unit, formula, source, standing string) *Figure {
	t.list = append(t.list, Figure{Topic: t.topic, What: what, Value: value, Unit: unit, Formula: formula,
		Source: source, Standing: standing})
	return &t.list[len(t.list)-1]
}

func (t *teller) words(what, text, formula, source, standing string) {
	t.tell(what, 0, "", formula, source, standing).Text = text
}

func (f *Figure) window(from, to float64) { f.From, f.To = from, to }

// tell makes the plan of what was found.
func (b *bench) tell() (*Plan, error) {
	o := b.order
	t := &teller{}
	b.tellBlank(t)
	b.tellMoulds(t)
	b.tellHeating(t)
	b.tellSpin(t)
	b.tellSeals(t)
	if err := b.tellPress(t); err != nil {
		return nil, err
	}
	b.tellCooling(t)
	if err := b.tellGas(t); err != nil {
		return nil, err
	}
	p := &Plan{Name: o.Name, Figures: t.list, Ring: b.job.Ring, Cavity: b.job.Cavity, Oven: b.cooling.oven,
		Limits: b.limiting(), Warnings: b.warnings, Accept: b.limits}
	p.Recipe = b.recipe()
	return p, nil
}

const byPlant = "the blank marched through the phases of the recipe on the simulated plant"

func (b *bench) tellBlank(t *teller) {
	t.topic = "blank"
	t.tell("length", b.job.Ring.LengthMM, "mm", "4 V/(pi (OD^2 - ID^2)), V the piece's glass and its flash", "volume balance", derived).
		window(b.cut.ShortestMM, b.cut.LongestMM)
	t.tell("mass", b.cut.MassG, "g", "V x density; weigh every blank, mass is what fills the mould", "volume balance", derived).
		window(b.cut.LeastMassG, b.cut.GreatestMassG)
	t.tell("spread of mass", 100*b.cut.LikelyMassShare, "%", "root of the sum of squares of tube and saw tolerances", "tolerances of the tube file", derived)
	if b.cut.LikelyMassShare > looseShare {
		b.warn("the tube's tolerances alone spread the mass by %.1f %%: sort blanks by mass, or the pieces differ in edge and flash",
			100*b.cut.LikelyMassShare)
	}
	t.tell("blanks out of a tube", float64(b.cut.PerTube), "", "(length - held)/(blank + saw's loss)", "tube file", derived)
	t.tell("glass of the piece", b.order.Piece.Figures.PressedMM3, "mm3", "discs, rims and beads less holes", "piece file, solid geometry", derived)
}

// looseShare of mass is more than a press window forgives [common practice, no
// source].
const looseShare = 0.02

func (b *bench) tellHeating(t *teller) {
	f := &b.firing
	t.topic = "heating"
	t.tell("warming: fuel", f.warm.fuel, "L/min", fmt.Sprintf("strongest flame with at most %.0f MPa in the ring", tensionMPa), byPlant, simulated)
	t.tell("warming: oxygen", f.warm.oxygen, "L/min", "fixed ratio of a soft flame; lead glass at least 1.1 of stoichiometric", "common practice, no source", memory)
	t.tell("warming: until", f.warmToC, "C", "quickest total of warming and firing", byPlant, simulated)
	t.tell("warming: time", f.warmS, "s", "skin at that temperature", byPlant, simulated)
	t.tell("warming: flux onto the outside", b.fluxWM2(f.warm, 20)/1000, "kW/m2", "conductance x (flame - cold glass)/outside", "usual figures of flame", memory)
	t.tell("tension in the ring", f.tensionMPa, "MPa", "E alpha dT/(1-nu), cold side against mean", "Timoshenko and Goodier", memory).window(0, 7)
	t.tell("firing: fuel", f.fire.fuel, "L/min", fmt.Sprintf("as quick as %.0f s", fireWantS), byPlant, simulated)
	t.tell("firing: oxygen", f.fire.oxygen, "L/min", "fixed ratio of a sharp flame", "common practice, no source", memory)
	t.tell("firing: time", f.fireS, "s", "skin at the target and 15 K more", byPlant, simulated)
	t.tell("soaking: fuel", f.soak.fuel, "L/min", "holds the skin at the target", byPlant, simulated)
	t.tell("soaking: oxygen", f.soak.oxygen, "L/min", "of the same flame", byPlant, simulated)
	t.tell("left between skin and coldest glass", f.spreadK, "K", "at the end of the soak", byPlant, simulated)
}

func (b *bench) tellSpin(t *teller) {
	if b.spin.fireRPM == 0 {
		return
	}
	t.topic = "spindle"
	t.tell("speed in the fire", b.spin.fireRPM, "rpm", "least: "+b.spinBy[0]+", most: "+b.spinBy[1],
		"no limit was found published", derived).window(b.spin.lowRPM, b.spin.highRPM)
}

func (b *bench) tellCooling(t *teller) {
	c := &b.cooling
	t.topic = "cooling"
	t.tell("soft flame held at", c.softC, "C", "0.4 of the way from annealing to softening point", "common practice, no source", memory)
	t.tell("soft flame: fuel", c.soft.fuel, "L/min", "reaches it in its time", byPlant, simulated)
	t.tell("flame-cool until", c.downC, "C", "annealing point + 20 K", "common practice, no source", memory)
	t.tell("flame-cool: time", c.downS, "s", "skin at that temperature", byPlant, simulated)
	t.tell("oven: hold", c.oven.HoldC, "C", fmt.Sprintf("annealing point + 8 K for %.0f min", c.oven.HoldS/60), "common practice, no source", memory)
	t.tell("oven: cool", c.oven.CoolKS*60, "K/min", "24 kappa (1-nu) sigma/(E alpha d^2) for 1 MPa in the thickest section",
		"Adams and Williamson 1920", memory)
	t.tell("permanent tension", c.keepPa/1e6, "MPa", "temperatures frozen in at the set point", byPlant, simulated).window(0, keepMPa)
	t.tell("retardation", c.keepNM, "nm", "C sigma t", byPlant, simulated).window(0, b.limits.RetardNM)
	t.tell("crack while cooling", 100*c.risk, "%", "two-parameter Weibull; a risk, not a promise", "Ashby and Jones; scale common practice", memory)
}

// burning is a flame for a time.
type burning struct {
	flame
	s float64
}

// tellGas is the gas of a piece: flames at the blank and the idle flame between.
func (b *bench) tellGas(t *teller) error {
	var use gas.Use
	f, c := &b.firing, &b.cooling
	for _, x := range []burning{{f.warm, f.warmS}, {f.fire, f.fireS}, {f.soak, f.soakS}, {c.soft, c.softS}, {c.down, c.downS},
		{idle, b.stroke.formS + c.setS + idleS}} {
		u, err := b.fuel.Burnt(x.fuel, x.oxygen, x.s)
		if err != nil {
			return err
		}
		use = use.Plus(u)
	}
	t.topic = "gas"
	t.tell("fuel a piece", use.FuelG, "g", "flows x times; the first light-up comes on top", b.fuel.Name+", ideal gas", derived)
	t.tell("oxygen a piece", use.OxygenL, "L", "flows x times, at 0 C", "ideal gas", derived)
	t.tell("heat a piece", use.EnergyKJ, "kJ", "fuel x lower heating value", b.fuel.Source, found)
	t.tell("time a piece", f.warmS+f.fireS+f.soakS+transferS+b.stroke.formS+c.setS+liftS+c.softS+c.downS, "s",
		"sum of the phases, without hands", byPlant, simulated)
	return nil
}

// idleS: with the burner clear, around the stroke and while hands load [common
// practice, no source].
const idleS = 60.0

// limiting tells what holds the plan back.
func (b *bench) limiting() []Limit {
	w := &b.window
	list := []Limit{
		{fmt.Sprintf("below %.0f C: %s", w.lowC, w.colder), "more force or time, a hotter mould, more mass, wider bead holes"},
		{fmt.Sprintf("above %.0f C: %s", w.highC, w.hotter), "less mass or force, closer halves, a shorter form phase"},
	}
	if f := &b.firing; f.tensionMPa > 0.9*tensionMPa {
		list = append(list, Limit{fmt.Sprintf("warming takes %.0f s: the ring may not see more than %.0f MPa", f.warmS, tensionMPa),
			"a thinner wall, preheated rings, fire-polished edges"})
	}
	if b.window.highC-b.window.lowC < 2*wantHalfK {
		b.warn("the press window is %.0f K wide; a first press wants %.0f K: expect rounded edges and flash in turn",
			w.highC-w.lowC, 2*wantHalfK)
	}
	return list
}
