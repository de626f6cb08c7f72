package cool

import (
	"fmt"

	"pressrig/glass/span"
)

// A polariscope shows the difference of the two principal stresses across the
// path of light, summed along it. A disc seen through its faces shows next to
// nothing of what cooling left: its two stresses are alike and sum to nought.
// Look along the disc, with the path its width, in a liquid of the same index.

func ofOptical(c float64) span.Of {
	return span.Of{What: "stress-optical constant in 1/Pa", Value: c, Least: 1e-13, Most: 1e-10}
}
func ofPath(mm float64) span.Of {
	return span.Of{What: "path of light in mm", Value: mm, Least: 0.01, Most: 1000}
}

// RetardationNM is what a difference of stresses shows over a path: C t
// (s1 - s2).
func RetardationNM(differencePa, pathMM, opticalPerPa float64) (float64, error) {
	if err := span.Check(span.Of{What: "difference of stresses in Pa", Value: differencePa, Least: -1e10,
		Most: 1e10}, ofPath(pathMM), ofOptical(opticalPerPa)); err != nil {
		return 0, err
	}
	return differencePa * opticalPerPa * pathMM * 1e6, nil
}

// DifferencePa is the stress that a retardation means.
func DifferencePa(retardationNM, pathMM, opticalPerPa float64) (float64, error) {
	if err := span.Check(span.Of{What: "retardation in nm", Value: retardationNM, Least: -1e5, Most: 1e5},
		ofPath(pathMM), ofOptical(opticalPerPa)); err != nil {
		return 0, err
	}
	return retardationNM / (opticalPerPa * pathMM * 1e6), nil
}

// SenarmontNM is the retardation that a turn of the analyser means: lambda
// phi/180 (ASTM F218 describes the instrument).
func SenarmontNM(wavelengthNM, analyserDeg float64) (float64, error) {
	if err := span.Check(span.Of{What: "wavelength in nm", Value: wavelengthNM, Least: 380, Most: 780},
		span.Of{What: "turn of the analyser in degrees", Value: analyserDeg, Least: 0, Most: 180}); err != nil {
		return 0, err
	}
	return wavelengthNM * analyserDeg / 180, nil
}

// temperDeg is the greatest turn of the analyser for the apparent temper numbers
// 1 to 10 of ASTM C148 (as tabulated by a maker of such instruments, found).
var temperDeg = [...]float64{7.3, 14.5, 21.8, 29.0, 36.3, 43.6, 50.8, 58.1, 65.4, 72.6}

// Of ASTM C148: a real number is the apparent one on the thickness of the
// standard, 4.06 mm (0.160 in); each stands for 22.8 nm.
const (
	standardMM = 4.06
	DiscNM     = 22.8
)

// ApparentTemper is the temper number of a turn of the analyser.
func ApparentTemper(analyserDeg float64) (int, error) {
	if err := span.Check(span.Of{What: "turn of the analyser in degrees", Value: analyserDeg, Least: 0,
		Most: 180}); err != nil {
		return 0, err
	}
	for i, most := range temperDeg {
		if analyserDeg <= most {
			return i + 1, nil
		}
	}
	return 0, fmt.Errorf("a turn of %g degrees lies beyond temper number 10 (%g degrees); measure the "+
		"retardation with a compensator", analyserDeg, temperDeg[len(temperDeg)-1])
}

// RealTemper is the temper number on a piece of a thickness (ASTM C148).
func RealTemper(apparent, thicknessMM float64) (float64, error) {
	if err := span.Check(span.Of{What: "apparent temper number", Value: apparent, Least: 0, Most: 30},
		ofPath(thicknessMM)); err != nil {
		return 0, err
	}
	return apparent * standardMM / thicknessMM, nil
}
