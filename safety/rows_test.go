package safety

import (
	"bytes"
	"flag"
	"io/fs"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pressrig/safety/warden"
)

var update = flag.Bool("update", false, "rewrite the generated part of docs/assessor.md")

// Every row that acts has its words, and no words stand without a row.
func TestEveryRowHasItsWords(t *testing.T) {
	for cause := range warden.NumCauses {
		if warden.Matrix[cause].Priority == 0 {
			continue
		}
		if w := wordsOf(cause); w == nil || w.Name == "" || w.Sentence == "" || w.Armed == "" ||
			w.Within == "" || w.Reason == "" {
			t.Errorf("cause %d has no complete words", cause)
		}
	}
	for _, row := range SupervisorRows {
		if wordsOf(row.Row) == nil {
			t.Errorf("supervisor row %d has no words", row.Row)
		}
		if row.Reacts.Lock == warden.LockLockout {
			t.Errorf("supervisor row %d locks out; a cause of the supervisor never does", row.Row)
		}
	}
	seen := map[uint8]bool{}
	for _, w := range Rows {
		inWarden := w.Cause < warden.NumCauses && warden.Matrix[w.Cause].Priority != 0
		inSupervisor := supervisorRow(w.Cause).Priority != 0
		if seen[w.Cause] || inWarden == inSupervisor {
			t.Errorf("words of cause %d: twice, or not owned by exactly one of warden and supervisor", w.Cause)
		}
		seen[w.Cause] = true
	}
}

// The pages in docs hold the tables as the data has them.
func TestSafetyPageIsFresh(t *testing.T) {
	for page, parts := range Parts() {
		t.Run(page, func(t *testing.T) { freshPage(t, page, parts) })
	}
}

func freshPage(t *testing.T, page string, parts map[string]string) {
	text, err := os.ReadFile("../docs/" + page)
	if err != nil {
		t.Fatal(err)
	}
	fresh := text
	for name, want := range parts {
		begin, end := []byte("<!-- "+name+" begin -->\n"), []byte("<!-- "+name+" end -->")
		from, to := bytes.Index(fresh, begin), bytes.Index(fresh, end)
		if from < 0 || to < from {
			t.Fatalf("docs/%s has lost its markers of %s", page, name)
		}
		from += len(begin)
		fresh = slices.Concat(fresh[:from], []byte(want), fresh[to:])
	}
	if bytes.Equal(fresh, text) {
		return
	}
	if !*update {
		t.Fatalf("docs/%s is stale; run go test ./safety -update and read the difference", page)
	}
	if err := os.WriteFile("../docs/"+page, fresh, 0o644); err != nil {
		t.Fatal(err)
	}
}

// Every test that the page names exists, and every row that can kill has an
// action, whatever its risk priority number.
func TestPageNamesRealTests(t *testing.T) {
	have := testNames(t)
	for _, p := range Promises {
		for _, name := range p.Tests {
			if !have[name] {
				t.Errorf("invariant %d names %s, which does not exist", p.Number, name)
			}
		}
	}
	for i, f := range Failures {
		if f.Test != "" && !have[f.Test] {
			t.Errorf("F%d names %s, which does not exist", i+1, f.Test)
		}
		if f.Action == "" || f.S < 1 || f.S > 10 || f.O < 1 || f.O > 10 || f.D < 1 || f.D > 10 {
			t.Errorf("F%d: no action, or a number outside 1 to 10", i+1)
		}
		if f.Test == "" && !strings.Contains(f.Owner, "hardware") {
			t.Errorf("F%d has neither a test nor an owner in hardware", i+1)
		}
	}
	for _, e := range LineErrors {
		if !have[e.Test] {
			t.Errorf("%s names %s, which does not exist", e.Error, e.Test)
		}
	}
}

func testNames(t *testing.T) map[string]bool {
	t.Helper()
	have := map[string]bool{}
	named := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	err := fs.WalkDir(os.DirFS(".."), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := fs.ReadFile(os.DirFS(".."), path)
		for _, m := range named.FindAllSubmatch(text, -1) {
			have[string(m[1])] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return have
}

func TestNames(t *testing.T) {
	if got := strings.Join(Names(1<<warden.CauseDoor|1<<warden.CauseEstop), ", "); got != "emergency stop, door open" {
		t.Error(got)
	}
	if Name(0) != "none" || Name(63) != "cause 63" || Sentence(0) != "" || Sentence(63) != "cause 63" {
		t.Error("words for numbers without a row")
	}
}
