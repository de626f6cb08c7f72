package telemetry

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func mustOpen(t *testing.T, dir string, limit int) *store {
	t.Helper()
	s, err := openStore(dir, limit)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *store) mustAppend(t *testing.T, text string) {
	t.Helper()
	if err := s.append([]byte(text)); err != nil {
		t.Fatal(err)
	}
}

// drainAll delivers everything and gives it joined.
func (s *store) drainAll() string {
	var all []string
	for {
		p, number, ok := s.oldest()
		if !ok {
			return strings.Join(all, " ")
		}
		all = append(all, string(p))
		s.delivered(number)
	}
}

func TestStoreKeepsOrderOverRestarts(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir, 10)
	s.mustAppend(t, "a")
	s.mustAppend(t, "b")
	_, number, _ := s.oldest()
	s.delivered(number)
	s = mustOpen(t, dir, 10)
	s.mustAppend(t, "c")
	if got := mustOpen(t, dir, 10).drainAll(); got != "b c" {
		t.Errorf("got %q, want b c", got)
	}
	if files, _ := os.ReadDir(dir); len(files) != 0 {
		t.Errorf("%d files left", len(files))
	}
}

func TestStoreEdges(t *testing.T) {
	for _, c := range []struct {
		n    int
		lost uint64
	}{{maxSummaries - 1, 0}, {maxSummaries, 0}, {maxSummaries + 1, 1}} {
		dir := t.TempDir()
		for i := range c.n { // as an earlier process left them
			name := filepath.Join(dir, fileName(uint64(i+1)))
			if err := os.WriteFile(name, []byte(fmt.Sprint(i)), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		s := mustOpen(t, dir, maxSummaries)
		waiting, lost := s.counts()
		if waiting != min(c.n, maxSummaries) || lost != c.lost {
			t.Errorf("%d stored: %d wait, %d lost", c.n, waiting, lost)
		}
		if p, _, _ := s.oldest(); string(p) != fmt.Sprint(c.lost) {
			t.Errorf("%d stored: oldest is %s", c.n, p)
		}
	}
}

// What a crash or a bad disk leaves does not stop the rest.
func TestStoreLivesWithBrokenFiles(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir, 10)
	for _, text := range []string{"a", "b", "c", "d"} {
		s.mustAppend(t, text)
	}
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(fileName(1), "") // a disk that lost the data
	if err := os.Remove(filepath.Join(dir, fileName(2))); err != nil {
		t.Fatal(err)
	}
	write(fileName(3), strings.Repeat("x", maxPayload+1))
	write(fileName(9)+partialSuffix, "half")
	write("notes.txt", "somebody's")
	s = mustOpen(t, dir, 10)
	if got := s.drainAll(); got != "d" {
		t.Errorf("got %q, want d", got)
	}
	if _, lost := s.counts(); lost != 2 { // the removed one was never found
		t.Errorf("%d lost, want 2", lost)
	}
	for _, name := range []string{"notes.txt", fileName(1) + ".unreadable",
		fileName(3) + ".unreadable"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err != nil {
			t.Error(err)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, fileName(9)+partialSuffix)); err == nil {
		t.Error("half-written file was kept")
	}
}

// A folder that takes no files: summaries stay in memory, bounded.
func TestStoreWithoutADisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gone")
	s := mustOpen(t, dir, 1000)
	if err := os.Remove(dir); err != nil {
		t.Fatal(err)
	}
	for i := range maxUnsaved + 3 {
		if err := s.append([]byte(fmt.Sprint(i))); err == nil {
			t.Fatal("no error without a folder")
		}
	}
	waiting, lost := s.counts()
	if waiting != maxUnsaved || lost != 3 {
		t.Errorf("%d wait, %d lost; want %d and 3", waiting, lost, maxUnsaved)
	}
	if p, _, _ := s.oldest(); string(p) != "3" {
		t.Errorf("oldest is %s, want 3", p)
	}
}

func TestStoreNeedsAFolder(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openStore(file, 1); err == nil {
		t.Error("a file was taken as folder")
	}
}

// The store is a bounded queue whatever happens: compared with a plain slice.
func TestStoreIsABoundedQueue(t *testing.T) {
	base := t.TempDir()
	runs := 0
	rapid.Check(t, func(rt *rapid.T) {
		runs++
		dir := filepath.Join(base, fmt.Sprint(runs))
		s, err := openStore(dir, 3)
		if err != nil {
			rt.Fatal(err)
		}
		var want []string
		for i, op := range rapid.SliceOfN(rapid.IntRange(0, 2), 0, 12).Draw(rt, "ops") {
			switch op {
			case 0:
				want = append(want, fmt.Sprint(i))
				want = want[max(0, len(want)-3):]
				if err := s.append([]byte(fmt.Sprint(i))); err != nil {
					rt.Fatal(err)
				}
			case 1:
				if _, number, ok := s.oldest(); ok {
					s.delivered(number)
					want = want[1:]
				}
			case 2: // restart
				if s, err = openStore(dir, 3); err != nil {
					rt.Fatal(err)
				}
			}
		}
		if got := s.drainAll(); got != strings.Join(want, " ") {
			rt.Fatalf("got %q, want %q", got, want)
		}
	})
}
