package blank

import (
	"math"

	"pressrig/glass/span"
)

// RingMM3 is the volume of a piece of tube.
func RingMM3(outsideMM, boreMM, lengthMM float64) (float64, error) {
	if err := span.Check(ofLength("outside in mm", outsideMM),
		span.Of{What: "bore in mm, which lies inside,", Value: boreMM, Least: 0, Most: outsideMM},
		ofLength("length in mm", lengthMM)); err != nil {
		return 0, err
	}
	return ringArea(outsideMM, boreMM) * lengthMM, nil
}

func ringArea(outside, bore float64) float64 {
	return math.Pi / 4 * (outside - bore) * (outside + bore)
}

// FrustumMM3 is the volume of a disc with draft: radiusMM at its narrow face,
// widening by the draft over its height. wideMM is the radius at the other face.
func FrustumMM3(radiusMM, heightMM, draftDeg float64) (volumeMM3, wideMM float64, err error) {
	if err := span.Check(ofLength("radius in mm", radiusMM), ofLength("height in mm", heightMM),
		span.Of{What: "draft in degrees", Value: draftDeg, Least: 0, Most: 60}); err != nil {
		return 0, 0, err
	}
	wideMM = radiusMM + heightMM*math.Tan(draftDeg*math.Pi/180)
	return math.Pi * heightMM * (radiusMM*radiusMM + radiusMM*wideMM + wideMM*wideMM) / 3, wideMM, nil
}

// BeadMM3 is the volume of a bead round a pin: a ring between pin and hole of a
// height.
func BeadMM3(holeMM, pinMM, heightMM float64) (float64, error) {
	if err := span.Check(ofLength("hole in mm", holeMM),
		span.Of{What: "pin in mm, which stands in its hole,", Value: pinMM, Least: 0, Most: holeMM},
		ofLength("height in mm", heightMM)); err != nil {
		return 0, err
	}
	return ringArea(holeMM, pinMM) * heightMM, nil
}
