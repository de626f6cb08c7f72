//go:build linux

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The tutorial docs/first-six.md is held to the program: its commands are typed
// here, in its order, and what it prints must be what the program says. Where
// it leaves lines out it says "..." . The commands at the desk run here; those
// that want a daemon run with the tag processes, in process_tutorial_test.go.
//
//	go test -tags processes ./cmd/pressrig -run Tutorial -rewrite
//
// writes its figures and its pictures anew; a person reads the difference.

const (
	tutorialFile = "../../docs/first-six.md"
	picturesDir  = "../../docs/pictures"
	// tutorialWait bounds one command of the tutorial.
	tutorialWait = 5 * time.Minute
)

// typed is one command of the tutorial with what it prints.
type typed struct {
	at      int    // line in the file, from 1
	window  string // terminal: "" the desk's, "rig" or "daemon"
	line    string // may hold a here-document
	prints  []string
	from    int // index of the first line it prints in the file's lines
	rigLine bool
}

// tutorial is the file's text with its commands.
type tutorial struct {
	lines    []string
	commands []typed
}

// readTutorial finds the commands in its console blocks: "$ " begins a command
// for the shell, "> " a line for the simulated rig.
func readTutorial(t *testing.T) *tutorial {
	t.Helper()
	text, err := os.ReadFile(tutorialFile)
	if err != nil {
		t.Fatal(err)
	}
	tut := &tutorial{lines: strings.Split(string(text), "\n")}
	inside, window := false, ""
	for i, line := range tut.lines {
		last := len(tut.commands) - 1
		switch {
		case !inside && strings.HasPrefix(line, "```console"):
			inside, window = true, strings.TrimSpace(strings.TrimPrefix(line, "```console"))
		case inside && line == "```":
			inside = false
		case inside && (strings.HasPrefix(line, "$ ") || strings.HasPrefix(line, "> ")):
			tut.commands = append(tut.commands, typed{at: i + 1, window: window, line: line[2:], from: i + 1,
				rigLine: line[0] == '>'})
		case inside && last >= 0 && tut.commands[last].open():
			tut.commands[last].line += "\n" + line
			tut.commands[last].from = i + 1
		case inside && last >= 0:
			tut.commands[last].prints = append(tut.commands[last].prints, line)
		case inside:
			t.Fatalf("%s:%d: output without a command", tutorialFile, i+1)
		}
	}
	if len(tut.commands) == 0 {
		t.Fatal("the tutorial has no command")
	}
	return tut
}

// open: the here-document or the continued line is not yet whole.
func (c *typed) open() bool {
	if strings.HasSuffix(c.line, "\\") {
		return true
	}
	return strings.Contains(c.line, "<<'EOF'") && !strings.HasSuffix(c.line, "\nEOF")
}

var (
	number = regexp.MustCompile(`\d+(\.\d+)?`)
	day    = regexp.MustCompile(`\d{4}-\d\d-\d\d( \d\d:\d\d:\d\d)?`)
)

// words is a line without its numbers, days and the width of its columns.
func words(line string) string {
	return strings.Join(strings.Fields(number.ReplaceAllString(day.ReplaceAllString(line, "DAY"), "N")), " ")
}

// alike: the same words, and numbers that differ by no more than a repetition
// of the same cycle may.
func alike(a, b string) bool {
	if words(a) != words(b) {
		return false
	}
	x, y := number.FindAllString(day.ReplaceAllString(a, ""), -1), number.FindAllString(day.ReplaceAllString(b, ""), -1)
	for i := range x {
		p, errP := strconv.ParseFloat(x[i], 64)
		q, errQ := strconv.ParseFloat(y[i], 64)
		if errP != nil || errQ != nil || max(p-q, q-p) > 0.35+0.15*max(p, q) {
			return false
		}
	}
	return true
}

// holds compares what the tutorial prints of a command with what was said, and
// gives the lines that are right. With rewrite a line of the same words counts.
func (c *typed) holds(t *testing.T, said string, live bool) []string {
	t.Helper()
	got := strings.Split(strings.TrimRight(said, "\n"), "\n")
	if said == "" {
		got = nil
	}
	if *rewrite && len(c.prints) == 0 {
		return got
	}
	var right []string
	next, gap := 0, false
	for _, want := range c.prints {
		if want == "..." {
			gap, right = true, append(right, want)
			continue
		}
		at := next
		for at < len(got) && gap && !fits(want, got[at], live) {
			at++
		}
		if at >= len(got) || !fits(want, got[at], live) {
			t.Errorf("%s:%d: %s\nthe tutorial prints %q, the program says:\n%s", tutorialFile, c.at, c.line, want, said)
			return c.prints
		}
		right, next, gap = append(right, got[at]), at+1, false
	}
	if next < len(got) && !gap {
		t.Errorf("%s:%d: %s\nthe program also says:\n%s", tutorialFile, c.at, c.line, strings.Join(got[next:], "\n"))
	}
	return right
}

func fits(want, got string, live bool) bool {
	switch {
	case *rewrite:
		return words(want) == words(got)
	case live:
		return alike(want, got)
	}
	return strings.TrimRight(want, " ") == strings.TrimRight(got, " ")
}

// student is somebody who types the tutorial.
type student struct {
	t       *testing.T
	dir     string
	exports string // lines that set the environment, for every later shell
}

func newStudent(t *testing.T) *student {
	t.Helper()
	dir, err := os.MkdirTemp("", "six") // a socket's path has at most 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	build := exec.Command("go", "build", "-trimpath", "-o", filepath.Join(dir, "bin", "pressrig"), ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build pressrig: %v\n%s", err, out)
	}
	source, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "six"), 0o700); err != nil {
		t.Fatal(err)
	}
	return &student{t: t, dir: filepath.Join(dir, "six"),
		exports: fmt.Sprintf("PATH=%q:$PATH; PRESSRIG_SOURCE=%q; set -o pipefail\n", filepath.Join(dir, "bin"), source)}
}

// types runs one line of a shell and gives what it prints.
func (s *student) types(c *typed, input string) string {
	s.t.Helper()
	if strings.HasPrefix(c.line, "export ") {
		s.exports += c.line + "\n"
		return ""
	}
	ctx, cancel := context.WithTimeout(s.t.Context(), tutorialWait)
	defer cancel()
	cmd := exec.CommandContext(ctx, "bash", "-c", s.exports+c.line)
	cmd.Dir, cmd.Stdin = s.dir, strings.NewReader(input)
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	var ended *exec.ExitError
	if err := cmd.Run(); err != nil && !errors.As(err, &ended) {
		s.t.Fatal(err)
	}
	return out.String()
}

// TestTutorialAtTheDesk types all before the first terminal of the rig.
func TestTutorialAtTheDesk(t *testing.T) {
	t.Parallel()
	tut, s := readTutorial(t), newStudent(t)
	for i := range tut.commands {
		c := &tut.commands[i]
		if c.window != "" {
			break
		}
		c.prints = c.holds(t, s.types(c, ""), false)
	}
	for _, name := range []string{"stem.svg", "forecast.svg"} {
		s.picture(name)
	}
	if *rewrite {
		tut.write(t)
	}
}

// picture compares a picture of the tutorial with the one that was just drawn.
func (s *student) picture(name string) {
	s.t.Helper()
	drawn, err := os.ReadFile(filepath.Join(s.dir, name))
	if err != nil {
		s.t.Fatal(err)
	}
	kept := filepath.Join(picturesDir, name)
	if *rewrite {
		if err := os.WriteFile(kept, drawn, 0o644); err != nil {
			s.t.Fatal(err)
		}
	}
	if old, err := os.ReadFile(kept); err != nil || !bytes.Equal(old, drawn) {
		s.t.Errorf("%s is not what the tutorial draws (%v); go test ./cmd/pressrig -run Tutorial -rewrite, then look at it", kept, err)
	}
}

// write puts what the commands print back into the file.
func (tut *tutorial) write(t *testing.T) {
	t.Helper()
	old := readTutorial(t)
	var out []string
	done := 0
	for i, c := range old.commands {
		out = append(out, old.lines[done:c.from]...)
		out = append(out, tut.commands[i].prints...)
		done = c.from + len(c.prints)
	}
	out = append(out, old.lines[done:]...)
	if err := os.WriteFile(tutorialFile, []byte(strings.Join(out, "\n")), 0o644); err != nil {
		t.Fatal(err)
	}
}
