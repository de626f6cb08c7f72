// Package alloctest holds a parser's test to a stated bound of memory. It is
// for tests alone and imports nothing of the project.
package alloctest

import (
	"runtime"
	"testing"
)

// tries is how often a measurement over the bound is repeated: what other
// goroutines allocate meanwhile only adds, so the least is the nearest.
const tries = 5

// Within fails the test if do allocates more than most bytes of the Go heap in
// all, what it has given back included. do must do the same each time.
func Within(t testing.TB, most int, do func()) {
	t.Helper()
	least := bytesOf(do)
	for n := 1; n < tries && least > uint64(most); n++ {
		least = min(least, bytesOf(do))
	}
	if least > uint64(most) {
		t.Fatalf("%d bytes are allocated; at most %d are right", least, most)
	}
}

func bytesOf(do func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}
