package bench

import (
	"pressrig/glass"
	"pressrig/glass/forming"
)

// The blank of a rig that no piece was named for: a ring 29/24 x 17 mm of
// lamp-type soda-lime glass, pressed to a plain disc.
const (
	ringOuterMM  = 29.0
	ringInnerMM  = 24.0
	ringLengthMM = 17.0
	roomC        = 20.0
)

// usualJob presses that ring to a disc of the height.
func usualJob(g *glass.Glass, discMM float64) forming.Job {
	ring := forming.Ring{OuterMM: ringOuterMM, InnerMM: ringInnerMM, LengthMM: ringLengthMM}
	return forming.PlainDisc(forming.MaterialOf(g), ring, discMM)
}
