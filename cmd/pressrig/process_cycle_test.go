//go:build linux && processes

package main

import (
	"bytes"
	"database/sql"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	_ "modernc.org/sqlite" // to alter what is stored

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// TestCycle runs the whole normal cycle by the command line alone, then reads
// what was stored: beside the daemon, and after it.
func TestCycle(t *testing.T) {
	t.Parallel()
	wholeCycle(t, newStand)
}

func wholeCycle(t *testing.T, newStand standMaker) {
	s := newStand(t, quick, noBroker)
	// One yes more than the recipe asks: input that is left over hurts nobody.
	r := s.commandLine(strings.Repeat("y\n", 4), "press", "practice-disc", "--last")
	r.wants(t, exitDone, "cycle 1 is ready", "phase fire", "cycle 1 is complete")
	c := s.stored(1)
	if c.State != "complete" || c.Cause != 0 || !c.Guarded || len(c.Phases) < 10 {
		t.Errorf("cycle is %s, first cause %d, guarded %v, %d phases", c.State, c.Cause, c.Guarded,
			len(c.Phases))
	}
	if now := s.safe(); now.WorstMs > 4000 { // invariant 3
		t.Errorf("%d ms of unburnt fuel in 30 s", now.WorstMs)
	}
	s.refuses("the cycle before has ended: reset first")
	s.sound(1)
	s.commandLine("", "reset").wants(t, exitDone)
	r = s.commandLine("n\n", "press", "practice-disc", "--last") // no blank: not complete
	r.wants(t, exitFailed, "cycle 2 is stopped")
	s.stored(2)
	s.readsStored()
	s.closes()
	s.readsStored() // without a daemon it is the same
	s.altered(1)
}

// readsStored reads cycles 1 and 2 with every command that can.
func (s *stand) readsStored() {
	t := s.t
	t.Helper()
	s.commandLine("", "cycles").wants(t, exitDone, "practice-disc", "complete", "stopped")
	picture, overlay := s.path("cycle.svg"), s.path("both.svg")
	s.commandLine("", "cycle", "1", "--svg", picture).wants(t, exitDone, "PHASE", "fire", "complete")
	s.commandLine("", "compare", "1", "2", "--svg", overlay).wants(t, exitDone, "fire")
	wellFormed(t, picture)
	wellFormed(t, overlay)

	table := s.commandLine("", "journal", "export", "1", "--csv")
	table.wants(t, exitDone)
	rows, err := csv.NewReader(strings.NewReader(table.out)).ReadAll()
	if err != nil || len(rows) < 5000 || len(rows[0]) != len(rows[1]) {
		t.Errorf("the table has %d rows: %v", len(rows), err)
	}
	whole := s.commandLine("", "journal", "export", "1", "--json")
	whole.wants(t, exitDone)
	var cycle struct {
		Cycle uint32
		State string
	}
	if err := json.Unmarshal([]byte(whole.out), &cycle); err != nil || cycle.Cycle != 1 ||
		cycle.State != "complete" {
		t.Errorf("the export says %+v: %v", cycle, err)
	}
	for _, args := range [][]string{{"cycle", "99"}, {"replay", "99"}, {"compare", "1", "99"},
		{"journal", "export", "99", "--csv"}} {
		s.commandLine("", args...).wants(t, exitFailed, "99")
	}
}

func wellFormed(t *testing.T, path string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := 0
	for dec := xml.NewDecoder(bytes.NewReader(text)); ; {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s: %v", filepath.Base(path), err)
		}
		e, ok := token.(xml.StartElement)
		if ok && (e.Name.Local == "polyline" || e.Name.Local == "path") {
			lines++
		}
	}
	if lines == 0 {
		t.Errorf("%s has no line", filepath.Base(path))
	}
}

// altered changes one stored input in the middle of the cycle; the replay must
// tell the first difference, at the tick of that input.
func (s *stand) altered(n uint32) {
	t := s.t
	t.Helper()
	tick := alter(t, journalFile(s.path("data")), n)
	s.commandLine("", "replay", fmt.Sprint(n)).wants(t, exitFailed,
		fmt.Sprintf("cycle %d: first difference at tick %d, after ", n, tick), "stored", "replayed")
	s.commandLine("", "replay", fmt.Sprint(n), "--json").wants(t, exitFailed, `"differences"`)
}

// alter puts an abort that nobody gave into the middle of a cycle's inputs and
// returns its tick. The journal is closed.
func alter(t *testing.T, path string, n uint32) uint64 {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var id int64
	var data []byte
	err = db.QueryRow(`SELECT id, data FROM chunk WHERE cycle = ? AND data IS NOT NULL ORDER BY seq
		LIMIT 1 OFFSET (SELECT count(*) / 2 FROM chunk WHERE cycle = ?)`, n, n).Scan(&id, &data)
	if err != nil {
		t.Fatal(err)
	}
	dec, decErr := chunk.NewDecoder()
	enc, encErr := chunk.NewEncoder()
	if err := errors.Join(decErr, encErr); err != nil {
		t.Fatal(err)
	}
	rows, err := dec.Decode(nil, data)
	if err != nil {
		t.Fatal(err)
	}
	row := &rows[len(rows)/2]
	row.Command, row.By = controller.Abort, tester
	if data, err = enc.Encode(nil, rows); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`UPDATE chunk SET data = ? WHERE id = ?`, data, id); err != nil {
		t.Fatal(err)
	}
	return row.Tick
}

// TestExitCodesOfTheProgram: 0 done, 1 failed or problems found, 2 wrong usage, 3 no daemon.
func TestExitCodesOfTheProgram(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	broken := filepath.Join(dir, "broken.yaml")
	if err := os.WriteFile(broken, []byte("recipe: [\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	nobody := []string{"--socket", filepath.Join(dir, "nobody"), "--data", filepath.Join(dir, "none")}
	for _, c := range []struct {
		code int
		args []string
	}{
		{exitDone, []string{"--help"}},
		{exitDone, []string{"bench", "--help"}},
		{exitFailed, []string{"check", broken}},
		{exitFailed, []string{"check", filepath.Join(dir, "missing.yaml")}},
		{exitFailed, []string{"cycles"}},
		{exitFailed, []string{"journal", "check"}},
		{exitFailed, []string{"serve", "--rig", broken}},
		{exitUsage, []string{"press"}},
		{exitUsage, []string{"no-such-command"}},
		{exitUsage, []string{"stop", "--no-such-flag"}},
		{exitUsage, []string{"compare", "1"}},
		{exitUsage, []string{"demo", "--speed", "0"}},
		{exitUsage, []string{"bench", "--port-link", filepath.Join(dir, "p"), "--fault", "no_such"}},
		{exitUsage, []string{"journal", "export", "1"}},
		{exitNoDaemon, []string{"status"}},
		{exitNoDaemon, []string{"press", "practice-disc"}},
		{exitNoDaemon, []string{"stop"}},
		{exitNoDaemon, []string{"reset"}},
		{exitNoDaemon, []string{"ack"}},
		{exitNoDaemon, []string{"answer", "y"}},
	} {
		r := runProgram(t, patience, "", append(c.args, nobody...)...)
		if r.code != c.code {
			t.Errorf("%v: exit code %d, %d is right: %s%s", c.args, r.code, c.code, last(r.out, 300), r.err)
		}
		if c.code != exitDone && r.out+r.err == "" {
			t.Errorf("%v fails without a word", c.args)
		}
	}
}

// demoVerdict is the demonstration's last line.
var demoVerdict = regexp.MustCompile(`cycle 1: complete\. cycle 2: aborted, lockout, ` +
	`first cause: (.+); fuel valve outputs off (\d+) ms after the flame truly went out`)

// TestDemo: the demonstration checks itself and says what came of it.
func TestDemo(t *testing.T) {
	t.Parallel()
	r := runProgram(t, 2*patience, "", "demo", "--once", "--speed", fmt.Sprint(quick))
	r.wants(t, exitDone, "This program is no safety device", "first cycle: all goes well",
		"second cycle: the flame goes out while the glass is fired")
	found := demoVerdict.FindStringSubmatch(r.out)
	if found == nil {
		t.Fatal("the demonstration gives no verdict")
	}
	if want := safety.Sentence(warden.CauseFlameLost); found[1] != want {
		t.Errorf("first cause %q; %q is right", found[1], want)
	}
	if ms, err := strconv.Atoi(found[2]); err != nil || ms > 1000 {
		t.Errorf("fuel off after %s ms; at most 1000 is right", found[2])
	}
}
