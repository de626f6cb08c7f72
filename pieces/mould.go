package pieces

import "pressrig/yamlfile"

// Mould is what a piece is pressed in.
type Mould struct {
	Name, Note   string
	Piece        string // name of the piece that it is cut for
	Material     string // name of package glass/mould
	Lower, Upper Half
	RoughnessUM  float64 // Ra of the faces
	Carbon       bool    // coated with carbon, else bare
	Vents        Vents
	GapMM        float64 // between the closed halves, where flash begins
	PinGapMM     float64 // clearance of a pin in its hole, on the diameter
	TakesMM      float64 // tallest blank that stands in the open mould
	Groove       Groove
	Warnings     yamlfile.Problems
}

// Half is one half of a mould: a turned block.
type Half struct {
	Name      string
	MassKg    float64
	OutsideMM float64 // diameter
	HeightMM  float64
}

// Vents let air out of the mould.
type Vents struct {
	Number  int // 0: none
	DepthMM float64
	WidthMM float64
}

// Groove takes the flash round the piece. Zero: none.
type Groove struct{ WidthMM, DepthMM float64 }
