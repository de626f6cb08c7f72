//go:build avr

package emulated_test

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"pressrig/firmware/emulated"
	"pressrig/rig"
)

// The image is compiled by avr-gcc and runs in libsimavr: make test-firmware
// installs both. A missing tool fails.

var (
	elf = flag.String("elf", "", "linked image to test; the one of make firmware without")

	workDir string
	built   = struct {
		once sync.Once
		err  error
	}{}
	worst struct {
		sync.Mutex
		emulated.Figures
		room int // bytes that the stack never used
	}
)

func TestMain(m *testing.M) {
	flag.Parse()
	dir, err := os.MkdirTemp("", "emulated")
	if err != nil {
		panic(err)
	}
	workDir = dir
	code := m.Run()
	if worst.Ticks > 0 {
		fmt.Printf("the image over all tests: %d ms, %d ticks, the longest %d of 16,000 cycles, lowest stack pointer %#x with %d bytes to spare, "+
			"%d watchdog resets, %d bytes overrun, %d EEPROM writes begun too early\n", worst.Ms, worst.Ticks, worst.Longest,
			worst.LowestStack, worst.room, worst.Resets, worst.Overruns, worst.EarlyWrites)
	}
	if err := os.RemoveAll(dir); err != nil {
		panic(err)
	}
	os.Exit(code)
}

// emulator compiles the emulator once for all tests.
func emulator(t testing.TB) string {
	t.Helper()
	program := filepath.Join(workDir, "board")
	built.once.Do(func() { built.err = emulated.Build("sim", program) })
	if built.err != nil {
		t.Fatal(built.err)
	}
	return program
}

// image is the firmware, fitted to a profile.
func image(t testing.TB, p *rig.Profile) *emulated.Image {
	t.Helper()
	img, err := emulated.ReadELF(linked(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := img.Fit(p); err != nil {
		t.Fatal(err)
	}
	return img
}

var link = struct {
	once sync.Once
	out  []byte
	err  error
}{}

// linked is the image as the linker leaves it.
func linked(t testing.TB) string {
	t.Helper()
	if *elf != "" {
		return *elf
	}
	elf := filepath.Join(workDir, "mega2560.elf")
	link.once.Do(func() {
		cmd := exec.Command("make", "-s", "-C", "../..", "firmware", "ELF="+elf)
		link.out, link.err = cmd.CombinedOutput()
	})
	if link.err != nil {
		t.Fatalf("make firmware: %v\n%s", link.err, link.out)
	}
	return elf
}
