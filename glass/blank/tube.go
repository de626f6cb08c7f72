package blank

import (
	"fmt"
	"math"

	"pressrig/glass/span"
)

// Tube is the tubing as its data sheet describes it. A sheet binds the wall or
// the bore: give the tolerance of the one, and 0 for the other.
type Tube struct {
	OutsideMM, BoreMM float64
	OutsideTolMM      float64 // +-
	BoreTolMM         float64 // +-
	WallTolMM         float64 // +-
}

func (t Tube) check() error {
	if err := span.Check(ofLength("outside in mm", t.OutsideMM),
		span.Of{What: "bore in mm, which lies inside,", Value: t.BoreMM, Least: 0.1,
			Most: t.OutsideMM - 0.05}); err != nil {
		return err
	}
	wall := t.wall()
	if err := span.Check(span.Of{What: "tolerance of the outside in mm", Value: t.OutsideTolMM, Least: 0, Most: wall},
		span.Of{What: "tolerance of the bore in mm", Value: t.BoreTolMM, Least: 0, Most: wall},
		span.Of{What: "tolerance of the wall in mm", Value: t.WallTolMM, Least: 0, Most: wall / 2},
	); err != nil {
		return err
	}
	if t.BoreTolMM > 0 && t.WallTolMM > 0 {
		return fmt.Errorf("tolerances of bore (%g mm) and of wall (%g mm) are both given; a data sheet "+
			"binds one of them, leave the other 0", t.BoreTolMM, t.WallTolMM)
	}
	if t.BoreTolMM > 0 && t.OutsideTolMM+t.BoreTolMM >= 2*wall {
		return fmt.Errorf("tolerances of +-%g and +-%g mm may leave no wall of %g mm; check them",
			t.OutsideTolMM, t.BoreTolMM, wall)
	}
	return nil
}

func (t Tube) wall() float64 { return (t.OutsideMM - t.BoreMM) / 2 }

// AreaMM2 is the area of its ring of glass, nominal, least and most.
func (t Tube) AreaMM2() (nominal, least, most float64, err error) {
	if err := t.check(); err != nil {
		return 0, 0, 0, err
	}
	nominal = ringArea(t.OutsideMM, t.BoreMM)
	if t.BoreTolMM > 0 {
		least = ringArea(t.OutsideMM-t.OutsideTolMM, t.BoreMM+t.BoreTolMM)
		most = ringArea(t.OutsideMM+t.OutsideTolMM, t.BoreMM-t.BoreTolMM)
		return nominal, least, most, nil
	}
	// wall and outside: the bore follows
	least = wallArea(t.OutsideMM-t.OutsideTolMM, t.wall()-t.WallTolMM)
	most = wallArea(t.OutsideMM+t.OutsideTolMM, t.wall()+t.WallTolMM)
	return nominal, least, most, nil
}

func wallArea(outside, wall float64) float64 { return math.Pi * wall * (outside - wall) }

// LikelyShare is how far the area is likely to be off, as a share: the
// tolerances taken as independent, root of the sum of squares.
func (t Tube) LikelyShare() (float64, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	area := ringArea(t.OutsideMM, t.BoreMM)
	byOutside, other := math.Pi*t.wall()*t.OutsideTolMM, math.Pi*t.BoreMM*t.WallTolMM
	if t.BoreTolMM > 0 {
		byOutside, other = math.Pi/2*t.OutsideMM*t.OutsideTolMM, math.Pi/2*t.BoreMM*t.BoreTolMM
	}
	return math.Hypot(byOutside, other) / area, nil
}

// Cut is a blank of a volume from a tube.
type Cut struct {
	LengthMM                  float64 // of the nominal tube
	ShortestMM, LongestMM     float64 // that have the volume, over the tube's tolerances
	MassG                     float64 // that the volume has, whatever the tube
	LeastMassG, GreatestMassG float64 // of LengthMM cut blindly, with the saw's tolerance
	LikelyMassShare           float64 // the same as root of the sum of squares
}

// Cut finds the length for a cold volume. sawMM is the tolerance of the cut
// length. Weighing beats measuring: cut to MassG, and the tube's tolerances are
// gone.
func (t Tube) Cut(volumeMM3, densityKgM3, sawMM float64) (Cut, error) {
	nominal, least, most, err := t.AreaMM2()
	if err != nil {
		return Cut{}, err
	}
	if err := span.Check(span.Of{What: "volume in mm3", Value: volumeMM3, Least: 1, Most: mostMM3},
		span.Of{What: "tolerance of the cut in mm", Value: sawMM, Least: 0, Most: 10}); err != nil {
		return Cut{}, err
	}
	mass, err := MassG(volumeMM3, densityKgM3)
	if err != nil {
		return Cut{}, err
	}
	c := Cut{LengthMM: volumeMM3 / nominal, ShortestMM: volumeMM3 / most, LongestMM: volumeMM3 / least,
		MassG: mass}
	if sawMM >= c.LengthMM {
		return Cut{}, fmt.Errorf("a blank of %.3g mm cannot be cut to +-%g mm; give a finer saw or a "+
			"thinner tube", c.LengthMM, sawMM)
	}
	c.LeastMassG = mass * (least / nominal) * (1 - sawMM/c.LengthMM)
	c.GreatestMassG = mass * (most / nominal) * (1 + sawMM/c.LengthMM)
	likely, err := t.LikelyShare()
	if err != nil {
		return Cut{}, err
	}
	c.LikelyMassShare = math.Hypot(likely, sawMM/c.LengthMM)
	return c, nil
}
