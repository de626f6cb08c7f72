package pieces

// Figures are what follows from a piece, cold. Volumes are mm3.
type Figures struct {
	BodyMM3       float64 `json:"body_mm3"`        // discs and rims, solid between their recesses
	HolesMM3      float64 `json:"holes_mm3"`       // what pins and the exhaust bore take out of it
	BeadMM3       float64 `json:"bead_mm3"`        // one bead
	BeadsMM3      float64 `json:"beads_mm3"`       // all of them
	PressedMM3    float64 `json:"pressed_mm3"`     // glass out of the blank, without flash
	BlankMM3      float64 `json:"blank_mm3"`       // with flash
	TubulationMM3 float64 `json:"tubulation_mm3"`  // of the exhaust tube, which is put in
	PieceMM3      float64 `json:"piece_mm3"`       // all glass of the finished piece
	ProjectedMM2  float64 `json:"projected_mm2"`   // that the press works on
	HeightMM      float64 `json:"height_mm"`       // of the body
	OverallMM     float64 `json:"overall_mm"`      // with pins, beads and tube
	TakesMM       float64 `json:"takes_radius_mm"` // radius that a blank must go into
	WidestMM      float64 `json:"widest_mm"`       // radius at the parting of the halves
	PartingMM     float64 `json:"parting_mm"`      // height of the parting over the datum
	EvenMM        float64 `json:"even_mm"`         // height of a plain disc as wide, with the pressed glass but the beads
	ThinnestMM    float64 `json:"thinnest_mm"`     // section or rim
	ThickestMM    float64 `json:"thickest_mm"`     // section without beads
	AtPinsMM      float64 `json:"at_pins_mm"`      // section at the pin circle, 0 pinless
	Pockets       int     `json:"pockets"`         // bead holes in all
	PocketGapMM   float64 `json:"pocket_gap_mm"`   // narrowest, between pin and hole
	PocketDeepMM  float64 `json:"pocket_depth_mm"` //
	BeadBaseMM    float64 `json:"bead_base_mm"`    // diameter of a bead where it meets the face
	// Clear glass between neighbours, 0 where there is no such neighbour.
	BeadToBeadMM float64 `json:"bead_to_bead_mm"`
	BeadToEdgeMM float64 `json:"bead_to_edge_mm"`
	BeadToTubeMM float64 `json:"bead_to_tube_mm"`
}
