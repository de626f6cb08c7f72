package firmware_test

import (
	"os"
	"regexp"
	"strconv"
	"testing"

	"pressrig/safety/warden"
)

// The number that the contracts have for the causes that lock out is the
// matrix's; that last.c has the same one is proven (make prove-core).
func TestLockingCausesAreTheMatrixs(t *testing.T) {
	text, err := os.ReadFile("core/proof.h")
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`#define LOCKING_CAUSES (\d+)`).FindSubmatch(text)
	if m == nil {
		t.Fatal("no LOCKING_CAUSES in core/proof.h")
	}
	have, err := strconv.ParseUint(string(m[1]), 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	want := uint64(0)
	for cause, row := range warden.Matrix {
		if row.Lock == warden.LockLockout {
			want |= 1 << cause
		}
	}
	if have != want {
		t.Errorf("LOCKING_CAUSES is %d, the matrix gives %d", have, want)
	}
}
