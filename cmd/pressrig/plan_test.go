package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/pieces"
)

// changed is an example's text with a word replaced, in a file of its own.
func changed(t *testing.T, example, old, new string) string {
	t.Helper()
	e, err := pieces.Named(example)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(e.Text), old) != 1 {
		t.Fatalf("%s has not exactly one %q", example, old)
	}
	return written(t, example+".yaml", strings.Replace(string(e.Text), old, new, 1))
}

// A plan is a recipe that passes check and a rehearsal with a good piece, on each
// built-in rig; its figures tell where they come from.
func TestPlanChecksAndRehearses(t *testing.T) {
	for _, rigName := range []string{"driven", "no-thermometer", "weights"} {
		file := filepath.Join(t.TempDir(), "plan.yaml")
		got := cli(t, "none", "", "plan", "stem-7pin-soda", "mould-7pin-soda", "tube-27-soda", "--rig", rigName, "--out", file, "--explain")
		if got.code != exitDone {
			t.Fatalf("%s: %d %s", rigName, got.code, got.err)
		}
		for _, want := range []string{"first guess", "BLANK", "PRESS", "COOLING", "WHAT LIMITS IT", "volume balance [derived]", "rehearse it"} {
			if !strings.Contains(got.out, want) {
				t.Errorf("%s: no %q in\n%s", rigName, want, got.out)
			}
		}
		if got := cli(t, "none", "", "check", "--rig", rigName, file); got.code != exitDone {
			t.Errorf("%s: check: %s%s", rigName, got.out, got.err)
		}
		if got := cli(t, "none", "", "rehearse", file, "--rig", rigName, "--quick", "--piece", "stem-7pin-soda",
			"--piece", "mould-7pin-soda", "--oven", "4 K/min"); got.code != exitDone {
			t.Errorf("%s: rehearse: %s%s", rigName, got.out, got.err)
		}
	}
}

func TestPlanAsJSON(t *testing.T) {
	got := cli(t, "none", "", "plan", "stem-4lead-lead", "mould-4lead-lead", "tube-24-lead", "--json", "--name", "mine")
	var p planned
	if err := json.Unmarshal([]byte(got.out), &p); err != nil {
		t.Fatalf("%v\n%s%s", err, got.out, got.err)
	}
	if p.Recipe != "mine" || len(p.Figures) < 40 || len(p.Limits) < 2 || !strings.Contains(p.Text, "recipe: mine\n") {
		t.Errorf("%+v", p)
	}
	for _, f := range p.Figures {
		if f.Formula == "" || f.Source == "" || f.Standing == "" || f.Topic == "" {
			t.Errorf("figure without formula, source or standing: %+v", f)
		}
	}
}

// What cannot be pressed is refused, with what would be right.
func TestPlanRefuses(t *testing.T) {
	const piece, mould, tube = "stem-7pin-soda", "mould-7pin-soda", "tube-27-soda"
	for _, c := range []struct {
		name, want string
		code       int
		args       []string
	}{
		{"no draft", "cannot leave its mould", exitFailed, []string{changed(t, piece, "draft: 5 deg", "draft: 0 deg"), mould, tube}},
		{"tube too thin", "thicker wall", exitFailed, []string{piece, mould, changed(t, tube, "outside: 27 mm", "outside: 24 mm")}},
		{"tube of another glass", "is of lead-29", exitFailed, []string{piece, mould, changed(t, tube, "glass: soda-lime-lamp", "glass: lead-29")}},
		{"another piece's mould", "cut for piece", exitFailed, []string{piece, "mould-4lead-lead", tube}},
		{"no mould", "no mould among the files", exitUsage, []string{piece, tube}},
		{"no such file", "nothing", exitUsage, []string{"nothing", mould, tube}},
		{"unknown rig", "nothing", exitFailed, []string{piece, mould, tube, "--rig", "nothing"}},
		{"no folder", "folder that exists", exitUsage, []string{piece, mould, tube, "--out", "/no/such/folder/x.yaml"}},
		{"another fuel", "propane", exitFailed, []string{piece, mould, tube, "--rig",
			written(t, "rig.yaml", strings.NewReplacer("fuel: propane", "fuel: hydrogen").Replace(profileText(t, "driven")))}},
	} {
		got := cli(t, "none", "", append([]string{"plan"}, c.args...)...)
		if got.code == exitDone || !strings.Contains(got.err, c.want) {
			t.Errorf("%s: exit %d, %q; want %q", c.name, got.code, got.err, c.want)
		}
	}
}
