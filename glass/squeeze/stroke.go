package squeeze

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Drive is what a press does when the glass resists.
type Drive int

// The drives: by force it slows down and presses on at its limit, as a cylinder
// or a weight does; by speed it keeps its speed until the limit ends the stroke,
// as a screw does.
const (
	ByForce Drive = iota
	BySpeed
)

// Stroke is one closing of the press on glass that both faces touch.
type Stroke struct {
	Gap     Gap     // as it begins
	Spreads bool    // keeps its volume and widens; otherwise it fills its mould
	WallM   float64 // radius of the mould's wall, where spreading ends; 0 for none
	ToM     float64 // thickness wanted
	Drive   Drive
	SpeedMS float64 // commanded
	ForceN  float64 // limit
	LongS   float64 // given up after
}

const (
	mostStepS  = 0.01
	stepShare  = 0.004 // of the thickness, closed in a step
	frozenMS   = 1e-5  // slower, no press closes its gap: 1 mm in 100 s
	mostStroke = 600.0 // s
)

func (s Stroke) check(f Fluid) error {
	if f == nil {
		return fmt.Errorf("a stroke without glass; give Even or a Chilled")
	}
	if s.Drive != ByForce && s.Drive != BySpeed {
		return fmt.Errorf("drive %d is none; use ByForce or BySpeed", s.Drive)
	}
	if err := s.Gap.check(); err != nil {
		return err
	}
	if s.WallM != 0 {
		if err := span.Check(span.Of{What: "wall of the mould in m, outside the glass,", Value: s.WallM,
			Least: s.Gap.OuterM, Most: 1}); err != nil {
			return err
		}
	}
	return span.Check(span.Of{What: "thickness at the end in m, below the start,", Value: s.ToM, Least: 1e-5,
		Most: s.Gap.ThickM}, ofSpeed(s.SpeedMS), ofForce(s.ForceN),
		span.Of{What: "longest stroke in s", Value: s.LongS, Least: 0.001, Most: mostStroke})
}

// End is how a stroke ended.
type End int

// The ends.
const (
	Closed    End = iota // at the thickness wanted
	Full                 // the glass filled its mould before: too much glass, or flash
	Frozen               // too stiff to go on: incomplete
	OverForce            // the speed wanted more than the limit
	OutOfTime            // still moving when it was given up
)

// String is the end in words.
func (e End) String() string {
	switch e {
	case Closed:
		return "closed"
	case Full:
		return "mould full before it closed: too much glass"
	case Frozen:
		return "frozen: incomplete fill"
	case OverForce:
		return "over-force"
	case OutOfTime:
		return "out of time: incomplete fill"
	}
	return "unknown"
}

// Moment is the gap at a time since contact. SpeedMS and ForceN are those of the
// way that led to it.
type Moment struct {
	S       float64
	ThickM  float64
	OuterM  float64
	SpeedMS float64
	ForceN  float64
	MeanPa  float64 // on the face
	GapPaS  float64
	CorePaS float64
	SkinM   float64
}

// Run is a stroke that was computed.
type Run struct {
	End    End
	S      float64 // since contact
	ThickM float64
	OuterM float64
	InnerM float64
	PeakN  float64
	Trace  []Moment
}

// Close computes a stroke. It goes on in steps that close at most 0.4 % of the
// gap and last at most 10 ms; f is left as it is at the end, for Hold.
func (s Stroke) Close(f Fluid) (Run, error) {
	if err := s.check(f); err != nil {
		return Run{}, err
	}
	m := motion{stroke: s, gap: s.Gap, volume: s.Gap.AreaM2() * s.Gap.ThickM}
	m.record(f, 0, 0)
	for {
		eta := f.GapPaS()
		if !(eta > 0) {
			return Run{}, fmt.Errorf("viscosity is %g Pa.s after %.3g s; it must be positive", eta, m.run.S)
		}
		speed, end, ended := m.speed(eta)
		if ended {
			return m.end(end), nil
		}
		dt := min(mostStepS, stepShare*m.gap.ThickM/speed)
		next, how, arrived := m.ahead(eta, dt)
		if arrived && next < m.gap.ThickM {
			dt *= (m.gap.ThickM - next) / (m.gap.ThickM - m.after(eta, dt))
		}
		closing := (m.gap.ThickM - next) / dt
		force := m.at((m.gap.ThickM+next)/2).drag(eta) * closing
		f.Step(dt, next)
		m.moveTo(next)
		m.run.S += dt
		m.record(f, closing, force)
		switch {
		case arrived:
			return m.end(how), nil
		case m.run.S >= s.LongS:
			return m.end(OutOfTime), nil
		}
	}
}

// motion is a stroke under way.
type motion struct {
	stroke Stroke
	gap    Gap
	volume float64
	run    Run
}

// speed is how fast the gap closes now, or why it does not.
func (m *motion) speed(eta float64) (speed float64, end End, ended bool) {
	s := m.stroke
	free := s.ForceN / m.gap.drag(eta)
	if s.Drive == BySpeed {
		if free < s.SpeedMS {
			m.run.PeakN = max(m.run.PeakN, s.ForceN)
			return 0, OverForce, true
		}
		return s.SpeedMS, 0, false
	}
	speed = min(s.SpeedMS, free)
	if speed < min(frozenMS, s.SpeedMS) {
		return 0, Frozen, true
	}
	return speed, 0, false
}

// at is the gap at another thickness: wider if it spreads, up to the wall.
func (m *motion) at(thickM float64) Gap {
	g := m.gap
	g.ThickM = thickM
	if m.stroke.Spreads {
		g.OuterM = math.Sqrt(m.volume/(math.Pi*thickM) + g.InnerM*g.InnerM)
		if w := m.stroke.WallM; w > 0 {
			g.OuterM = min(g.OuterM, w)
		}
	}
	return g
}

// after is the thickness a time later, by the speed at half the way.
func (m *motion) after(eta, dt float64) float64 {
	s := m.stroke
	if s.Drive == BySpeed {
		return m.gap.ThickM - s.SpeedMS*dt
	}
	half := m.gap.ThickM - dt/2*min(s.SpeedMS, s.ForceN/m.gap.drag(eta))
	middle := m.at(half)
	return m.gap.ThickM - dt*min(s.SpeedMS, s.ForceN/middle.drag(eta))
}

// ahead is after, stopped where the stroke has arrived.
func (m *motion) ahead(eta, dt float64) (thickM float64, how End, arrived bool) {
	next := m.after(eta, dt)
	least, how := m.stroke.ToM, Closed
	if w := m.stroke.WallM; m.stroke.Spreads && w > 0 {
		full := m.volume / (math.Pi * (w - m.gap.InnerM) * (w + m.gap.InnerM))
		if full > least*(1+1e-9) {
			least, how = min(full, m.gap.ThickM), Full
		}
	}
	if next <= least {
		return least, how, true
	}
	return next, 0, false
}

func (m *motion) moveTo(thickM float64) { m.gap = m.at(thickM) }

func (m *motion) record(f Fluid, speed, force float64) {
	m.run.PeakN = max(m.run.PeakN, force)
	m.run.Trace = append(m.run.Trace, Moment{S: m.run.S, ThickM: m.gap.ThickM, OuterM: m.gap.OuterM,
		SpeedMS: speed, ForceN: force, MeanPa: force / m.gap.AreaM2(), GapPaS: f.GapPaS(),
		CorePaS: f.CorePaS(), SkinM: f.SkinM()})
}

func (m *motion) end(e End) Run {
	m.run.End, m.run.ThickM = e, m.gap.ThickM
	m.run.OuterM, m.run.InnerM = m.gap.OuterM, m.gap.InnerM
	return m.run
}

// Hold is the same gap kept under a force after a stroke: what fills holes and
// edges. It goes on from where the run and its fluid ended.
func (r Run) Hold(f Fluid, forceN, seconds float64) ([]Moment, error) {
	if err := span.Check(ofForce(forceN), span.Of{What: "hold in s", Value: seconds, Least: mostStepS,
		Most: mostStroke}); err != nil {
		return nil, err
	}
	area := Gap{OuterM: r.OuterM, InnerM: r.InnerM}.AreaM2()
	steps := int(math.Ceil(seconds / mostStepS))
	moments := make([]Moment, 0, steps+1)
	at := r.S
	for n := range steps + 1 {
		if n > 0 {
			f.Step(seconds/float64(steps), r.ThickM)
			at += seconds / float64(steps)
		}
		moments = append(moments, Moment{S: at, ThickM: r.ThickM, OuterM: r.OuterM, ForceN: forceN,
			MeanPa: forceN / area, GapPaS: f.GapPaS(), CorePaS: f.CorePaS(), SkinM: f.SkinM()})
	}
	return moments, nil
}
