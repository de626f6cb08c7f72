//go:build avr

package firmware_test

import (
	"bytes"
	"crypto/sha256"
	"os"
	"path/filepath"
	"testing"
)

// linkedIn builds the image with the project's own command, from sources that
// lie in root.
func linkedIn(t *testing.T, root string) []byte {
	t.Helper()
	elf := filepath.Join(t.TempDir(), "mega2560.elf")
	command(t, "make", "-s", "-o", "tools", "-C", root, "firmware", "ELF="+elf)
	hex, err := os.ReadFile(elf[:len(elf)-len(".elf")] + ".hex")
	if err != nil {
		t.Fatal(err)
	}
	return hex
}

// The image has the same bytes wherever and whenever it is built, and the one
// that pressrig carries is made from these sources.
func TestImageIsReproducible(t *testing.T) {
	here := linkedIn(t, "..")
	elsewhere := filepath.Join(t.TempDir(), "a", "longer", "way")
	for _, part := range []string{"core", "hal", "boards"} {
		if err := os.CopyFS(filepath.Join(elsewhere, "firmware", part), os.DirFS(part)); err != nil {
			t.Fatal(err)
		}
	}
	makefile, err := os.ReadFile("../Makefile")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(elsewhere, "Makefile"), makefile, 0o600); err != nil {
		t.Fatal(err)
	}
	if there := linkedIn(t, elsewhere); !bytes.Equal(here, there) {
		t.Errorf("built in two places: SHA-256 %x and %x", sha256.Sum256(here), sha256.Sum256(there))
	}
	carried, err := os.ReadFile("image/mega2560.hex")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(here, carried) {
		t.Errorf("image/mega2560.hex is not what these sources give (SHA-256 %x); run make firmware-image", sha256.Sum256(here))
	}
	t.Logf("SHA-256 %x", sha256.Sum256(here))
}
