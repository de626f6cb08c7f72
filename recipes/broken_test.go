package recipes_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/yamlfile"
)

var update = flag.Bool("update", false, "write the golden files; a person reads the diff")

// TestBrokenRecipes holds the whole text of every message, with line and
// column: it is what a person at the bench has to work from. The first line of
// each file names the rig that it is checked against.
func TestBrokenRecipes(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.yaml")
	if err != nil || len(files) < 50 {
		t.Fatalf("%d files, %v; want at least 50", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(string(text), "\n")
		p, err := rig.Builtin(strings.TrimPrefix(first, "# rig: "))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		r, err := recipes.Parse(filepath.Base(file), text, p)
		if err == nil || r != nil {
			t.Errorf("%s was accepted", file)
			continue
		}
		if len(yamlfile.Of(err)) == 0 {
			t.Errorf("%s: error carries no problems: %v", file, err)
		}
		golden(t, strings.TrimSuffix(file, ".yaml")+".golden", err.Error()+"\n")
	}
}

func golden(t *testing.T, file, have string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(have), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), have); d != "" {
		t.Errorf("%s (-want +have):\n%s", file, d)
	}
}
