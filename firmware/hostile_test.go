package firmware_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/rig"
)

// buildHostile compiles the hostile walk with all portable C of a folder that
// has core/, hal/, test/ and boards/ in it.
func buildHostile(t *testing.T, from string, more ...string) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "hostile")
	args := append(append([]string{"-o", program}, strict...), more...)
	args = append(args, filepath.Join(from, "test/hostile.c"))
	for _, folder := range []string{"core", "hal"} {
		files, err := filepath.Glob(filepath.Join(from, folder, "*.c"))
		if err != nil || len(files) < 5 {
			t.Fatalf("found %d C files in %s, err %v", len(files), folder, err)
		}
		args = append(args, files...)
	}
	if said, err := exec.Command("cc", args...).CombinedOutput(); err != nil || len(said) != 0 {
		t.Fatalf("cc: %v\n%s", err, said)
	}
	return program
}

// hostile runs the walk from a seed and gives what it printed and said.
func hostile(t *testing.T, program string, seed, steps int) (printed, said string, err error) {
	t.Helper()
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	fast, real := quick(1).Config, p.WardenConfig()
	var out, errs bytes.Buffer
	run := exec.Command(program, fmt.Sprint(seed), fmt.Sprint(steps))
	run.Stdin = bytes.NewReader(append(wire.EncodeConfig(&fast), wire.EncodeConfig(&real)...))
	run.Stdout, run.Stderr = &out, &errs
	err = run.Run()
	return out.String(), errs.String(), err
}

// Whatever block, memory, counts, contacts and bytes come, the core and hal/
// have no wrapped number, no index beyond its array and no other undefined
// behaviour. The walk has to come through everything that it is for.
func TestHostileWalkOfCoreAndHal(t *testing.T) {
	program := buildHostile(t, ".")
	each, seeds := *steps, 2
	if *steps >= 1000000 {
		seeds = 4
	}
	var sum [13]int
	names := []string{"steps", "boots", "fitted", "within", "accepted", "corrupt", "said", "run", "closing", "homed", "failed", "torn"}
	for seed := range seeds {
		printed, said, err := hostile(t, program, seed, each)
		if err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, said)
		}
		fields := strings.Fields(printed)
		if len(fields) != 2*len(names) {
			t.Fatalf("seed %d printed %q", seed, printed)
		}
		for i, name := range names {
			var n int
			if _, err := fmt.Sscan(fields[2*i+1], &n); err != nil || fields[2*i] != name {
				t.Fatalf("seed %d printed %q: %v", seed, printed, err)
			}
			sum[i] += n
		}
	}
	for i, name := range names {
		if sum[i] == 0 && (name != "torn" || *steps >= 1000000) {
			t.Errorf("%d steps never came through %s", sum[0], name)
		}
	}
	t.Logf("%d steps: %v of %v", sum[0], sum[1:len(names)], names[1:])
}

// seeded are faults of the kinds that the walk is for, each of them one that a
// slip of the pen would make.
var seeded = []struct{ file, right, wrong, found string }{
	{"hal/fitting.c", "((int32_t)away * gain >> 12)", "((int32_t)away * gain * 256 >> 20)", "signed integer overflow"},
	{"hal/speaker.c", "p->events < SPEAKER_EVENTS ?", "p->events <= SPEAKER_EVENTS ?", "overflow on address"},
	{"hal/store.c", "slot + 1u < STORE_SLOTS ?", "slot < STORE_SLOTS ?", "out of bounds"},
	{"core/receiver.c", "r->n < WIRE_MAX_ENCODED", "r->n <= WIRE_MAX_ENCODED", "out of bounds"},
}

// The walk finds a seeded fault: the first one in the short run, all of them in
// the long one.
func TestHostileWalkFindsSeededFaults(t *testing.T) {
	faults := seeded[:1]
	if *steps >= 1000000 {
		faults = seeded
	}
	for _, f := range faults {
		dir := t.TempDir()
		for _, folder := range []string{"core", "hal", "test", "boards"} {
			if err := os.CopyFS(filepath.Join(dir, folder), os.DirFS(folder)); err != nil {
				t.Fatal(err)
			}
		}
		name := filepath.Join(dir, f.file)
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Count(string(text), f.right) != 1 {
			t.Fatalf("%s has not exactly one %q: change this list with it", f.file, f.right)
		}
		if err := os.WriteFile(name, []byte(strings.Replace(string(text), f.right, f.wrong, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		_, said, err := hostile(t, buildHostile(t, dir, "-O1"), 0, 1000000)
		if err == nil || !strings.Contains(said, f.found) {
			t.Errorf("%s with %q: not found: %v\n%s", f.file, f.wrong, err, said)
		}
	}
}
