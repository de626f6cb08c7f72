package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pressrig/journal"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
)

// written writes a file in a folder of its own.
func written(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestCheckStoredRecipesAndProfiles(t *testing.T) {
	for _, s := range recipes.Stored() {
		file := written(t, s.Name+".yaml", string(s.Text))
		got := cli(t, "none", "", "check", "--rig", s.For, file)
		if got.code != exitDone || !strings.Contains(got.out, "recipe "+s.Name+" has no problems") {
			t.Errorf("%s: %+v", s.Name, got)
		}
	}
	for _, name := range rig.BuiltinNames() {
		text, err := rig.BuiltinText(name)
		if err != nil {
			t.Fatal(err)
		}
		got := cli(t, "none", "", "check", written(t, name+".yaml", string(text)))
		if got.code != exitDone || !strings.Contains(got.out, ": rig profile ") {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestCheckTellsLineAndColumn(t *testing.T) {
	s, err := recipes.Named("practice-disc")
	if err != nil {
		t.Fatal(err)
	}
	broken := strings.Replace(string(s.Text), "standing: guess", "standing: surely", 1)
	line := strings.Count(broken[:strings.Index(broken, "standing:")], "\n") + 1
	file := written(t, "broken.yaml", broken)
	good := written(t, "good.yaml", string(s.Text))
	got := cli(t, "none", "", "check", file, good)
	want := file + ":" + itoa(line) +
		":11: standing does not say how far the numbers are to be trusted; "
	if got.code != exitFailed || !strings.HasPrefix(got.out, want) || got.err != "" {
		t.Errorf("got %+v, want %q", got, want)
	}
	if !strings.Contains(got.out, good+": recipe practice-disc has no problems (without a rig") {
		t.Errorf("the other file is not told:\n%s", got.out)
	}
	got = cli(t, "none", "", "check", "--json", file)
	var list []checked
	if err := json.Unmarshal([]byte(got.out), &list); err != nil || got.code != exitFailed {
		t.Fatalf("%v, %+v", err, got)
	}
	if p := list[0].Problems[0]; p.Line != line || p.Column != 11 || p.Right == "" {
		t.Errorf("got %+v", list)
	}
}

func TestCheckOtherFiles(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"colour: red\n", ":1:1: neither a recipe nor a rig profile; begin a recipe with recipe: NAME"},
		{"a: [\n", ":"},
		{"", "is empty"},
		{"- 1\n", ":1:1: "},
	} {
		got := cli(t, "none", "", "check", written(t, "x.yaml", c.text))
		if got.code != exitFailed || !strings.Contains(got.out, c.says) {
			t.Errorf("%q: %+v", c.text, got)
		}
	}
	if got := cli(t, "none", "", "check", "--rig", "none", "x.yaml"); got.code != exitFailed {
		t.Errorf("an unknown rig: %+v", got)
	}
	if got := cli(t, "none", "", "check", "not there.yaml"); got.code != exitFailed {
		t.Errorf("a missing file: %+v", got)
	}
}

func itoa(n int) string {
	text, _ := json.Marshal(n) // a number always has a text
	return string(text)
}

// What is not fitted is named wherever a person looks at the rig: it fails nothing.
func TestWarningsAreTold(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	const want = "warning: gas_alarm is not fitted: "
	without := strings.NewReplacer("  - gas_alarm\n", "", "  gas_alarm: 8760 h\n", "").Replace(string(text))
	file := written(t, "rig.yaml", without)
	for _, args := range [][]string{{"check", file}, {"serve", "--rig", file, "--check"}} {
		if got := cli(t, "none", "", args...); got.code != exitDone || !strings.Contains(got.out, want) ||
			strings.Count(got.out, safety.Notice) != 1 {
			t.Errorf("%v: %+v", args, got)
		}
	}
	p, err := rig.ParseProfile(file, []byte(without))
	if err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(journalFile(t.TempDir()), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	v := &prover{rig: p, journal: j, now: time.Now}
	if list, err := v.List(); err != nil || !strings.Contains(list.Notice, want) {
		t.Errorf("prove does not tell: %q, %v", list.Notice, err)
	}
}
