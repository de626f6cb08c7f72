package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/pieces"
)

func pieceCommand(t *testing.T, args ...string) (int, string, string) {
	t.Helper()
	var out, errOut bytes.Buffer
	code := run(append([]string{"piece"}, args...), strings.NewReader(""), &out, &errOut)
	return code, out.String(), errOut.String()
}

func TestPieceTellsWhatFollows(t *testing.T) {
	picture := filepath.Join(t.TempDir(), "stem.svg")
	code, out, errOut := pieceCommand(t, "stem-7pin-soda", "mould-7pin-soda", "tube-27-soda", "--picture", picture)
	if code != exitDone || errOut != "" {
		t.Fatalf("code %d, %s", code, errOut)
	}
	golden(t, "piece.txt", out)
	svg, err := os.ReadFile(picture)
	if err != nil || !bytes.Contains(svg, []byte("mass 8.68 g")) {
		t.Errorf("picture: %v, %.80s", err, svg)
	}
}

func TestPieceForAProgram(t *testing.T) {
	code, out, _ := pieceCommand(t, "--json", "stem-4lead-lead", "mould-4lead-lead", "tube-24-lead")
	var d described
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != exitDone {
		t.Fatalf("code %d, %v", code, err)
	}
	if d.Figures == nil || d.Figures.Pockets != 4 || d.Blank == nil || d.Blank.LengthMM < 15 || d.MassG < 7 {
		t.Errorf("%s", out)
	}
}

// A glass that the program does not know leaves the mass open until it is told
// the density.
func TestPieceOfUnknownGlass(t *testing.T) {
	own := filepath.Join(t.TempDir(), "own.yaml")
	e, err := pieces.Named("button-boro")
	if err != nil {
		t.Fatal(err)
	}
	text := bytes.Replace(e.Text, []byte("glass: borosilicate-33"), []byte("glass: my-own"), 1)
	if err := os.WriteFile(own, text, 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, _ := pieceCommand(t, own); code != exitDone || !strings.Contains(out, "no density of glass my-own; --density tells it") {
		t.Errorf("code %d, %s", code, out)
	}
	code, out, _ := pieceCommand(t, own, "--density", "2230kg/m3")
	if code != exitDone || !strings.Contains(out, "8.311 g") {
		t.Errorf("code %d, %s", code, out)
	}
}

func TestPieceExamples(t *testing.T) {
	code, out, _ := pieceCommand(t)
	if code != exitDone || strings.Count(out, "invented") != 9 {
		t.Errorf("code %d, %s", code, out)
	}
	e, err := pieces.Named("stem-7pin-soda")
	if err != nil {
		t.Fatal(err)
	}
	if code, out, _ := pieceCommand(t, "stem-7pin-soda", "--print"); code != exitDone || out != string(e.Text) {
		t.Errorf("code %d, %s", code, out)
	}
}

func TestPieceRefuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	e, err := pieces.Named("stem-7pin-soda")
	if err != nil {
		t.Fatal(err)
	}
	stuck := write("stuck.yaml", strings.Replace(string(e.Text), "draft: 5 deg", "draft: 0 deg", 1))
	recipe := write("recipe.yaml", "recipe: x\n")
	for _, c := range []struct {
		code int
		want string
		args []string
	}{
		{exitFailed, "cannot leave its mould", []string{stuck}},
		{exitFailed, "recipe.yaml:1:1: neither a piece nor a mould nor a tube", []string{recipe}},
		{exitFailed, "is cut for piece button-boro", []string{"stem-7pin-soda", "mould-button-boro"}},
		{exitFailed, "take a tube of its glass", []string{"stem-7pin-soda", "mould-7pin-soda", "tube-24-lead"}},
		{exitUsage, "no example", []string{"no-such-piece"}},
		{exitUsage, "no example", []string{"no-such-piece", "--print"}},
		{exitUsage, "is a second piece", []string{"stem-7pin-soda", "button-boro"}},
		{exitUsage, "--picture draws a piece", []string{"tube-27-soda", "--picture", filepath.Join(dir, "x.svg")}},
		{exitUsage, "folder that exists", []string{"stem-7pin-soda", "--picture", filepath.Join(dir, "none", "x.svg")}},
		{exitUsage, "--density", []string{"stem-7pin-soda", "--density", "2500"}},
		{exitUsage, "between 1000 and 8000", []string{"stem-7pin-soda", "--density", "2.5kg/m3"}},
	} {
		code, out, errOut := pieceCommand(t, c.args...)
		if code != c.code || !strings.Contains(out+errOut, c.want) {
			t.Errorf("%v: code %d, %s%s, want %d and %q", c.args, code, out, errOut, c.code, c.want)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*.svg")); len(left) > 0 {
		t.Errorf("a refused command left %v", left)
	}
}
