package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/firmware/image"
	"pressrig/rig"
)

// fakeAvrdude is a programmer that writes down how it was called, copies the
// image that it was given, and fails in the call that has fail among its words.
func fakeAvrdude(t *testing.T, fail string) (program, log, kept string) {
	t.Helper()
	dir := t.TempDir()
	program, log, kept = filepath.Join(dir, "avrdude"), filepath.Join(dir, "log"), filepath.Join(dir, "kept.hex")
	script := "#!/bin/sh\necho \"$@\" >> " + log + `
for a; do case "$a" in
flash:w:*) f=${a#flash:w:}; cp "${f%:i}" ` + kept + ` || exit 3;;
esac; done
case "$*" in *"` + fail + `"*) echo "avrdude: expected signature for ATmega2560 is 1E 98 01" >&2; exit 1;; esac
`
	if err := os.WriteFile(program, []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	return program, log, kept
}

const noFailure = "no such word"

// flashing runs the command with what a person types.
func flashing(t *testing.T, c flashCmd, typed string) (out string, err error) {
	t.Helper()
	var both bytes.Buffer
	e := &env{ctx: context.Background(), in: strings.NewReader(typed), out: &both, err: &both}
	err = c.Run(e)
	return both.String(), err
}

func TestFlashTellsAndTouchesNothing(t *testing.T) {
	avrdude, log, _ := fakeAvrdude(t, noFailure)
	file := filepath.Join(t.TempDir(), "out.hex")
	out, err := flashing(t, flashCmd{Rig: "driven", Out: file, Programmer: "usbasp", Avrdude: avrdude}, "bench-driven\n")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"no safety device", "Shut the gas", "-p m2560 -c usbasp", "lock:w:0xEA:m", "hfuse:w:0xD7:m",
		"efuse:w:0xFC:m", "flash:w:" + file + ":i", "pressrig prove", "bench-driven"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if _, err := os.Stat(log); err == nil {
		t.Error("avrdude was called")
	}
	// The file holds the carried program and this rig's limits.
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	segments, err := image.ReadHex(text)
	if err != nil || len(segments) != 2 {
		t.Fatalf("%d pieces, %v", len(segments), err)
	}
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	c := p.WardenConfig()
	if !bytes.Contains(segments[1].Bytes, wire.EncodeConfig(&c)) || segments[1].Address != image.BlockAddress {
		t.Error("the block has not the profile's limits")
	}
	if program, err := image.Board(); err != nil || !bytes.Equal(program, segments[0].Bytes) {
		t.Errorf("not the carried program, %v", err)
	}
}

func TestFlashWritesInOrder(t *testing.T) {
	avrdude, log, kept := fakeAvrdude(t, noFailure)
	out, err := flashing(t, flashCmd{Rig: "driven", Programmer: "stk500v2", Port: "/dev/prog", Avrdude: avrdude, Write: true}, "bench-driven\n")
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	calls := strings.Split(strings.TrimSpace(string(text)), "\n")
	for i, want := range []string{"signature:r", "-e -U lfuse:w:0xF7:m -U hfuse:w:0xD7:m -U efuse:w:0xFC:m", "flash:w:", "lock:w:0xEA:m"} {
		if len(calls) != 4 || !strings.Contains(calls[i], want) || !strings.Contains(calls[i], "-p m2560 -c stk500v2 -P /dev/prog") {
			t.Fatalf("call %d of %q lacks %q", i, calls, want)
		}
	}
	hex, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	if segments, err := image.ReadHex(hex); err != nil || len(segments) != 2 {
		t.Errorf("what was written: %d pieces, %v", len(segments), err)
	}
}

func TestFlashStopsAndSaysInWhatState(t *testing.T) {
	for _, c := range []struct {
		name, fail, typed, want string
		calls                   int
	}{
		{"another chip", "signature:r", "bench-driven\n", "the board was not touched", 1},
		{"fuses", "lfuse:w", "bench-driven\n", "may be erased", 2},
		{"program", "flash:w", "bench-driven\n", "no whole program", 3},
		{"lock", "lock:w", "bench-driven\n", "its lock is not", 4},
		{"another rig's name", noFailure, "bench-weights\n", "nothing was written", 0},
		{"yes is no name", noFailure, "y\n", "nothing was written", 0},
		{"no answer", noFailure, "", "nothing was written", 0},
	} {
		avrdude, log, _ := fakeAvrdude(t, c.fail)
		_, err := flashing(t, flashCmd{Rig: "driven", Programmer: "usbasp", Avrdude: avrdude, Write: true}, c.typed)
		if err == nil || exitCode(err) != exitFailed || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.name, err, c.want)
		}
		text, _ := os.ReadFile(log) // not there: never called
		if n := strings.Count(string(text), "\n"); n != c.calls {
			t.Errorf("%s: %d calls, want %d", c.name, n, c.calls)
		}
	}
}

func TestFlashRefuses(t *testing.T) {
	assisted := written(t, "assisted.yaml", strings.Replace(profileText(t, "driven"), "board: true", "board: false", 1))
	beyond := written(t, "beyond.yaml", strings.Replace(profileText(t, "driven"), "purge: 35 s", "purge: 5 s", 1))
	for _, c := range []struct {
		cmd  flashCmd
		want string
	}{
		{flashCmd{Rig: "driven", Avrdude: "/no/such/avrdude", Write: true}, "install avrdude"},
		{flashCmd{Rig: "driven", Avrdude: "avrdude", Out: "/no/such/folder/x.hex"}, "--out"},
		{flashCmd{Rig: "nothing", Avrdude: "avrdude"}, "nothing"},
		{flashCmd{Rig: assisted, Avrdude: "avrdude"}, "board"},
		{flashCmd{Rig: beyond, Avrdude: "avrdude"}, "purge"},
	} {
		if _, err := flashing(t, c.cmd, "bench-driven\n"); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v; want %q", c.cmd, err, c.want)
		}
	}
}

func TestFlashAsJSON(t *testing.T) {
	var out bytes.Buffer
	e := &env{ctx: context.Background(), in: strings.NewReader(""), out: &out, err: &out, flags: globals{JSON: true}}
	c := flashCmd{Rig: "driven", Programmer: "usbasp", Avrdude: "avrdude"}
	if err := c.Run(e); err != nil {
		t.Fatal(err)
	}
	var told flashed
	if err := json.Unmarshal(out.Bytes(), &told); err != nil || told.Rig != "bench-driven" || len(told.Commands) != 4 {
		t.Errorf("%+v, %v", told, err)
	}
	c.Write = true
	if err := c.Run(e); exitCode(err) != exitUsage {
		t.Errorf("--json --write: %v", err)
	}
}

// profileText is a built-in profile's file.
func profileText(t *testing.T, name string) string {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(p.Text)
}
