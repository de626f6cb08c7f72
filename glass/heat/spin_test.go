package heat

import (
	"math"
	"testing"
)

// Derived; no published limits were found.
func TestSpin(t *testing.T) {
	v := must(t)
	near(t, "R01", v(Growth(2500, 0.015, 1e4, 60)), 7.40e-4, 1e-6)
	near(t, "hoop, Pa", v(HoopStress(2500, 0.015, 60)), 22.2, 0.05)
	near(t, "1 % takes, s", 0.01/v(Growth(2500, 0.015, 1e4, 60)), 13.5, 0.05)
	near(t, "R02, rpm", v(GravitySpeed(0.015)), 244.2, 0.1)
	near(t, "tension, rpm", v(TensionSpeed(0.315, 2500, 0.015)), 58, 1)
	kappa := v(Diffusivity(0.937, 2500, 880))
	near(t, "R03, K", v(Ripple(5e5, 0.25, 60, 0.937, kappa)), 196.5, 0.5)
	near(t, "at 120 rpm", v(Ripple(5e5, 0.25, 120, 0.937, kappa)), 139, 0.5)
	near(t, "at 200 rpm", v(Ripple(5e5, 0.25, 200, 0.937, kappa)), 108, 0.5)
	near(t, "rounding, s", v(RoundingTime(1e4, 0.0005, 0.315)), 15.9, 0.05)
}

// A limit's speed is where its quantity meets the limit.
func TestSpeedsMeetTheirLimits(t *testing.T) {
	v := must(t)
	near(t, "ripple", v(Ripple(5e5, 0.25, v(RippleSpeed(80, 5e5, 0.25, 0.937, 4e-7)), 0.937, 4e-7)), 80, 1e-9)
	near(t, "growth", v(Growth(2500, 0.015, 1e4, v(GrowthSpeed(2500, 0.015, 1e4, 0.01, 20))))*20, 0.01, 1e-12)
	near(t, "sag", v(Sag(2500, 0.029, 1e5, v(SagSpeed(0.02, 2500, 0.029, 1e5, 1)), 1)), 0.02, 1e-12)
	near(t, "rounding", v(Rounding(1e4, 0.315, v(RoundingTime(1e4, 0.0005, 0.315)))), 0.0005, 1e-15)
}

// The window lies between the limits it names, and shuts when the glass is
// soft: about 60 to 150 rpm at 10^4 to 10^5 Pa.s was proposed (derived).
func TestSpeeds(t *testing.T) {
	turning := Turning{Density: 2500, Radius: 0.0145, Viscosity: 1e5, Conductivity: 1.3,
		Diffusivity: 4.7e-7, Flux: 2.5e5, Arc: 0.3, Ripple: 80, Growth: 0.01, Seconds: 20}
	upright, err := turning.Speeds()
	if err != nil || !upright.Open() || upright.LeastBy != "ripple" || upright.MostBy != "growth" {
		t.Fatalf("%+v %v", upright, err)
	}
	near(t, "least", must(t)(Ripple(2.5e5, 0.3, upright.Least, 1.3, 4.7e-7)), 80, 1e-9)
	near(t, "most", must(t)(Growth(2500, 0.0145, 1e5, upright.Most))*20, 0.01, 1e-12)
	if upright.Least > 100 || upright.Most < 60 || upright.Most > 200 {
		t.Errorf("%+v is far from 60 to 150 rpm", upright)
	}
	turning.Sag, turning.Geometry = 0.005, 1
	level, err := turning.Speeds()
	if err != nil || level.LeastBy != "sag" || level.Least <= upright.Least {
		t.Errorf("%+v %v", level, err)
	}
	turning.Viscosity = 1e3
	soft, err := turning.Speeds()
	if err != nil || soft.Open() {
		t.Errorf("%+v %v: soft glass on a level spindle has no speed", soft, err)
	}
	turning.Sag = -1
	if _, err := turning.Speeds(); err == nil {
		t.Error("a limit below nothing")
	}
}

// The surface of a turning blank under a fixed flame swings about its mean as
// the formula says, by the solver: on for a quarter of each turn.
func TestRippleOfTheSolver(t *testing.T) {
	const flux, arc, rpm, k = 5e5, 0.25, 120.0, 0.937
	r := wall(t, 0.001, plain(t, k, 2500, 880), 60)
	var on, off Surroundings
	on.Outside.Flux(flux * (1 - arc)) // the mean flux is taken out, as losses do
	off.Outside.Flux(-flux * arc)
	const turn, steps = 60 / rpm, 200
	low, high := math.Inf(1), math.Inf(-1)
	for n := range 12 {
		for i := range steps {
			s := &off
			if float64(i) < arc*steps {
				s = &on
			}
			r.Step(turn/steps, s)
			if n >= 8 {
				low, high = min(low, r.OutsideC(0)), max(high, r.OutsideC(0))
			}
		}
	}
	want := must(t)(Ripple(flux, arc, rpm, k, k/(2500*880)))
	t.Logf("ripple %.1f K, formula %.1f K", high-low, want)
	near(t, "ripple, K", high-low, want, 0.35*want)
}

func TestSpinRefuses(t *testing.T) {
	nan := math.NaN()
	for what, err := range map[string]error{
		"speed":     second(Growth(2500, 0.015, 1e4, 0)),
		"viscosity": second(Growth(2500, 0.015, nan, 60)),
		"radius":    second(GravitySpeed(-1)),
		"tension":   second(TensionSpeed(0, 2500, 0.015)),
		"arc":       second(Ripple(5e5, 2, 60, 1, 4e-7)),
		"flux":      second(Ripple(-1, 0.5, 60, 1, 4e-7)),
		"limit":     second(RippleSpeed(0, 5e5, 0.25, 1, 4e-7)),
		"limit 2":   second(RippleSpeed(10, nan, 0.25, 1, 4e-7)),
		"share":     second(GrowthSpeed(2500, 0.015, 1e4, -1, 1)),
		"share 2":   second(GrowthSpeed(nan, 0.015, 1e4, 0.1, 1)),
		"sag":       second(Sag(2500, 0.03, 1e4, 60, -1)),
		"sag limit": second(SagSpeed(-1, 2500, 0.03, 1e4, 1)),
		"sag 2":     second(SagSpeed(0.1, 2500, nan, 1e4, 1)),
		"time":      second(Rounding(1e4, 0.3, -1)),
		"edge":      second(RoundingTime(1e4, 0, 0.3)),
	} {
		if err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}
