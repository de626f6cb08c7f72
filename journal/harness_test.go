package journal

import (
	"crypto/sha256"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
	"pressrig/rig"
)

var rewrite = flag.Bool("rewrite", false, "write golden files anew; a person reads the diff")

// loopJournal is what the loop asks of a journal (controller/loop/ports.go).
type loopJournal interface {
	Append(controller.Record)
	AppendStep(*controller.Input, *rig.Request)
	Health() controller.JournalHealth
}

var _ loopJournal = (*Journal)(nil)

func TestMain(m *testing.M) {
	if path := os.Getenv(childPath); path != "" {
		killedChild(path)
	}
	if path := os.Getenv(childFail); path != "" {
		failingChild(path)
	}
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction("database/sql.(*DB).connectionOpener"))
}

// wall is a clock that stands still until it is moved.
var wall = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// faults collects what Fault is told.
type faults struct {
	mu   sync.Mutex
	list []error
}

func (f *faults) add(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.list = append(f.list, err)
}

func (f *faults) take() []error {
	f.mu.Lock()
	defer f.mu.Unlock()
	list := f.list
	f.list = nil
	return list
}

// still are options under which nothing is written by the clock.
func still() Options {
	return Options{Now: func() time.Time { return wall }, Tick: make(chan time.Time),
		CauseText: func(c uint8) string { return map[uint8]string{3: "flame lost", 21: "link lost"}[c] }}
}

// open opens a journal that is closed and checked when the test ends.
func open(t testing.TB, path string, o Options) *Journal {
	t.Helper()
	j, err := Open(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil && !t.Failed() {
			t.Error(err)
		}
		mustCheck(t, path)
	})
	return j
}

func mustCheck(t testing.TB, path string) Report {
	t.Helper()
	r, err := CheckFile(path, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Problems {
		t.Errorf("check: %s", p)
	}
	return r
}

func inDir(t testing.TB) string { return filepath.Join(t.TempDir(), "cycles.db") }

func someInfo() CycleInfo {
	recipe, profile := []byte("name: octal-9\n"), []byte("name: bench-1\n")
	return CycleInfo{Run: 2, Piece: 3, Last: true, Guarded: true, By: "Ada", Recipe: "octal-9",
		RecipeText: recipe, RecipeHash: sha256.Sum256(recipe), Rig: "bench-1",
		ProfileText: profile, ProfileHash: sha256.Sum256(profile),
		Phases:       []PhaseInfo{{"heat", "fire"}, {"form", "press"}},
		Capabilities: rig.Capabilities{Protocol: 1, Firmware: "1.0.0", Scale: 1}}
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func flush(t testing.TB, j *Journal) {
	t.Helper()
	if err := j.Flush(); err != nil {
		t.Fatal(err)
	}
}

// begin prepares and starts a cycle, and waits until that is on disk.
func begin(t testing.TB, j *Journal, info CycleInfo, elapsedMs uint64) uint32 {
	t.Helper()
	n := must[uint32](t)(j.Prepare(info))
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n, ElapsedMs: elapsedMs, Phase: -1})
	flush(t, j)
	return n
}

func end(j *Journal, n uint32, elapsedMs uint64) {
	j.Append(controller.Record{Kind: controller.RecEnd, Cycle: n, ElapsedMs: elapsedMs, Phase: -1,
		State: controller.Complete, Reason: "all phases done"})
}

// feed appends n steps and gives them back as rows.
func feed(j *Journal, src *steptest.Source, n int) []chunk.Row {
	rows := make([]chunk.Row, n)
	for i := range rows {
		in, req := src.Next()
		rows[i].Set(in, req)
		j.AppendStep(in, req)
	}
	return rows
}

// readSteps is the stored stream up to its first gap.
func readSteps(t testing.TB, j *Journal, n uint32) ([]chunk.Row, *GapError) {
	t.Helper()
	var rows []chunk.Row
	err := j.Steps(n, func(in *controller.Input, req *rig.Request) error {
		var r chunk.Row
		r.Set(in, req)
		rows = append(rows, r)
		return nil
	})
	var gap *GapError
	if err != nil && !errors.As(err, &gap) {
		t.Fatal(err)
	}
	return rows, gap
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *rewrite {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want := must[[]byte](t)(os.ReadFile(path))
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s: %s", name, diff)
	}
}
