package pieces

import "pressrig/yamlfile"

// Tube is what blanks are cut from.
type Tube struct {
	Name, Note   string
	Glass        string
	OutsideMM    float64
	BoreMM       float64
	OutsideTolMM float64 // +-
	BoreTolMM    float64 // +-, 0 where the wall is bound
	WallTolMM    float64 // +-, 0 where the bore is bound
	LengthMM     float64 // at hand
	HeldMM       float64 // of it that the saw keeps
	LeastMM      float64 // shortest and longest blank that can be cut
	GreatestMM   float64
	SawTolMM     float64 // +- of a cut
	LossMM       float64 // that a cut takes
	Warnings     yamlfile.Problems
}
