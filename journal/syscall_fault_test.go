//go:build linux

package journal

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"pressrig/controller"
	"pressrig/journal/steptest"
	"pressrig/testcount"
)

// Failures of the file operations themselves, below the database: the kernel's
// answers to a child's calls are changed by strace, which counts them.

var every = flag.Int("every", testcount.Of(100, 25), "of all file operations, fail each n-th; 1 fails all")

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
			fmt.Println(word, n, steps, "-") // the head is asked of the killed child only
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
	if runs < 1000 / *every {
		t.Errorf("only %d runs failed an operation: the child writes too little", runs)
	}
}

// failsAt reports whether the failure came.
func failsAt(t *testing.T, call, injection string) bool {
	t.Helper()
	path := inDir(t)
	out, log := runFailing(t, path, call, call, injection)
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
	return strings.Contains(log, injected) || strings.Contains(log, killed)
}

// What strace says of a call that it changed, and of a process it killed.
const (
	injected = "(INJECTED)"
	killed   = "+++ killed by SIGKILL +++"
)

// runFailing runs the child under strace, whose log shows the calls of trace.
func runFailing(t *testing.T, path, trace, call, injection string) (out []byte, log string) {
	t.Helper()
	tracer, err := exec.LookPath("strace")
	if err != nil {
		t.Fatal("strace is missing; run: apt-get install -y strace")
	}
	name := filepath.Join(t.TempDir(), "log")
	cmd := exec.Command(tracer, "-f", "--seccomp-bpf", "-s", "0", "-y", "-o", name, "-P", path,
		"-P", path+"-wal", "-P", path+"-shm", "-P", path+"-journal", "-e", "trace="+trace,
		"-e", "inject="+call+":"+injection, os.Args[0])
	cmd.Env = append(os.Environ(), childFail+"="+path)
	var said, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &errs
	if err = cmd.Run(); err != nil && !strings.Contains(err.Error(), "killed") {
		t.Fatalf("child ended with %v: %s", err, errs.String())
	}
	return said.Bytes(), string(must[[]byte](t)(os.ReadFile(name)))
}

// TestFailedSyncIsNotBuiltUpon: after an fsync that failed the kernel may drop
// what it should have saved and still answer the next fsync with success. So
// all of it must be written again, or given up, before anything is written
// behind it, and the log stays until the main file has all of it.
func TestFailedSyncIsNotBuiltUpon(t *testing.T) {
	failed := 0
	for at := 1; ; at += max(1, *every/4) {
		path := inDir(t)
		_, log := runFailing(t, path, "pwrite64,ftruncate,fsync,?unlink,unlinkat", "fsync",
			fmt.Sprintf("error=EIO:when=%d", at))
		if !strings.Contains(log, injected) {
			break
		}
		if lost := lostWrites(log, path); len(lost) > 0 {
			t.Fatalf("fsync %d failed, and these were not written again: %q", at, lost)
		}
		failed++
	}
	if failed < 30/max(1, *every/4) {
		t.Errorf("only %d fsyncs failed: the child writes too little", failed)
	}
}

// logLine is a call in strace's log: its name, the file, its last argument (a
// place or a size), and what came of it.
var logLine = regexp.MustCompile(`^\d+ +(\w+)\(\d+<([^>]*)>(?:.*, (\d+))?\) += (.*)`)

// places of a file, as strace's log tells of it.
type places struct {
	dirty map[int]bool // written since the newest fsync
	again map[int]bool // to be written again, because the fsync failed
	last  int          // the last place written since it failed, -1 for none
}

// lostWrites are the places that a failed fsync may have lost for good.
func lostWrites(log, path string) (lost []string) {
	files := map[string]*places{}
	of := func(name string) *places {
		if files[name] == nil {
			files[name] = &places{dirty: map[int]bool{}, again: map[int]bool{}, last: -1}
		}
		return files[name]
	}
	for line := range strings.Lines(log) {
		if strings.Contains(line, "unlink") && strings.Contains(line, path+"-wal") {
			for place := range of(path).again {
				lost = append(lost, fmt.Sprintf("%s at %d, the log is gone", path, place))
			}
			delete(files, path+"-wal")
		}
		m := logLine.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		f := of(m[2])
		at, _ := strconv.Atoi(m[3]) // fsync has none
		switch {
		case m[1] == "pwrite64":
			f.dirty[at], f.last = true, max(f.last, at)
			delete(f.again, at)
		case m[1] == "ftruncate":
			cut := func(place int, _ bool) bool { return place >= at }
			maps.DeleteFunc(f.dirty, cut)
			maps.DeleteFunc(f.again, cut)
		case strings.Contains(m[4], injected):
			f.again, f.last = maps.Clone(f.dirty), -1
		default:
			for place := range f.again {
				if place < f.last {
					lost = append(lost, fmt.Sprintf("%s at %d", m[2], place))
				}
			}
			clear(f.dirty)
		}
	}
	return lost
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

// lostWrites must see what it looks for.
func TestLostWritesAreSeen(t *testing.T) {
	const failed = "7 pwrite64(9</j-wal>, \"\"..., 24, 32) = 24\n" +
		"7 fsync(9</j-wal>)  = -1 EIO (Input/output error) (INJECTED)\n"
	const main = "7 pwrite64(8</j>, \"\"..., 4096, 0) = 4096\n" +
		"7 fsync(8</j>) = -1 EIO (Input/output error) (INJECTED)\n"
	for _, c := range []struct {
		log  string
		lost int
	}{
		{failed + "7 pwrite64(9</j-wal>, \"\"..., 24, 56) = 24\n7 fsync(9</j-wal>) = 0\n", 1},
		{failed + "7 pwrite64(9</j-wal>, \"\"..., 24, 32) = 24\n7 fsync(9</j-wal>) = 0\n", 0},
		{failed + "7 ftruncate(9</j-wal>, 0) = 0\n7 fsync(9</j-wal>) = 0\n", 0},
		{main + "7 unlink(\"/j-wal\") = 0\n", 1},
		{main + "7 pwrite64(8</j>, \"\"..., 4096, 0) = 4096\n7 unlink(\"/j-wal\") = 0\n", 0},
	} {
		if lost := lostWrites(c.log, "/j"); len(lost) != c.lost {
			t.Errorf("%d places are lost, want %d, in\n%s", len(lost), c.lost, c.log)
		}
	}
}
