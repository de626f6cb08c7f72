package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"pressrig/proof"
	"pressrig/trials"
)

var profileText = []byte("rig: lathe-1\n")

func someProof(function string, result proof.Result) proof.Record {
	return proof.Record{Function: function, Rig: "lathe-1", At: wall, By: "Ada", Result: result, Value: 810,
		Unit: "ms", Limit: "1000 ms", Note: "button at the \"door\"", ProfileHash: sha256.Sum256(profileText)}
}

func TestProofsAreKept(t *testing.T) {
	path := inDir(t)
	j := open(t, path, still())
	first, second := someProof("flame_loss", proof.Passed), someProof("estop", proof.Failed)
	second.Value, second.Why, second.ByEye = math.NaN(), "the loop stayed closed", true
	third := someProof("flame_loss", proof.Failed)
	for i, r := range []*proof.Record{&first, &second, &third} {
		n, err := j.AppendProof(*r, profileText)
		if err != nil || n != uint32(i+1) {
			t.Fatalf("number %d, %v", n, err)
		}
		r.Number, r.At = n, r.At.Local()
	}
	equal := cmpopts.EquateNaNs()
	if diff := cmp.Diff([]proof.Record{third, second, first}, must[[]proof.Record](t)(j.Proofs(0, 10)), equal); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]proof.Record{first}, must[[]proof.Record](t)(j.Proofs(2, 10)), equal); diff != "" {
		t.Error(diff)
	}
	want := map[string]proof.Record{"flame_loss": third, "estop": second}
	if diff := cmp.Diff(want, must[map[string]proof.Record](t)(j.NewestProofs("lathe-1")), equal); diff != "" {
		t.Error(diff)
	}
	if other := must[map[string]proof.Record](t)(j.NewestProofs("lathe-2")); len(other) > 0 {
		t.Errorf("another rig's proofs: %v", other)
	}
	if r := must[Report](t)(j.Check()); r.Proofs != 3 || !r.OK() {
		t.Errorf("%+v", r)
	}
	if began := must[time.Time](t)(j.Began()); !began.Equal(wall) {
		t.Errorf("began %v", began)
	}
}

// Nothing changes or takes away a stored proof, and a hole is found.
func TestProofsCannotBeChanged(t *testing.T) {
	path := inDir(t)
	j := open(t, path, still())
	for range 3 {
		if _, err := j.AppendProof(someProof("estop", proof.Failed), profileText); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	spoilt := filepath.Join(t.TempDir(), "copy.db")
	if err := os.WriteFile(spoilt, must[[]byte](t)(os.ReadFile(path)), 0o600); err != nil {
		t.Fatal(err)
	}
	db := raw(t, spoilt)
	defer db.Close()
	for _, statement := range []string{`UPDATE proof SET result = 'passed'`, `DELETE FROM proof WHERE number = 3`} {
		if _, err := db.Exec(statement); err == nil || !strings.Contains(err.Error(), "never") {
			t.Errorf("%s: %v", statement, err)
		}
	}
	var trigger string
	if err := db.QueryRow(`SELECT sql FROM sqlite_schema WHERE name = 'proof_kept'`).Scan(&trigger); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`DROP TRIGGER proof_kept; DELETE FROM proof WHERE number = 2`); err != nil {
		t.Fatal(err)
	}
	if _, err := CheckFile(spoilt, ""); !errors.Is(err, ErrForeign) {
		t.Errorf("without its trigger: %v", err)
	}
	if _, err := db.Exec(trigger); err != nil {
		t.Fatal(err)
	}
	r := must[Report](t)(CheckFile(spoilt, ""))
	if len(r.Problems) != 2 || !strings.Contains(r.Problems[0], "taken away") ||
		!strings.Contains(r.Problems[1], "table proof, row 2: it is gone") {
		t.Errorf("%v", r.Problems)
	}
}

func TestIncompleteProofsAreRefused(t *testing.T) {
	j := open(t, inDir(t), still())
	for name, spoil := range map[string]func(*proof.Record){
		"nobody":      func(r *proof.Record) { r.By = "" },
		"no function": func(r *proof.Record) { r.Function = "" },
		"no rig":      func(r *proof.Record) { r.Rig = "" },
		"undone":      func(r *proof.Record) { r.Result = proof.Undone },
		"no date":     func(r *proof.Record) { r.At = time.Time{} },
		"wrong hash":  func(r *proof.Record) { r.ProfileHash[0]++ },
	} {
		r := someProof("estop", proof.Passed)
		spoil(&r)
		if _, err := j.AppendProof(r, profileText); !errors.Is(err, ErrProof) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if list := must[[]proof.Record](t)(j.Proofs(0, 10)); len(list) > 0 {
		t.Errorf("stored all the same: %v", list)
	}
	if !j.Health().Writable {
		t.Error("a refused proof made the journal unwritable")
	}
}

// The beginning stays what it was at the first opening.
func TestTheBeginningStays(t *testing.T) {
	path := inDir(t)
	o := still()
	if err := open(t, path, o).Close(); err != nil {
		t.Fatal(err)
	}
	o.Now = func() time.Time { return wall.Add(1000 * time.Hour) }
	if began := must[time.Time](t)(open(t, path, o).Began()); !began.Equal(wall) {
		t.Errorf("began %v", began)
	}
}

func TestExportOfProofs(t *testing.T) {
	j := open(t, inDir(t), still())
	r := someProof("flame_loss", proof.Passed)
	if _, err := j.AppendProof(r, profileText); err != nil {
		t.Fatal(err)
	}
	var table, text bytes.Buffer
	if err := errors.Join(j.ExportProofsCSV(&table), j.ExportProofsJSON(&text)); err != nil {
		t.Fatal(err)
	}
	want := "number,function,rig,at,by,result,value,unit,limit,by_eye,why,note,profile_sha256,by_user\n" +
		"1,flame_loss,lathe-1,2026-11-25T09:00:00Z,Ada,passed,810,ms,1000 ms,false,,\"button at the \"\"door\"\"\","
	if !strings.HasPrefix(table.String(), want) {
		t.Errorf("%s", table.String())
	}
	var back struct {
		Format string
		Proofs []exportProof
		Ledger trials.Ledger
	}
	if err := json.Unmarshal(text.Bytes(), &back); err != nil || back.Format != "pressrig proofs, format 1" ||
		len(back.Proofs) != 1 || *back.Proofs[0].Value != 810 || back.Proofs[0].By != "Ada" ||
		back.Ledger != must[Head](t)(j.Head()).Told() {
		t.Errorf("%v %s", err, text.String())
	}
}

// A proof that the disk does not take is told so, leaves no trace, and can be
// stored once the disk takes it.
func TestProofAndAFullDisk(t *testing.T) {
	o := still()
	var full atomic.Bool
	o.beforeCommit = func() error {
		if full.Load() {
			return errors.New("disk full")
		}
		return nil
	}
	o.Fault = func(error) {}
	j := open(t, inDir(t), o)
	full.Store(true)
	if n, err := j.AppendProof(someProof("estop", proof.Passed), profileText); err == nil {
		t.Fatalf("stored as %d on a full disk", n)
	}
	if list := must[[]proof.Record](t)(j.Proofs(0, 10)); len(list) > 0 || j.Health().Writable {
		t.Errorf("%v, writable %v", list, j.Health().Writable)
	}
	full.Store(false)
	if err := j.Flush(); err != nil {
		t.Fatal(err)
	}
	if n := must[uint32](t)(j.AppendProof(someProof("estop", proof.Passed), profileText)); n != 1 {
		t.Errorf("number %d", n)
	}
}
