//go:build linux

package journal

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"pressrig/controller"
	"pressrig/journal/steptest"
)

// Failures of the file operations themselves, below the database: the kernel's
// answers to a child's calls are changed by strace, which counts them.

var every = flag.Int("every", 20, "of all file operations, fail each n-th; 1 fails all")

// childFail is the journal of the child whose file operations fail.
const childFail = "JOURNAL_TEST_FAIL"

// lives is how often the child opens its journal: the cycle of the first life
// has no end, the one of the second has.
const lives = 2

// failingChild lives through two cycles as a daemon would, whatever the disk
// says, and tells what was acknowledged. All file operations are done on one
// thread, because strace counts by thread.
func failingChild(path string) {
	runtime.LockOSThread()
	for life := range lives {
		j, w, err := openWriter(path, still())
		if err != nil {
			fmt.Println("refused", 0, 0)
			fmt.Fprintln(os.Stderr, err)
			os.Exit(0)
		}
		fmt.Println("opened", 0, 0)
		go func() {
			oneLife(j, life == lives-1)
			j.queue.shut()
			close(j.stop)
		}()
		w.run()
		if err := errors.Join(j.err, j.release()); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
	os.Exit(0)
}

func oneLife(j *Journal, ends bool) {
	// So small that the log is moved into the main file between two commits.
	err := j.ask(func(w *writer) error { _, err := pragma(j.conn, "wal_autocheckpoint(6)"); return err })
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	n, err := j.Prepare(someInfo())
	if err != nil { // as a person would
		n, err = j.Prepare(someInfo())
	}
	if err != nil {
		return
	}
	fmt.Println("reserved", n, 0)
	src := steptest.New(uint64(n))
	flushed := func(word string, steps int) {
		if j.Flush() == nil {
			fmt.Println(word, n, steps)
		}
	}
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
	flushed("saved", 0)
	for i := range stepsPerCycle {
		in, req := src.Next()
		j.AppendStep(in, req)
		if i%stateEvery == 0 {
			j.Append(controller.Record{Kind: controller.RecState, Cycle: n,
				ElapsedMs: in.ElapsedMs, State: controller.Running, StampMs: uint32(i)})
		}
		if i%60 == 59 {
			flushed("saved", i+1)
		}
	}
	if ends {
		end(j, n, src.ElapsedMs())
		flushed("ended", stepsPerCycle)
	}
}

// fileCalls are those by which a journal is changed; ? marks what not every
// processor has.
var fileCalls = []string{"pwrite64", "write", "fsync", "fdatasync", "ftruncate", "fallocate",
	"?unlink", "unlinkat", "?rename", "renameat", "renameat2"}

// failures are what is done to the n-th call.
var failures = []struct{ name, form string }{
	{"full disk once", "error=ENOSPC:when=%d"},
	{"full disk from then on", "error=ENOSPC:when=%d+"},
	{"broken disk once", "error=EIO:when=%d"},
	{"broken disk from then on", "error=EIO:when=%d+"},
	{"killed", "signal=KILL:when=%d"},
}

// TestEveryFileOperationFails: the n-th operation of each kind fails, once or
// from then on, or is the moment of a kill. Whatever was acknowledged is there
// when the journal is opened again, and nothing that was not written.
func TestEveryFileOperationFails(t *testing.T) {
	runs, calls := 0, 0
	for _, call := range fileCalls {
		for i, f := range failures {
			for at := 1 + i%*every; ; at += *every {
				if !failsAt(t, call, fmt.Sprintf(f.form, at)) {
					break
				}
				if t.Failed() {
					t.Fatalf("%s number %d: %s", call, at, f.name)
				}
				runs, calls = runs+1, max(calls, at)
			}
		}
	}
	t.Logf("%d runs, up to %d calls of a kind", runs, calls)
	if runs < 50 {
		t.Errorf("only %d runs failed an operation: the child writes too little", runs)
	}
}

// failsAt reports whether the failure came.
func failsAt(t *testing.T, call, injection string) bool {
	t.Helper()
	path := inDir(t)
	out, came := runFailing(t, path, call, injection)
	acknowledged, opened, reserved := sortLines(t, out)
	saved, ended := map[uint32]int{}, map[uint32]bool{}
	readAcknowledged(t, acknowledged, saved, ended)
	if opened {
		mustCheck(t, path) // as the failure left it
	}
	j := must[*Journal](t)(Open(path, still()))
	verifyKilled(t, j, saved, ended)
	if n := begin(t, j, someInfo(), 0); n <= reserved {
		t.Errorf("cycle number %d is given away again", n)
	}
	if err := j.Close(); err != nil {
		t.Error(err)
	}
	mustCheck(t, path)
	return came
}

// runFailing runs the child under strace.
func runFailing(t *testing.T, path, call, injection string) (out []byte, came bool) {
	t.Helper()
	tracer, err := exec.LookPath("strace")
	if err != nil {
		t.Fatal("strace is missing; run: apt-get install -y strace")
	}
	log := filepath.Join(t.TempDir(), "log")
	cmd := exec.Command(tracer, "-f", "--seccomp-bpf", "-qq", "-o", log, "-P", path, "-P", path+"-wal",
		"-P", path+"-shm", "-e", "trace="+call, "-e", "inject="+call+":"+injection, os.Args[0])
	cmd.Env = append(os.Environ(), childFail+"="+path)
	var said, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &errs
	err = cmd.Run()
	killed := err != nil && strings.Contains(err.Error(), "killed")
	if err != nil && !killed {
		t.Fatalf("child ended with %v: %s", err, errs.String())
	}
	text := must[[]byte](t)(os.ReadFile(log))
	return said.Bytes(), killed || bytes.Contains(text, []byte("(INJECTED)"))
}

// sortLines parts what readAcknowledged reads from the rest.
func sortLines(t *testing.T, out []byte) (acknowledged []byte, opened bool, reserved uint32) {
	t.Helper()
	for line := range strings.Lines(string(out)) {
		switch word, rest, _ := strings.Cut(strings.TrimSpace(line), " "); word {
		case "refused":
		case "opened":
			opened = true
		case "reserved":
			n, _, _ := strings.Cut(rest, " ")
			reserved = uint32(must[uint64](t)(strconv.ParseUint(n, 10, 32)))
		default:
			acknowledged = append(acknowledged, line...)
		}
	}
	return acknowledged, opened, reserved
}
