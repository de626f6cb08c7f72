package glass_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"pressrig/glass"
)

// near fails when have is farther than tol from want.
func near(t *testing.T, what string, have, want, tol float64) {
	t.Helper()
	if !(math.Abs(have-want) <= tol) {
		t.Errorf("%s is %.3f, want %.3f +-%g", what, have, want, tol)
	}
}

func named(t *testing.T, name string) glass.Glass {
	t.Helper()
	g, ok := glass.Named(name)
	if !ok {
		t.Fatalf("no glass %q", name)
	}
	return g
}

// NBS certificate of SRM 710, table 1, last column: log poise and degrees C.
// The column comes from the same equation, so it checks code and units.
func TestSRM710Certificate(t *testing.T) {
	g := named(t, "srm-710")
	for _, c := range []struct{ logPoise, c float64 }{
		// V01 to V05 NBS certificate of SRM 710, table 1, found
		{2, 1434.3}, {3, 1181.7}, {4, 1019.0}, {5, 905.3}, {6, 821.5},
	} {
		near(t, "isokom", g.AtLogViscosity(c.logPoise-1), c.c, 0.1)
		near(t, "viscosity", g.LogViscosityPaS(c.c), c.logPoise-1, 0.001)
	}
	// V06 certificate and units, found. The factor of ten: log 3 in poise is 100 Pa.s.
	near(t, "Pa.s", math.Pow(10, g.LogViscosityPaS(266+4236.118/4.626)), 100, 1e-6)
}

// Experimental isokoms of SRM 710 and 717A: Fluegel 2007, tables 2 and 12.
func TestMeasuredIsokoms(t *testing.T) {
	s := named(t, "srm-710")
	// V07, V08 Fluegel 2007, table 12, found
	near(t, "710 softening", s.AtLogViscosity(6.6), 725, 1)
	near(t, "710 at 10^12", s.AtLogViscosity(12), 556, 1)
	b := named(t, "borosilicate-717a")
	near(t, "717a at 10^1.5", b.AtLogViscosity(1.5), 1388, 0.1)
	near(t, "717a at 10^6.6", b.AtLogViscosity(6.6), 719, 0.1)
	near(t, "717a at 10^12", b.AtLogViscosity(12), 514, 0.1)
	// Not a point of the fit: measured 1555; the equation misses by up to 0.3 %.
	near(t, "717a at 10^1", b.AtLogViscosity(1), 1555, 5)
}

// Three isokoms must give the temperature at 10 Pa.s. Fluegel 2007, tables 12
// and 2: his model's points with his own prediction, and for 711 and DGG I the
// measured points with the measured temperature.
func TestFitThroughThreePoints(t *testing.T) {
	for _, c := range []struct {
		name             string
		t15, t66, t12    float64
		a, b, t0, wantT1 float64 // a, b, t0 of 0: not published
	}{
		// V13 Fluegel 2007, table 2, found; the points are the model's, derived
		{"CO", 1322.0, 737.4, 563.1, -2.616, 4347.5, 265.6, 1468},
		{"710A", 1313.7, 728.9, 551.1, -2.730, 4524.6, 243.9, 1457},
		{"711", 1172.2, 614.0, 445.1, -2.701, 4276.8, 154.2, 1310},
		// V15 Fluegel 2007, table 2, found; the points are the model's, derived
		{"710", 1293.9, 731.8, 564.1, -2.621, 4187.3, 277.7, 1434},
		{"DGG I", 1302.7, 715.0, 535.3, -2.763, 4600.2, 223.7, 1446},
		// V11, V12 Fluegel 2007, table 2, found
		{"711 measured", 1185, 614, 443, 0, 0, 0, 1327},
		{"DGG I measured", 1301, 721, 539, 0, 0, 0, 1439},
	} {
		v, err := glass.Fit(glass.Point{Log: 1.5, C: c.t15}, glass.Point{Log: 6.6, C: c.t66},
			glass.Point{Log: 12, C: c.t12})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		near(t, c.name+" at 10 Pa.s", v.At(1), c.wantT1, 1)
		if c.b != 0 {
			// The table prints its points to 0.1 C, so its constants are known
			// only as far as points half a digit off would move them.
			slack := roundingSlack(t, c.t15, c.t66, c.t12, v)
			near(t, c.name+" A", v.A, c.a, 0.0005+slack.A)
			near(t, c.name+" B", v.B, c.b, 0.05+slack.B)
			near(t, c.name+" T0", v.T0, c.t0, 0.05+slack.T0)
		}
	}
}

// roundingSlack is how far points that round to the given ones move the fit.
func roundingSlack(t *testing.T, t15, t66, t12 float64, fit glass.VFT) (most glass.VFT) {
	t.Helper()
	for corner := range 8 {
		off := func(bit int) float64 { return 0.1*float64(corner>>bit&1) - 0.05 }
		v, err := glass.Fit(glass.Point{Log: 1.5, C: t15 + off(0)}, glass.Point{Log: 6.6,
			C: t66 + off(1)},
			glass.Point{Log: 12, C: t12 + off(2)})
		if err != nil {
			t.Fatal(err)
		}
		most.A = max(most.A, math.Abs(v.A-fit.A))
		most.B = max(most.B, math.Abs(v.B-fit.B))
		most.T0 = max(most.T0, math.Abs(v.T0-fit.T0))
	}
	return most
}

func TestFitRefuses(t *testing.T) {
	p := func(log, c float64) glass.Point { return glass.Point{Log: log, C: c} }
	for _, c := range []struct {
		name              string
		hot, middle, cold glass.Point
	}{
		// V16 ISO 7884-7, scope, found: the strain point never; here float glass of Pilkington ATS-129.
		{"strain point", p(6.6, 715), p(12, 548), p(13.5, 511)},
		{"same with a lower log, T0 = -293 C", p(6.6, 715), p(11.5, 548), p(12.4, 511)},
		{"rising order", p(12, 514), p(6.6, 695), p(3, 1005)},
		{"twice the same", p(3, 1005), p(3, 1005), p(12, 514)},
		{"straight line", p(2, 1000), p(4, 800), p(6, 600)},
		{"colder is thinner", p(12, 1000), p(6.6, 700), p(3, 500)},
		{"not a number", p(math.NaN(), 1000), p(6.6, 700), p(12, 500)},
	} {
		if v, err := glass.Fit(c.hot, c.middle, c.cold); err == nil {
			t.Errorf("%s: fitted %+v, want an error", c.name, v)
		}
	}
}

// The curves that recipes were written for, to the last digit printed.
func TestCurvesStay(t *testing.T) {
	for name, want := range map[string]glass.VFT{
		"soda-lime-lamp":    {A: -2.735915492957746, B: 4611.251921741717, T0: 201.0739436619719},
		"lead-29":           {A: -2.2, B: 4512.444444444442, T0: 117.22222222222236},
		"srm-710":           {A: -2.626, B: 4236.118, T0: 266},
		"borosilicate-717a": {A: -2.776323, B: 5259.6770, T0: 158.0470},
	} {
		have := named(t, name).Curve
		near(t, name+" A", have.A, want.A, 1e-12)
		near(t, name+" B", have.B, want.B, 1e-9)
		near(t, name+" T0", have.T0, want.T0, 1e-9)
	}
}

// Figures of the trade for the two stem glasses, from memory: softening,
// annealing, strain and working point.
func TestStemGlasses(t *testing.T) {
	for _, c := range []struct {
		name                     string
		soft, anneal, strain, wk float64
	}{
		{"soda-lime-lamp", 695, 514, 473, 1005},
		{"lead-29", 630, 435, 395, 985},
	} {
		g := named(t, c.name)
		have := [4]float64{float64(g.SofteningC), float64(g.AnnealingC), float64(g.StrainC),
			float64(g.WorkingC)}
		if have != [4]float64{c.soft, c.anneal, c.strain, c.wk} {
			t.Errorf("%s: %v", c.name, have)
		}
	}
	if !named(t, "lead-29").Lead || named(t, "soda-lime-lamp").Lead {
		t.Error("lead-29 alone is a lead glass")
	}
}

func TestEveryGlassIsInOrder(t *testing.T) {
	if _, ok := glass.Named("no such glass"); ok {
		t.Error("found a glass that is not there")
	}
	for _, name := range glass.Names() {
		g := named(t, name)
		if !(g.StrainC < g.AnnealingC && g.AnnealingC < g.SofteningC && g.SofteningC < g.WorkingC) {
			t.Errorf("%s: fixed points out of order: %+v", name, g)
		}
		if g.Source == "" || g.Label == "" {
			t.Errorf("%s: no source or label", name)
		}
		rapid.Check(t, func(t *rapid.T) {
			log := rapid.Float64Range(glass.LogLeast, glass.LogMost).Draw(t, "log")
			c := g.AtLogViscosity(log)
			if back := g.LogViscosityPaS(c); math.Abs(back-log) > 1e-9 {
				t.Fatalf("%s: 10^%v is %v C, which is 10^%v", name, log, c, back)
			}
			if g.LogViscosityPaS(c+1) >= log {
				t.Fatalf("%s: hotter is not thinner at %v C", name, c)
			}
		})
		if !math.IsInf(g.LogViscosityPaS(g.Curve.T0),
			1) || !math.IsInf(g.AtLogViscosity(g.Curve.A), 1) {
			t.Errorf("%s: the ends of the equation are not +Inf", name)
		}
	}
}

func TestPublishedCurves(t *testing.T) {
	// V10 Fluegel 2007, table 12, found; the constants of SRM 717a are from memory
	v := glass.VFT{A: -2.5602, B: 4852.2, T0: 192.46}
	near(t, "717a at 10 Pa.s", v.At(1), 1555, 1)
	near(t, "717a at 10^1.5", v.At(1.5), 1388, 1)
	// V26 container soda-lime of public tables, found, their unit repaired to Pa.s
	near(t, "container softening", glass.VFT{A: -2.309, B: 3922, T0: 291}.At(6.6), 731.2, 0.1)
	// V27 float of public tables, found, unit repaired; DGG I has 1439 (Fluegel 2007, table 12)
	near(t, "float at 10 Pa.s", named(t, "float").AtLogViscosity(1), 1439, 1)
	// V29 ASTM C336, found: the fibre at the strain point creeps at 0.0316 of the annealing rate
	near(t, "rate", math.Pow(10, glass.LogAnnealing-glass.LogStrain), 0.0316, 1e-4)
	// Measured at 10 Pa.s, which no point of these fits is: Fluegel 2007, table 2, found. The
	// equation misses SRM 710a by 6 K.
	near(t, "711", named(t, "srm-711").AtLogViscosity(1), 1327, 1)
	near(t, "DGG I", named(t, "dgg-1").AtLogViscosity(1), 1439, 1)
	near(t, "710a", named(t, "srm-710a").AtLogViscosity(1), 1464, 7)
}

func TestRelationsOfTheFloatSheet(t *testing.T) {
	g := named(t, "float")
	// P01 Pilkington ATS-129 prints 30 GPa, found; 29.27 derived
	near(t, "shear modulus", g.ShearMPa(), 30e3, 0.03*30e3)
	near(t, "shear modulus", g.ShearMPa(), 29.27e3, 5)
	// P02 the same sheet prints 0.62 MPa/K, found
	near(t, "stress per kelvin", g.StressPerKelvinMPa(), 0.62, 0.04*0.62)
	// P03 the same sheet, found: psi = 2.18 nm / in, so 1 nm over an inch and 2.18 psi
	near(t, "stress-optical constant", g.OpticalPPa*1e12, 1e-9/(0.0254*2.18*6894.757)*1e12, 0.002*2.619)
	// P04 van der Tempel 2002, formula found, number derived
	near(t, "conductivity", glass.ModelConductivityWmK(880, 2500), 1.130, 0.002)
}
