package controller

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"pressrig/recipes"
	"pressrig/safety/warden"
)

// TestEstimateOfAStraightLine: on a straight cooling line the extrapolation is
// the line, to the count.
func TestEstimateOfAStraightLine(t *testing.T) {
	var e estimator
	for ms := uint64(0); ms <= 1_000; ms += 20 {
		e.add(5_000+ms, int16(9_000-ms*18/100)) // 18 K/s from 900 C
	}
	for _, age := range []uint64{0, 100, 500, 1_000, 2_000} {
		got := e.at(6_000 + age)
		want := 9_000 - (1_000+int64(age))*18/100
		if !got.ok || math.Abs(float64(int64(got.dC)-want)) > 1 || uint64(got.ageMs) != age {
			t.Errorf("after %d ms: %+v, want %d", age, got, want)
		}
	}
	if e.at(6_000 + 2_001).ok {
		t.Error("an estimate older than 2 s is offered")
	}
}

// TestEstimateCoversCooling: a body that cools by radiation (T^4 law, the loss
// of 15 to 18 K/s at 850 to 900 C that workshop.md section 1.4 gives for an
// open 2.5 mm wall) stays inside the stated uncertainty.
func TestEstimateCoversCooling(t *testing.T) {
	for _, rate := range []float64{6, 9, 15, 18} { // K/s at 900 C
		var e estimator
		kelvin, at := 1173.0, uint64(0)
		body := func() { // 1 ms
			kelvin -= rate / 1000 * math.Pow(kelvin/1173, 4)
			at++
		}
		for at < 1_000 {
			body()
			if at%20 == 0 {
				e.add(at, int16(math.Round((kelvin-273)*10)))
			}
		}
		for at < 3_000 {
			body()
			got := e.at(at)
			off := math.Abs(float64(got.dC)/10 - (kelvin - 273))
			if !got.ok || off > float64(got.uncDC)/10 {
				t.Fatalf("%g K/s, %d ms on: %.1f K off, said +-%.1f", rate, at-1_000, off,
					float64(got.uncDC)/10)
			}
			if got.uncDC > 200 {
				t.Fatalf("%g K/s, %d ms on: +-%.1f K is of no use", rate, at-1_000,
					float64(got.uncDC)/10)
			}
		}
	}
}

// TestEstimateNeedsSamples: too few, or all from one moment, give none.
func TestEstimateNeedsSamples(t *testing.T) {
	var e estimator
	if e.at(100).ok {
		t.Error("an estimate from nothing")
	}
	for i := range uint64(minSamples) {
		e.add(1_000+i, 8_000)
	}
	if e.at(1_100).ok {
		t.Error("a slope from 5 ms")
	}
}

// TestEstimateIsBounded: whatever the samples, nothing overflows: an estimate
// is refused or its uncertainty is at least the thermometer's own.
func TestEstimateIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e estimator
		at := rapid.Uint64Range(0, 1<<40).Draw(t, "from")
		for range rapid.IntRange(0, 80).Draw(t, "n") {
			at += rapid.Uint64Range(1, 300).Draw(t, "dt")
			e.add(at, rapid.Int16().Draw(t, "dC"))
		}
		got := e.at(at + rapid.Uint64Range(0, 3_000).Draw(t, "age"))
		if got.ok && got.uncDC < floorDC {
			t.Fatalf("%+v", got)
		}
	})
}

// TestEstimateRises: the uncertainty never shrinks with age.
func TestEstimateRises(t *testing.T) {
	var e estimator
	for i := range uint64(50) {
		e.add(i*20, int16(8_900-i*3+i%3))
	}
	was := uint16(0)
	for age := uint64(0); age <= estimateLongest; age += 50 {
		got := e.at(49*20 + age)
		if !got.ok || got.uncDC < was {
			t.Fatalf("at %d ms: %+v after %d", age, got, was)
		}
		was = got.uncDC
	}
}

// TestEstimateGoesWithTheStroke: when the thermometer loses the glass at the
// stroke, the warden presses on the extrapolation, and only then.
func TestEstimateGoesWithTheStroke(t *testing.T) {
	f := newFake(t, driven(t))
	f.toPhase(job(1), "form")
	if f.req.Flags&warden.ReqEstimate != 0 {
		t.Fatal("an estimate is sent while the thermometer sees the glass")
	}
	f.noGlass = true
	f.run(60)
	if f.req.Flags&warden.ReqEstimate == 0 || f.req.EstAgeMs > 200 || f.req.EstUncDC < floorDC {
		t.Fatalf("no estimate: %+v", f.req)
	}
	if !f.until(3, func() bool { return f.m.touching }) {
		t.Fatalf("the warden does not press: %v, %s", f.m.state, f.m.reason)
	}
}

// TestTrimHoldsATemperature: on a slow plant the trim settles at the set-point
// within its bound and keeps the oxygen ratio.
func TestTrimHoldsATemperature(t *testing.T) {
	l := limitsOf(driven(t))
	p := &recipes.Phase{Flame: recipes.Flame{Lit: true, HasHold: true, HoldC: 600, Trim: 20}}
	tr := newTrimmer(&l, p, want{fuelMl: 1_000, oxyMl: 1_500})
	glass := 560.0
	var fuel, oxygen uint16
	for range 20 * 300 { // 300 s of 50 ms
		fuel, oxygen = tr.flows(4_000, 16_000)
		glass += (float64(fuel)*0.55 - (glass - 25)) * 0.05 / 20 // balance at 1,045 mL/min
		tr.step(int16(math.Round(glass*10)), 50)
		if fuel < 800 || fuel > 1_200 {
			t.Fatalf("fuel %d is outside its trim of 20 %%", fuel)
		}
		if ratio := float64(oxygen) / float64(fuel); math.Abs(ratio-1.5) > 0.002 {
			t.Fatalf("oxygen ratio %g", ratio)
		}
	}
	if math.Abs(glass-600) > 1.5 {
		t.Errorf("settles at %.1f C, not 600 C", glass)
	}
}

// TestTrimDoesNotWindUp: after a long time far below the set-point the trim
// leaves its bound as soon as the error changes sign.
func TestTrimDoesNotWindUp(t *testing.T) {
	l := limitsOf(driven(t))
	p := &recipes.Phase{Flame: recipes.Flame{Lit: true, HasHold: true, HoldC: 600, Trim: 20}}
	tr := newTrimmer(&l, p, want{fuelMl: 1_000})
	for range 10_000 {
		tr.step(3_000, 50)
	}
	if fuel, _ := tr.flows(4_000, 0); fuel != 1_200 {
		t.Fatalf("far below: fuel %d", fuel)
	}
	for range 40 { // 2 s at 30 K above
		tr.step(6_300, 50)
	}
	if fuel, _ := tr.flows(4_000, 0); fuel >= 1_000 {
		t.Errorf("above the set-point for 2 s the fuel is still %d", fuel)
	}
}

// TestTrimKeepsTheRatioAtTheLimit: where the oxygen limit binds, fuel gives way.
func TestTrimKeepsTheRatioAtTheLimit(t *testing.T) {
	tr := trimmer{on: true, fuelMl: 2_000, oxyMl: 8_000, bound: 200, current: 200}
	fuel, oxygen := tr.flows(4_000, 8_000)
	if oxygen != 8_000 || fuel != 2_000 {
		t.Errorf("fuel %d, oxygen %d", fuel, oxygen)
	}
}
