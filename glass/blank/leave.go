package blank

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Place is what a blank must fit into.
type Place struct {
	TubeMM      float64 // length of the tube at hand
	HeldMM      float64 // of it that the saw or the chuck keeps
	MouldMM     float64 // tallest blank that stands in the open mould
	MouldBoreMM float64 // widest outside that goes into the lower half
}

// Takes refuses a blank that is longer than the tube or than the mould takes,
// or wider than the mould.
func (p Place) Takes(lengthMM, outsideMM float64) error {
	if err := span.Check(ofLength("length in mm", lengthMM), ofLength("outside in mm", outsideMM),
		span.Of{What: "tube in mm", Value: p.TubeMM, Least: 1, Most: 10000},
		span.Of{What: "held length in mm", Value: p.HeldMM, Least: 0, Most: p.TubeMM},
		ofLength("height that the mould takes in mm", p.MouldMM),
		ofLength("bore of the mould in mm", p.MouldBoreMM)); err != nil {
		return err
	}
	switch {
	case lengthMM > p.TubeMM-p.HeldMM:
		return fmt.Errorf("a blank of %.4g mm is longer than the %.4g mm that a tube of %g mm gives; take a "+
			"longer tube, or one with a thicker wall", lengthMM, p.TubeMM-p.HeldMM, p.TubeMM)
	case lengthMM > p.MouldMM:
		return fmt.Errorf("a blank of %.4g mm is taller than the %.4g mm that the mould takes; take a tube "+
			"with a thicker wall or a larger outside", lengthMM, p.MouldMM)
	case outsideMM > p.MouldBoreMM:
		return fmt.Errorf("a tube of %.4g mm outside does not go into a mould of %.4g mm; take a tube of "+
			"%.4g mm at most", outsideMM, p.MouldBoreMM, p.MouldBoreMM)
	}
	return nil
}

// Drafts that make pieces leave: 5 degrees is common practice without a source,
// 2 to 5 typical [from memory].
const (
	UsualDraftDeg = 5.0
	leastDraftDeg = 2.0
)

// Leaves refuses a face of a piece that cannot leave its mould: one without
// draft rubs over its whole height, one with negative draft is locked in. It
// warns of a draft below 2 degrees. what names the face: outside, core, post.
func Leaves(what string, draftDeg, heightMM float64) (warning string, err error) {
	if err := span.Check(span.Of{What: "draft of the " + what + " in degrees", Value: draftDeg, Least: -60, Most: 60},
		ofLength("height of the "+what+" in mm", heightMM)); err != nil {
		return "", err
	}
	widens := heightMM * math.Tan(draftDeg*math.Pi/180)
	switch {
	case draftDeg < 0:
		return "", fmt.Errorf("the %s has a draft of %g degrees: it is undercut by %.2g mm and locked in its "+
			"mould; give it a draft of %g degrees", what, draftDeg, -widens, UsualDraftDeg)
	case draftDeg == 0:
		return "", fmt.Errorf("the %s has no draft and cannot leave its mould; give it %g degrees, which "+
			"widens it by %.2g mm over its %g mm", what, UsualDraftDeg,
			heightMM*math.Tan(UsualDraftDeg*math.Pi/180), heightMM)
	case draftDeg < leastDraftDeg:
		return fmt.Sprintf("the %s has a draft of %g degrees; below %g it may grip, %g is common practice",
			what, draftDeg, leastDraftDeg, UsualDraftDeg), nil
	}
	return "", nil
}
