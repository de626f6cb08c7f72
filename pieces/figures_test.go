package pieces_test

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pressrig/pieces"
)

func near(t rapid.TB, what string, have, want, tol float64) {
	t.Helper()
	if !(math.Abs(have-want) <= tol) {
		t.Errorf("%s is %.8g, want %.8g +-%g", what, have, want, tol)
	}
}

const plainDisc = `piece: disc
glass: g
draft: 5 deg
edge: 0.5 mm
flash: 2 %
steps: [{half: lower, radius: 15 mm, height: 6 mm}]
tolerance: {thickness: 0.1 mm, outside: 0.1 mm}
`

// The disc is derived: computed apart from this code from solid geometry.
func TestFiguresOfADisc(t *testing.T) {
	p, err := pieces.ParsePiece("f", []byte(plainDisc))
	if err != nil {
		t.Fatal(err)
	}
	f := p.Figures
	near(t, "B02 frustum", f.BodyMM3, 4391.30, 0.01) // B02, derived
	near(t, "B02 wide", f.WidestMM, 15.5249, 1e-4)
	near(t, "blank", f.BlankMM3, 4391.30*1.02, 0.01)
	near(t, "projected", f.ProjectedMM2, math.Pi*15.5249*15.5249, 0.01)
	near(t, "thinnest", f.ThinnestMM, 6, 0)
	near(t, "thickest", f.ThickestMM, 6, 0)
	if f.Pockets != 0 || f.BeadsMM3 != 0 || f.TubulationMM3 != 0 || f.BeadToBeadMM != 0 {
		t.Errorf("a plain disc has %+v", f)
	}
}

// The first example, derived: integrated in slices apart from this code.
func TestFiguresOfTheExample(t *testing.T) {
	f := sets(t)[0].piece.Figures
	for _, c := range []struct {
		what       string
		have, want float64
	}{
		{"body", f.BodyMM3, 3204.8206}, {"holes", f.HolesMM3, 65.6278}, {"bead", f.BeadMM3, 7.6168},
		{"pressed", f.PressedMM3, 3245.8286}, {"tube", f.TubulationMM3, 226.1947}, {"whole", f.PieceMM3, 3472.0233},
		{"projected", f.ProjectedMM2, 643.8021}, {"widest", f.WidestMM, 14.3937}, {"rim", f.ThinnestMM, 2.8688},
		{"bead base", f.BeadBaseMM, 2.8625}, {"bead to bead", f.BeadToBeadMM, 3.2605}, {"bead to edge", f.BeadToEdgeMM, 1.5688},
		{"bead to tube", f.BeadToTubeMM, 4.0688}, {"at pins", f.AtPinsMM, 4.5}, {"thickest", f.ThickestMM, 6},
		{"overall", f.OverallMM, 30.5}, {"parting", f.PartingMM, 4.5}, {"takes", f.TakesMM, 14},
	} {
		near(t, c.what, c.have, c.want, 1e-4)
	}
	if f.Pockets != 14 {
		t.Errorf("%d pockets, want 14", f.Pockets)
	}
}

// A blank goes into the last step of the lower half; the thinnest place may be a
// rim or the neck between two.
func TestFiguresOfRims(t *testing.T) {
	p, err := pieces.ParsePiece("f", []byte(strings.Replace(plainDisc, "steps: [{half: lower, radius: 15 mm, height: 6 mm}]",
		"steps: [{half: lower, radius: 10 mm, height: 1 mm}, {half: lower, radius: 15 mm, height: 3 mm},\n  "+
			"{half: upper, radius: 12 mm, height: 0.1 mm}, {half: upper, radius: 11.8 mm, height: 2 mm, bore: 9 mm}, "+
			"{half: upper, radius: 11.5 mm, height: 3 mm, bore: 9.2 mm}]", 1)))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "takes", p.Figures.TakesMM, 15, 0)
	// The uppermost rim at its top: 11.5 - (9.2 + 3 tan 5), derived.
	near(t, "thinnest", p.Figures.ThinnestMM, 2.0375, 1e-4)
	neck, err := pieces.ParsePiece("f", []byte(strings.Replace(plainDisc, "steps: [{half: lower, radius: 15 mm, height: 6 mm}]",
		"steps: [{half: lower, radius: 12 mm, height: 3 mm, bore: 5 mm}, {half: upper, radius: 15 mm, height: 3 mm, bore: 11 mm}]", 1)))
	if err != nil {
		t.Fatal(err)
	}
	// Lower rim's top 12 + 3 tan 5 = 12.2625, upper recess's floor 11, derived.
	near(t, "neck", neck.Figures.ThinnestMM, 1.2625, 1e-4)
}

// bodyBySlices adds thin slices of the body: the same volume another way.
func bodyBySlices(p *pieces.Piece) float64 {
	const n = 2000
	tan, sum := math.Tan(p.DraftDeg*math.Pi/180), 0.0
	for _, s := range p.Steps {
		for i := range n {
			up := (float64(i) + 0.5) / n * s.HeightMM
			if s.Upper {
				up = s.HeightMM - up
			}
			outer, inner := s.RadiusMM+up*tan, 0.0
			if s.BoreMM > 0 {
				inner = s.BoreMM + (s.HeightMM-up)*tan
			}
			sum += math.Pi * (outer*outer - inner*inner) * s.HeightMM / n
		}
	}
	return sum
}

// holds checks what Figures and Draw promise of any piece that was accepted.
func holds(t rapid.TB, p *pieces.Piece) {
	t.Helper()
	f := &p.Figures
	near(t, "body", f.BodyMM3, bodyBySlices(p), 1e-5*f.BodyMM3)
	near(t, "balance", f.PressedMM3, f.BodyMM3-f.HolesMM3+f.BeadsMM3, 1e-9*f.BodyMM3)
	near(t, "even disc", math.Pi*f.WidestMM*f.WidestMM*f.EvenMM+f.BeadsMM3, f.PressedMM3, 1e-9*f.BodyMM3)
	near(t, "whole", f.PieceMM3, f.PressedMM3+f.TubulationMM3, 1e-9*f.PieceMM3)
	if !(f.PressedMM3 > 0 && f.BlankMM3 >= f.PressedMM3 && f.ProjectedMM2 > 0) {
		t.Errorf("volumes %+v", f)
	}
	if !(0 < f.ThinnestMM && f.ThinnestMM <= f.ThickestMM && f.ThickestMM <= f.HeightMM*(1+1e-12) && f.HeightMM <= f.OverallMM*(1+1e-12)) {
		t.Errorf("sections %+v", f)
	}
	if !(p.DraftDeg > 0 && f.TakesMM <= f.WidestMM) {
		t.Errorf("draft %g, %+v", p.DraftDeg, f)
	}
	if n := p.Pins.Number; n > 0 {
		if n > 1 && f.BeadToBeadMM <= 0 || f.BeadToEdgeMM < 0 || p.Tubulation.OutsideMM > 0 && f.BeadToTubeMM <= 0 {
			t.Errorf("pins too near: %+v", f)
		}
		if f.Pockets > 0 && !(f.PocketGapMM > 0 && f.BeadMM3 > 0 && f.PocketDeepMM <= f.AtPinsMM) {
			t.Errorf("pockets %+v", f)
		}
	}
	svg := pieces.Draw(p, pieces.Of{Glass: p.Glass, DensityKgM3: 2500})
	onSheet(t, svg)
}

var (
	paths = regexp.MustCompile(` d="([^"]*)"`)
	texts = regexp.MustCompile(`<text x="([^"]*)" y="([^"]*)" text-anchor="(\w+)"( font-weight="bold")?( font-size="13")?>([^<]*)<`)
)

// onSheet checks that no line and no text leaves the sheet, and that no two
// texts meet.
func onSheet(t rapid.TB, svg []byte) {
	t.Helper()
	if bytes.Contains(svg, []byte("NaN")) || bytes.Contains(svg, []byte("Inf")) {
		t.Error("a number of the drawing is not finite")
	}
	number := func(s []byte) float64 {
		v, err := strconv.ParseFloat(string(s), 64)
		if err != nil {
			t.Errorf("coordinate %q", s)
		}
		return v
	}
	for _, d := range paths.FindAllSubmatch(svg, -1) {
		for _, c := range bytes.FieldsFunc(d[1], func(r rune) bool { return r == 'M' || r == 'L' || r == 'Z' }) {
			x, y, _ := bytes.Cut(c, []byte(" "))
			if x, y := number(x), number(y); x < 0 || x > 1123 || y < 0 || y > 794 {
				t.Errorf("a line leaves the sheet at %g, %g", x, y)
				return
			}
		}
	}
	type box struct {
		left, right, top, base float64
		text                   string
	}
	var all []box
	for _, m := range texts.FindAllSubmatch(svg, -1) {
		x, y := number(m[1]), number(m[2])
		w := 0.58 * 12 * float64(len([]rune(string(m[6]))))
		b := box{x, x + w, y - 9, y, string(m[6])}
		switch string(m[3]) {
		case "middle":
			b.left, b.right = x-w/2, x+w/2
		case "end":
			b.left, b.right = x-w, x
		}
		for _, o := range all {
			if b.left < o.right && o.left < b.right && b.top < o.base && o.top < b.base {
				t.Errorf("texts %q and %q meet", b.text, o.text)
			}
		}
		if b.left < 0 || b.right > 1123 || b.top < 0 || b.base > 794 {
			t.Errorf("text %q leaves the sheet", b.text)
		}
		all = append(all, b)
	}
	if len(all) < 9 {
		t.Errorf("only %d texts", len(all))
	}
}

// Pieces of all kinds that a person could draw; those that are accepted keep
// every promise, and enough are accepted for that to mean something.
func TestAcceptedPiecesHold(t *testing.T) {
	accepted := 0
	rapid.Check(t, func(r *rapid.T) {
		text := randomPiece(r)
		p, err := pieces.ParsePiece("f", []byte(text))
		if err != nil {
			return
		}
		accepted++
		holds(r, p)
	})
	if accepted < 10 {
		t.Errorf("only %d pieces were accepted", accepted)
	}
}

func randomPiece(r *rapid.T) string {
	var b strings.Builder
	size := func(name string, least, most float64) float64 {
		return math.Round(rapid.Float64Range(least, most).Draw(r, name)*100) / 100
	}
	fmt.Fprintf(&b, "piece: p\nglass: g\nedge: 0.1 mm\nflash: 2 %%\ndraft: %g deg\nsteps:\n", size("draft", 1, 8))
	radius := size("radius", 5, 30)
	bore := func(chance int) string {
		if rapid.IntRange(0, 9).Draw(r, "recess") >= chance {
			return ""
		}
		return fmt.Sprintf(", bore: %g mm", size("bore", 1, max(2, radius-1)))
	}
	for i := range rapid.IntRange(1, 3).Draw(r, "lower") {
		fmt.Fprintf(&b, "  - {half: lower, radius: %g mm, height: %g mm%s}\n", radius, size("height", 1, 6), bore(3-2*i))
		radius += size("wider", 1, 4)
	}
	for i := range rapid.IntRange(0, 4).Draw(r, "upper") {
		radius -= size("narrower", 1, 4)
		fmt.Fprintf(&b, "  - {half: upper, radius: %g mm, height: %g mm%s}\n", max(radius, 0.5), size("height", 0.3, 4), bore(1+2*i))
	}
	tolerance := "tolerance: {thickness: 0.1 mm, outside: 0.1 mm}"
	if n := rapid.IntRange(0, 36).Draw(r, "pins"); n > 0 {
		fmt.Fprintf(&b, "pins: {number: %d, circle: %g mm, diameter: %g mm, alloy: alloy-52, below: %g mm, above: %g mm}\n", n,
			size("circle", 3, 40), size("pin", 0.2, 1.5), size("below", 0, 30), size("above", 0, 30))
		if rapid.Bool().Draw(r, "beads") {
			sides := rapid.SampledFrom([]string{"lower", "upper", "both"}).Draw(r, "sides")
			fmt.Fprintf(&b, "beads: {diameter: %g mm, depth: %g mm, sides: %s}\n", size("hole", 1, 4), size("deep", 0.3, 2), sides)
			tolerance = "tolerance: {thickness: 0.1 mm, outside: 0.1 mm, bead_height: 0.3 mm}"
		}
	}
	if rapid.Bool().Draw(r, "tubulation") {
		fmt.Fprintf(&b, "tubulation: {outside: %g mm, bore: %g mm, height: %g mm}\n", size("outside", 2, 8), size("bore", 0.5, 6),
			size("tall", 2, 60))
	}
	return b.String() + tolerance + "\n"
}
