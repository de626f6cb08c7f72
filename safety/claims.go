package safety

import (
	"fmt"
	"strings"
)

// What a competent person computes before choosing hardware. The numbers are
// for that choice; this program claims none of them for itself.

// TwoHandDistanceMM is the least distance from a two-hand control to the
// moulds for a stopping time in seconds, everything from release to standstill
// included: by ISO 13855:2010 (1,600 mm/s and 250 mm) and by the newer edition
// (550 mm). Use the larger.
func TwoHandDistanceMM(stopS float64) (older, newer float64) {
	return 1600*stopS + 250, 1600*stopS + 550
}

// CurtainDistanceMM is the least distance of a light curtain of a resolution of
// up to 40 mm (ISO 13855, by two makers' worked examples): 100 to 500 mm at
// 2,000 mm/s; beyond that anew with 1,600 mm/s, 500 mm at least.
func CurtainDistanceMM(stopS, resolutionMM float64) float64 {
	add := 8 * (resolutionMM - 14)
	if near := 2000*stopS + add; near <= 500 {
		return max(near, 100)
	}
	return max(1600*stopS+add, 500)
}

// PerformanceLevel is the level of ISO 13849-1 that a probability of dangerous
// failure per hour falls into, "" outside all.
func PerformanceLevel(perHour float64) string {
	for _, band := range levelBands {
		if perHour >= band.from && perHour < band.below {
			return band.level
		}
	}
	return ""
}

var levelBands = []struct {
	level       string
	from, below float64
}{{"a", 1e-5, 1e-4}, {"b", 3e-6, 1e-5}, {"c", 1e-6, 3e-6}, {"d", 1e-7, 1e-6}, {"e", 1e-8, 1e-7}}

// Category2TestRate is how many times as often as it is demanded a category 2
// function has to be tested (ISO 13849-1).
const Category2TestRate = 100

// RateBelow is the failure rate per run below which runs independent runs
// without a failure put it, with 95 % confidence: the rule of three.
func RateBelow(runs int) float64 { return 3 / float64(runs) }

func claimsMarkdown() string {
	var b strings.Builder
	b.WriteString("| stopping time | two-hand, older edition | two-hand, newer edition: use this |\n|---|---|---|\n")
	for _, stopS := range []float64{0.1, 0.2, 0.3, 0.5} {
		older, newer := TwoHandDistanceMM(stopS)
		fmt.Fprintf(&b, "| %.1f s | %.0f mm | %.0f mm |\n", stopS, older, newer)
	}
	b.WriteString("\n| performance level | dangerous failures per hour |\n|---|---|\n")
	for _, band := range levelBands {
		fmt.Fprintf(&b, "| %s | %.0e to %.0e |\n", band.level, band.from, band.below)
	}
	fmt.Fprintf(&b, "\nA category 2 function is tested at least %d times as often as it is demanded. 10,000 random "+
		"runs without a failure say no more than a rate below %.0e a run at 95 %% confidence, under the faults "+
		"that are injected.\n", Category2TestRate, RateBelow(10000))
	return b.String()
}
