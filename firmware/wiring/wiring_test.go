package wiring

import (
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write docs/wiring.md's tables and docs/wiring.svg anew; a person reads the difference")

const (
	header  = "../boards/mega2560/pins.h"
	page    = "../../docs/wiring.md"
	drawing = "../../docs/wiring.svg"
)

func read(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func parsed(t *testing.T) []Pin {
	t.Helper()
	pins, err := Parse(read(t, header))
	if err != nil {
		t.Fatal(err)
	}
	return pins
}

// fill puts the tables between their marks.
func fill(t *testing.T, text string, pins []Pin) string {
	t.Helper()
	for name, part := range Parts(pins) {
		before, rest, found := strings.Cut(text, "<!-- "+name+" begin -->\n")
		_, after, closed := strings.Cut(rest, "<!-- "+name+" end -->")
		if !found || !closed {
			t.Fatalf("%s lacks its marks of %s", page, name)
		}
		text = before + "<!-- " + name + " begin -->\n" + part + "<!-- " + name + " end -->" + after
	}
	return text
}

func fresh(t *testing.T, name, want string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if read(t, name) != want {
		t.Errorf("%s is older than pins.h or its words: go test ./firmware/wiring -update, then read the difference", name)
	}
}

func TestPageIsFresh(t *testing.T) { fresh(t, page, fill(t, read(t, page), parsed(t))) }

func TestDrawingIsFresh(t *testing.T) { fresh(t, drawing, Drawing(parsed(t))) }

// A pin that moves, turns its sense or goes away is seen in page and drawing.
func TestAChangedPinIsSeen(t *testing.T) {
	text := read(t, header)
	pins := parsed(t)
	for name, changed := range map[string]string{
		"moved":  strings.Replace(text, "B, 4, 10,", "H, 5, 8, ", 1),
		"turned": strings.Replace(text, "PIN(IN_FLAME,           A, 2, 24,  DIRECT)", "PIN(IN_FLAME, A, 2, 24, INVERTED)", 1),
		"gone":   strings.Replace(text, "PIN(IN_SOFT,            D, 7, 38,  DIRECT)", "", 1),
	} {
		other, err := Parse(changed)
		if err != nil || changed == text {
			t.Fatalf("%s: %v", name, err)
		}
		if pinTables(other) == pinTables(pins) {
			t.Errorf("%s: the page does not show it", name)
		}
		if Drawing(other) == Drawing(pins) && name != "turned" {
			t.Errorf("%s: the drawing does not show it", name)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	text := read(t, header)
	for _, c := range []struct{ name, old, new, says string }{
		{"two on one pin", "A, 1, 23,", "A, 0, 22,", "is taken by IN_ESTOP_OK"},
		{"no such pin", "A, 1, 23,", "A, 1, 99,", "the board's pin 99 is not PA1"},
		{"other port's pin", "A, 1, 23,", "A, 1, 24,", "the board's pin 24 is not PA1"},
		{"the programmer's", "G, 2, 39,", "B, 2, 51,", "is taken by the programmer"},
		{"the line's", "G, 2, 39,", "E, 0, 0,", "is taken by the serial line"},
		{"sense", "A, 1, 23,  DIRECT", "A, 1, 23,  SIDEWAYS", "right is DIRECT or INVERTED"},
		{"bit", "A, 1, 23,", "A, 8, 23,", "the board's pin 23 is not PA8"},
		{"channel", "AI_GLASS,           0,", "AI_GLASS, 16,", "right is 0 to 15"},
		{"fields", "A, 1, 23,", "A, 23,", "4 fields; this list has 5"},
		{"no list", "#define ENCODER_PINS", "#define OTHER_PINS", "no list ENCODER_PINS"},
	} {
		changed := strings.Replace(text, c.old, c.new, 1)
		if changed == text {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		if _, err := Parse(changed); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %q", c.name, err, c.says)
		}
	}
}

// Hostile text is refused, never a panic.
func FuzzParse(f *testing.F) {
	b, err := os.ReadFile(header)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(b))
	f.Fuzz(func(t *testing.T, text string) {
		if pins, err := Parse(text); err == nil && len(pins) < len(lists) {
			t.Errorf("%d pins of %d lists", len(pins), len(lists))
		}
	})
}

// Each pin has all its words, and no words stand without a pin.
func TestEveryPinHasItsWords(t *testing.T) {
	pins := parsed(t)
	for _, p := range pins {
		w := wordsOf(p.Name)
		if w.Group == "" || w.Short == "" || w.Does == "" || w.Broken == "" {
			t.Errorf("%s has no complete words", p.Name)
		}
	}
	for _, w := range words {
		if !slices.ContainsFunc(pins, func(p Pin) bool { return p.Name == w.Name }) {
			t.Errorf("words of %s, which is no pin", w.Name)
		}
	}
}

// No pin is drawn twice or left out, and the analog pins are the converter's.
func TestDrawingShowsEveryPinOnce(t *testing.T) {
	svg := Drawing(parsed(t))
	for _, p := range parsed(t) {
		if n := strings.Count(svg, ">"+p.Label+"  "+p.At+"<"); n != 1 {
			t.Errorf("%s: pin %s is drawn %d times", p.Name, p.Label, n)
		}
	}
}

func TestDrawingIsWellFormedAndReadable(t *testing.T) {
	svg := Drawing(parsed(t))
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, m := range regexp.MustCompile(`font-size="(\d+)"`).FindAllStringSubmatch(svg, -1) {
		if px, _ := strconv.Atoi(m[1]); px < 11 {
			t.Errorf("text of %d px", px)
		}
	}
	for _, m := range regexp.MustCompile(`#[0-9a-f]{3,6}\b`).FindAllString(svg, -1) {
		if m != "#000" && m != "#fff" {
			t.Errorf("colour %s; it has to print in black and white", m)
		}
	}
}
