//go:build linux && processes

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// The process tests run the real program: a simulated rig and a daemon, two
// processes that share only a pseudo-terminal, and the command line beside
// them. Start reading at stand, then at process_trip_test.go.

const (
	// patience bounds every wait. It is far above what a wait takes on an idle
	// machine, because the rig's clock waits for a slow one.
	patience = 60 * time.Second
	look     = 10 * time.Millisecond // between two looks at a condition
	quick    = 20                    // times real time: what two busy cores keep up with
	tester   = "test"                // the name under which the tests give commands
)

// program is the built binary; TestMain alone writes it.
var program string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	dir, err := os.MkdirTemp("", "pressrig-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	program = filepath.Join(dir, "pressrig")
	build := exec.Command("go", "build", "-trimpath", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build pressrig: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// process is one started program.
type process struct {
	cmd   *exec.Cmd
	said  *lockedBuffer // standard output and error
	ended chan struct{}
	err   error // of Wait, once ended
}

// lockedBuffer is written by a process and read by the test.
type lockedBuffer struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.text.String()
}

// launch starts a program that ends with the test at the latest, also when the
// test is killed.
func launch(t *testing.T, name string, args ...string) *process {
	t.Helper()
	p := &process{cmd: exec.Command(name, args...), said: &lockedBuffer{}, ended: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = p.said, p.said
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		p.err = p.cmd.Wait()
	}()
	t.Cleanup(func() {
		p.kill(t)
		if t.Failed() {
			t.Logf("%s %s said:\n%s", filepath.Base(name), args[0], last(p.said.String(), 4000))
		}
	})
	return p
}

func last(text string, n int) string { return text[max(0, len(text)-n):] }

// signal sends a signal to the process, which is the test's own child.
func (p *process) signal(t *testing.T, s syscall.Signal) {
	t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Error(err)
	}
}

// kill ends the process as power loss would and waits for its end.
func (p *process) kill(t *testing.T) {
	t.Helper()
	p.signal(t, syscall.SIGKILL)
	<-p.ended
}

// commandLine runs the program with input typed, and gives its exit code.
func (s *stand) commandLine(input string, args ...string) result {
	s.t.Helper()
	return runProgram(s.t, 2*s.patience, input, append([]string{"--socket", s.path("daemon"),
		"--data", s.path("data")}, args...)...)
}

func runProgram(t *testing.T, most time.Duration, input string, args ...string) result {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), most)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	var out, errOut bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(input), &out, &errOut
	err := cmd.Run()
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		t.Fatal(err)
	}
	return result{cmd.ProcessState.ExitCode(), out.String(), errOut.String()}
}

// wants checks the exit code and that the output holds words.
func (r result) wants(t *testing.T, code int, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(r.out+r.err, w) {
			t.Errorf("the output lacks %q:\n%s%s", w, last(r.out, 600), r.err)
		}
	}
	if r.code != code {
		t.Errorf("exit code %d; %d is right:\n%s%s", r.code, code, last(r.out, 600), r.err)
	}
}
