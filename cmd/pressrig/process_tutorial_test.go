//go:build linux && processes

package main

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// window is a terminal in which the rig or the daemon runs.
type window struct {
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Reader
	said string // its first line
}

// opens starts what runs until the tutorial ends, and waits for its first line.
func (s *student) opens(c *typed) *window {
	s.t.Helper()
	cmd := exec.Command("bash", "-c", s.exports+"exec "+c.line+" 2>&1")
	cmd.Dir = s.dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	in, err := cmd.StdinPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		s.t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() {
		_ = cmd.Process.Signal(syscall.SIGKILL) // it may have ended
		_ = cmd.Wait()
	})
	w := &window{cmd: cmd, in: in, out: bufio.NewReader(out)}
	w.said = w.line(s.t)
	return w
}

// line is the next line that is no log line.
func (w *window) line(t *testing.T) string {
	t.Helper()
	for {
		line, err := w.out.ReadString('\n')
		if err != nil {
			t.Fatalf("%s: %v", w.cmd, err)
		}
		if !strings.HasPrefix(line, "bench on ") {
			return line
		}
	}
}

// waits are refusals that pass by themselves: a person would wait.
var waits = regexp.MustCompile(`mould half|link to the rig is down|no word from the rig|no daemon answers`)

// TestTutorialAtTheRig types the whole tutorial, with a simulated rig and a
// daemon as processes of their own.
func TestTutorialAtTheRig(t *testing.T) {
	t.Parallel()
	tut, s := readTutorial(t), newStudent(t)
	windows := map[string]*window{}
	for i := range tut.commands {
		c := &tut.commands[i]
		said := ""
		switch {
		case c.rigLine:
			if _, err := io.WriteString(windows["rig"].in, c.line+"\n"); err != nil {
				t.Fatal(err)
			}
			said = windows["rig"].line(t)
		case c.window != "":
			windows[c.window] = s.opens(c)
			if c.window == "daemon" {
				for !strings.Contains(windows["daemon"].said, "serving") { // after its warnings
					windows["daemon"].said = windows["daemon"].line(t)
				}
				go func() { _, _ = io.Copy(io.Discard, windows["daemon"].out) }() // its log fills no pipe
			}
			said = windows[c.window].said
		case strings.Contains(c.line, "pressrig press "):
			said = s.presses(c)
		default:
			said = s.types(c, "")
		}
		c.prints = c.holds(t, said, windows["rig"] != nil)
		if t.Failed() {
			return
		}
	}
	for _, name := range []string{"change.svg", "three.svg"} {
		wellFormed(t, filepath.Join(s.dir, name))
		if drawn, err := os.ReadFile(filepath.Join(s.dir, name)); *rewrite && err == nil {
			if err := os.WriteFile(filepath.Join(picturesDir, name), drawn, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		kept, err := os.ReadFile(filepath.Join(picturesDir, name))
		if err != nil || !bytes.Contains(kept, []byte("<svg")) {
			t.Errorf("docs/pictures/%s: %v", name, err)
		}
	}
	if *rewrite {
		tut.write(t)
	}
}

// presses types one cycle, answering every prompt with yes, the one that shuts
// the flame at its end included, again where the refusal passes.
func (s *student) presses(c *typed) string {
	s.t.Helper()
	end := time.Now().Add(tutorialWait)
	again := time.NewTicker(time.Second)
	defer again.Stop()
	for {
		said := s.types(c, strings.Repeat("y\n", 6))
		if !waits.MatchString(said) || strings.Contains(said, "is ready") || time.Now().After(end) {
			return said
		}
		<-again.C
	}
}
