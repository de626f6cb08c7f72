package plan

import (
	"strconv"

	"pressrig/glass"
	gas "pressrig/glass/flame"
	"pressrig/glass/forming"
	"pressrig/glass/mould"
	"pressrig/pieces"
	"pressrig/rig"
)

// bench is what one search stands on and what it has found so far.
type bench struct {
	order   *Order
	of      mould.Material
	profile *rig.Profile
	fuel    gas.Fuel
	glass   *glass.Glass
	job     forming.Job
	limits  forming.Limits
	cut     pieces.Blank
	ratio   ratios
	moulds  moulds
	targetC float64 // skin at the end of the soak

	firing       firing
	stroke, best stroke
	window       window
	spin         spin
	spinBy       [2]string
	warnings     []string
	cooling      cooling
	sealing      sealing
	pressed      forming.Outcome // at the target, before it is cooled
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
