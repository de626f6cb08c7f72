package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/journal"
)

// emptyJournal makes a journal without cycles and returns its folder.
func emptyJournal(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	j, err := journal.Open(journalFile(dir), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestJournalCommands(t *testing.T) {
	dir := emptyJournal(t)
	nowhere := filepath.Join(dir, "none")
	sound, err := journal.CheckFile(journalFile(dir), "")
	if err != nil {
		t.Fatal(err)
	}
	noted := sound.Head.String()
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"journal check", exitDone, "no problems; 0 cycles"},
		{"journal check " + journalFile(dir), exitDone, "no problems"},
		{"journal check --head " + noted, exitDone, "is in the ledger; 0 entries came after it"},
		{"journal check --head " + noted, exitDone, "ledger: 2 entries, head " + noted},
		{"journal check --head " + strings.Repeat("ab", 32), exitFailed, "entries were cut off its end"},
		{"journal check --head 12", exitFailed, "16 to 64 digits"},
		{"journal proofs --csv", exitDone, "ledger: 2 entries, head " + noted},
		{"cycles", exitDone, "no cycles"},
		{"journal export 1 --csv", exitFailed, "no such cycle"},
		{"journal export 1 --json", exitFailed, "no such cycle"},
		{"journal proofs --csv", exitDone, "number,function,rig,at,by,result,"},
		{"journal proofs --json", exitDone, `"proofs":[]`},
		{"journal proofs", exitUsage, "either --csv or --json"},
		{"replay 1", exitFailed, "no such cycle"},
		{"cycle 1", exitFailed, "cycle"},
	} {
		got := cli(t, nowhere, "", append(strings.Fields(c.args), "--data", dir)...)
		if got.code != c.code || !strings.Contains(got.out+got.err, c.says) {
			t.Errorf("%s: %+v, want code %d and %q", c.args, got, c.code, c.says)
		}
	}
	got := cli(t, nowhere, "", "journal", "check", "--json", "--data", dir)
	var report reportJSON
	if err := json.Unmarshal([]byte(got.out), &report); err != nil || report.Problems == nil {
		t.Errorf("%v in %+v", err, got)
	}
}

func TestJournalCheckOfABrokenFile(t *testing.T) {
	path := journalFile(emptyJournal(t))
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, text[:len(text)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	if got := cli(t, "none", "", "journal", "check", path); got.code != exitFailed ||
		got.out+got.err == "" {
		t.Errorf("half a journal: %+v", got)
	}
}

// TestReadingNeverMakesAJournal: a mistyped folder stays empty.
func TestReadingNeverMakesAJournal(t *testing.T) {
	dir := t.TempDir()
	for _, args := range [][]string{{"cycles"}, {"replay", "1"}, {"journal", "export", "1", "--csv"}} {
		if got := cli(t, "none", "", append(args, "--data", dir)...); got.code != exitFailed {
			t.Errorf("%v: %+v", args, got)
		}
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("files %v, %v", left, err)
	}
}

// TestARunningDaemonsJournalIsReadThroughIt, when its folder is named too.
func TestARunningDaemonsJournalIsReadThroughIt(t *testing.T) {
	dir := t.TempDir()
	j, err := journal.Open(journalFile(dir), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	d := daemon(t)
	got := cli(t, d.socket, "", "cycles", "--data", dir)
	if got.code != exitDone {
		t.Errorf("got %+v", got)
	}
}

func TestWriteWholeLeavesNothingHalf(t *testing.T) {
	dir := t.TempDir()
	if err := writeWhole(filepath.Join(dir, "a"), []byte("whole")); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(filepath.Join(dir, "no folder", "a"), nil); err == nil {
		t.Error("a missing folder is taken")
	}
	if err := os.Mkdir(filepath.Join(dir, "b"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(filepath.Join(dir, "b"), []byte("x")); err == nil {
		t.Error("a folder is written over")
	}
	if left, _ := os.ReadDir(dir); len(left) != 2 {
		t.Errorf("left over: %v", left)
	}
}

func TestLinesEndWithTheInput(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r := readLines(ctx, strings.NewReader("y\n"))
	if _, state := r.poll(); state != lineNone {
		t.Errorf("a line before one is wanted: %d", state)
	}
	r.want(false)
	if line := <-r.got; line != "y" {
		t.Errorf("got %q", line)
	}
	r.want(false)
	if _, ok := <-r.got; ok {
		t.Error("a line after the end")
	}
	if _, state := r.poll(); state != lineEnd {
		t.Errorf("state %d at the end", state)
	}
}
