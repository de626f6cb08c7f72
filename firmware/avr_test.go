//go:build avr

package firmware_test

import (
	"bytes"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The microcontroller is an ATmega2560: int has 16 bits, 8 KiB of memory. What
// the host build cannot show is shown by avr-gcc and an emulator. Missing tools
// fail; make test-firmware installs them.

const avrSteps = 10000

// command runs a tool that must succeed and say nothing that a compiler says.
func command(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

// avrObjects compiles core/ for the microcontroller without a warning.
func avrObjects(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("core/*.c")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	var objects []string
	for _, file := range files {
		object := filepath.Join(dir, strings.TrimSuffix(filepath.Base(file), ".c")+".o")
		out := command(t, "avr-gcc", "-mmcu=atmega2560", "-std=c99", "-Os", "-Wall", "-Wextra", "-Wpedantic",
			"-Wconversion", "-Wshadow", "-Werror", "-ffunction-sections", "-fdata-sections", "-c", file, "-o", object)
		if out != "" {
			t.Errorf("%s: %s", file, out)
		}
		objects = append(objects, object)
	}
	return objects
}

// All of core/ fits well into the microcontroller.
func TestCoreFitsTheMicrocontroller(t *testing.T) {
	out := command(t, "avr-size", append([]string{"--totals"}, avrObjects(t)...)...)
	t.Log("\n" + out)
	total := regexp.MustCompile(`(?m)^\s*(\d+)\s+(\d+)\s+(\d+)\s.*TOTALS`).FindStringSubmatch(out)
	if total == nil {
		t.Fatal("avr-size gives no totals")
	}
	flash, _ := strconv.Atoi(total[1])
	if flash > 32*1024 {
		t.Errorf("core/ takes %d bytes of flash; 32 KiB is what it may take of 256", flash)
	}
	if total[2] != "0" || total[3] != "0" {
		t.Errorf("core/ has variables of its own: %s bytes of data, %s of bss; all state is the caller's",
			total[2], total[3])
	}
}

// The C warden on the emulated microcontroller equals the Go warden, and a step
// leaves time in its millisecond of 16,000 cycles.
func TestSameOnTheMicrocontroller(t *testing.T) {
	dir := t.TempDir()
	elf, sim := filepath.Join(dir, "peer.elf"), filepath.Join(dir, "sim")
	args := []string{"-mmcu=atmega2560", "-std=c99", "-Os", "-Wall", "-Wextra", "-Werror", "-Wl,--gc-sections",
		"-o", elf, "test/warden_peer.c", "test/records.c", "test/avr/stdio.c"}
	command(t, "avr-gcc", append(args, avrObjects(t)...)...)
	command(t, "cc", "-std=gnu99", "-O2", "-Wall", "-Wextra", "-o", sim, "test/avr/sim.c", "-lsimavr", "-lelf")
	at := regexp.MustCompile(`(?m)^([0-9a-f]+) T warden_step$`).FindStringSubmatch(command(t, "avr-nm", elf))
	if at == nil {
		t.Fatal("the image has no warden_step")
	}

	cmd := exec.Command(sim, elf, "0x"+at[1])
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	w := &twin{tape: runCommand(t, cmd)}
	cover := newCover()
	for seed := uint64(0); w.steps < avrSteps; seed += 7 {
		walk(w, cover, seed, 3000, 1)
		if !w.same() {
			t.Fatalf("seed %d", seed)
		}
	}
	w.end()
	said := regexp.MustCompile(`(?m)^(\d+)$`).FindStringSubmatch(complaints.String())
	if said == nil {
		t.Fatalf("the emulator says %q", complaints.String())
	}
	cycles, _ := strconv.Atoi(said[1])
	t.Logf("%d steps compared; the longest took %d cycles of 16,000; %s", w.steps, cycles, cover)
	if cycles < 1000 || cycles > 12000 {
		t.Errorf("the longest step took %d cycles; 12,000 of a millisecond's 16,000 is the most", cycles)
	}
}
