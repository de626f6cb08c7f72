package rig_test

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/rig"
	"pressrig/yamlfile"
)

var update = flag.Bool("update", false, "write the golden files; a person reads the diff")

// TestBrokenProfiles holds the whole text of every message, with line and
// column: it is what a person setting up a rig has to work from.
func TestBrokenProfiles(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.yaml")
	if err != nil || len(files) < 25 {
		t.Fatalf("%d files, %v; want at least 25", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		p, err := rig.ParseProfile(filepath.Base(file), text)
		if err == nil || p != nil {
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
