package testcount

import "testing"

func TestOf(t *testing.T) {
	if of("", 3, 100) != 3 || of("full", 3, 100) != 100 {
		t.Error("nothing asked is short, full is full")
	}
	defer func() {
		if recover() == nil {
			t.Error("an unknown word passes")
		}
	}()
	of("ful", 3, 100)
}
