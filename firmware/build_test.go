// Package firmware_test holds the C firmware to its executable specification:
// the same names and numbers as the Go package safety/warden, and the same
// outputs bit for bit. The firmware is in core/, C programs that only the
// tests use in test/. Start reading at differential_test.go.
package firmware_test

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the generated files anew")

// strict is how everything is compiled: no warning, and undefined behaviour or
// a bad access ends the program.
var strict = []string{
	"-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wshadow", "-Werror",
	"-O2", "-g", "-fsanitize=undefined,address", "-fno-sanitize-recover=all",
}

// What build has compiled, by main file, and where.
var (
	programs   = map[string]string{}
	programDir string
)

// TestMain keeps the compiled programs for all tests.
func TestMain(m *testing.M) {
	flag.Parse()
	dir, err := os.MkdirTemp("", "firmware")
	if err != nil {
		panic(err)
	}
	programDir = dir
	code := m.Run()
	if err := os.RemoveAll(dir); err != nil {
		panic(err)
	}
	os.Exit(code)
}

// build compiles a program of test/ with all of core/. A missing compiler fails
// the test.
func build(t *testing.T, main string) string {
	t.Helper()
	return buildWithout(t, main, "")
}

// buildWithout leaves out the file of core/ that the program stands in for.
func buildWithout(t *testing.T, main, out string) string {
	t.Helper()
	if program := programs[main]; program != "" {
		return program
	}
	core, err := filepath.Glob("core/*.c")
	if err != nil || len(core) < 10 {
		t.Fatalf("found %d C files in core, err %v", len(core), err)
	}
	program := filepath.Join(programDir, strings.TrimSuffix(filepath.Base(main), ".c"))
	args := append(append([]string{"-o", program}, strict...), main, "test/records.c")
	args = append(args, slices.DeleteFunc(core, func(file string) bool { return file == out })...)
	said, err := exec.Command("cc", args...).CombinedOutput()
	if err != nil || len(said) != 0 {
		t.Fatalf("cc %s: %v\n%s", main, err, said)
	}
	programs[main] = program
	return program
}

// golden compares a generated file with the one in the tree, or writes it.
func golden(t *testing.T, name, want string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if string(have) != want {
		t.Errorf("%s is not what the specification says now: go test ./firmware -update, "+
			"then read the difference", name)
	}
}
