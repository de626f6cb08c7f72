//go:build prove

package firmware_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// wardenFiles are the files of core/ that are the warden's.
func wardenFiles(t *testing.T, folder string) []string {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(folder, "*.c"))
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	for _, name := range names {
		if (source{name: filepath.Base(name)}).isWarden() {
			files = append(files, name)
		}
	}
	if len(files) < 10 {
		t.Fatalf("%d files of the warden in %s", len(files), folder)
	}
	return files
}

// prove asks Frama-C's WP for all goals, or those of some functions, and gives
// how many there are, how many are proved, and the names of the others.
func prove(t *testing.T, folder, functions string) (goals, proved int, open []string) {
	t.Helper()
	args := []string{"-wp", "-wp-prover", "cvc4,z3", "-wp-timeout", "30"}
	if functions != "" {
		args = append(args, "-wp-fct", functions)
	}
	out, err := exec.Command("frama-c", append(args, wardenFiles(t, folder)...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("frama-c: %v\n%s", err, out)
	}
	sum := regexp.MustCompile(`Proved goals:\s+(\d+) / (\d+)`).FindSubmatch(out)
	if sum == nil {
		t.Fatalf("frama-c counts no goals:\n%s", out)
	}
	proved, _ = strconv.Atoi(string(sum[1]))
	goals, _ = strconv.Atoi(string(sum[2]))
	for _, m := range regexp.MustCompile(`(?m)^\[wp\] \[(?:Failed|Timeout|Unknown|Partial)\] Goal (\S+)`).FindAllSubmatch(out, -1) {
		open = append(open, string(m[1]))
	}
	return goals, proved, open
}

// Every contract of the warden in core/ is proved.
func TestEveryGoalIsProved(t *testing.T) {
	goals, proved, open := prove(t, "core", "")
	t.Logf("%d of %d goals proved", proved, goals)
	if goals < 2500 || proved != goals {
		t.Errorf("%d of %d goals proved; open: %s", proved, goals, strings.Join(open, ", "))
	}
}

// A fault in the few lines that the proof stands on is noticed, each by the
// contract that it breaks.
func TestSeededFaultsAreNotProved(t *testing.T) {
	for _, f := range []struct{ name, file, right, wrong, functions, breaks string }{
		{"emergency stop", "last.c", "if (!has(in, IN_ESTOP_OK) &&", "if (!has(in, IN_DOOR_CLOSED) &&", "last_word", "last_word_ensures"},
		{"emergency stop forgets the press", "last.c", "OUT_BURNER_IN | OUT_PRESS_CLOSE | OUT_PRESS_OPEN", "OUT_BURNER_IN | OUT_PRESS_OPEN", "last_word", "last_word_ensures"},
		{"lockout sticky", "last.c", "(!p->locked || s->lock == LOCK_LOCKOUT)", "true", "locks", "locks_ensures"},
		{"a cause that locks", "last.c", "CAUSE_BIT(CAUSE_FLAME_LOST) | ", "", "locks,look_back", "ensures"},
		{"lease of fuel", "last.c", "!leased(c, s, I_FUEL)", "!leased(c, s, I_PRESS)", "permitted", "permitted_ensures"},
		{"lease of the press", "last.c", "return leased(c, s, I_PRESS);", "return true;", "permitted", "permitted_ensures"},
		{"oxygen without flame", "last.c", "s->flame_ms >= c->oxygen_after_ms", "s->dark_ms >= c->oxygen_after_ms", "oxygen_proven", "oxygen_proven_ensures"},
		{"one valve", "last.c", "if (fuel != 0 && fuel != OUT_FUEL) {", "if (fuel == OUT_FUEL1) {", "agree", "agree_ensures"},
		{"decayed memory", "step.c", "s->lock > LOCK_LOCKOUT", "s->lock > LOCK_LOCKOUT + 1", "corrupt", "corrupt_ensures"},
		{"the answer to it", "step.c", "	s->lock = LOCK_LOCKOUT;\n", "	s->lock = LOCK_ABORT;\n", "lock_out", "lock_out_ensures"},
		{"nobody asks the last word", "step.c", "if (corrupt(s) || !last_word(c, s, in, p)) {", "if (corrupt(s)) {", "judge", "judge"},
		{"judged before the end", "step.c", "	drive(c, s, in);\n	judge(c, s, in, &p);\n", "	judge(c, s, in, &p);\n	drive(c, s, in);\n", "warden_step", "warden_step_ensures"},
	} {
		t.Run(f.name, func(t *testing.T) {
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS("core")); err != nil {
				t.Fatal(err)
			}
			name := filepath.Join(dir, f.file)
			text, err := os.ReadFile(name)
			if err != nil || strings.Count(string(text), f.right) != 1 {
				t.Fatalf("core/%s has not exactly one %q: change this list with it; %v", f.file, f.right, err)
			}
			if err := os.WriteFile(name, []byte(strings.Replace(string(text), f.right, f.wrong, 1)), 0o600); err != nil {
				t.Fatal(err)
			}
			goals, proved, open := prove(t, dir, f.functions)
			if proved == goals || !strings.Contains(strings.Join(open, " "), f.breaks) {
				t.Errorf("%d of %d goals proved, open: %s; want %q open", proved, goals, strings.Join(open, ", "), f.breaks)
			}
		})
	}
}
