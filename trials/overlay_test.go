package trials

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var rewrite = flag.Bool("rewrite", false,
	"write the golden files anew; a person reads the difference")

// golden compares got with a file under testdata.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *rewrite {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; -rewrite writes it anew", path)
	}
}

// wellFormed fails where an XML reader does.
func wellFormed(t *testing.T, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Strict = true
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			t.Fatalf("no XML: %v", err)
		}
	}
}

func three() ([]Cycle, []*Trace) {
	a, ta := invented(1, 0, "")
	b, tb := invented(2, 1, "fire")
	c, tc := invented(3, -1, "")
	return []Cycle{a, b, c}, []*Trace{ta, tb, tc}
}

func TestOverlayGolden(t *testing.T) {
	cycles, traces := three()
	svg := Overlay(cycles, traces)
	wellFormed(t, svg)
	golden(t, "overlay.svg", svg)
}

func TestPictureGolden(t *testing.T) {
	c, tr := invented(1, 0, "")
	svg := Picture(&c, tr)
	wellFormed(t, svg)
	golden(t, "picture.svg", svg)
	c, tr = invented(2, 0, "fire")
	tr.Gaps = []Gap{{AfterMs: 30000, Steps: 120}}
	svg = Picture(&c, tr)
	wellFormed(t, svg)
	golden(t, "picture-aborted.svg", svg)
}

func TestPicturesOfNothing(t *testing.T) {
	for _, c := range []struct {
		cycles []Cycle
		traces []*Trace
	}{
		{nil, nil},
		{[]Cycle{{}}, nil},
		{[]Cycle{{Number: 1}, {Number: 2}}, []*Trace{nil, {}}},
		{make([]Cycle, MaxOverlay+5), nil},
	} {
		wellFormed(t, Overlay(c.cycles, c.traces))
	}
	wellFormed(t, Picture(&Cycle{}, nil))
	wellFormed(t, Picture(&Cycle{}, &Trace{}))
}

func TestTextIsEscaped(t *testing.T) {
	c, tr := invented(1, 0, "")
	c.Recipe = "</text><script>\"'&\x00\x1b\xff"
	c.Phases[0].Name = "<&>"
	c.By = "<b>"
	for _, svg := range [][]byte{Overlay([]Cycle{c}, []*Trace{tr}), Picture(&c, tr)} {
		wellFormed(t, svg)
		if strings.Contains(string(svg), "<script") {
			t.Error("a recipe's name became an element")
		}
	}
}

func TestOverlayReadsInGrey(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range styles {
		key := s.dash + "/" + string(rune('0'+int(s.width)))
		if s.dash == "" {
			key = fixed(s.width, 1) + s.colour
		}
		if seen[key] {
			t.Errorf("two lines with dash %q and width %g", s.dash, s.width)
		}
		seen[key] = true
	}
}

func BenchmarkOverlayTenCycles(b *testing.B) {
	var cycles []Cycle
	var traces []*Trace
	for i := range 10 {
		c, t := invented(uint32(i+1), float64(i)/5-1, "")
		cycles, traces = append(cycles, c), append(traces, t)
	}
	for b.Loop() {
		Overlay(cycles, traces)
	}
}
