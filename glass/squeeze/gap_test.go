package squeeze

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, have, want, tol float64) {
	t.Helper()
	if !(math.Abs(have-want) <= tol) {
		t.Errorf("%s is %.8g, want %.8g +-%g", what, have, want, tol)
	}
}

// must fails on an error.
func must(t *testing.T) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

const (
	eta = 1e4 // Pa.s
	mm  = 1e-3
)

// The formulas are from memory (Stefan 1874; Engmann 2005; Bird, Stewart and
// Lightfoot; Gent in ASTM C1351M), confirmed by derivation and by integrating
// Reynolds's equation; the figures are derived.
func TestClosedFormulas(t *testing.T) {
	v := must(t)
	disc := Gap{OuterM: 10 * mm, ThickM: 4 * mm}
	near(t, "S01 N", v(disc.Force(eta, mm)), 7.363, 0.001) // S01
	mean, centre, err := disc.Pressure(v(disc.Force(eta, mm)))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "S02 Pa", centre, 46875, 1) // S02
	near(t, "S02 mean", mean, 46875.0/2, 1)
	thick := disc
	thick.ThickPart = true
	near(t, "S03 N", v(thick.Force(eta, mm)), 9.719, 0.001) // S03
	near(t, "S03 factor", v(thick.Force(eta, mm))/v(disc.Force(eta, mm)), 1.32, 1e-9)
	// Much thicker than wide: Trouton, 3 eta A v/h.
	rod := Gap{OuterM: mm, ThickM: 100 * mm, ThickPart: true}
	near(t, "Trouton", v(rod.Force(eta, mm))/(3*eta*rod.AreaM2()*mm/(100*mm)), 1, 1e-4)
	way := Way{FromM: 10 * mm, ToM: 4 * mm, ForceN: 200, ViscosityPaS: eta}
	near(t, "S04 s", v(way.ConstantVolumeS(2e-6, true)), 0.1359, 1e-4) // S04
	near(t, "S04 thin part", v(way.ConstantVolumeS(2e-6, false)), 0.0909, 1e-4)
	near(t, "S05 N", v(Gap{Shape: OpenBore, OuterM: 10 * mm, InnerM: 3 * mm, ThickM: 4 * mm}.Force(eta, mm)),
		2.239, 0.001) // S05
	near(t, "S06 N", v(Gap{Shape: ClosedBore, OuterM: 10 * mm, InnerM: 3 * mm, ThickM: 4 * mm}.Force(eta, mm)),
		5.179, 0.001) // S06
	near(t, "S07 s", v(way.ConstantAreaS(10*mm)), 0.06185, 1e-4) // S07
	// S09: both rings become the disc without a bore; the open one only as 1/ln.
	near(t, "S09 closed", v(Gap{Shape: ClosedBore, OuterM: 10 * mm, InnerM: 1e-7, ThickM: 4 * mm}.Force(eta, mm)),
		7.363, 0.001)
	open := v(Gap{Shape: OpenBore, OuterM: 10 * mm, InnerM: 2e-11, ThickM: 4 * mm}.Force(eta, mm))
	near(t, "S09 open", open, 7.363*(1-1/math.Log(5e8)), 0.001)
	// 45 N on 30 mm are 64 kPa, 300 N 0.42 MPa (derived).
	for n, want := range map[float64]float64{45: 64e3, 300: 0.42e6} {
		p, _, err := Gap{OuterM: 15 * mm, ThickM: 4 * mm}.Pressure(n)
		if err != nil || math.Abs(p/want-1) > 0.015 {
			t.Errorf("%g N: %g Pa, %v", n, p, err)
		}
	}
}

// Press time of the same case by log10 of dPa.s (derived).
func TestPressTimeByViscosity(t *testing.T) {
	for log, want := range map[float64]float64{4: 0.0136, 5: 0.136, 6: 1.36, 6.5: 4.3, 7: 13.6} {
		s, err := Way{FromM: 10 * mm, ToM: 4 * mm, ForceN: 200, ViscosityPaS: math.Pow(10, log-1)}.ConstantVolumeS(2e-6, true)
		if err != nil || math.Abs(s/want-1) > 0.01 {
			t.Errorf("log %g: %g s, %v, want %g", log, s, err, want)
		}
	}
}

func gapOf(r *rapid.T) Gap {
	g := Gap{Shape: Shape(rapid.IntRange(0, 2).Draw(r, "shape")), OuterM: rapid.Float64Range(2*mm, 40*mm).Draw(r, "R"),
		ThickM: rapid.Float64Range(0.5*mm, 15*mm).Draw(r, "h"), ThickPart: rapid.Bool().Draw(r, "thick")}
	if g.Shape != Disc {
		g.InnerM = g.OuterM * rapid.Float64Range(0.01, 0.95).Draw(r, "a/R")
	}
	return g
}

// The closed formulas equal Reynolds's equation integrated in steps, speed
// undoes force, and a thinner gap, a wider disc or a smaller bore resists more.
func TestGapProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		g := gapOf(r)
		f, err := g.Force(eta, mm)
		if err != nil {
			r.Fatal(err)
		}
		if v, err := g.Speed(eta, f); err != nil || math.Abs(v-mm) > 1e-9*mm {
			r.Fatalf("%g N give %g m/s, %v", f, v, err)
		}
		force, crest := reynolds(g)
		thin := g
		thin.ThickPart = false
		if f, _ := thin.Force(eta, mm); math.Abs(force/f-1) > 2e-3 {
			r.Fatalf("%+v: %g N, integrated %g", g, f, force)
		}
		mean, greatest, err := g.Pressure(f)
		if err != nil || math.Abs(greatest/mean/(crest/(force/g.AreaM2()))-1) > 2e-3 {
			r.Fatalf("%+v: crest %g of the mean, integrated %g, %v", g, greatest/mean, crest/(force/g.AreaM2()), err)
		}
		thinner := g
		thinner.ThickM /= 1.1
		if more, _ := thinner.Force(eta, mm); more <= f {
			r.Fatalf("thinner %g, was %g", more, f)
		}
		if g.Shape != Disc {
			g.InnerM /= 2
			if more, _ := g.Force(eta, mm); more <= f {
				r.Fatalf("smaller bore %g, was %g", more, f)
			}
		}
	})
}

// reynolds integrates r h^3/(12 eta) dp/dr = -v (r^2 - c)/2 for v = 1 mm/s, with c
// so that no glass passes a core, or the pressure is nought at an open bore.
func reynolds(g Gap) (force, crest float64) {
	const n = 4000
	a, step := g.InnerM, (g.OuterM-g.InnerM)/n
	k := 6 * eta * mm / math.Pow(g.ThickM, 3)
	at := func(c float64, each func(r, p float64)) float64 {
		p := 0.0 // from the rim inwards
		for i := n - 1; i >= 0; i-- {
			r := a + (float64(i)+0.5)*step
			slope := k * (r*r - c) / r
			each(r, p+slope*step/2)
			p += slope * step
		}
		return p
	}
	none := func(float64, float64) {}
	c := a * a
	if g.Shape == OpenBore {
		zero, one := at(0, none), at(1e-4, none)
		c = 1e-4 * zero / (zero - one)
	}
	inner := at(c, func(r, p float64) {
		force += 2 * math.Pi * r * p * step
		crest = max(crest, p)
	})
	return force, max(crest, inner)
}

// A disc of constant volume is slower than one of its first area, and the times
// of two parts sum to that of the whole.
func TestWayProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		from := rapid.Float64Range(5*mm, 15*mm).Draw(r, "from")
		to := rapid.Float64Range(1*mm, 4*mm).Draw(r, "to")
		v := rapid.Float64Range(1e-7, 1e-5).Draw(r, "V")
		w := Way{FromM: from, ToM: to, ForceN: 200, ViscosityPaS: eta}
		whole, err := w.ConstantVolumeS(v, true)
		if err != nil {
			r.Fatal(err)
		}
		middle := (from + to) / 2
		first, _ := Way{FromM: from, ToM: middle, ForceN: 200, ViscosityPaS: eta}.ConstantVolumeS(v, true)
		second, _ := Way{FromM: middle, ToM: to, ForceN: 200, ViscosityPaS: eta}.ConstantVolumeS(v, true)
		if math.Abs(first+second-whole) > 1e-9*whole {
			r.Fatalf("%g + %g is not %g", first, second, whole)
		}
		thin, _ := w.ConstantVolumeS(v, false)
		fixed, _ := w.ConstantAreaS(math.Sqrt(v / from / math.Pi))
		if thin <= fixed || thin >= whole {
			r.Fatalf("fixed area %g, constant volume %g, thick %g", fixed, thin, whole)
		}
	})
}

func TestGapRefusals(t *testing.T) {
	for _, c := range []struct {
		gap   Gap
		eta   float64
		speed float64
		want  string
	}{
		{Gap{Shape: 7, OuterM: mm, ThickM: mm}, eta, mm, "use Disc, OpenBore or ClosedBore"},
		{Gap{OuterM: -1, ThickM: mm}, eta, mm, "outer radius in m is -1"},
		{Gap{OuterM: 10, ThickM: mm}, eta, mm, "outer radius in m is 10; it must lie between"},
		{Gap{OuterM: mm, InnerM: 0.1 * mm, ThickM: mm}, eta, mm, "a disc with a bore"},
		{Gap{Shape: OpenBore, OuterM: mm, InnerM: 2 * mm, ThickM: mm}, eta, mm, "inside the outer one"},
		{Gap{OuterM: mm, ThickM: 0}, eta, mm, "thickness in m is 0"},
		{Gap{OuterM: mm, ThickM: mm}, math.NaN(), mm, "viscosity in Pa.s is NaN"},
		{Gap{OuterM: mm, ThickM: mm}, eta, -mm, "speed in m/s is -0.001"},
	} {
		if _, err := c.gap.Force(c.eta, c.speed); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c, err, c.want)
		}
	}
	if _, err := (Way{FromM: 4 * mm, ToM: 10 * mm, ForceN: 200, ViscosityPaS: eta}).ConstantAreaS(10 * mm); err == nil ||
		!strings.Contains(err.Error(), "below the start") {
		t.Error(err)
	}
}
