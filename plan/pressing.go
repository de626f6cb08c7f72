package plan

import (
	"fmt"
	"math"

	"pressrig/glass/forming"
	"pressrig/glass/squeeze"
)

// window is where the piece comes out good, by the skin's temperature at the
// end of the soak.
type window struct {
	lowC, highC float64
	bestC       float64 // where the piece has most margin
	margin      float64 // there: 1 perfect, 0 at a limit
	colder      string  // the defect just below, and just above
	hotter      string
}

// Choices of the stroke [common practice, no source].
const (
	closeMMs   = 10.0
	firstMPa   = 0.35
	setN       = 50.0
	formFirstS = 2.0
	formMostS  = 4.0
	softestLog = 3.3 // log10 Pa.s: runs away
	stiffLog   = 4.8 // does not fill before it freezes
	scanK      = 10.0
	setBelowK  = 10.0 // the mean has this much below softening when the light dwell ends
	setMostS   = 30.0
)

// pressing finds force, time and temperature: the gentlest force whose window
// is wide enough, and in it the target with most margin.
func (b *bench) pressing() error {
	area := math.Pi * b.job.Cavity.RadiusMM * b.job.Cavity.RadiusMM
	most := 0.9 * float64(b.profile.Press.ForceMax)
	if b.profile.Press.Kind == "weights" {
		most = float64(b.profile.Press.Weight)*9.80665*b.profile.Press.Lever - float64(b.profile.Press.Friction)
	}
	first := math.Min(most, round(firstMPa*area, 10))
	var last window
	for _, try := range b.strokes(first, most) {
		b.stroke = try
		w, ok := b.scan()
		if ok && w.highC-w.lowC >= 2*wantHalfK {
			b.window = w
			return nil
		}
		if ok && (last.highC == 0 || w.highC-w.lowC > last.highC-last.lowC) {
			b.best = try
			last = w
		}
	}
	if last.highC <= last.lowC {
		return fmt.Errorf("no temperature between 10^%g and 10^%g Pa.s fills this mould with up to %.0f N: it gives %s; "+
			"%s", softestLog, stiffLog, most, last.colder, relaxed)
	}
	b.window, b.stroke = last, b.best
	return nil
}

const relaxed = "take a press with more force, a hotter mould, a thicker disc or wider bead holes"

// wantHalfK is the half width of a window that a person can hit.
const wantHalfK = 25.0

// strokes are what to try, gentlest first.
func (b *bench) strokes(first, most float64) []stroke {
	var list []stroke
	add := func(n, s float64) {
		list = append(list, stroke{closeMMs: closeMMs, formN: n, formS: s, setN: math.Min(setN, n), stopMM: b.job.Cavity.DiscMM})
	}
	if b.profile.Press.Kind == "weights" {
		add(most, formFirstS+1)
		return list
	}
	add(first, formFirstS)
	add(first, formFirstS+1)
	for n := first * 1.25; n < most; n *= 1.25 {
		add(round(n, 10), formFirstS)
	}
	add(math.Floor(most/10)*10, formFirstS)
	add(math.Floor(most/10)*10, formMostS)
	return list
}

// scan presses at every temperature of the range and keeps the widest run of
// good pieces.
func (b *bench) scan() (window, bool) {
	g := b.glass
	low := math.Max(float64(g.SofteningC)+10, round(g.AtLogViscosity(stiffLog), scanK))
	high := math.Min(float64(g.WorkingC), g.AtLogViscosity(softestLog))
	if t := b.profile.Thermometer; t.Fitted {
		high = math.Min(high, float64(t.High)-2*overshootK)
	}
	var w, run window
	best := math.Inf(-1)
	for c := low; c <= high; c += scanK {
		margin, defect := b.try(c)
		if margin < 0 {
			if run.highC > 0 && run.hotter == "" {
				run.hotter = defect
				if run.highC-run.lowC >= w.highC-w.lowC {
					w = run
				}
			}
			run = window{colder: defect}
			best = math.Inf(-1)
			continue
		}
		if run.highC == 0 {
			run.lowC = c
		}
		run.highC = c
		if margin > best {
			best, run.bestC, run.margin = margin, c, margin
		}
	}
	if run.highC-run.lowC >= w.highC-w.lowC {
		w = run
	}
	return w, w.highC > 0
}

// try presses once at a temperature of the skin: the least margin of the
// piece's shape, and what is wrong first.
func (b *bench) try(c float64) (float64, string) {
	m, ok := b.soft(c)
	if !ok {
		return -1, "the burner does not reach it"
	}
	m.pressSet(&b.stroke, float64(b.glass.SofteningC)-setBelowK)
	o := m.blank.Outcome()
	worst, defect := math.Inf(1), ""
	for _, f := range o.Judge(b.job.Cavity.DiscMM, &b.limits) {
		if f.What == "crack while warming" { // the firing answers for it
			continue
		}
		if f.Margin < worst {
			worst, defect = f.Margin, f.Defect
		}
	}
	return worst, defect
}

// pressSet presses, and dwells until the mean is cold enough to hold its shape.
// It tells for how long.
func (m *march) pressSet(k *stroke, meanC float64) float64 {
	m.pressForm(k)
	m.around.ForceN = k.setN
	s, _ := m.heat(flame{}, setMostS, func(s *forming.State) bool { return s.MeanC <= meanC })
	m.part()
	return s
}

// asPressed is the piece of the plan at its target, before it is cooled.
func (b *bench) asPressed() forming.Outcome {
	m, _ := b.soft(b.targetC)
	m.pressSet(&b.stroke, float64(b.glass.SofteningC)-setBelowK)
	return m.blank.Outcome()
}

func (b *bench) tellPress(t *teller) error {
	k, o, w := &b.stroke, &b.pressed, &b.window
	area := math.Pi * b.job.Cavity.RadiusMM * b.job.Cavity.RadiusMM
	t.topic = "press"
	t.tell("glass at the end of the soak", b.targetC, "C", "where the piece has most margin", byPlant, simulated).window(w.lowC, w.highC)
	t.tell("margin there", w.margin, "", "least over thickness, edges, beads, flash and sticking; 1 perfect, 0 at a limit", byPlant, simulated)
	t.tell("viscosity there", b.glass.LogViscosityPaS(b.targetC), "log Pa.s", "A + B/(T - T0)", b.glass.Source, found).
		window(b.glass.LogViscosityPaS(w.highC), b.glass.LogViscosityPaS(w.lowC))
	t.tell("form force", k.formN, "N", "gentlest that gives a window wide enough", byPlant, simulated).window(0, float64(b.profile.Press.ForceMax))
	t.tell("pressure on the glass", k.formN/area, "MPa", "F/A of the closed cavity", "definition", derived)
	if err := b.tellFlow(t, area); err != nil {
		return err
	}
	t.tell("closing speed", k.closeMMs, "mm/s", "8 to 12 mm/s", "common practice, no source", memory)
	t.tell("form time", k.formS, "s", "with that force", byPlant, simulated)
	t.tell("set: light dwell", b.cooling.setS, "s", "until the mean is 10 K below the softening point", byPlant, simulated)
	t.tell("edge radius", o.EdgeMM, "mm", "corner that stays empty", byPlant, simulated).window(0, b.limits.EdgeMM)
	t.tell("beads filled", 100*o.BeadShare, "%", "Poiseuille in the bead holes until the skin closes them", byPlant, simulated).window(100*b.limits.BeadShare, 100)
	t.tell("flash", o.FinMM, "mm", "Poiseuille between the halves", byPlant, simulated).window(0, b.limits.FinMM)
	return nil
}

// tellFlow sets the formulas of squeeze flow beside what the plant does: how
// long disc and beads take at the target's viscosity, and how long the skin
// leaves them.
func (b *bench) tellFlow(t *teller, areaMM2 float64) error {
	c, k := &b.job.Cavity, &b.stroke
	eta := math.Pow(10, b.glass.LogViscosityPaS(b.targetC))
	from := puddleShare * b.job.Ring.LengthMM
	if from > c.DiscMM {
		s, err := squeeze.Way{FromM: from / 1000, ToM: c.DiscMM / 1000, ForceN: k.formN, ViscosityPaS: eta}.
			ConstantVolumeS(b.job.Ring.VolumeMM3()*1e-9, true)
		if err != nil {
			return err
		}
		t.tell("disc: time to close", s, "s", "(3 eta V/F)(1/h1 - 1/h0) + (3 eta V^2/8 pi F)(1/h1^4 - 1/h0^4), skin left out", "Stefan 1874, Gent 1960", memory)
	}
	m := &b.job.Material
	kappa := m.KWmK(b.targetC) / (m.DensityKgM3 * m.CpJkgK(b.targetC))
	face := b.pressed.StickK + float64(b.glass.AnnealingC) + stickAboveK
	freezes, err := squeeze.Freeze{GlassC: b.targetC, InterfaceC: face, StiffC: float64(b.glass.SofteningC), Diffusivity: kappa}.LimitS(c.DiscMM / 1000)
	if err != nil {
		return err
	}
	t.tell("skin takes a quarter from each side in", freezes, "s", "x = 2 lambda sqrt(kappa t), erf lambda = (T_soft - T_face)/(T_glass - T_face)", "half space, exact", derived)
	if c.Beads == 0 {
		return nil
	}
	bead, err := squeeze.Pocket{Slot: true, SizeM: c.BeadGapMM / 1000, DepthM: c.BeadDepthMM / 1000}.Seconds(eta, k.formN/areaMM2*1e6)
	if err != nil {
		return err
	}
	t.tell("beads: time to fill", bead, "s", "6 eta L^2/(gap^2 p), skin left out", "Poiseuille", derived)
	return nil
}
