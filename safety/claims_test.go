package safety

import (
	"math"
	"testing"
)

// SV-037: ISO 13855, T = 0.2 s: 570 mm by the older edition, 870 by the newer.
// SV-038: makers' worked example, T = 0.32 s, d = 14 mm: 640 first, then 512.
func TestDistances(t *testing.T) {
	if older, newer := TwoHandDistanceMM(0.2); older != 570 || newer != 870 {
		t.Error(older, newer)
	}
	for _, c := range []struct{ stopS, resolutionMM, want float64 }{
		{0.32, 14, 512}, {0.2, 14, 400}, {0.26, 14, 500}, {0.01, 14, 100},
		{0.2, 30, 500}, // 528 is beyond 500: anew 448, 500 at least
	} {
		if got := CurtainDistanceMM(c.stopS, c.resolutionMM); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// SV-039, SV-040: ISO 13849-1, table of levels and category 2.
func TestPerformanceLevels(t *testing.T) {
	for perHour, want := range map[float64]string{1e-7: "d", 9.9e-7: "d", 1e-6: "c", 9.9e-8: "e", 5e-5: "a", 5e-6: "b", 1: "", 1e-9: ""} {
		if got := PerformanceLevel(perHour); got != want {
			t.Errorf("%v is %q, want %q", perHour, got, want)
		}
	}
	if Category2TestRate < 100 {
		t.Error("category 2 is tested at least 100 times as often as demanded")
	}
}

// SV-069: rule of three: 3,000 runs without a failure, below 1e-3 at 95 %; the
// chance of none at that rate is at most 5 %.
func TestRuleOfThree(t *testing.T) {
	for _, runs := range []int{3000, 300000} {
		rate := RateBelow(runs)
		if none := math.Pow(1-rate, float64(runs)); none > 0.05 || none < 0.045 {
			t.Errorf("%d runs: %v", runs, none)
		}
	}
	if RateBelow(3000) != 1e-3 {
		t.Error(RateBelow(3000))
	}
}
