package pyrometer

import (
	"math"
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

// Blackbody radiation functions as printed in Cengel, Heat Transfer, A
// Practical Approach (found in a transcription; the same table is 12.1 of
// Incropera). Left out are 5,200, 11,500 and 15,000 um.K, where the printed
// 0.658970, 0.939959 and 0.969981 miss Planck's integral by a thousandth, which
// none of their neighbours does.
func TestPublishedFractions(t *testing.T) {
	for _, c := range []struct{ umKelvin, want float64 }{
		{800, 0.000016}, {1000, 0.000321}, {1200, 0.002134}, {1400, 0.007790}, {1600, 0.019718},
		{1800, 0.039341}, {2000, 0.066728}, {2200, 0.100888}, {2400, 0.140256}, {2600, 0.183120},
		{2800, 0.227897}, {3000, 0.273232}, {3200, 0.318102}, {3400, 0.361735}, {3600, 0.403607},
		{3800, 0.443382}, {4000, 0.480877}, {4200, 0.516014}, {4400, 0.548796}, {4600, 0.579280},
		{4800, 0.607559}, {5000, 0.633747}, {5400, 0.680360}, {5600, 0.701046},
		{5800, 0.720158}, {6000, 0.737818}, {6200, 0.754140}, {6400, 0.769234}, {6600, 0.783199},
		{6800, 0.796129}, {7000, 0.808109}, {7200, 0.819217}, {7400, 0.829527}, {7600, 0.839102},
		{7800, 0.848005}, {8000, 0.856288}, {8500, 0.874608}, {9000, 0.890029}, {9500, 0.903085},
		{10000, 0.914199}, {12000, 0.945098}, {14000, 0.962898}, {16000, 0.973814}, {18000, 0.980860},
		{20000, 0.985602}, {25000, 0.992215}, {30000, 0.995340}, {40000, 0.997967}, {50000, 0.998953},
		{75000, 0.999713}, {100000, 0.999905},
	} {
		near(t, "fraction", must(t)(Fraction(c.umKelvin)), c.want, 1e-4) // older constants
	}
}

// Spectral intensity over sigma T^5, 1/(um.K.sr): Incropera, table 12.1 (from
// memory).
func TestPublishedSpectralPower(t *testing.T) {
	const kelvin = 1000.0
	for _, c := range []struct{ umKelvin, want float64 }{
		{1000, 0.118505e-5}, {2898, 0.722318e-4},
	} {
		p := must(t)(SpectralPower(c.umKelvin/kelvin, kelvin-zeroK))
		near(t, "spectral", p/math.Pi/(stefan*math.Pow(kelvin, 5))/c.want, 1, 2e-4)
	}
	near(t, "peak at 900 C, um", must(t)(Peak(900)), 2.470, 0.001)
	// All wavelengths together are Stefan's law.
	near(t, "all", bandPower(0.01, 700, 1173.15)/(stefan*math.Pow(1173.15, 4)), 1, 1e-5)
	// A band is the sum of its wavelengths.
	sum := 0.0
	for i := range 6000 {
		sum += spectral(8+(float64(i)+0.5)/1000, 1173.15) / 1000
	}
	near(t, "8 to 14 um", bandPower(8, 14, 1173.15)/sum, 1, 1e-6)
}

// Where the emissivity is set right, the reading is right; set wrong, Wien's
// approximation tells the error: dT = lambda T^2/c2 x de/e (from memory, any
// text on radiation thermometry).
func TestEmissivityError(t *testing.T) {
	v := must(t)
	c := Channel{Low: 5.1, High: 5.1, Emissivity: 0.97, Ambient: 20}
	near(t, "right", v(c.Reads(900, 0.97, 20)), 900, 1e-4)
	c = Channel{Low: 1, High: 1, Emissivity: 0.97, Ambient: 20}
	near(t, "1 um, 1 %", v(c.Reads(900, 0.97*0.99, 20))-900, -0.01*1*1173.15*1173.15/c2, 0.02)
	wide := Channel{Low: 8, High: 14, Emissivity: 1, Ambient: 20}
	short := Channel{Low: 4.9, High: 5.3, Emissivity: 1, Ambient: 20}
	far, close := 900-v(wide.Reads(900, 0.85, 20)), 900-v(short.Reads(900, 0.85, 20))
	if !(far > close && close > 0) {
		t.Errorf("too low by %g K at 8 to 14 um, %g K at 5 um: the longer wave must err more", far, close)
	}
	// A hot flame or mould that the glass throws back makes it read high.
	if hot := v(short.Reads(600, 0.9, 1200)); !(hot > 600) {
		t.Errorf("600 C before a hot background read as %g", hot)
	}
}

func TestTrueUndoesReads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(0.7, 14).Draw(t, "low")
		c := Channel{Low: low, High: low + rapid.Float64Range(0, 6).Draw(t, "width"),
			Emissivity: rapid.Float64Range(0.5, 1).Draw(t, "set"), Ambient: 20}
		surface := rapid.Float64Range(300, 1200).Draw(t, "surface")
		e := rapid.Float64Range(0.5, 1).Draw(t, "true")
		room := rapid.Float64Range(0, 200).Draw(t, "room")
		reading, err := c.Reads(surface, e, room)
		if err != nil {
			t.Fatal(err)
		}
		back, err := c.True(reading, e, room)
		if err != nil || math.Abs(back-surface) > 1e-3 {
			t.Fatalf("%+v: %g C read as %g is taken as %g: %v", c, surface, reading, back, err)
		}
	})
}

// Beyond about 5 um glass is opaque, below that a thermometer looks into and
// through it [common practice; depths from memory].
func TestSight(t *testing.T) {
	for _, c := range []struct {
		um   float64
		want Sight
	}{{1, Through}, {2.2, Through}, {3.4, Through}, {3.9, Through}, {4.4, Partly}, {5.14, Surface}, {7.9, Surface},
		{12, Surface}} {
		have, err := Sees(c.um, 0.0025)
		if err != nil || have != c.want {
			t.Errorf("%g um sees %v, want %v: %v", c.um, have, c.want, err)
		}
	}
	before := math.Inf(1)
	for um := 0.8; um <= 14; um += 0.1 {
		depth := must(t)(Depth(um))
		if !(depth <= before) {
			t.Errorf("%g um sees deeper, %g m, than the shorter wave", um, depth)
		}
		before = depth
	}
}

// A wall that is hotter inside: 5 um shows its outside, 2.2 um mostly what is
// behind, and an even wall before an even background shows itself.
func TestReadsWall(t *testing.T) {
	v := must(t)
	layers := make([]float64, 50)
	for i := range layers {
		layers[i] = 800 + 2*float64(i) // 800 outside, 898 inside
	}
	opaque := Channel{Low: 5.1, High: 5.3, Emissivity: 0.97, Ambient: 20}
	near(t, "5 um", v(opaque.ReadsWall(layers, 0.0025, 0.97, 450, 20)), 801.3, 1.5)
	clear := Channel{Low: 2.1, High: 2.3, Emissivity: 0.97, Ambient: 20}
	cold, hot := v(clear.ReadsWall(layers, 0.0025, 0.97, 450, 20)),
		v(clear.ReadsWall(layers, 0.0025, 0.97, 1000, 20))
	if !(hot-cold > 300) {
		t.Errorf("2.2 um reads %g before 450 C and %g before 1,000 C: it must look through", cold, hot)
	}
	for i := range layers {
		layers[i] = 850
	}
	near(t, "even", v(clear.ReadsWall(layers, 0.0025, 0.97, 850, 20)), 850, 0.01)
}

func TestInterlock(t *testing.T) {
	for _, c := range []struct {
		low, high, emissivity float64 // 0: refused
	}{{1, 1, 0}, {2, 2.5, 0}, {3.9, 3.9, 0}, {4.9, 5.3, 0.97}, {7.9, 7.9, 0.97}, {8, 14, 0.85},
		{8, 20, 0}} {
		ch := Channel{Low: c.low, High: c.high, Emissivity: 0.97, Ambient: 20}
		e, err := GlassEmissivity(ch)
		if e != c.emissivity || (err != nil) != (c.emissivity == 0) || (RefuseInterlock(ch) != nil) != (err != nil) {
			t.Errorf("%g to %g um: %g %v, want %g", c.low, c.high, e, err, c.emissivity)
		}
	}
}

func TestView(t *testing.T) {
	good := View{FlameAside: 0.4, Spot: 0.004, Target: 0.017, Averaged: 1, RPM: 60}
	if err := good.Invalid(); err != nil {
		t.Error(err)
	}
	for what, change := range map[string]func(*View){
		"flame":      func(v *View) { v.FlameAside = 0.2 },
		"spot":       func(v *View) { v.Spot = 0.006 },
		"half turns": func(v *View) { v.Averaged = 1.5 },
		"short":      func(v *View) { v.Averaged = 0.1 },
		"no time":    func(v *View) { v.Averaged = 0 },
		"NaN":        func(v *View) { v.Spot = math.NaN() },
		"negative":   func(v *View) { v.RPM = -1 },
	} {
		v := good
		change(&v)
		if v.Invalid() == nil {
			t.Errorf("%s: valid", what)
		}
	}
	still := good
	still.RPM, still.Averaged = 0, 0
	if err := still.Invalid(); err != nil {
		t.Error(err)
	}
	near(t, "averaging", must(t)(AveragingTime(0.9, 100)), 1.2, 1e-12)
	near(t, "averaging", must(t)(AveragingTime(0, 60)), 1, 1e-12)
}

func TestRefuses(t *testing.T) {
	nan := math.NaN()
	good := Channel{Low: 5, High: 5.3, Emissivity: 0.97, Ambient: 20}
	for what, err := range map[string]error{
		"wavelength":   second(SpectralPower(0, 900)),
		"below zero":   second(SpectralPower(5, -300)),
		"peak":         second(Peak(nan)),
		"fraction":     second(Fraction(-1)),
		"backwards":    second(Channel{Low: 6, High: 5, Emissivity: 0.9}.Reads(900, 0.9, 20)),
		"emissivity":   second(Channel{Low: 5, High: 5, Emissivity: 1.1}.Reads(900, 0.9, 20)),
		"surface":      second(good.Reads(nan, 0.9, 20)),
		"reading":      second(good.True(-300, 0.9, 20)),
		"true":         second(good.True(900, 0, 20)),
		"bad channel":  second(Channel{}.True(900, 0.9, 20)),
		"ambient":      second(Channel{Low: 5, High: 5, Emissivity: 0.3, Ambient: 2000}.Reads(600, 0.3, 20)),
		"depth":        second(Depth(20)),
		"no layers":    second(good.ReadsWall(nil, 0.0025, 0.97, 20, 20)),
		"layer":        second(good.ReadsWall([]float64{nan}, 0.0025, 0.97, 20, 20)),
		"wall":         second(good.ReadsWall([]float64{900}, 0, 0.97, 20, 20)),
		"no depth":     second(Channel{Low: 20, High: 20, Emissivity: 1}.ReadsWall([]float64{900}, 0.0025, 0.97, 20, 20)),
		"wall channel": second(Channel{}.ReadsWall([]float64{900}, 0.0025, 0.97, 20, 20)),
		"averaging":    second(AveragingTime(1, 0)),
		"no interlock": RefuseInterlock(Channel{}),
	} {
		if err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	if _, err := Sees(5, -1); err == nil {
		t.Error("a wall of less than nothing")
	}
	if _, err := Sees(100, 0.0025); err == nil {
		t.Error("a wavelength that nobody knows")
	}
}

func second(_ float64, err error) error { return err }
