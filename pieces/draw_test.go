package pieces_test

import (
	"bytes"
	"encoding/xml"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/pieces"
)

var update = flag.Bool("update", false, "write the golden files; a person reads the diff")

func golden(t *testing.T, file string, have []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, have, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(have)); d != "" {
		t.Errorf("%s (-want +have):\n%s", file, d)
	}
}

// The drawings were looked at as pictures; the golden files hold them there.
func TestDrawings(t *testing.T) {
	files, err := filepath.Glob("testdata/*.piece.yaml")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d files, %v; want at least 5", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		p, err := pieces.ParsePiece(file, text)
		if err != nil {
			t.Fatal(err)
		}
		golden(t, strings.TrimSuffix(file, ".piece.yaml")+".svg", pieces.Draw(p, pieces.Of{Glass: p.Glass}))
	}
	for i, density := range []float64{2500, 3050, 2230} {
		p := sets(t)[i].piece
		svg := pieces.Draw(p, pieces.Of{Glass: p.Glass, DensityKgM3: density})
		golden(t, "testdata/"+p.Name+".svg", svg)
		if again := pieces.Draw(p, pieces.Of{Glass: p.Glass, DensityKgM3: density}); !bytes.Equal(svg, again) {
			t.Errorf("%s is drawn differently a second time", p.Name)
		}
		wellFormed(t, svg)
	}
}

func wellFormed(t *testing.T, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}
