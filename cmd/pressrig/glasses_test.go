package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/glass"
	"pressrig/panel"
	"pressrig/recipes"
	"pressrig/rig"
)

// ownGlass writes a glass of the workshop's own into a new folder: lamp
// soda-lime, 20 K stiffer (invented data).
func ownGlass(t *testing.T) string {
	t.Helper()
	text, err := glass.Text("soda-lime-lamp")
	if err != nil {
		t.Fatal(err)
	}
	own := strings.NewReplacer("glass: soda-lime-lamp", "glass: tube-lot-12", "695 C", "715 C",
		"514 C", "534 C", "473 C", "493 C", "1005 C", "1025 C").Replace(string(text))
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "lot.yaml"), []byte(own), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// A glass of one's own serves from the drawing to the daemon as a built-in one
// does, and asks for what its own figures say.
func TestOwnGlassFromDrawingToDaemon(t *testing.T) {
	dir := ownGlass(t)
	stem := changed(t, "stem-7pin-soda", "glass: soda-lime-lamp", "glass: tube-lot-12")
	tube := changed(t, "tube-27-soda", "glass: soda-lime-lamp", "glass: tube-lot-12")
	file := filepath.Join(t.TempDir(), "plan.yaml")
	plan := []string{"plan", stem, "mould-7pin-soda", tube, "--out", file}
	if got := cli(t, "none", "", plan...); got.code != exitUsage || !strings.Contains(got.err, "--glasses") {
		t.Errorf("plan without its folder: %d %s", got.code, got.err)
	}
	for _, c := range []struct {
		want string
		args []string
	}{
		{"tube-lot-12", []string{"glass"}},
		{"715", []string{"glass", "--name", "tube-lot-12"}},
		{"2500", []string{"piece", stem}},
		{"tube-lot-12", []string{"work", "press", "stroke", "kind=tube-lot-12"}},
		{"BLANK", plan},
		{"no problems", []string{"check", file, "--rig", "driven"}},
		{"fill", []string{"rehearse", file, "--rig", "driven", "--quick", "--piece", stem, "--piece", "mould-7pin-soda",
			"--oven", "4 K/min"}},
	} {
		got := cli(t, "none", "", append(c.args, "--glasses", dir)...)
		if got.code != exitDone || !strings.Contains(got.out, c.want) {
			t.Errorf("%v: %d %s\n%s", c.args, got.code, got.err, got.out)
		}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	shelf, err := shelfOf(dir)
	if err != nil {
		t.Fatal(err)
	}
	order := panel.Order{File: file, Text: text}
	if r, err := newDesk(p, nil, shelf).recipe(order); err != nil || r.Known.SofteningC != 715 {
		t.Errorf("the daemon refuses it: %v", err)
	}
	if _, err := newDesk(p, nil, nil).recipe(order); err == nil {
		t.Error("a daemon without the folder takes a glass that it does not know")
	}
	if r, err := recipes.ParseFrozen(file, text, p, nil); err != nil || r.Glass != "tube-lot-12" || r.Known != nil {
		t.Errorf("a stored cycle of it cannot be read without the folder: %v", err)
	}
}

func TestGlassesFolderRefusals(t *testing.T) {
	text, err := glass.Text("float")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ file, text, want string }{
		"no folder":   {"", "", "has your glass files"},
		"built-in":    {"a.yaml", string(text), "float is a built-in glass"},
		"not a glass": {"a.yaml", "glass: mine\n", "a.yaml:1:"},
	} {
		dir := filepath.Join(t.TempDir(), "glasses")
		if c.file != "" {
			if err := os.Mkdir(dir, 0o700); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, c.file), []byte(c.text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if got := cli(t, "none", "", "glass", "--glasses", dir); got.code != exitUsage || !strings.Contains(got.err, c.want) {
			t.Errorf("%s: %d %s", name, got.code, got.err)
		}
	}
}
