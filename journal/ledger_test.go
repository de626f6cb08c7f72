package journal

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/journal/steptest"
	"pressrig/proof"
	"pressrig/trials"
)

// The encoding never changes: heads stand in logs and on paper. The figures were
// made with Python's struct and hashlib from the words of ledger.go.
func TestTheEncodingStays(t *testing.T) {
	row := must[[32]byte](t)(rowHash("phase", []any{int64(3), int64(-1), 1.5, nil, "Ada", []byte{0, 1}}))
	if got := hex.EncodeToString(row[:]); got != wantRow {
		t.Errorf("row %s, want %s", got, wantRow)
	}
	if got := must[Head](t)(Head{}.next("phase", "3/-1", row[:])); got.String() != wantHead || got.Entries != 1 {
		t.Errorf("head %+v, want %s", got, wantHead)
	}
}

const (
	wantRow  = "e56077fde6a54cf8a79336fab77e7f2887f7c4f3d6b8e9fa0a520b603714469c"
	wantHead = "6c11100fdbee7cba5b37bd0d4d6383d712064d77bd7ef86c79c44fe81b6cd43e"
)

// No two lists of values have the same bytes.
func TestTheEncodingIsOneToOne(t *testing.T) {
	seen := map[[32]byte]string{}
	for _, list := range [][]any{{}, {nil}, {nil, nil}, {""}, {"", ""}, {[]byte{}}, {int64(0)}, {0.0}, {"a", "b"},
		{"ab", ""}, {"", "ab"}, {"ab"}, {[]byte("ab")}, {"a\x00b"}, {int64(1)}, {1.0}, {"1"}, {int64(256)}, {nil, int64(1)},
		{"t\x00\x00\x00\x00\x00\x00\x00\x00"}} {
		hash := must[[32]byte](t)(hashOf(list...))
		if other, ok := seen[hash]; ok {
			t.Errorf("%#v has the hash of %s", list, other)
		}
		seen[hash] = fmt.Sprintf("%#v", list)
	}
	if _, err := hashOf(true); err == nil {
		t.Error("a value that no table holds has a hash")
	}
}

// Every table but the ledger is kept, and its key is its primary key.
func TestEveryTableIsKept(t *testing.T) {
	db := raw(t, written(t))
	defer db.Close()
	rows := must[*sql.Rows](t)(db.Query(`SELECT t.name, group_concat(c.name ORDER BY c.pk) FROM pragma_table_list t,
		pragma_table_info(t.name) c WHERE t.type = 'table' AND t.schema = 'main' AND t.name NOT LIKE 'sqlite%' AND c.pk > 0
		GROUP BY t.name`))
	defer rows.Close()
	want := map[string]string{}
	for rows.Next() {
		var name, key string
		if err := rows.Scan(&name, &key); err != nil {
			t.Fatal(err)
		}
		want[name] = key
	}
	got := map[string]string{"ledger": "seq"}
	for _, k := range kept {
		got[k.name] = strings.ReplaceAll(k.key, " || '/' || ", ",")
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// everything makes a closed journal with rows in every table: two whole cycles,
// one recovered, records outside, two proofs.
func everything(t *testing.T) string {
	t.Helper()
	path := inDir(t)
	j := must[*Journal](t)(Open(path, still()))
	must[uint32](t)(j.NextRun())
	for i := range 2 {
		n := begin(t, j, someInfo(), 0)
		src := steptest.New(uint64(n))
		feed(j, src, 100)
		j.Append(controller.Record{Kind: controller.RecTrip, Cycle: n, Cause: 3, Lockout: true})
		j.Append(controller.Record{Kind: controller.RecAlarm, Cause: 30 + uint8(i)})
		feed(j, src, 100)
		end(j, n, src.ElapsedMs())
		flush(t, j)
	}
	for _, function := range []string{"estop", "guard"} {
		must[uint32](t)(j.AppendProof(someProof(function, proof.Passed), profileText))
	}
	begin(t, j, someInfo(), 0)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j = must[*Journal](t)(Open(path, still()))
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// withoutTriggers does something to the file with all triggers dropped, and
// makes them again, so that the tables are as the program's.
func withoutTriggers(t *testing.T, path string, statements ...string) {
	t.Helper()
	db := raw(t, path)
	defer db.Close()
	rows := must[*sql.Rows](t)(db.Query(`SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'`))
	all := []string{`PRAGMA foreign_keys = 0`}
	var again []string
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		all, again = append(all, `DROP TRIGGER `+name), append(again, text)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil || len(again) != 4 {
		t.Fatalf("%d triggers, %v", len(again), err)
	}
	for _, s := range append(append(all, statements...), again...) {
		if _, err := db.Exec(s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
}

// Whatever is done to the rows behind the journal's back is told with table and
// row, also when it keeps every other rule of the file.
func TestCheckSeesTampering(t *testing.T) {
	const alter, gone, inserted = "it was altered", "it was deleted", "it was inserted"
	original := everything(t)
	mustCheck(t, original)
	for _, c := range []struct {
		name       string
		want       []string
		statements []string
	}{
		{"nothing, triggers dropped and made again", nil, nil},
		{"proof altered", []string{"table proof, row 1: ", alter}, []string{`UPDATE proof SET result = 'failed' WHERE number = 1`}},
		{"newest proof deleted", []string{"table proof, row 2: ", gone}, []string{`DELETE FROM proof WHERE number = 2`}},
		{"proof inserted", []string{"table proof, row 3: ", inserted}, []string{`INSERT INTO proof
			SELECT 3, function, rig, at_ms + 1000, by_name, result, value, unit, limit_text, by_eye, why, note,
			profile_hash, by_user FROM proof WHERE number = 1`}},
		{"proofs swapped", []string{"table proof, row 1: ", "table proof, row 2: ", alter}, []string{
			`UPDATE proof SET number = 9 WHERE number = 1`,
			`UPDATE proof SET number = 1 WHERE number = 2`, `UPDATE proof SET number = 2 WHERE number = 9`}},
		{"record altered", []string{"table record, row 3: ", alter}, []string{`UPDATE record SET by_name = 'Bob' WHERE id = 3`}},
		{"record deleted", []string{"table record, row 2: ", gone}, []string{`DELETE FROM record WHERE id = 2`}},
		{"newest record deleted", []string{"table record, row 10: ", gone}, []string{
			`DELETE FROM record WHERE id = (SELECT MAX(id) FROM record)`, `UPDATE cycle SET ended_ms = NULL WHERE number = 3`}},
		{"record inserted", []string{"table record, row 11: ", inserted}, []string{`INSERT INTO record SELECT 11, cycle, 6,
			elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason,
			by_name, by_user FROM record WHERE id = 2`}},
		{"a number made none", []string{"table record, row 2: ", alter}, []string{`UPDATE record SET value = NULL WHERE id = 2`}},
		{"cycle's reason altered", []string{"table cycle, row 1: ", alter}, []string{`UPDATE cycle SET reason = 'x' WHERE number = 1`}},
		{"cycle as before its end", []string{"table cycle, row 2: ", alter}, []string{
			`UPDATE cycle SET ended_ms = NULL, state = '', reason = '' WHERE number = 2`, `DELETE FROM record WHERE cycle = 2 AND kind = 12`}},
		{"name of who began", []string{"table cycle, row 1: ", alter}, []string{`UPDATE cycle SET by_name = 'Bob' WHERE number = 1`}},
		{"user of who began", []string{"table cycle, row 1: ", alter}, []string{`UPDATE cycle SET by_user = 'uid 0' WHERE number = 1`}},
		{"whole cycle deleted", []string{"table cycle, row 2: ", "table phase, row 2/0: ", "table chunk, row ", gone}, []string{
			`DELETE FROM record WHERE cycle = 2`, `DELETE FROM chunk WHERE cycle = 2`, `DELETE FROM phase WHERE cycle = 2`,
			`DELETE FROM cycle WHERE number = 2`}},
		{"phase renamed", []string{"table phase, row 1/1: ", alter}, []string{`UPDATE phase SET name = 'x' WHERE cycle = 1 AND place = 1`}},
		{"trace of another cycle", []string{"table chunk, row 1: ", alter}, []string{
			`UPDATE chunk SET data = (SELECT data FROM chunk WHERE id = 3) WHERE id = 1`}},
		{"chunk given to another cycle", []string{"table chunk, row 4: ", alter}, []string{`UPDATE chunk SET cycle = 1, seq = 99 WHERE id = 4`}},
		{"document inserted", []string{"table document, row ", inserted}, []string{
			`INSERT INTO document VALUES (x'6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d', x'00')`}},
		{"number given away", []string{"table reserved, row 1: ", alter}, []string{`UPDATE reserved SET cycle = 1`}},
		{"beginning moved", []string{"table beginning, row 1: ", alter}, []string{`UPDATE beginning SET began_ms = 0`}},
		{"row and its entry's hash altered", []string{"table ledger, row 5 ", "not chained"}, []string{
			`UPDATE ledger SET row_hash = zeroblob(32) WHERE seq = 5`}},
		{"entry for another row", []string{"table ledger, row 5 ", "not chained"}, []string{`UPDATE ledger SET row_key = 77 WHERE seq = 5`}},
		{"entry for another table", []string{"table ledger, row 5 ", "not chained"}, []string{
			`UPDATE ledger SET table_name = 'cake' WHERE seq = 5`}},
		{"entry taken away", []string{"table ledger, row 6: it follows row 4"}, []string{`DELETE FROM ledger WHERE seq = 5`}},
		{"first entry taken away", []string{"table ledger, row 2: it follows row 0"}, []string{`DELETE FROM ledger WHERE seq = 1`}},
		{"entry inserted", []string{"table ledger, row ", "not chained"}, []string{`INSERT INTO ledger
			SELECT MAX(seq) + 1, 'record', 9, row_hash, hash FROM ledger`}},
		{"entries swapped", []string{"table ledger, row 5 ", "not chained"}, []string{
			`UPDATE ledger SET seq = 99999 WHERE seq = 5`, `UPDATE ledger SET seq = 5 WHERE seq = 6`,
			`UPDATE ledger SET seq = 6 WHERE seq = 99999`}},
		{"newest entry alone cut off", []string{"table record, row 10: ", inserted}, []string{
			`DELETE FROM ledger WHERE seq = (SELECT MAX(seq) FROM ledger)`}},
		{"ledger emptied", []string{"table reserved, row 1: ", "table proof, row 2: ", inserted}, []string{`DELETE FROM ledger`}},
	} {
		path := copyOf(t, original)
		withoutTriggers(t, path, c.statements...)
		r := must[Report](t)(CheckFile(path, ""))
		all := strings.Join(r.Problems, "\n")
		for _, want := range c.want {
			if !strings.Contains(all, want) {
				t.Errorf("%s: problems %q, want %q", c.name, all, want)
			}
		}
		if r.OK() != (c.want == nil) {
			t.Errorf("%s: problems %q", c.name, all)
		}
	}
}

func copyOf(t *testing.T, path string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy.db")
	if err := os.WriteFile(to, must[[]byte](t)(os.ReadFile(path)), 0o600); err != nil {
		t.Fatal(err)
	}
	return to
}

// The newest entries cut off with their rows, so that the rest is whole: only a
// head that was noted elsewhere tells.
func TestHeadSeesACutTail(t *testing.T) {
	path := inDir(t)
	j := must[*Journal](t)(Open(path, still()))
	first := must[Head](t)(j.Head())
	must[uint32](t)(j.AppendProof(someProof("estop", proof.Failed), profileText))
	noted := must[Head](t)(j.Head())
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		head  string
		after int64
	}{{noted.String(), 0}, {first.String(), 2}, {noted.String()[:leastHead], 0}, {strings.ToUpper(first.String()), 2}} {
		r := must[Report](t)(CheckFile(path, c.head))
		if !r.OK() || r.After != c.after || r.Head != noted {
			t.Errorf("head %s: %+v", c.head, r)
		}
	}
	withoutTriggers(t, path, `DELETE FROM proof`, `DELETE FROM document`,
		fmt.Sprintf(`DELETE FROM ledger WHERE seq > %d`, first.Entries))
	mustCheck(t, path) // all that is left is whole
	if r := must[Report](t)(CheckFile(path, first.String())); !r.OK() || r.After != 0 {
		t.Errorf("the head of before: %+v", r)
	}
	r := must[Report](t)(CheckFile(path, noted.String()))
	if len(r.Problems) != 1 || !strings.Contains(r.Problems[0], "cut off") {
		t.Errorf("a cut tail: %q", r.Problems)
	}
	for _, head := range []string{"x", "abc", noted.String()[:leastHead-1], noted.String() + "0", strings.Repeat("g", 64)} {
		if _, err := CheckFile(path, head); err == nil {
			t.Errorf("head %q is taken", head)
		}
	}
}

// A chain made anew over altered rows is whole in itself: the noted head is not
// in it. Nothing else can tell.
func TestHeadSeesAChainMadeAnew(t *testing.T) {
	path := everything(t)
	noted := mustCheck(t, path).Head
	withoutTriggers(t, path, `UPDATE proof SET result = 'failed' WHERE number = 1`, `DELETE FROM ledger`)
	db := raw(t, path)
	defer db.Close()
	tx := must[*sql.Tx](t)(db.Begin())
	if err := errors.Join((&txn{ctx: t.Context(), tx: tx}).enterAll(), tx.Commit()); err != nil {
		t.Fatal(err)
	}
	mustCheck(t, path)
	if r := must[Report](t)(CheckFile(path, noted.String())); r.OK() {
		t.Error("the chain was made anew and the noted head is found")
	}
}

// A journal of before the ledger has its rows entered, once.
func TestMigrationToTheLedger(t *testing.T) {
	path := inDir(t)
	script := must[[]byte](t)(os.ReadFile(filepath.Join("testdata", "version1.sql")))
	spoil(t, path, string(script))
	if r := must[Report](t)(CheckFile(path, "")); r.Head.Entries != 0 {
		t.Errorf("a ledger before its time: %+v", r.Head)
	}
	if r := must[Report](t)(CheckFile(path, strings.Repeat("a", 64))); r.OK() {
		t.Error("a head is found in a journal without a ledger")
	}
	db := raw(t, path)
	conn := must[*sql.Conn](t)(db.Conn(context.Background()))
	if err := migrate(conn); err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, k := range kept {
		var n int
		if err := conn.QueryRowContext(t.Context(), `SELECT count(*) FROM `+k.name).Scan(&n); err != nil {
			t.Fatal(err)
		}
		rows += n
	}
	if err := errors.Join(conn.Close(), db.Close()); err != nil {
		t.Fatal(err)
	}
	r := must[Report](t)(CheckFile(path, ""))
	if len(r.Problems) != 1 { // that Open has not yet noted the beginning
		t.Errorf("after migration: %q", r.Problems)
	}
	migrated := r.Head
	if migrated.Entries != int64(rows) || rows < 20 {
		t.Errorf("%d entries for %d rows", migrated.Entries, rows)
	}
	j := open(t, path, still()) // notes its beginning, closes the cycle that has no end
	if h := must[Head](t)(j.Head()); h.Entries != migrated.Entries+3 {
		t.Errorf("%d entries after opening, %d before", h.Entries, migrated.Entries)
	}
}

// A transaction that fails leaves neither rows nor entries, and the next one
// goes on with the chain.
func TestAFailedCommitLeavesTheChain(t *testing.T) {
	fail := false
	o := still()
	o.beforeCommit = func() error {
		if fail {
			return errTest
		}
		return nil
	}
	j := open(t, inDir(t), o)
	before := must[Head](t)(j.Head())
	fail = true
	if _, err := j.AppendProof(someProof("estop", proof.Passed), profileText); !errors.Is(err, errTest) {
		t.Fatalf("%v", err)
	}
	if h := must[Head](t)(j.Head()); h != before {
		t.Errorf("head %+v after a failed commit, %+v before", h, before)
	}
	fail = false
	must[uint32](t)(j.AppendProof(someProof("estop", proof.Passed), profileText))
	if h := must[Head](t)(j.Head()); h.Entries < before.Entries+2 {
		t.Errorf("%d entries after a proof, %d before", h.Entries, before.Entries)
	}
}

// At a cycle's end the head is told that has the end in it.
func TestEndedTellsTheHead(t *testing.T) {
	told := map[uint32]Head{}
	o := still()
	o.Ended = func(cycle uint32, h Head) { told[cycle] = h }
	path := inDir(t)
	j := must[*Journal](t)(Open(path, o))
	want := map[uint32]Head{}
	for range 2 {
		n := begin(t, j, someInfo(), 0)
		if _, ok := told[n]; ok {
			t.Errorf("cycle %d was told before its end", n)
		}
		end(j, n, 1000)
		flush(t, j)
		want[n] = must[Head](t)(j.Head())
		if c := must[trials.Cycle](t)(j.Cycle(n)); c.Ledger != want[n].Told() {
			t.Errorf("cycle %d shows %v, want %v", n, c.Ledger, want[n].Told())
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, told); diff != "" {
		t.Error(diff)
	}
	for n, h := range told {
		if r := must[Report](t)(CheckFile(path, h.String())); !r.OK() || r.After != r.Head.Entries-h.Entries {
			t.Errorf("cycle %d: %+v", n, r)
		}
	}
}
