package journal

import (
	"context"
	"database/sql"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
	"pressrig/trials"
)

// raw opens the database behind the journal's back.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", address(path, url.Values{"_pragma": {"foreign_keys(0)"}}))
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	return db
}

func spoil(t *testing.T, path string, statements ...string) {
	t.Helper()
	db := raw(t, path)
	defer db.Close()
	for _, s := range append([]string{`PRAGMA foreign_keys = 0`}, statements...) {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

// written makes a closed journal with a whole cycle of five chunks.
func written(t *testing.T) string {
	t.Helper()
	path := inDir(t)
	j := must[*Journal](t)(Open(path, still()))
	n := begin(t, j, someInfo(), 0)
	src := steptest.New(11)
	for range 5 {
		feed(j, src, 100)
		flush(t, j)
	}
	end(j, n, src.ElapsedMs())
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// A check that cannot fail would be worth nothing.
func TestCheckSeesWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		name, want string
		statements []string
	}{
		{"nothing", "", nil},
		{"chunk missing", "chunk 3 follows chunk 1", []string{`DELETE FROM chunk WHERE seq = 2`}},
		{"first chunk missing", "chunk 1 follows chunk -1", []string{`DELETE FROM chunk WHERE seq = 0`}},
		{"chunk cut", "corrupt", []string{
			`UPDATE chunk SET data = substr(data, 1, 100) WHERE seq = 1`}},
		{"chunks swapped", "follows tick", []string{
			`UPDATE chunk SET seq = 100 WHERE seq = 1`, `UPDATE chunk SET seq = 1 WHERE seq = 3`,
			`UPDATE chunk SET seq = 3 WHERE seq = 100`}},
		{"another count", "its row says 99", []string{`UPDATE chunk SET steps = 99 WHERE seq = 1`}},
		{"no start", "0 starts", []string{`DELETE FROM record WHERE kind = 1`}},
		{"no end", "0 ends", []string{`DELETE FROM record WHERE kind = 12`}},
		{"an end too many", "still running", []string{`UPDATE cycle SET ended_ms = NULL`}},
		{"no such state", "ended napping", []string{`UPDATE cycle SET state = 'napping'`}},
		{"recipe changed", "its text has hash", []string{
			`UPDATE document SET body = CAST(body || 'x' AS BLOB)`}},
		{"recipe gone", "missing row of document", []string{`DELETE FROM document`}},
		{"cycle gone", "missing row of cycle", []string{`DELETE FROM cycle`}},
		{"reservation gone", "reserved", []string{`DELETE FROM reserved`}},
	} {
		path := written(t)
		spoil(t, path, c.statements...)
		r := must[Report](t)(CheckFile(path, ""))
		if all := strings.Join(r.Problems, "\n"); !strings.Contains(all, c.want) ||
			r.OK() != (c.want == "") {
			t.Errorf("%s: problems %q, want %q", c.name, all, c.want)
		}
	}
}

// A torn page of the file itself.
func TestCheckSeesATornPage(t *testing.T) {
	path := written(t)
	f := must[*os.File](t)(os.OpenFile(path, os.O_RDWR, 0))
	junk := make([]byte, 4096)
	for i := range junk {
		junk[i] = 0xA5
	}
	if _, err := f.WriteAt(junk, 8*4096); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := CheckFile(path, "")
	if err == nil && r.OK() {
		t.Error("a page of junk was not seen")
	}
}

func TestCheckFileRefusesWhatIsNoJournal(t *testing.T) {
	dir := t.TempDir()
	empty, text := filepath.Join(dir, "empty"), filepath.Join(dir, "text")
	if err := errors.Join(os.WriteFile(empty, nil, 0o600),
		os.WriteFile(text, []byte(strings.Repeat("not a database ", 500)), 0o600)); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{filepath.Join(dir, "absent"), empty, text} {
		if _, err := CheckFile(path, ""); err == nil {
			t.Errorf("%s: no error", filepath.Base(path))
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "absent")); !os.IsNotExist(err) {
		t.Error("the check made a file")
	}
	if _, err := Open(text, still()); err == nil {
		t.Error("a text file was opened as a journal")
	}
}

func TestNewerAndForeignFilesAreRefused(t *testing.T) {
	path := written(t)
	spoil(t, path, `PRAGMA user_version = 99`)
	_, err := Open(path, still())
	if !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "99") {
		t.Errorf("newer: %v", err)
	}
	if _, err := CheckFile(path, ""); !errors.Is(err, ErrNewer) {
		t.Errorf("check of a newer one: %v", err)
	}
	other := inDir(t)
	spoil(t, other, `CREATE TABLE recipe (cake TEXT)`)
	if _, err := Open(other, still()); !errors.Is(err, ErrForeign) {
		t.Errorf("foreign: %v", err)
	}
	db := raw(t, other)
	defer db.Close()
	if _, err := db.Exec(`SELECT cake FROM recipe`); err != nil {
		t.Errorf("the foreign file was changed: %v", err)
	}
}

// A journal of version 1, kept as SQL, with one whole cycle and one that was
// running when its daemon ended.
func TestMigrationFromVersion1(t *testing.T) {
	path := inDir(t)
	script := must[[]byte](t)(os.ReadFile(filepath.Join("testdata", "version1.sql")))
	spoil(t, path, string(script))
	j := open(t, path, still())
	r := must[Report](t)(j.Check())
	want := Report{Path: path, Version: len(migrations), Cycles: 2, Records: 17, Chunks: 3, Steps: 220,
		Head: must[Head](t)(j.Head())}
	if diff := cmp.Diff(want, r); diff != "" {
		t.Error(diff)
	}
	rec := j.Recovered()
	if len(rec) != 1 || rec[0].Number != 2 || rec[0].Reason != reasonEnded || rec[0].Saved == 0 {
		t.Errorf("recovered %+v", rec)
	}
	src := steptest.New(77)
	rows := make([]chunk.Row, 120)
	for i := range rows {
		rows[i].Set(src.Next())
	}
	got, gap := readSteps(t, j, 1)
	if diff := cmp.Diff(rows, got); diff != "" || gap != nil {
		t.Error(gap, diff)
	}
	if c := must[trials.Cycle](t)(j.Cycle(1)); c.Recipe != "octal-9" || len(c.Events) != 13 {
		t.Errorf("cycle 1: %+v", c)
	}
	if n := must[uint32](t)(j.Prepare(someInfo())); n != 3 {
		t.Errorf("next cycle %d", n)
	}
}

// Every version's tables are reached from an empty file, and only forward.
func TestMigrationsAreWholeSteps(t *testing.T) {
	path := inDir(t)
	db := raw(t, path)
	defer db.Close()
	conn := must[*sql.Conn](t)(db.Conn(context.Background()))
	defer conn.Close()
	for v := range migrations {
		if err := migrateStep(conn, v+1); err != nil {
			t.Fatalf("to version %d: %v", v+1, err)
		}
		if got := must[int](t)(schemaVersion(conn)); got != v+1 {
			t.Errorf("version %d, want %d", got, v+1)
		}
	}
	if err := migrateStep(conn, len(migrations)); err == nil {
		t.Error("a step was done twice")
	}
	if got := must[int](t)(schemaVersion(conn)); got != len(migrations) {
		t.Errorf("version %d after a step that failed", got)
	}
}
