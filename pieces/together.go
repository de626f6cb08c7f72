package pieces

import (
	"errors"
	"fmt"
	"math"

	"pressrig/glass/blank"
)

// leastWallMM is the wall of a mould round the piece [common practice, no
// source].
const leastWallMM = 3.0

// Together refuses a mould that is not cut for the piece.
func Together(p *Piece, m *Mould) error {
	f := &p.Figures
	var list []error
	bad := func(format string, args ...any) { list = append(list, fmt.Errorf(format, args...)) }
	if m.Piece != p.Name {
		bad("mould %s is cut for piece %s, not for %s; take its own mould", m.Name, m.Piece, p.Name)
	}
	lower, upper := f.PartingMM, f.HeightMM-f.PartingMM
	if p.Beads.Below {
		lower += p.Beads.DepthMM
	}
	if p.Beads.Above {
		upper += p.Beads.DepthMM
	}
	for _, h := range []struct {
		half  Half
		deep  float64
		which string
	}{{m.Lower, lower, "lower"}, {m.Upper, upper, "upper"}} {
		if least := 2 * (f.WidestMM + leastWallMM); h.half.OutsideMM < least {
			bad("the %s half of mould %s is %g mm wide; a piece of %.4g mm needs %.4g mm at least", h.which, m.Name,
				h.half.OutsideMM, 2*f.WidestMM, least)
		}
		if h.half.HeightMM < h.deep+leastWallMM {
			bad("the %s half of mould %s is %g mm high; a cavity of %.4g mm needs %.4g mm at least", h.which, m.Name,
				h.half.HeightMM, h.deep, h.deep+leastWallMM)
		}
	}
	if p.Pins.Number > 0 && m.PinGapMM == 0 {
		bad("mould %s has no pin_gap, but piece %s has pins; write the clearance of a pin in its hole", m.Name, p.Name)
	}
	if p.Pins.Number > 0 && p.Beads.Sides() > 0 && m.PinGapMM >= 2*p.GapMM() {
		bad("a pin hole with %g mm clearance is as wide as the bead hole of %g mm over it; give a closer pin hole",
			m.PinGapMM, p.Beads.DiameterMM)
	}
	if flash := f.BlankMM3 - f.PressedMM3; m.Groove.WidthMM > 0 && m.GrooveMM3(p) < flash {
		bad("the groove of mould %s takes %.4g mm3, the flash is %.4g mm3; cut a larger groove, or give less flash",
			m.Name, m.GrooveMM3(p), flash)
	}
	return errors.Join(list...)
}

// GrooveMM3 is what the groove round the piece takes.
func (m *Mould) GrooveMM3(p *Piece) float64 {
	r := p.Figures.WidestMM
	outer := r + m.Groove.WidthMM
	return math.Pi * (outer*outer - r*r) * m.Groove.DepthMM
}

// Blank is what a tube gives for a piece.
type Blank struct {
	blank.Cut
	PerTube int // blanks out of one tube at hand
}

// CutBlank finds the blank of a piece. It refuses a tube of another glass and
// one whose blank cannot be cut, does not stand in the mould or does not go into
// it.
func CutBlank(p *Piece, m *Mould, t *Tube, densityKgM3 float64) (Blank, error) {
	if t.Glass != p.Glass {
		return Blank{}, fmt.Errorf("tube %s is of %s, piece %s of %s; take a tube of its glass", t.Name, t.Glass, p.Name, p.Glass)
	}
	c, err := t.Sheet().Cut(p.Figures.BlankMM3, densityKgM3, t.SawTolMM)
	if err != nil {
		return Blank{}, fmt.Errorf("tube %s: %w", t.Name, err)
	}
	switch {
	case c.LengthMM < t.LeastMM:
		return Blank{}, fmt.Errorf("tube %s: a blank of %.4g mm is shorter than the %g mm that can be cut; take a tube with "+
			"a thinner wall or a smaller outside", t.Name, c.LengthMM, t.LeastMM)
	case c.LengthMM > t.GreatestMM:
		return Blank{}, fmt.Errorf("tube %s is too thin: piece %s needs a blank of %.4g mm, and %g mm is the longest that can "+
			"be cut; take a tube with a thicker wall or a larger outside", t.Name, p.Name, c.LengthMM, t.GreatestMM)
	}
	place := blank.Place{TubeMM: t.LengthMM, HeldMM: t.HeldMM, MouldMM: m.TakesMM, MouldBoreMM: 2 * p.Figures.TakesMM}
	if err := place.Takes(c.LengthMM, t.OutsideMM); err != nil {
		return Blank{}, fmt.Errorf("tube %s: %w", t.Name, err)
	}
	return Blank{c, int((t.LengthMM - t.HeldMM) / (c.LengthMM + t.LossMM))}, nil
}
