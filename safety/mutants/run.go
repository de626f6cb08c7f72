package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"time"
)

// stage is a set of tests that may kill a mutant. Stages run cheapest first
// and stop at the first failure.
type stage struct {
	name    string
	pkg     string
	pattern string
	limit   time.Duration
}

var stages = []stage{
	{"invariants", "./safety", "^TestWatch", 60 * time.Second},
	{"rules", "./safety", "^(TestRules|TestMatrixEqualsTheOneTypedByHand)", 60 * time.Second},
}

// result says what became of a mutant.
type result struct {
	mutant
	Stage     string // that killed it; "" for a survivor
	Test      string
	Invariant string // number, where one was named first
	Hung      bool
	What      string // first line of the failure
}

// trial is the program with all mutants in it, compiled once a package.
type trial struct {
	dir    string
	binary map[string]string // by package
}

// newTrial compiles the woven warden with the tests of each stage.
func newTrial(woven map[string]string) (*trial, error) {
	dir, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return nil, err
	}
	t := &trial{dir: dir, binary: map[string]string{}}
	if err := t.build(woven); err != nil {
		t.remove()
		return nil, err
	}
	return t, nil
}

func (t *trial) build(woven map[string]string) error {
	root, err := os.Getwd()
	if err != nil {
		return err
	}
	overlay := struct{ Replace map[string]string }{map[string]string{}}
	for name, text := range woven {
		changed := filepath.Join(t.dir, name)
		if err := os.WriteFile(changed, []byte(text), 0o600); err != nil {
			return err
		}
		overlay.Replace[filepath.Join(root, wardenDir, name)] = changed
	}
	listed, err := json.Marshal(overlay)
	if err != nil {
		return err
	}
	overlayFile := filepath.Join(t.dir, "overlay.json")
	if err := os.WriteFile(overlayFile, listed, 0o600); err != nil {
		return err
	}
	for _, s := range stages {
		if t.binary[s.pkg] != "" {
			continue
		}
		t.binary[s.pkg] = filepath.Join(t.dir, filepath.Base(s.pkg)+".test")
		out, err := exec.Command("go", "test", "-c", "-overlay", overlayFile, "-o", t.binary[s.pkg], s.pkg).CombinedOutput()
		if err != nil {
			return fmt.Errorf("building %s with all mutants: %v\n%s", s.pkg, err, out)
		}
	}
	return nil
}

func (t *trial) remove() { _ = os.RemoveAll(t.dir) }

// all tries the chosen mutants after the warden itself, which has to pass.
func (t *trial) all(mutants []mutant, chosen []int, jobs int, verbose bool, interrupted <-chan os.Signal) ([]result, error) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	if r := t.try(ctx, 0, mutant{ID: "the warden itself"}); r.Stage != "" {
		return nil, fmt.Errorf("%s of the unchanged warden fails: %s: %s", r.Stage, r.Test, r.What)
	}
	work, results := make(chan int), make([]result, len(chosen))
	var wg sync.WaitGroup
	var mu sync.Mutex
	done := 0
	for range jobs {
		wg.Go(func() {
			for k := range work {
				r := t.try(ctx, chosen[k]+1, mutants[chosen[k]])
				results[k] = r
				mu.Lock()
				done++
				if verbose || r.Stage == "" || done%100 == 0 {
					fmt.Printf("%d/%d %s\n", done, len(chosen), r.line())
				}
				mu.Unlock()
			}
		})
	}
	err := error(nil)
	for k := range chosen {
		select {
		case work <- k:
			continue
		case <-interrupted:
			err = errors.New("interrupted")
			cancel()
		}
		break
	}
	close(work)
	wg.Wait()
	return results, err
}

func (r *result) line() string {
	switch {
	case r.Stage == "":
		return "LIVES  " + r.ID
	case r.Hung:
		return "hung   " + r.ID + "   <- " + r.Stage
	}
	return "killed " + r.ID + "   <- " + r.Test + ": " + r.What
}

var (
	failedTest = regexp.MustCompile(`(?m)^\s*--- FAIL: (\S+)`)
	failedSays = regexp.MustCompile(`(?m)^\s+\w+_test\.go:\d+: (.*)$`)
	invariant  = regexp.MustCompile(`\binvariant (\d+)`)
)

// try runs the stages on one mutant; number 0 is the warden itself.
func (t *trial) try(ctx context.Context, number int, m mutant) result {
	r := result{mutant: m}
	for _, s := range stages {
		out, err := t.stage(ctx, s, number)
		if err == nil {
			continue
		}
		r.Stage = s.name
		if bytes.Contains(out, []byte("panic: test timed out")) || errors.Is(err, context.DeadlineExceeded) {
			r.Hung = true
		}
		r.Test, r.What = first(failedTest, out), first(failedSays, out)
		if r.What == "" {
			r.What = "panic or no words"
		}
		r.Invariant = first(invariant, []byte(r.What))
		return r
	}
	return r
}

func first(re *regexp.Regexp, out []byte) string {
	if m := re.FindSubmatch(out); m != nil {
		return string(m[1])
	}
	return ""
}

func (t *trial) stage(ctx context.Context, s stage, number int) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, s.limit+10*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, t.binary[s.pkg], "-test.run", s.pattern, "-test.failfast",
		"-test.timeout", s.limit.String())
	cmd.Dir = s.pkg
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%d", picked, number), "GOMAXPROCS=1")
	out, err := cmd.CombinedOutput()
	if err != nil && ctx.Err() != nil {
		err = ctx.Err()
	}
	return out, err
}
