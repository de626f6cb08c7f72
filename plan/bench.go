package plan

import (
	"strconv"

	"pressrig/glass"
	"pressrig/glass/blank"
	"pressrig/glass/flame"
	"pressrig/glass/forming"
	"pressrig/rig"
)

// bench is what one search stands on and what it has found so far.
type bench struct {
	profile    *rig.Profile
	fuel       flame.Fuel
	glass      *glass.Glass
	job        forming.Job
	limits     forming.Limits
	cut blank.Cut
	ratio      ratios
	lowerC     float64
	upperC     float64
	targetC    float64 // skin at the end of the soak
	thickestMM float64 // section

	firing       firing
	stroke, best stroke
	window       window
	spin         spin
	spinBy [2]string
	warnings     []string
	cooling      cooling
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
