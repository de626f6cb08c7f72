// Package blank computes the ring of tubing that a piece is pressed from: its
// volume from the volumes of the piece, its length and mass, how the tolerances
// of the tube spread both, and what cannot be cut, loaded or taken out.
//
// It never draws a piece and never measures a tube: volumes come in, and a
// tolerance is what the tube's data sheet says. All volumes are cold unless a
// name says hot: mass is what stays the same from saw to stem.
//
// Lengths are mm, volumes mm3, masses g, temperatures degrees Celsius. Start
// reading at Balance; Tube and its tolerances are in tube.go, the simple bodies
// in volume.go, the refusals in leave.go.
package blank

import (
	"fmt"

	"pressrig/glass/span"
)

// Most that this trade presses: larger is a wrong unit.
const (
	mostMM  = 1000.0
	mostMM3 = 1e7
)

func ofLength(what string, mm float64) span.Of {
	return span.Of{What: what, Value: mm, Least: 1e-3, Most: mostMM}
}
func ofVolume(what string, mm3 float64) span.Of {
	return span.Of{What: what, Value: mm3, Least: 0, Most: mostMM3}
}

// UsualFlash is the share of the piece's volume that is added where nothing was
// measured: 1 to 3 % [from memory, nothing published was found].
const UsualFlash = 0.02

// Balance is where the glass of a blank goes, mm3 each, cold.
type Balance struct {
	Body       float64 // discs, rims and posts with their draft
	Holes      float64 // what pins, bores and holes take out of the body
	Beads      float64 // all of them together
	Tubulation float64 // that is pressed with the piece, or a reservoir
	Flash      float64 // share of the piece added for flash, such as 0.02
}

// Piece is the volume of the piece without flash, mm3.
func (b Balance) Piece() (float64, error) {
	if err := span.Check(ofVolume("body in mm3", b.Body), ofVolume("holes in mm3", b.Holes),
		ofVolume("beads in mm3", b.Beads), ofVolume("tubulation in mm3", b.Tubulation)); err != nil {
		return 0, err
	}
	if b.Holes >= b.Body {
		return 0, fmt.Errorf("holes of %g mm3 leave nothing of a body of %g mm3; give holes below it",
			b.Holes, b.Body)
	}
	return b.Body - b.Holes + b.Beads + b.Tubulation, nil
}

// Blank is the volume that the blank must have, mm3: the piece and its flash.
func (b Balance) Blank() (float64, error) {
	piece, err := b.Piece()
	if err != nil {
		return 0, err
	}
	if err := span.Check(span.Of{What: "share of flash", Value: b.Flash, Least: 0, Most: 0.5}); err != nil {
		return 0, err
	}
	return piece * (1 + b.Flash), nil
}

// MassG is the mass of a cold volume, g.
func MassG(volumeMM3, densityKgM3 float64) (float64, error) {
	if err := span.Check(ofVolume("volume in mm3", volumeMM3),
		span.Of{What: "density in kg/m3", Value: densityKgM3, Least: 500, Most: 10000}); err != nil {
		return 0, err
	}
	return volumeMM3 * densityKgM3 * 1e-6, nil
}

// liquidFactor: above its transformation glass expands about three times as
// much as below it [from memory].
const liquidFactor = 3

// HotMM3 is the volume that a cold volume has when hot: 1 + 3 alpha dT up to the
// transformation, three times that beyond. A cavity is filled hot; a balance
// that forgets it is some per cent wrong, but so is the cavity, and the two
// nearly cancel when both are counted cold.
func HotMM3(coldMM3, expansionPerK, transformationC, hotC float64) (float64, error) {
	if err := span.Check(ofVolume("volume in mm3", coldMM3),
		span.Of{What: "expansion in 1/K", Value: expansionPerK, Least: 1e-7, Most: 5e-5},
		span.Of{What: "transformation in C", Value: transformationC, Least: 200, Most: 1200},
		span.Of{What: "hot in C", Value: hotC, Least: 20, Most: 2000}); err != nil {
		return 0, err
	}
	solid := min(hotC, transformationC) - 20
	liquid := max(hotC-transformationC, 0)
	return coldMM3 * (1 + 3*expansionPerK*(solid+liquidFactor*liquid)), nil
}
