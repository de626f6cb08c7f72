package firmware_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// faults are small faults of the kind that a translation to C makes, one of
// them in each file. A comparison that passes them proves nothing.
var faults = []struct{ file, right, wrong string }{
	{"inside.h", "t == FOREVER ? t : (uint16_t)(t + 1u)", "(uint16_t)(t + 1u)"},
	{"inside.h", "static inline int16_t as_signed(uint16_t v) { return (int16_t)v; }",
		"static inline int32_t as_signed(uint16_t v) { return v; }"},
	{"step.c", "s->unburnt += UINT32_C(120)", "s->unburnt += UINT32_C(119)"},
	{"link.c", "most_signed(in->request.glass_low_dc, c->glass_low_dc)", "in->request.glass_low_dc"},
	{"link.c", "s->used_arm_id = s->arm_id;\n\t\t}", "}"},
	{"latch.c", "priority < warden_matrix[*first].priority", "priority <= warden_matrix[*first].priority"},
	{"latch.c", "s->error_sum = 0;", ""},
	{"causes.c", "a->lock > b->lock", "a->lock < b->lock"},
	{"detect.c", "(uint16_t)(c->valve_close_ms + 500u)", "c->valve_close_ms"},
	{"detect.c", "c->pull_max_dn >> 3", "c->pull_max_dn >> 2"},
	{"detect.c", "s->block_ms >= 200", "s->block_ms > 200"},
	{"burner.c", "s->trial_ms = 1;", "s->trial_ms = 0;"},
	{"burner.c", "s->phase_ms >= c->off_ms ||", "s->phase_ms > c->off_ms ||"},
	{"press.c", "s->ease_dn <= c->ease_step_dn", "s->ease_dn < c->ease_step_dn"},
	{"press.c", "bool able = has(in, IN_DOOR_CLOSED) && ", "bool able = "},
	{"spindle.c", "speed <= as_signed(c->press_high_drpm)", "speed < as_signed(c->press_high_drpm)"},
	{"hands.c", "h->ms <= c->hands_ms", "h->ms < c->hands_ms"},
	{"drive.c", "least(c->creep_drpm, s->spin_set)", "c->creep_drpm"},
}

// Each fault, compiled into the C warden, is found; in the short run every
// sixth of them.
func TestFaultsAreFound(t *testing.T) {
	every := 6
	if *steps >= 1000000 {
		every = 1
	}
	for i := 0; i < len(faults); i += every {
		fault := faults[i]
		t.Run(fault.file+" "+fault.wrong, func(t *testing.T) {
			w, unused := newTwin(t, buildFaulty(t, fault.file, fault.right, fault.wrong)), newCover()
			for seed := uint64(0); w.steps < 3000000; seed++ {
				walk(w, unused, seed, 3000, 1)
				if w.play() != nil {
					t.Logf("found within %d steps", w.steps)
					return
				}
			}
			t.Errorf("not found in %d steps", w.steps)
		})
	}
}

// buildFaulty compiles the C warden with one piece of text of core/ replaced.
func buildFaulty(t *testing.T, file, right, wrong string) string {
	t.Helper()
	dir := t.TempDir()
	for _, folder := range []string{"core", "test"} {
		if err := os.CopyFS(filepath.Join(dir, folder), os.DirFS(folder)); err != nil {
			t.Fatal(err)
		}
	}
	name := filepath.Join(dir, "core", file)
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(text), right) != 1 {
		t.Fatalf("core/%s has not exactly one %q: change this list with it", file, right)
	}
	if err := os.WriteFile(name, []byte(strings.Replace(string(text), right, wrong, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "core", "*.c"))
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(dir, "program")
	args := append([]string{"-std=c99", "-O1", "-o", program, filepath.Join(dir, "test/warden_peer.c"),
		filepath.Join(dir, "test/records.c")}, files...)
	if out, err := exec.Command("cc", args...).CombinedOutput(); err != nil {
		t.Fatalf("cc: %v\n%s", err, out)
	}
	return program
}
