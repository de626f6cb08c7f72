package firmware_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// portable are all C files without hardware headers.
func portable(t *testing.T) []string {
	t.Helper()
	var files []string
	for _, pattern := range []string{"core/*.c", "hal/*.c"} {
		found, err := filepath.Glob(pattern)
		if err != nil || len(found) < 4 {
			t.Fatalf("%s: %d files, %v", pattern, len(found), err)
		}
		files = append(files, found...)
	}
	return files
}

// quiet runs a tool that must succeed without a word.
func quiet(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil || len(out) != 0 {
		t.Errorf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// Two compilers with all their warnings, the one's data-flow analyser and
// cppcheck find nothing in core/ and hal/. A tool that is missing fails.
func TestCompilersAndAnalysersFindNothing(t *testing.T) {
	for _, file := range portable(t) {
		quiet(t, "clang", "-std=c99", "-Weverything", "-Wno-padded", "-Wno-declaration-after-statement", "-Werror", "-fsyntax-only", file)
		quiet(t, "gcc", "-std=c99", "-O1", "-fanalyzer", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wsign-conversion",
			"-Wshadow", "-Wundef", "-Wstrict-prototypes", "-Wmissing-prototypes", "-Wcast-qual", "-Wswitch-enum", "-Werror",
			"-c", file, "-o", os.DevNull)
	}
	quiet(t, "cppcheck", "--std=c99", "--enable=warning,style,performance,portability", "--inline-suppr",
		"--error-exitcode=1", "--quiet", "core", "hal")
}

// The analysers are really asked: a fault of each kind is found.
func TestAnalysersFindSeededFaults(t *testing.T) {
	for _, c := range []struct{ tool, text, want string }{
		{"cppcheck", "#include <stdint.h>\nuint8_t f(void);\nuint8_t f(void) { uint8_t a[4] = {0}; return a[4]; }\n", "arrayIndexOutOfBounds"},
		{"clang", "#include <stdint.h>\nuint8_t f(uint16_t v);\nuint8_t f(uint16_t v) { return v; }\n", "implicit conversion"},
		{"gcc", "#include <stdlib.h>\nvoid f(void *p);\nvoid f(void *p) { free(p); free(p); }\n", "double-‘free’"},
	} {
		file := filepath.Join(t.TempDir(), "fault.c")
		if err := os.WriteFile(file, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		args := map[string][]string{
			"cppcheck": {"--enable=warning", "--error-exitcode=1", "--quiet", "--template={id}", file},
			"clang":    {"-std=c99", "-Weverything", "-Werror", "-fsyntax-only", file},
			"gcc":      {"-std=c99", "-O1", "-fanalyzer", "-Werror", "-c", file, "-o", os.DevNull},
		}[c.tool]
		out, err := exec.Command(c.tool, args...).CombinedOutput()
		if err == nil || !strings.Contains(string(out), c.want) {
			t.Errorf("%s: %v, no %q in %s", c.tool, err, c.want, out)
		}
	}
}

// The vectors hold under the other compiler and its checks for undefined
// behaviour, addresses and wrapped numbers, too.
func TestVectorsUnderClang(t *testing.T) {
	core, err := filepath.Glob("core/*.c")
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(t.TempDir(), "vectors")
	args := append([]string{"-o", program, "-std=c99", "-O1", "-g", "-Wall", "-Wextra", "-Werror",
		"-fsanitize=undefined,address,implicit-conversion", "-fno-sanitize-recover=all", "test/vectors.c", "test/records.c"}, core...)
	quiet(t, "clang", args...)
	text, err := os.Open(vectorsFile)
	if err != nil {
		t.Fatal(err)
	}
	defer text.Close()
	run := exec.Command(program)
	run.Stdin = text
	if out, err := run.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
