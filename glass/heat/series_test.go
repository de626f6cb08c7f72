package heat

import (
	"math"
	"testing"
)

// near fails when have is farther than tol from want.
func near(t *testing.T, what string, have, want, tol float64) {
	t.Helper()
	if !(math.Abs(have-want) <= tol) {
		t.Errorf("%s is %.7g, want %.7g +-%g", what, have, want, tol)
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

// First roots and coefficients, as in Incropera, table 5.1 (from memory; solved
// anew when they were written down). Equations: Bergman, Lavine, Incropera,
// Dewitt 2011, pages 299 to 304.
func TestFirstTerms(t *testing.T) {
	for _, c := range []struct {
		id          string
		body        Body
		biot, z, c1 float64
	}{
		{"H01", Wall, 1, 0.8603, 1.1191},
		{"H02", Cylinder, 1, 1.2558, 1.2071},
		{"H03", Sphere, 1, 1.5708, 1.2732},
		{"H04", Wall, 0.1, 0.3111, 1.0161},
		{"", Wall, 0.01, 0.0998, 1.0017}, {"", Cylinder, 0.01, 0.1412, 1.0025},
		{"", Sphere, 0.01, 0.1730, 1.0030}, {"", Cylinder, 0.1, 0.4417, 1.0246},
		{"", Sphere, 0.1, 0.5423, 1.0298}, {"", Wall, 0.5, 0.6533, 1.0701},
		{"", Cylinder, 0.5, 0.9408, 1.1143}, {"", Sphere, 0.5, 1.1656, 1.1441},
		{"", Wall, 5, 1.3138, 1.2402}, {"", Cylinder, 5, 1.9898, 1.5029},
		{"", Sphere, 5, 2.5704, 1.7870}, {"", Wall, 100, 1.5552, 1.2731},
		{"", Cylinder, 100, 2.3809, 1.6015}, {"", Sphere, 100, 3.1102, 1.9990},
	} {
		z, c1, err := Term(c.body, c.biot, 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.id+" root", z, c.z, 1e-4)
		near(t, c.id+" coefficient", c1, c.c1, 1e-4)
	}
	// Approximation by Yovanovich of the wall's root (found, University of
	// Waterloo): within 0.16 %.
	for _, biot := range []float64{0.1, 0.5, 1, 10} {
		z, _, err := Term(Wall, biot, 1)
		if err != nil {
			t.Fatal(err)
		}
		half := math.Pi / 2
		near(t, "Yovanovich", z, half/math.Pow(1+math.Pow(half/math.Sqrt(biot), 2.139), 1/2.139),
			0.0016*z)
	}
}

// Every root solves its equation and lies above the one before.
func TestRootsAreRoots(t *testing.T) {
	for _, b := range []Body{Wall, Cylinder, Sphere} {
		for _, biot := range []float64{1e-3, 0.3, 1, 7, 1e4} {
			before := 0.0
			for n := 1; n <= mostTerms; n++ {
				z, _ := term(b, biot, n)
				if z <= before || n > 1 && z-before > 1.6*math.Pi {
					t.Fatalf("body %d Biot %g: root %d is %g after %g", b, biot, n, z, before)
				}
				before = z
				// What is left decays at the surface as the gas takes it: k dT/dx = -h T.
				const d = 1e-7
				slope := (b.mode(z, 1) - b.mode(z, 1-d)) / d
				if off := slope + biot*b.mode(z, 1); math.Abs(off) > 1e-3*(1+biot)*(1+z) {
					t.Fatalf("body %d Biot %g: root %d misses its condition by %g", b, biot, n, off)
				}
			}
		}
	}
}

// H05, H06: exact series, derived.
func TestWallSeries(t *testing.T) {
	v := must(t)
	near(t, "H05 middle", v(Left(Wall, 1, 0.2, 0)), 0.95064, 1e-5)
	near(t, "H05 surface", v(Left(Wall, 1, 0.2, 1)), 0.64339, 1e-5)
	near(t, "H06 middle", v(Left(Wall, 1, 0.5, 0)), 0.77253, 1e-5)
	near(t, "H06 surface", v(Left(Wall, 1, 0.5, 1)), 0.50452, 1e-5)
	near(t, "early middle", v(Left(Wall, 1, 0.1, 0)), 0.99311, 1e-5)
	near(t, "early surface", v(Left(Wall, 1, 0.1, 1)), 0.72358, 1e-5)
	// H07: inputs found (University of Waterloo), values derived: L 0.1 m, k 20, h
	// 100, kappa 20e-6, 600 s.
	const biot, fourier = 100 * 0.1 / 20, 20e-6 * 600 / 0.01
	near(t, "H07 middle", v(Left(Wall, biot, fourier, 0)), 0.6412, 1e-4)
	near(t, "H07 surface", v(Left(Wall, biot, fourier, 1)), 0.5092, 1e-4)
	near(t, "H07 heat gone", v(HeatGone(Wall, biot, fourier)), 0.4034, 1e-4)
	// Incropera's pipeline (from memory): the book's one term gives 42.9 and 45.2 C,
	// the series 43.02 and 45.36.
	const pipe, after = 500 * 0.04 / 63.9, 63.9 / (7832 * 434) * 480 / (0.04 * 0.04)
	near(t, "pipeline, middle", 60-80*v(Left(Wall, pipe, after, 0)), 43.02, 0.01)
	near(t, "pipeline, surface", 60-80*v(Left(Wall, pipe, after, 1)), 45.36, 0.01)
	near(t, "pipeline, book", 60-80*v(Left(Wall, pipe, after, 0)), 42.9, 0.2)
}

// Whatever the body, at small Biot numbers it cools as one lump: exp(-Bi Fo
// A L/V), with A L/V 1, 2, 3 (Incropera, section 5.1).
func TestSeriesAgreesWithLump(t *testing.T) {
	for b, times := range map[Body]float64{Wall: 1, Cylinder: 2, Sphere: 3} {
		near(t, "lump", must(t)(Left(b, 1e-4, 5000, 0.5)), math.Exp(-1e-4*5000*times), 1e-4)
	}
}

func TestHalfSpace(t *testing.T) {
	v := must(t)
	// H08: Geankoplis, example 5.3-1 (found as a public test of the textbook
	// problem; the book's chart gives 267.7 K, from memory).
	share := v(ConvectionShare(11.36, 0.865, 4.65e-7, 0, 5*3600))
	near(t, "H08, K", 15.6+zeroK+share*(-17.8-15.6), 267.982, 1e-3)
	// Geankoplis, example 5.3-3 (found the same way): 388.8 K after 1.892 h.
	share = v(ConvectionShare(455, 208, 0.340/3600, 0.0254, 1.892*3600))
	near(t, "Geankoplis 5.3-3", 505.4+share*(338.8-505.4), 388.8, 0.01)
	// H10: pipe burial, Incropera (from memory), derived.
	near(t, "H10, m", v(FixedSurfaceDepth(0.138e-6, (0.0+15)/(20+15), 60*86400)), 0.677, 1e-3)
	near(t, "H10 back", v(FixedSurfaceShare(0.138e-6, 0.677, 60*86400)), 15.0/35, 1e-3)
	// H15 (derived): glass under 500 kW/m2 for a second.
	kappa := v(Diffusivity(0.937, 2500, 880))
	near(t, "H15, K", v(FluxRise(5e5, 0.937, kappa, 1)), 393.0, 0.5)
	// Far from overflow the scaled function is the plain one.
	near(t, "erfcx joins", erfcx(20), math.Exp(400)*math.Erfc(20), 1e-9)
	near(t, "erfcx far", erfcx(1e6), 1/(1e6*math.Sqrt(math.Pi)), 1e-18)
}

// H11: Carslaw and Jaeger, section 3.8, derived.
func TestFluxSpread(t *testing.T) {
	s, m, rate, err := FluxSpread(1e5, 0.002, 0.937, 2500, 880)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "H11 surface", s, 71.15, 0.05)
	near(t, "H11 middle", m, -35.57, 0.05)
	near(t, "H11 rate", rate, 22.73, 0.01)
}

// H12: Bejan, Heat Transfer Handbook, equation 3.283 (found); value derived.
func TestRadiationTime(t *testing.T) {
	near(t, "H12, s", must(t)(RadiationTime(900, 600, 20, 0.85, 2500, 1100, 0.002)), 33.86, 0.02)
	near(t, "film", must(t)(RadiationFilm(900, 20, 0.85)), 103.3, 0.1)
}

// H13, H14: law of effusivities (found), values derived; the mould's numbers are
// from memory.
func TestContact(t *testing.T) {
	v := must(t)
	glass := v(Effusivity(0.937, 2500, 880))
	near(t, "glass", glass, 1435.8, 0.1)
	for _, c := range []struct {
		id           string
		k, rho, cp   float64
		wantEff, deg float64
	}{
		{"H13 cast iron", 50, 7200, 480, 13145, 494.3},
		{"H14 304", 14.9, 7900, 477, 7493, 522.4},
		{"brass", 110, 8530, 380, 18883, 481.8},
		{"graphite", 100, 1800, 710, 11305, 500.7},
	} {
		e := v(Effusivity(c.k, c.rho, c.cp))
		near(t, c.id+" effusivity", e, c.wantEff, 1)
		near(t, c.id, v(ContactC(900, glass, 450, e)), c.deg, 0.1)
	}
}

func TestFormulasRefuse(t *testing.T) {
	nan := math.NaN()
	_, _, one := Term(Wall, nan, 1)
	_, _, two := Term(Wall, 1, 0)
	_, _, three := Term(Body(7), 1, 1)
	_, _, _, four := FluxSpread(-1, 0.002, 1, 2500, 880)
	for what, err := range map[string]error{
		"Biot NaN": one, "term 0": two, "no body": three, "flux negative": four,
		"too early":      second(Left(Wall, 1, 1e-9, 0)),
		"outside":        second(Left(Wall, 1, 1, 1.1)),
		"body":           second(Left(Body(-1), 1, 1, 1)),
		"below zero":     second(RadiationTime(900, -300, 20, 0.85, 2500, 1100, 0.002)),
		"warms":          second(RadiationTime(600, 900, 20, 0.85, 2500, 1100, 0.002)),
		"black":          second(RadiationTime(900, 600, 20, 1.1, 2500, 1100, 0.002)),
		"room at zero":   second(RadiationTime(900, 600, -zeroK, 0.85, 2500, 1100, 0.002)),
		"conductivity":   second(Diffusivity(0, 2500, 880)),
		"time":           second(FluxRise(1, 1, 1e-6, -1)),
		"effusivity":     second(ContactC(900, nan, 20, 1000)),
		"emissivity":     second(RadiationFilm(900, 20, -0.1)),
		"share":          second(FixedSurfaceDepth(1e-6, 1, 1)),
		"depth":          second(ConvectionShare(1, 1, 1e-6, -1, 1)),
		"depth, surface": second(FixedSurfaceShare(1e-6, nan, 1)),
		"density":        second(Effusivity(1, -2500, 880)),
		"heat gone":      second(HeatGone(Wall, -1, 1)),
	} {
		if err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}

func second(_ float64, err error) error { return err }
