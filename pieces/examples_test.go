package pieces_test

import (
	"bytes"
	"testing"

	"pressrig/pieces"
)

// set is a piece with its mould and tube.
type set struct {
	piece *pieces.Piece
	mould *pieces.Mould
	tube  *pieces.Tube
}

func sets(t testing.TB) []set {
	t.Helper()
	all := pieces.Examples()
	if len(all) != 9 {
		t.Fatalf("%d examples, want 9", len(all))
	}
	list := make([]set, 3)
	for i, e := range all {
		s := &list[i/3]
		var err error
		switch e.Kind {
		case "piece":
			s.piece, err = pieces.ParsePiece(e.Name+".yaml", e.Text)
		case "mould":
			s.mould, err = pieces.ParseMould(e.Name+".yaml", e.Text)
		case "tube":
			s.tube, err = pieces.ParseTube(e.Name+".yaml", e.Text)
		}
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(e.Text, []byte("# INVENTED for the project")) {
			t.Errorf("%s does not say that it is invented", e.Name)
		}
	}
	return list
}

func TestExamplesBelongTogether(t *testing.T) {
	// Densities: lamp soda-lime and lead glass from memory, borosilicate 3.3 data sheets 2,230 kg/m3.
	for i, density := range []float64{2500, 3050, 2230} {
		s := sets(t)[i]
		if len(s.piece.Warnings)+len(s.mould.Warnings)+len(s.tube.Warnings) > 0 {
			t.Errorf("%s: %v %v %v", s.piece.Name, s.piece.Warnings, s.mould.Warnings, s.tube.Warnings)
		}
		if err := pieces.Together(s.piece, s.mould); err != nil {
			t.Errorf("%s: %v", s.piece.Name, err)
		}
		b, err := pieces.CutBlank(s.piece, s.mould, s.tube, density)
		if err != nil {
			t.Errorf("%s: %v", s.piece.Name, err)
			continue
		}
		if w := 2 * s.piece.Figures.WidestMM; w < 25 || w > 32 {
			t.Errorf("%s is %g mm wide; the family is 25 to 32 mm", s.piece.Name, w)
		}
		if b.LengthMM < 10 || b.LengthMM > 22 || b.PerTube < 50 {
			t.Errorf("%s: blank %+v", s.piece.Name, b)
		}
	}
}
