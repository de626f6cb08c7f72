package heat

import (
	"math"
	"testing"
)

// float is float glass: Pilkington ATS-129 (found).
var float = Elastic{Young: 72e9, Poisson: 0.23, Expansion: 8.3e-6, Strain: 511}

// A flux onto one face of a 2.5 mm wall: 10 MPa at 30 kW/m2, 33 at 100 (derived
// elsewhere, printed to two digits).
func TestWarmingStress(t *testing.T) {
	v := must(t)
	near(t, "30 kW/m2", v(WarmingStress(float, 30e3, 0.0025, 0.96))/1e6, 10, 0.5)
	near(t, "100 kW/m2", v(WarmingStress(float, 100e3, 0.0025, 0.96))/1e6, 33, 1)
	limit := v(FluxLimit(float, 10e6, 0.0025, 0.96))
	near(t, "back", v(WarmingStress(float, limit, 0.0025, 0.96)), 10e6, 1e-3)
}

// The field of a tube under a steady flux onto its outside gives the stress of
// the formula on its bore; a wide ring is flat.
func TestTensionOfTheFieldIsTheFormula(t *testing.T) {
	m := plain(t, 0.96, 2500, 880)
	r := newRing(Shape{Inner: 1, Outer: 1.0025, Height: 0.017}, Grid{16, 3}, m, 20)
	var s Surroundings
	s.Outside.Flux(30e3)
	run(r, &s, 15, 1500)
	got, err := r.Tension(float)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tension, MPa", got.Tension/1e6, must(t)(WarmingStress(float, 30e3, 0.0025, 0.96))/1e6, 0.1)
	if got.Place != "bore" {
		t.Errorf("the worst is %+v, want the bore", got)
	}
}

// A tube of steady logarithmic temperature: hoop stress on the bore and on the
// outside by Timoshenko and Goodier, Theory of Elasticity, section 150
// (formula from memory).
func TestTensionOfATube(t *testing.T) {
	const a, b, rise = 0.01, 0.02, 100.0
	m := plain(t, 1, 2500, 880)
	r := newRing(Shape{Inner: a, Outer: b, Height: 0.5}, Grid{60, 1}, m, 20)
	var s Surroundings
	s.Bore.Exchange(1e7, 20+rise) // hot inside: tension outside
	s.Outside.Exchange(1e7, 20)
	run(r, &s, 2000, 4000)
	got, err := r.Tension(float)
	if err != nil {
		t.Fatal(err)
	}
	ln := math.Log(b / a)
	want := float.Young * float.Expansion * rise / (2 * (1 - float.Poisson) * ln) *
		(1 - 2*a*a/(b*b-a*a)*ln)
	near(t, "outside, MPa", got.Tension/1e6, want/1e6, 0.01*want/1e6)
	if got.Place != "outside" {
		t.Errorf("the worst is %+v, want the outside", got)
	}
	// Inside the wall hoop and axial stress stay between those of the faces.
	for i := range 60 {
		if s := r.hoop(i, 0, r.ZoneC(0), float); s*float.perKelvin() > 1.01*want {
			t.Errorf("cell %d has %g Pa", i, s*float.perKelvin())
		}
	}
}

// zones sets every zone even, at a temperature of its own.
func zones(r *Ring, celsius func(j int) float64) {
	for j := range r.grid.Axial {
		for i := range r.grid.Radial {
			r.celsius[j*r.grid.Radial+i] = celsius(j)
		}
		r.bore[j], r.outside[j] = celsius(j), celsius(j)
	}
}

func tension(t *testing.T, r *Ring) Stress {
	t.Helper()
	s, err := r.Tension(float)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// An even ring, one that falls straight along its height and one above its
// strain point are free of tension; one colder in the middle is not, and the
// shorter it is the more it is held to its straight line.
func TestTensionAlongTheHeight(t *testing.T) {
	for _, c := range []struct {
		what       string
		height     float64
		z          []float64
		least, mst float64 // MPa
	}{
		{"even", 0.017, []float64{20, 20, 20}, 0, 1e-6},
		{"straight", 0.017, []float64{20, 120, 220}, 0, 1e-6},
		{"hot", 0.017, []float64{600, 900, 700}, 0, 1e-6},
		{"cold middle, short", 0.001, []float64{120, 20, 120}, 39.8, 40}, // E alpha 100 K x 2/3
		{"cold middle, blank", 0.017, []float64{120, 20, 120}, 10, 50},   // less hoop stress, but the wall bends
	} {
		r, err := NewRing(Shape{blank.Inner, blank.Outer, c.height}, Grid{4, 3}, plain(t, 1, 2500, 880), 20)
		if err != nil {
			t.Fatal(err)
		}
		zones(r, func(j int) float64 { return c.z[j] })
		if got := tension(t, r); !(got.Tension/1e6 >= c.least && got.Tension/1e6 <= c.mst) {
			t.Errorf("%s: %+v, want %g to %g MPa", c.what, got, c.least, c.mst)
		}
	}
}

// A long shell whose temperature waves along it keeps of E alpha T the part
// q/(1+q) with q = k^4 r^2 d^2/(12 (1-nu^2)) as hoop stress, and bends by the
// rest: exact for the shell's equation, derived.
func TestShellOfAWave(t *testing.T) {
	const radius, thick, waves, n = 0.0135, 0.0025, 8, 800
	for _, length := range []float64{0.08, 0.16, 0.4} {
		r, err := NewRing(Shape{radius - thick/2, radius + thick/2, length}, Grid{1, n},
			plain(t, 1, 2500, 880), 20)
		if err != nil {
			t.Fatal(err)
		}
		k := 2 * math.Pi * waves / length
		zones(r, func(j int) float64 { return 200 + 50*math.Cos(k*length*(float64(j)+0.5)/n) })
		r.shell(float)
		q := math.Pow(k, 4) * radius * radius * thick * thick / (12 * (1 - float.Poisson*float.Poisson))
		trough := n / waves * 7 / 2 // a cold place far from the ends
		have := float.Young * (r.scratch.bent[trough] - r.scratch.free[trough])
		near(t, "hoop stress, MPa", have/1e6, float.Young*float.Expansion*50*q/(1+q)/1e6, 0.5)
		bends := float.Young * thick / (2 * (1 - float.Poisson*float.Poisson)) *
			radius * float.Expansion * 50 * k * k / (1 + q)
		near(t, "bending, MPa", r.bending(float, trough)/1e6, bends/1e6, 0.5)
	}
}

// Four times the warming flux takes a ring from a low or some risk to a high
// one.
func TestRiskGrades(t *testing.T) {
	for _, c := range []struct {
		mega float64
		want Risk
	}{{0, RiskLow}, {6.9, RiskLow}, {7, RiskSome}, {18.9, RiskSome}, {19, RiskHigh}, {41, RiskVeryHigh}} {
		have, err := RiskOf(c.mega * 1e6)
		if err != nil || have != c.want {
			t.Errorf("%g MPa: %v %v, want %v", c.mega, have, err, c.want)
		}
	}
	soft, hard := must(t)(WarmingStress(float, 20e3, 0.0025, 0.96)),
		must(t)(WarmingStress(float, 80e3, 0.0025, 0.96))
	low, err := RiskOf(soft)
	if err != nil {
		t.Fatal(err)
	}
	high, err := RiskOf(hard)
	if err != nil || low != RiskLow || high != RiskHigh {
		t.Errorf("%v at a quarter, %v: %v", low, high, err)
	}
	if RiskLow.String() != "low" || RiskVeryHigh.String() != "very high" || Risk(9).String() != "unknown" {
		t.Error("words of the grades")
	}
}

func TestCrackRefuses(t *testing.T) {
	nan := math.NaN()
	r, err := NewRing(blank, Grid{2, 2}, plain(t, 1, 2500, 880), 20)
	if err != nil {
		t.Fatal(err)
	}
	_, noGlass := r.Tension(Elastic{})
	_, noGrade := RiskOf(nan)
	for what, err := range map[string]error{
		"no glass": noGlass, "no grade": noGrade,
		"flux":    second(WarmingStress(float, -1, 0.0025, 1)),
		"wall":    second(WarmingStress(float, 1, 0, 1)),
		"gpa":     second(WarmingStress(Elastic{72, 0.23, 8.3e-6, 511}, 1, 0.0025, 1)),
		"tension": second(FluxLimit(float, -1, 0.0025, 1)),
		"nan":     second(FluxLimit(float, nan, 0.0025, 1)),
		"k":       second(FluxLimit(float, 1e7, 0.0025, nan)),
	} {
		if err == nil {
			t.Errorf("%s: no error", what)
		}
	}
}
