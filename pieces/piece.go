package pieces

import "pressrig/yamlfile"

// Piece is a pressed stem as it is drawn.
type Piece struct {
	Name  string
	Note  string
	Glass string // name; the caller knows the glass
	// Steps are the body from the datum upwards, those of the lower half first.
	Steps      []Step
	Pins       Pins
	Beads      Beads
	Tubulation Tubulation
	DraftDeg   float64 // of every face
	EdgeMM     float64 // radius wanted at the edges, at most
	FlashShare float64 // glass more than the piece has, for flash: 0.02 is 2 %
	Tolerance  Tolerance

	Figures  Figures           // what follows from the above
	Warnings yamlfile.Problems // what is allowed but doubtful
	seats    seats
}

// Step is one disc or rim of the body.
type Step struct {
	Upper    bool    // formed by the upper half; the narrow end is its top
	RadiusMM float64 // at the narrow end
	HeightMM float64
	BoreMM   float64 // radius of a recess at its floor, 0 for a solid disc
}

// Pins are wires through the body, on a circle round the axis.
type Pins struct {
	Number     int     // 0: pinless
	Places     int     // equal places on the circle, the last ones may stay empty
	CircleMM   float64 // diameter, 0 for a single pin on the axis
	DiameterMM float64
	Alloy      string  // name of package seal
	BelowMM    float64 // out of the datum
	AboveMM    float64 // out of the upper face at the circle
}

// Beads are what glass fills of the holes round the pins.
type Beads struct {
	DiameterMM   float64 // of the hole at its bottom, 0: no beads
	DepthMM      float64
	Below, Above bool // on which faces
}

// Tubulation is an exhaust tube on the axis: a cut tube that is put into the
// mould and joined in pressing, so its glass is none of the blank's. Its bore
// goes on through the body.
type Tubulation struct {
	OutsideMM float64 // 0: none
	BoreMM    float64 // diameter
	HeightMM  float64 // above the upper face at the axis
}

// Tolerance is what the piece is inspected by, each +-mm.
type Tolerance struct {
	ThicknessMM  float64
	OutsideMM    float64
	BeadHeightMM float64
}

// Sides is the number of faces that have beads.
func (b Beads) Sides() int {
	n := 0
	for _, on := range []bool{b.Below, b.Above} {
		if on {
			n++
		}
	}
	return n
}

// GapMM is the narrowest gap between pin and hole, which glass has to fill.
func (p *Piece) GapMM() float64 { return (p.Beads.DiameterMM - p.Pins.DiameterMM) / 2 }
