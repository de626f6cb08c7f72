package squeeze

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func constant(paS float64) Fluid { return Even(func(float64) float64 { return paS }) }

func closed(t *testing.T, s Stroke, f Fluid) Run {
	t.Helper()
	r, err := s.Close(f)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

const quick = 10.0 // m/s: a press that is limited by its force alone

// Stepping meets the closed times S04 and S07 (derived).
func TestStrokeMeetsTheClosedTimes(t *testing.T) {
	volume, h0 := 2e-6, 10*mm
	s := Stroke{Gap: Gap{OuterM: math.Sqrt(volume / math.Pi / h0), ThickM: h0, ThickPart: true}, Spreads: true,
		ToM: 4 * mm, SpeedMS: quick, ForceN: 200, LongS: 10}
	r := closed(t, s, constant(eta))
	near(t, "S04 s", r.S, 0.1359, 1e-4) // S04
	near(t, "wide", r.OuterM, math.Sqrt(volume/math.Pi/(4*mm)), 1e-9)
	near(t, "peak", r.PeakN, 200, 2)
	s = Stroke{Gap: Gap{OuterM: 10 * mm, ThickM: h0}, ToM: 4 * mm, SpeedMS: quick, ForceN: 200, LongS: 10}
	r = closed(t, s, constant(eta))
	near(t, "S07 s", r.S, 0.06185, 1e-4) // S07
	if r.End != Closed || r.ThickM != 4*mm {
		t.Errorf("%+v", r.End)
	}
	// By speed it takes the way over the speed, and its force is Stefan's.
	s.Drive, s.SpeedMS, s.ForceN = BySpeed, mm, 1000
	r = closed(t, s, constant(eta))
	near(t, "6 mm at 1 mm/s", r.S, 6, 1e-6)
	near(t, "S01 N", r.PeakN, 7.363, 0.05)
}

func TestStrokeEnds(t *testing.T) {
	gap := Gap{OuterM: 10 * mm, ThickM: 10 * mm}
	base := Stroke{Gap: gap, ToM: 4 * mm, SpeedMS: 5 * mm, ForceN: 200, LongS: 5}
	with := func(change func(*Stroke)) Stroke {
		s := base
		change(&s)
		return s
	}
	for _, c := range []struct {
		what   string
		stroke Stroke
		fluid  Fluid
		end    End
	}{
		{"soft", base, constant(eta), Closed},
		{"stiff", base, constant(1e9), Frozen},
		{"stiffens", base, Even(func(s float64) float64 { return 1e4 * math.Exp(20*s) }), Frozen},
		{"without end", base, Even(func(float64) float64 { return math.Inf(1) }), Frozen},
		{"slow", with(func(s *Stroke) { s.SpeedMS = mm }), constant(eta), OutOfTime},
		{"screw on soft glass", with(func(s *Stroke) { s.Drive = BySpeed }), constant(eta), Closed},
		{"screw on stiff glass", with(func(s *Stroke) { s.Drive = BySpeed }), constant(1e6), OverForce},
		{"too much glass", with(func(s *Stroke) { s.Spreads, s.WallM = true, 12*mm }), constant(eta), Full},
		{"wide mould", with(func(s *Stroke) { s.Spreads, s.WallM = true, 30*mm }), constant(eta), Closed},
	} {
		r := closed(t, c.stroke, c.fluid)
		if r.End != c.end || strings.Contains(r.End.String(), "unknown") {
			t.Errorf("%s: %s at %.3g mm after %.3g s, want %s", c.what, r.End, 1000*r.ThickM, r.S, c.end)
		}
		if r.PeakN > c.stroke.ForceN*1.01 {
			t.Errorf("%s: peak %g N above the limit", c.what, r.PeakN)
		}
	}
	full := closed(t, with(func(s *Stroke) { s.Spreads, s.WallM = true, 12*mm }), constant(eta))
	near(t, "full at", full.ThickM, 10*mm*100/144, 1e-9)
	near(t, "at its wall", full.OuterM, 12*mm, 1e-9)
}

// Glass is neither made nor lost, thickness falls, time rises, more force is
// never slower, and stiffer glass never quicker.
func TestStrokeProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		g := gapOf(r)
		s := Stroke{Gap: g, Spreads: rapid.Bool().Draw(r, "spreads"), ToM: g.ThickM * rapid.Float64Range(0.2, 0.9).Draw(r, "to"),
			SpeedMS: rapid.Float64Range(1e-3, 0.05).Draw(r, "speed"), ForceN: rapid.Float64Range(20, 400).Draw(r, "force"), LongS: 20}
		paS := math.Pow(10, rapid.Float64Range(3, 7).Draw(r, "log"))
		run, err := s.Close(constant(paS))
		if err != nil {
			r.Fatal(err)
		}
		volume := g.AreaM2() * g.ThickM
		for i, m := range run.Trace {
			area := math.Pi * (m.OuterM*m.OuterM - g.InnerM*g.InnerM)
			if s.Spreads && math.Abs(area*m.ThickM/volume-1) > 1e-9 {
				r.Fatalf("volume %g of %g", area*m.ThickM, volume)
			}
			if i > 0 && (m.ThickM > run.Trace[i-1].ThickM || m.S <= run.Trace[i-1].S) {
				r.Fatalf("moment %d: %+v after %+v", i, m, run.Trace[i-1])
			}
			if m.ForceN > s.ForceN*1.02 || m.SpeedMS > s.SpeedMS*(1+1e-6) {
				r.Fatalf("moment %d breaks a limit: %+v", i, m)
			}
		}
		s.ForceN *= 2
		stronger, _ := s.Close(constant(paS))
		if run.End == Closed && (stronger.End != Closed || stronger.S > run.S*(1+1e-6)) {
			r.Fatalf("twice the force: %s %g s, was %s %g s", stronger.End, stronger.S, run.End, run.S)
		}
		stiffer, _ := s.Close(constant(2 * paS))
		if stronger.End == Closed && stiffer.End == Closed && stiffer.S < stronger.S*(1-1e-6) {
			r.Fatalf("stiffer glass is quicker: %g and %g s", stiffer.S, stronger.S)
		}
	})
}

func TestStrokeRefuses(t *testing.T) {
	good := Stroke{Gap: Gap{OuterM: 10 * mm, ThickM: 10 * mm}, ToM: 4 * mm, SpeedMS: mm, ForceN: 200, LongS: 5}
	for _, c := range []struct {
		change func(*Stroke)
		want   string
	}{
		{func(s *Stroke) { s.ToM = 20 * mm }, "below the start, is 0.02"},
		{func(s *Stroke) { s.ToM = -1 }, "thickness at the end in m"},
		{func(s *Stroke) { s.SpeedMS = 0 }, "speed in m/s is 0"},
		{func(s *Stroke) { s.ForceN = math.NaN() }, "force in N is NaN"},
		{func(s *Stroke) { s.LongS = 1e9 }, "longest stroke in s is 1e+09"},
		{func(s *Stroke) { s.WallM = mm }, "outside the glass, is 0.001"},
		{func(s *Stroke) { s.Drive = 9 }, "use ByForce or BySpeed"},
	} {
		s := good
		c.change(&s)
		if _, err := s.Close(constant(eta)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", s, err, c.want)
		}
	}
	if _, err := good.Close(nil); err == nil {
		t.Error("a stroke without glass passes")
	}
	if _, err := good.Close(constant(math.NaN())); err == nil || !strings.Contains(err.Error(), "must be positive") {
		t.Error(err)
	}
}
