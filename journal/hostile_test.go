package journal

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pressrig/alloctest"
	"pressrig/controller"
	"pressrig/journal/steptest"
	"pressrig/rig"
)

// original is a small real journal as a kill leaves it: one cycle in the main
// file, a second one without an end in the write-ahead log.
type original struct{ main, log []byte }

func newOriginal(t testing.TB) (o original) {
	t.Helper()
	path := inDir(t)
	j := must[*Journal](t)(Open(path, still()))
	src := steptest.New(21)
	n := begin(t, j, someInfo(), 0)
	for range 4 {
		feed(j, src, 100)
		flush(t, j)
	}
	end(j, n, src.ElapsedMs())
	if err := j.Close(); err != nil { // moves the log into the main file
		t.Fatal(err)
	}
	j = must[*Journal](t)(Open(path, still()))
	defer j.Close()
	begin(t, j, someInfo(), 0)
	feed(j, steptest.New(22), 60)
	flush(t, j)
	o.main = must[[]byte](t)(os.ReadFile(path))
	o.log = must[[]byte](t)(os.ReadFile(path + "-wal"))
	return o
}

// A row may claim any number of steps; memory is taken for what a chunk holds.
func TestTraceOfAClaimedLength(t *testing.T) {
	path := written(t)
	spoil(t, path, `UPDATE chunk SET steps = 800000000`)
	j := openRead(t, path)
	alloctest.Within(t, mostReading, func() {
		if tr, err := j.Trace(1); err != nil || len(tr.Ms) == 0 {
			t.Errorf("trace: %v", err)
		}
	})
}

// A view or trigger by the name of a table would run what a stranger wrote.
func TestTablesOfAnotherMakeAreRefused(t *testing.T) {
	for name, statements := range map[string][]string{
		"view": {`ALTER TABLE phase RENAME TO other`, `CREATE VIEW phase AS WITH RECURSIVE
			n(place) AS (SELECT 0 UNION ALL SELECT place + 1 FROM n)
			SELECT 1 AS cycle, place, 'x' AS name, 'x' AS kind FROM n`},
		"trigger":   {`CREATE TRIGGER r AFTER INSERT ON record BEGIN DELETE FROM chunk; END`},
		"index":     {`CREATE INDEX i ON chunk (hex(data))`},
		"no index":  {`DROP INDEX record_one_end`},
		"no table":  {`DROP TABLE phase`},
		"version 0": {`PRAGMA user_version = 0`}, "version -1": {`PRAGMA user_version = -1`},
	} {
		path := written(t)
		spoil(t, path, statements...)
		_, checked := CheckFile(path, "")
		_, read := OpenRead(path, still())
		_, opened := Open(path, still())
		for _, err := range []error{checked, read, opened} {
			if !errors.Is(err, ErrForeign) {
				t.Errorf("%s: %v, want ErrForeign", name, err)
			}
		}
	}
	path := written(t)
	spoil(t, path, `ANALYZE`) // what a person may do with the tool of the database
	mustCheck(t, path)
	openRead(t, path)
}

// knot makes the pages of table cycle lead to each other in so many ways that
// reading them all would last for ages: eight levels, each page of which points
// 400 times to the same page of the next.
func knot(t *testing.T, path string) {
	t.Helper()
	const pageBytes, levels, ways, interior = 4096, 8, 400, 5
	db := raw(t, path)
	var root uint32
	err := db.QueryRow(`SELECT rootpage FROM sqlite_schema WHERE name = 'cycle'`).Scan(&root)
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	file := must[[]byte](t)(os.ReadFile(path))
	at := file[(root-1)*pageBytes:][:pageBytes]
	leaf := bytes.Clone(at)
	for range levels {
		next := uint32(len(file)/pageBytes) + 1 // of the page that will be appended
		page := make([]byte, pageBytes)
		page[0] = interior
		binary.BigEndian.PutUint16(page[3:], ways)
		binary.BigEndian.PutUint16(page[5:], pageBytes-ways*5)
		binary.BigEndian.PutUint32(page[8:], next)
		for i := range ways {
			cell := pageBytes - (i+1)*5 // a page's number and a key
			binary.BigEndian.PutUint16(page[12+2*i:], uint16(cell))
			binary.BigEndian.PutUint32(page[cell:], next)
			page[cell+4] = 1
		}
		copy(file[(root-1)*pageBytes:], page) // the newest is below the root
		root = next
		file = append(file, leaf...)
	}
	binary.BigEndian.PutUint32(file[28:], uint32(len(file)/pageBytes))
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
}

// Reading without end is ended, and the check sees why.
func TestKnottedPages(t *testing.T) {
	path := written(t)
	knot(t, path)
	r, err := CheckFile(path, "")
	if err == nil && r.OK() {
		t.Error("the check sees nothing")
	}
	usual := readLongest
	t.Cleanup(func() { readLongest = usual })
	readLongest = 100 * time.Millisecond
	j := openRead(t, path)
	if list, err := j.Cycles(Filter{State: "none"}); err == nil {
		t.Errorf("%d cycles are read", len(list))
	}
	if j, err := Open(path, still()); err == nil {
		t.Errorf("it is opened: %v", j.Close())
	}
}

// patchBytes is a patch: a place of three bytes in the main file followed by
// the log, and the byte that goes there.
const patchBytes = 4

// patched is the original with bytes changed and the end cut off.
func (o original) patched(patches []byte, cut uint32) (main, log []byte) {
	all := append(append([]byte{}, o.main...), o.log...)
	for p := patches; len(p) >= patchBytes; p = p[patchBytes:] {
		all[binary.BigEndian.Uint32(p)>>8%uint32(len(all))] = p[patchBytes-1]
	}
	split := len(o.main)
	all = all[:len(all)-int(cut%uint32(len(all)))]
	return all[:min(split, len(all))], all[min(split, len(all)):]
}

// mostReading bounds, in bytes, what reading a damaged journal of this size
// takes of the Go heap. SQLite's own memory is its page cache, 2 MiB for a
// connection, and never a record longer than the file.
const mostReading = 32 << 20

// FuzzJournalFile: whatever stands in the file, nothing panics, hangs or takes
// memory without bound; what is read is told or refused with an error.
func FuzzJournalFile(f *testing.F) {
	o := newOriginal(f)
	f.Add([]byte{}, uint32(0), []byte{})
	f.Add([]byte{0, 0, 18, 0, 0, 0, 28, 0xFF}, uint32(0), []byte{})       // page size, page count
	f.Add([]byte{0, 0, 100, 5, 0, 0x10, 0, 2}, uint32(0), []byte{})       // kinds of pages
	f.Add([]byte{}, uint32(len(o.log)+4096), []byte{})                    // a page and the log cut
	f.Add([]byte{}, uint32(100), []byte{})                                // the log cut
	f.Add([]byte{}, uint32(0), []byte("SQLite format 3\x00\x10\x00\x02")) // another file
	f.Fuzz(func(t *testing.T, patches []byte, cut uint32, other []byte) {
		main, log := o.patched(patches, cut)
		if len(other) > 0 {
			main, log = other, nil
		}
		path := filepath.Join(t.TempDir(), "cycles.db")
		for name, text := range map[string][]byte{path: main, path + "-wal": log} {
			if err := os.WriteFile(name, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		alloctest.Within(t, mostReading, func() { readAll(path) })
		j, err := Open(path, still())
		if err != nil {
			return
		}
		_ = j.Flush()
		_, _ = j.Prepare(someInfo())
		_ = j.Close()
	})
}

// readAll reads all that can be read of a journal, errors or not.
func readAll(path string) {
	_, _ = CheckFile(path, "")
	j, err := OpenRead(path, still())
	if err != nil {
		return
	}
	defer j.Close()
	list, _ := j.Cycles(Filter{Story: true})
	for _, c := range list {
		_, _ = j.Cycle(c.Number)
		_, _ = j.Frozen(c.Number)
		_, _ = j.Trace(c.Number)
		_ = j.Steps(c.Number, func(*controller.Input, *rig.Request) error { return nil })
		_ = j.ExportJSON(io.Discard, c.Number)
	}
	_, _ = j.Records(0)
	_, _ = j.Began()
	_, _ = j.NewestProofs("lathe-1")
	_ = j.ExportProofsJSON(io.Discard)
}

// One page of the file of another make: whatever page it is, check sees it and
// the journal is not opened, nor changed, and the words say what to do.
func TestADamagedJournalIsNotOpened(t *testing.T) {
	const pageBytes = 4096
	sound := must[[]byte](t)(os.ReadFile(everything(t)))
	rng := rand.New(rand.NewPCG(20261201, 8))
	pages := len(sound) / pageBytes
	for page := range pages {
		broken := bytes.Clone(sound)
		for i := range pageBytes {
			if page > 0 || i >= 100 { // behind the header of the file
				broken[page*pageBytes+i] = byte(rng.Uint32())
			}
		}
		path := inDir(t)
		if err := os.WriteFile(path, broken, 0o600); err != nil {
			t.Fatal(err)
		}
		if r, err := CheckFile(path, ""); err == nil && r.OK() {
			t.Errorf("page %d of %d: check sees nothing", page+1, pages)
		}
		j, err := Open(path, still())
		if err == nil {
			t.Errorf("page %d of %d: it is opened: %v", page+1, pages, j.Close())
			continue
		}
		if page > 0 && (!errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "journal check")) {
			t.Errorf("page %d of %d: %v", page+1, pages, err)
		}
		if now := must[[]byte](t)(os.ReadFile(path)); !bytes.Equal(now, broken) {
			t.Errorf("page %d of %d: the file was changed", page+1, pages)
		}
	}
	if pages < 15 {
		t.Errorf("only %d pages", pages)
	}
}
