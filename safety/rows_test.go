package safety

import (
	"bytes"
	"flag"
	"os"
	"strings"
	"testing"

	"pressrig/safety/warden"
)

var update = flag.Bool("update", false, "rewrite the generated part of docs/safety.md")

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

// docs/safety.md holds the matrix as the data has it.
func TestSafetyPageIsFresh(t *testing.T) {
	const page = "../docs/safety.md"
	begin, end := []byte("<!-- matrix begin -->\n"), []byte("<!-- matrix end -->")
	text, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	from, to := bytes.Index(text, begin), bytes.Index(text, end)
	if from < 0 || to < from {
		t.Fatal("docs/safety.md has lost its markers")
	}
	from += len(begin)
	want := MatrixMarkdown()
	if string(text[from:to]) == want {
		return
	}
	if !*update {
		t.Fatal("docs/safety.md is stale; run go test ./safety -update and read the difference")
	}
	fresh := append(append(append([]byte{}, text[:from]...), want...), text[to:]...)
	if err := os.WriteFile(page, fresh, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestNames(t *testing.T) {
	if got := strings.Join(Names(1<<warden.CauseDoor|1<<warden.CauseEstop), ", "); got != "emergency stop, door open" {
		t.Error(got)
	}
	if Name(0) != "none" || Name(63) != "cause 63" || Sentence(0) != "" || Sentence(63) != "cause 63" {
		t.Error("words for numbers without a row")
	}
}
