package journal

import (
	"bytes"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/journal/steptest"
)

// openRead opens a journal for reading until the test ends.
func openRead(t *testing.T, path string) *Journal {
	t.Helper()
	o := still()
	j, err := OpenRead(path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return j
}

// TestOpenReadBesideADaemon reads all that a daemon has written, while the
// daemon goes on, and closes none of its cycles.
func TestOpenReadBesideADaemon(t *testing.T) {
	path := inDir(t)
	w := open(t, path, still())
	src := steptest.New(3)
	first := begin(t, w, someInfo(), 1000)
	fed := feed(w, src, 200)
	flush(t, w)

	r := openRead(t, path)
	running := must[int](t)(func() (int, error) { rep, err := r.Check(); return rep.Running, err }())
	if c, err := r.Cycle(first); err != nil || c.State != "" || running != 1 {
		t.Fatalf("the running cycle reads as %q, %d running: %v", c.State, running, err)
	}
	rows, gap := readSteps(t, r, first)
	if gap != nil || len(rows) != len(fed) {
		t.Errorf("%d steps of %d, gap %v", len(rows), len(fed), gap)
	}

	end(w, first, 9000)
	flush(t, w)
	second := begin(t, w, someInfo(), 20000)
	list, err := r.Cycles(Filter{})
	if err != nil || len(list) != 2 || list[0].Number != second || list[1].State != "complete" {
		t.Fatalf("what the daemon wrote since is not seen: %+v, %v", list, err)
	}
	var ours, theirs bytes.Buffer
	if err := errors.Join(r.ExportJSON(&ours, first), w.ExportJSON(&theirs, first)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(theirs.String(), ours.String()); diff != "" {
		t.Errorf("reader and daemon export differently: %s", diff)
	}
}

// TestOpenReadWritesNothing: every way to write is refused or ignored at once.
func TestOpenReadWritesNothing(t *testing.T) {
	path := inDir(t)
	w := open(t, path, still())
	n := begin(t, w, someInfo(), 0)
	r := openRead(t, path)
	_, prepared := r.Prepare(someInfo())
	_, run := r.NextRun()
	for what, err := range map[string]error{"prepare": prepared, "run": run, "flush": r.Flush(),
		"quota": r.SetMaxBytes(1 << 30)} {
		if !errors.Is(err, ErrReadOnly) {
			t.Errorf("%s: %v", what, err)
		}
	}
	r.Append(controller.Record{Kind: controller.RecEnd, Cycle: n, Phase: -1})
	feed(r, steptest.New(1), 3)
	if h := r.Health(); h.Writable {
		t.Error("a journal that is only read says that it is writable")
	}
	if c, err := w.Cycle(n); err != nil || c.State != "" {
		t.Errorf("the daemon's cycle became %q: %v", c.State, err)
	}
	if _, err := r.read.Exec(`DELETE FROM cycle`); err == nil {
		t.Error("the reader's connection can delete")
	}
}

// TestOpenReadClosesNothing: what an ended daemon left open stays for the next
// daemon to close.
func TestOpenReadClosesNothing(t *testing.T) {
	path := inDir(t)
	w := must[*Journal](t)(Open(path, still()))
	n := begin(t, w, someInfo(), 0)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r := openRead(t, path)
	if c, err := r.Cycle(n); err != nil || c.State != "" || !c.Ended.IsZero() {
		t.Errorf("the unended cycle reads as %q: %v", c.State, err)
	}
	again := open(t, path, still()) // no lock is in its way
	if got := again.Recovered(); len(got) != 1 || got[0].Number != n {
		t.Errorf("the next daemon closed %+v", got)
	}
	if c, err := r.Cycle(n); err != nil || c.State != "aborted" {
		t.Errorf("the closed cycle reads as %q: %v", c.State, err)
	}
}

// TestOpenReadRefuses what it cannot read, and leaves it as it was.
func TestOpenReadRefuses(t *testing.T) {
	made := func(statements ...string) string {
		path := inDir(t)
		db := must[*sql.DB](t)(sql.Open("sqlite", path))
		defer db.Close()
		for _, s := range statements {
			if _, err := db.Exec(s); err != nil {
				t.Fatal(err)
			}
		}
		return path
	}
	empty := inDir(t)
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		path string
		want error
	}{
		"missing": {filepath.Join(t.TempDir(), "none.db"), fs.ErrNotExist},
		"empty":   {empty, ErrForeign},
		"foreign": {made(`CREATE TABLE t (x)`), ErrForeign},
		"newer": {made(`CREATE TABLE t (x)`, `PRAGMA application_id = 1886546543`,
			`PRAGMA user_version = 99`), ErrNewer},
		"older": {made(migrations[0], `PRAGMA application_id = 1886546543`,
			`PRAGMA user_version = 1`), ErrOlder},
	} {
		j, err := OpenRead(c.path, Options{})
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
		if j != nil {
			t.Errorf("%s: a journal came with the error", name)
		}
	}
	if _, err := os.Stat(empty + ".lock"); err == nil {
		t.Error("a lock was made")
	}
}
