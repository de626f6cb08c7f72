package mould

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pressrig/glass/heat"
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

func named(t *testing.T, name string) Material {
	t.Helper()
	m, err := Named(name)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Float glass: strain and annealing point, conductivity, density and capacity
// of Pilkington ATS-129 (found).
func float(t *testing.T) Glass {
	t.Helper()
	return Glass{StrainC: 511, AnnealingC: 548, Effusivity: must(t)(heat.Effusivity(0.937, 2500, 880))}
}

// A part of 30.000 mm, set at 530 C in a mould of 450 C. Coefficients: float
// glass Pilkington ATS-129, metals Callister table B.6 (both found), graphite
// from memory; sizes derived.
func TestColdSizes(t *testing.T) {
	for _, c := range []struct {
		id, material string
		want         float64
	}{
		{"B03", "cast-iron", 29.9800}, // B03
		{"B04", "steel-304", 29.9058}, // B04
		{"", "graphite", 30.0753}, {"", "brass", 29.8714},
	} {
		p := Pair{GlassPerK: 8.3e-6, SetC: 530, MouldPerK: named(t, c.material).PerK.Value, MouldC: 450}
		mould := must(t)(p.MouldMM(30))
		near(t, c.id+" "+c.material, mould, c.want, 1e-4)
		near(t, c.id+" and back", must(t)(p.PartMM(mould)), 30, 1e-12)
		near(t, c.id+" grip", must(t)(p.GripMM(30, 480)), 30*8.3e-6*50, 1e-12)
		near(t, c.id+" just set", must(t)(p.GripMM(30, 530)), 0, 0)
		if _, err := p.GripMM(30, 540); err == nil {
			t.Error("a piece that has not set grips")
		}
	}
}

// Glass of 900 C in a mould of 450 C: law of effusivities (found), figures of
// the metals from memory.
func TestJudgeUsesContact(t *testing.T) {
	g := float(t)
	for material, want := range map[string]float64{
		"cast-iron": 494.3, // H13
		"steel-304": 522.4, // H14
		"graphite":  500.7, "brass": 481.8,
	} {
		v, err := g.Judge(900, 450, named(t, material).Effusivity(), 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, material, v.InterfaceC, want, 0.5)
		near(t, "to stick", v.ToStickK, 568-want, 0.5)
		near(t, "to chill", v.ToChillK, want-411, 0.5)
	}
	// Hot mould sticks, not hot glass: +6 K for glass 60 K hotter, +54 K for a
	// mould 60 K hotter (derived).
	iron := named(t, "cast-iron").Effusivity()
	base, _ := g.Judge(900, 450, iron, 0)
	glass, _ := g.Judge(960, 450, iron, 0)
	mould, _ := g.Judge(900, 510, iron, 0)
	near(t, "glass +60", glass.InterfaceC-base.InterfaceC, 6, 0.5)
	near(t, "mould +60", mould.InterfaceC-base.InterfaceC, 54, 0.5)
	for mouldC, want := range map[float64]string{450: "in the window: 74 K below", 540: "sticks: 7 K too hot",
		340: "chills: 16 K too cold"} {
		v, err := g.Judge(900, mouldC, iron, 0)
		if err != nil || !strings.Contains(v.String(), want) {
			t.Errorf("%g C: %q, %v, want %q", mouldC, v, err, want)
		}
	}
}

// At both ends of its window the mould gives exactly the limits of the
// interface, hotter glass wants a colder mould, and a coating opens the window.
func TestWindowProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		strain := rapid.Float64Range(380, 560).Draw(r, "strain")
		g := Glass{StrainC: strain, AnnealingC: strain + rapid.Float64Range(20, 60).Draw(r, "above"),
			Effusivity: rapid.Float64Range(1000, 2000).Draw(r, "glass")}
		e := rapid.Float64Range(5000, 20000).Draw(r, "mould")
		glassC := rapid.Float64Range(800, 1200).Draw(r, "C")
		coat := rapid.Float64Range(0, mostCoatK).Draw(r, "coat")
		w, err := g.MouldC(glassC, e, coat)
		if err != nil {
			r.Fatal(err)
		}
		if !w.Open() {
			r.Fatalf("shut: %+v", w)
		}
		low, err1 := g.Judge(glassC, w.LeastC, e, coat)
		high, err2 := g.Judge(glassC, w.MostC, e, coat)
		if err1 != nil || err2 != nil || math.Abs(low.ToChillK) > 1e-9 || math.Abs(high.ToStickK) > 1e-9 {
			r.Fatalf("%+v %+v %v %v", low, high, err1, err2)
		}
		hotter, err := g.MouldC(glassC+50, e, coat)
		if err != nil || hotter.MostC >= w.MostC || hotter.LeastC >= w.LeastC {
			r.Fatalf("hotter glass %+v, was %+v, %v", hotter, w, err)
		}
	})
}

func TestWindowRefuses(t *testing.T) {
	g := float(t)
	for _, c := range []struct {
		glass      Glass
		c, e, coat float64
		want       string
	}{
		{g, 500, 13000, 0, "glass in C, which is hotter than it may be at the mould, is 500"},
		{g, 900, 13000, 60, "allowance for the coating in K is 60; it must lie between 0 and 40"},
		{g, 900, -1, 0, "effusivity of the mould"},
		{Glass{548, 511, 1400}, 900, 13000, 0, "annealing point in C, which lies above the strain point, is 511"},
		{g, math.NaN(), 13000, 0, "is NaN"},
	} {
		if _, err := c.glass.MouldC(c.c, c.e, c.coat); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c, err, c.want)
		}
	}
	if _, err := Named("butter"); err == nil || !strings.Contains(err.Error(), "one of cast-iron") {
		t.Error(err)
	}
}

// +13 K a piece for a half of 0.6 kg, time constant about 7 min (derived from
// common practice, no source): 3.7 kJ into cast iron.
func TestWarmingFirstPieces(t *testing.T) {
	near(t, "rise", must(t)(RisePerPieceK(3744, 0.6, 480)), 13, 1e-9)
	near(t, "heat", must(t)(HeatOfPiece(0.0088, 900, 690, 1180)), 2181, 1)
	w := Warming{RestC: 430, RisePerK: 13, ConstantS: 420, CycleS: 180}
	// summed by hand: ((0+13) r + 13) r = 13 (r + r^2), r = exp(-180/420) = 0.651439
	near(t, "second", must(t)(w.BeforeC(430, 1)), 430+13*0.651439, 1e-4)
	near(t, "third", must(t)(w.BeforeC(430, 2)), 430+13*(0.651439+0.424373), 1e-4)
}

// The closed form equals stepping, an endless run settles, what is fed equals
// what is lost, and RestFor undoes SettlesC.
func TestWarmingProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := Warming{RestC: rapid.Float64Range(200, 500).Draw(r, "rest"),
			RisePerK:  rapid.Float64Range(0, 40).Draw(r, "rise"),
			ConstantS: rapid.Float64Range(60, 2000).Draw(r, "tau"), CycleS: rapid.Float64Range(30, 600).Draw(r, "cycle")}
		start := rapid.Float64Range(20, 500).Draw(r, "start")
		n := rapid.IntRange(0, 40).Draw(r, "n")
		stepped := start
		for range n {
			stepped = w.RestC + (stepped+w.RisePerK-w.RestC)*math.Exp(-w.CycleS/w.ConstantS)
		}
		closed, err := w.BeforeC(start, n)
		if err != nil || math.Abs(closed-stepped) > 1e-8 {
			r.Fatalf("closed %g, stepped %g, %v", closed, stepped, err)
		}
		settles, _ := w.SettlesC()
		lost := (settles + w.RisePerK - w.RestC) * (1 - math.Exp(-w.CycleS/w.ConstantS))
		if math.Abs(lost-w.RisePerK) > 1e-9 {
			r.Fatalf("a cycle loses %g K of %g", lost, w.RisePerK)
		}
		pieces, err := w.PiecesTo(start, 5)
		if err != nil {
			r.Fatal(err)
		}
		there, _ := w.BeforeC(start, pieces)
		if math.Abs(there-settles) > 5+1e-6 {
			r.Fatalf("after %d pieces %g, settles at %g", pieces, there, settles)
		}
		if pieces > 0 {
			if before, _ := w.BeforeC(start, pieces-1); math.Abs(before-settles) < 5 {
				r.Fatalf("%d pieces were enough", pieces-1)
			}
		}
		if rest, err := w.RestFor(settles); err != nil || math.Abs(rest-w.RestC) > 1e-9 {
			r.Fatalf("rest %g, %v", rest, err)
		}
	})
	if _, err := (Warming{RestC: 430, RisePerK: 400, ConstantS: 1000, CycleS: 10}).RestFor(450); err == nil {
		t.Error("a mould that pieces alone overheat is not refused")
	}
}
