package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// result says what became of a mutant.
type result struct {
	mutant
	Fate   fate
	Killer string // the tape that showed it
	Says   string // of the compiler, or how the program ended
}

type fate int

const (
	lives fate = iota
	killed
	hung       // killed too: its processor time ran out
	uncompiled // no mutant at all
	failed     // nothing was learnt of it: the run ends
	same       // the compiler made the same object of it: equivalent
)

// check is one way to compile the core. The second finds what is no difference
// of an answer: a byte read behind an array, an undefined sum.
type check struct {
	name    string
	flags   []string
	seconds int // of processor time for one tape
}

var checks = []check{
	{"plain", []string{"-std=c99", "-O1", "-w"}, 30},
	{"sanitized", []string{"-std=c99", "-O1", "-w", "-fsanitize=undefined,address", "-fno-sanitize-recover=all"}, 120},
}

// tape is what a program of firmware/test is given, and its recorded answers.
type tape struct {
	name     string // warden
	commands string // file
	answers  []byte
	without  string // file of the core that the program brings itself
}

// trial has the compiled core and the tapes.
type trial struct {
	root  string // of the module
	dir   string
	core  []string // C files, by name
	tapes map[string]tape
}

// tapesOf are the tapes that may show a fault of a file.
func tapesOf(file string) []string {
	switch file {
	case "config.c", "crc.c", "frame.c", "receiver.c", "wire_inside.h":
		return []string{"wire"}
	case "step.c", "inside.h", "last.c":
		return []string{"warden", "assertion"}
	}
	return []string{"warden"}
}

// newTrial records the tapes with the Go warden and compiles the core.
func newTrial(root string, steps int) (*trial, error) {
	dir, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return nil, err
	}
	t := &trial{root: root, dir: dir, tapes: map[string]tape{}}
	if err := errors.Join(t.record(steps), t.build()); err != nil {
		t.remove()
		return nil, err
	}
	return t, nil
}

func (t *trial) remove() { _ = os.RemoveAll(t.dir) }

// record has the tests of firmware write their tapes.
func (t *trial) record(steps int) error {
	cmd := exec.Command("go", "test", "-count", "1", "-timeout", "30m", "-run", "^TestTapes$", "./firmware",
		"-tapes", t.dir, "-steps", fmt.Sprint(steps))
	cmd.Dir = t.root
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("recording the tapes: %v\n%s", err, out)
	}
	for _, name := range []string{"warden", "wire", "assertion"} {
		answers, err := os.ReadFile(filepath.Join(t.dir, name+".answers"))
		if err != nil {
			return err
		}
		p := tape{name: name, commands: filepath.Join(t.dir, name+".commands"), answers: answers}
		if name == "assertion" {
			p.without = "drive.c"
		}
		t.tapes[name] = p
	}
	return nil
}

// build compiles the core as it is and the programs that play the tapes.
func (t *trial) build() error {
	files, err := filepath.Glob(filepath.Join(t.root, "firmware/core/*.c"))
	if err != nil || len(files) == 0 {
		return fmt.Errorf("no C files in firmware/core of %s, err %v", t.root, err)
	}
	for _, file := range files {
		t.core = append(t.core, filepath.Base(file))
	}
	for _, c := range checks {
		place := filepath.Join(t.dir, c.name)
		for _, folder := range []string{"core", "test"} {
			if err := os.CopyFS(filepath.Join(place, folder), os.DirFS(filepath.Join(t.root, "firmware", folder))); err != nil {
				return err
			}
		}
		all := []string{"test/records.c", "test/warden_peer.c", "test/wire_peer.c", "test/assertion_peer.c"}
		for _, file := range t.core {
			all = append(all, "core/"+file)
		}
		for _, file := range all {
			if err := compile(c, place, file); err != nil {
				return err
			}
		}
	}
	return nil
}

// compile makes file.o beside a C file.
func compile(c check, place, file string) error {
	dir, name := filepath.Split(filepath.Join(place, file))
	return cc(dir, append(c.flags[:len(c.flags):len(c.flags)], "-c", name, "-o", name+".o")...)
}

func cc(dir string, args ...string) error {
	cmd := exec.Command("cc", args...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("cc %s: %w\n%s", strings.Join(args, " "), err, out)
	}
	return nil
}

// all tries the mutants after the core itself, which every tape has to pass.
func (t *trial) all(mutants []mutant, jobs int, said func(done int, r result)) ([]result, error) {
	for _, c := range checks {
		for name := range t.tapes {
			if r := t.play(c, filepath.Join(t.dir, c.name, "core"), name, nil); r.Fate != lives {
				return nil, fmt.Errorf("the unchanged core (%s) fails tape %s: %s", c.name, name, r.Says)
			}
		}
	}
	work, results := make(chan int), make([]result, len(mutants))
	errs := make([]error, jobs)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var broken atomic.Bool // the rest is passed over
	done := 0
	for j := range jobs {
		wg.Go(func() {
			dir := filepath.Join(t.dir, fmt.Sprintf("job%d", j))
			if errs[j] = os.CopyFS(dir, os.DirFS(filepath.Join(t.root, "firmware/core"))); errs[j] != nil {
				broken.Store(true)
			}
			for k := range work {
				if broken.Load() {
					continue
				}
				results[k] = t.try(dir, mutants[k])
				if r := results[k]; r.Fate == failed {
					broken.Store(true)
					errs[j] = fmt.Errorf("%s: %s", r.ID(), r.Says)
					continue
				}
				mu.Lock()
				done++
				said(done, results[k])
				mu.Unlock()
			}
		})
	}
	for k := range mutants {
		work <- k
	}
	close(work)
	wg.Wait()
	return results, errors.Join(errs...)
}

// try puts a mutant into a folder with a copy of the core, compiles what it
// changes and plays the tapes; the folder is as before afterwards.
func (t *trial) try(dir string, m mutant) (r result) {
	name := filepath.Join(dir, m.File)
	original, err := os.ReadFile(name)
	if err == nil {
		err = os.WriteFile(name, []byte(m.Text), 0o600)
	}
	if err != nil {
		return result{mutant: m, Fate: failed, Says: err.Error()}
	}
	changed := t.changed(m.File, string(original))
	defer func() {
		r.mutant = m
		if err := os.WriteFile(name, original, 0o600); err != nil {
			r = result{mutant: m, Fate: failed, Says: err.Error()}
		}
	}()
	for _, c := range checks {
		equal := true
		for _, file := range changed {
			if err := compile(c, dir, file); err != nil {
				return refused(err)
			}
			equal = equal && sameBytes(filepath.Join(dir, file+".o"), filepath.Join(t.dir, c.name, "core", file+".o"))
		}
		if equal {
			return result{Fate: same}
		}
		for _, tape := range tapesOf(m.File) {
			if r := t.play(c, dir, tape, changed); r.Fate != lives {
				return r
			}
		}
	}
	return result{Fate: lives}
}

// refused tells a compiler that rejects a mutant from one that did not run.
func refused(err error) result {
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.ExitCode() == 1 {
		return result{Fate: uncompiled, Says: err.Error()}
	}
	return result{Fate: failed, Says: err.Error()}
}

// changed are the C files that a change of a file recompiles.
func (t *trial) changed(file, text string) []string {
	if !strings.HasSuffix(file, ".h") {
		return []string{file}
	}
	var all []string
	for _, name := range t.core {
		src, err := os.ReadFile(filepath.Join(t.dir, checks[0].name, "core", name))
		if err == nil && bytes.Contains(src, []byte(`"`+file+`"`)) {
			all = append(all, name)
		}
	}
	return all
}

func sameBytes(a, b string) bool {
	first, err := os.ReadFile(a)
	if err != nil {
		return false
	}
	second, err := os.ReadFile(b)
	return err == nil && bytes.Equal(first, second)
}

// play links the program of a tape, with the changed objects from dir, and
// holds its answers to the recorded ones.
func (t *trial) play(c check, dir, name string, changed []string) result {
	p := t.tapes[name]
	base := filepath.Join(t.dir, c.name)
	program := filepath.Join(dir, "program")
	args := append(c.flags[:len(c.flags):len(c.flags)], "-o", program,
		filepath.Join(base, "test", name+"_peer.c.o"), filepath.Join(base, "test/records.c.o"))
	for _, file := range t.core {
		place := filepath.Join(base, "core")
		for _, own := range changed {
			if own == file {
				place = dir
			}
		}
		if file != p.without {
			args = append(args, filepath.Join(place, file+".o"))
		}
	}
	if err := cc(dir, args...); err != nil {
		return result{Fate: failed, Says: err.Error()}
	}
	return p.answer(program, c.seconds)
}

// answer runs the program until its first answer that differs. The shell gives
// it a limit of processor time, which a busy computer does not shorten.
func (p tape) answer(program string, seconds int) result {
	commands, err := os.Open(p.commands)
	if err != nil {
		return result{Fate: failed, Says: err.Error()}
	}
	defer commands.Close()
	cmd := exec.Command("sh", "-c", fmt.Sprintf(`ulimit -t %d; exec "$0"`, seconds), program)
	cmd.Stdin, cmd.WaitDelay = commands, time.Second
	stdout, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return result{Fate: failed, Says: err.Error()}
	}
	differs := firstDifference(stdout, p.answers)
	if differs >= 0 {
		_ = cmd.Process.Kill() // it may have ended already
	}
	err = cmd.Wait()
	var exit *exec.ExitError
	if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signal() == syscall.SIGXCPU {
		return result{Fate: hung, Killer: p.name, Says: "out of processor time"}
	}
	switch {
	case differs >= 0:
		return result{Fate: killed, Killer: p.name, Says: fmt.Sprintf("byte %d of the answers differs", differs)}
	case err != nil:
		return result{Fate: killed, Killer: p.name, Says: err.Error()}
	}
	return result{Fate: lives}
}

// firstDifference is where a stream is not what is wanted, -1: nowhere.
func firstDifference(from io.Reader, want []byte) int {
	at, buffer := 0, make([]byte, 1<<16)
	for {
		n, err := from.Read(buffer)
		if at+n > len(want) || !bytes.Equal(buffer[:n], want[at:at+n]) {
			for i := range buffer[:n] {
				if at+i >= len(want) || buffer[i] != want[at+i] {
					return at + i
				}
			}
		}
		at += n
		if err != nil && at < len(want) {
			return at
		}
		if err != nil {
			return -1
		}
	}
}
