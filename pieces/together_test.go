package pieces_test

import (
	"math"
	"strings"
	"testing"

	"pressrig/pieces"
)

func TestTogetherRefuses(t *testing.T) {
	for _, c := range []struct {
		change func(p *pieces.Piece, m *pieces.Mould)
		want   string
	}{
		{func(_ *pieces.Piece, m *pieces.Mould) { m.Piece = "other" }, "is cut for piece other, not for stem-7pin-soda"},
		{func(_ *pieces.Piece, m *pieces.Mould) { m.Lower.OutsideMM = 30 }, "the lower half of mould mould-7pin-soda is 30 mm wide"},
		{func(_ *pieces.Piece, m *pieces.Mould) { m.Upper.HeightMM = 5 }, "the upper half of mould mould-7pin-soda is 5 mm high; a cavity of 3 mm"},
		{func(_ *pieces.Piece, m *pieces.Mould) { m.PinGapMM = 0 }, "has no pin_gap"},
		{func(_ *pieces.Piece, m *pieces.Mould) { m.PinGapMM = 1.6 }, "as wide as the bead hole of 2.6 mm"},
		{func(_ *pieces.Piece, m *pieces.Mould) { m.Groove.DepthMM = 0.1 }, "the flash is 64.92 mm3"},
	} {
		s := sets(t)[0]
		c.change(s.piece, s.mould)
		if err := pieces.Together(s.piece, s.mould); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
	// A groove 3 mm wide and 0.5 deep round 14.3937 mm: pi (17.3937^2 - 14.3937^2) 0.5 [derived].
	s := sets(t)[0]
	near(t, "groove", s.mould.GrooveMM3(s.piece), 149.795, 1e-2)
}

func TestCutBlankRefuses(t *testing.T) {
	for _, c := range []struct {
		change func(m *pieces.Mould, tube *pieces.Tube)
		want   string
	}{
		{func(_ *pieces.Mould, tube *pieces.Tube) { tube.Glass = "lead-29" }, "tube tube-27-soda is of lead-29"},
		{func(_ *pieces.Mould, tube *pieces.Tube) { tube.BoreMM = 25 }, "is too thin: piece stem-7pin-soda needs a blank of 40.53 mm"},
		{func(_ *pieces.Mould, tube *pieces.Tube) { tube.LeastMM = 20 }, "shorter than the 20 mm that can be cut"},
		{func(_ *pieces.Mould, tube *pieces.Tube) { tube.OutsideMM, tube.BoreMM = 29, 24 }, "does not go into a mould of 28 mm"},
		{func(m *pieces.Mould, _ *pieces.Tube) { m.TakesMM = 10 }, "taller than the 10 mm"},
		{func(_ *pieces.Mould, tube *pieces.Tube) { tube.LengthMM = 70 }, "longer than the 10 mm that a tube of 70 mm gives"},
	} {
		s := sets(t)[0]
		c.change(s.mould, s.tube)
		if _, err := pieces.CutBlank(s.piece, s.mould, s.tube, 2500); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
	// Ring of 27 x 22 mm: 192.42 mm2, so 3310.75 mm3 are 17.206 mm [derived].
	s := sets(t)[0]
	b, err := pieces.CutBlank(s.piece, s.mould, s.tube, 2500)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length", b.LengthMM, s.piece.Figures.BlankMM3/(math.Pi/4*(27*27-22*22)), 1e-9)
	if want := int((1500 - 60) / (b.LengthMM + 1.2)); b.PerTube != want {
		t.Errorf("%d blanks from a tube, want %d", b.PerTube, want)
	}
}
