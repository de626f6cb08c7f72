package main

import (
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"pressrig/testcount"
)

func TestFirstDifference(t *testing.T) {
	for _, x := range []struct {
		got, want string
		at        int
	}{{"abc", "abc", -1}, {"abd", "abc", 2}, {"ab", "abc", 2}, {"abcd", "abc", 3}, {"", "", -1}} {
		if at := firstDifference(iotest.OneByteReader(strings.NewReader(x.got)), []byte(x.want)); at != x.at {
			t.Errorf("%q of %q differs at %d, want %d", x.got, x.want, at, x.at)
		}
		if at := firstDifference(strings.NewReader(x.got), []byte(x.want)); at != x.at {
			t.Errorf("%q of %q at once differs at %d, want %d", x.got, x.want, at, x.at)
		}
	}
}

// A compiler that rejects a mutant is told from one that did not run.
func TestRefused(t *testing.T) {
	if r := refused(cc(t.TempDir(), "-c", "missing.c")); r.Fate != uncompiled {
		t.Errorf("a compiler that ends with 1 gives fate %d, want %d: %s", r.Fate, uncompiled, r.Says)
	}
	if r := refused(cc(t.TempDir()+"/missing", "-c", "missing.c")); r.Fate != failed {
		t.Errorf("a folder that is missing gives fate %d, want %d: %s", r.Fate, failed, r.Says)
	}
}

// A sample of the mutants is killed, one that changes nothing gives
// the same object, and one that is no C is told apart.
func TestSampleIsKilled(t *testing.T) {
	mutants, excused, err := ofCore("../..")
	if err != nil {
		t.Fatal(err)
	}
	// Only of the files of which a full run left no mutant alive; in the others
	// make mutants-c still names some, and fails.
	whole := []string{"causes.c", "detect.c", "drive.c", "link.c", "inside.h"}
	var open []mutant
	for _, m := range mutants {
		if excused[m.Key()] == "" && slices.Contains(whole, m.File) {
			open = append(open, m)
		}
	}
	trial, err := newTrial("../..", 160000)
	if err != nil {
		t.Fatal(err)
	}
	defer trial.remove()
	sample := pick(open, testcount.Of(6, 30), 3)
	text := mutants[0].Text
	strange := []mutant{
		{File: "burner.c", Change: "no C", Text: text + "\nnonsense"},
		{File: "burner.c", Change: "the same", Text: strings.Replace(text, "60001", "60000", 1)},
	}
	results, err := trial.all(append(sample, strange...), 2, func(int, result) {})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []fate{uncompiled, same} {
		if r := results[len(sample)+i]; r.Fate != want {
			t.Errorf("%s: fate %d, want %d: %s", r.Change, r.Fate, want, r.Says)
		}
	}
	for _, r := range results[:len(sample)] {
		if r.Fate == lives {
			t.Errorf("%s lives", r.ID())
		}
	}
}
