//go:build avr

package firmware_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// The fuse and lock bytes that pressrig flash writes are those bits of the
// ATmega2560 by avr-libc's own names for them (<avr/io.h>, <avr/lock.h>), which
// a programmed fuse makes 0. README.md says what each is for.
func TestFusesAreTheBitsTheyMean(t *testing.T) {
	text, err := os.ReadFile("../cmd/pressrig/flash.go")
	if err != nil {
		t.Fatal(err)
	}
	check := "#include <avr/io.h>\n#include <avr/lock.h>\n"
	for name, bits := range map[string]string{
		"lowFuse":  "FUSE_CKSEL3", // full swing, CKSEL3:1 = 011
		"highFuse": "FUSE_SPIEN & FUSE_EESAVE",
		"extFuse":  "FUSE_BODLEVEL1 & FUSE_BODLEVEL0", // BODLEVEL 100
		"lockBits": "LB_MODE_2 & BLB0_MODE_2 & BLB1_MODE_2",
	} {
		m := regexp.MustCompile(name + ` += (0x[0-9A-F]{2})\n`).FindSubmatch(text)
		if m == nil {
			t.Fatalf("flash.go has no %s", name)
		}
		check += fmt.Sprintf("_Static_assert(((%s) & 0xFF) == %s, \"%s\");\n", bits, m[1], name)
	}
	file := filepath.Join(t.TempDir(), "fuses.c")
	if err := os.WriteFile(file, []byte(check), 0o600); err != nil {
		t.Fatal(err)
	}
	if said := command(t, "avr-gcc", "-mmcu=atmega2560", "-std=gnu11", "-fsyntax-only", file); said != "" {
		t.Error(said)
	}
}
