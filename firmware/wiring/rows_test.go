package wiring

import (
	"regexp"
	"strconv"
	"testing"

	"pressrig/safety"
	"pressrig/safety/warden"
)

var cited = regexp.MustCompile(`(lockout|abort[^(:;]*|hold)? ?\(rows? (\d+)(?:, (\d+))?\)`)

func lockOf(row uint8) (uint8, bool) {
	if row < warden.NumCauses && warden.Matrix[row].Priority != 0 {
		return warden.Matrix[row].Lock, true
	}
	for _, r := range safety.SupervisorRows {
		if r.Row == row {
			return r.Reacts.Lock, true
		}
	}
	return 0, false
}

// What the words say of a broken wire is what the matrix does.
func TestWordsCiteTheMatrix(t *testing.T) {
	locks := map[byte]uint8{'l': warden.LockLockout, 'a': warden.LockAbort, 'h': warden.LockHold}
	found := 0
	for _, w := range words {
		for _, m := range cited.FindAllStringSubmatch(w.Broken, -1) {
			for _, number := range m[2:] {
				if number == "" {
					continue
				}
				found++
				row, err := strconv.ParseUint(number, 10, 8)
				if err != nil {
					t.Fatal(err)
				}
				lock, ok := lockOf(uint8(row))
				if !ok || m[1] != "" && lock != locks[m[1][0]] {
					t.Errorf("%s: %q, but row %d has lock %d (there: %v)", w.Name, w.Broken, row, lock, ok)
				}
			}
		}
	}
	if found < 20 {
		t.Errorf("only %d rows cited", found)
	}
}
