package alloctest

import (
	"testing"
)

// kept keeps what is allocated from staying on the stack.
var kept []byte

// refusal is a test that notes that it was failed.
type refusal struct {
	testing.TB
	failed bool
}

func (r *refusal) Helper()               {}
func (r *refusal) Fatalf(string, ...any) { r.failed = true }

func TestWithin(t *testing.T) {
	for _, c := range []struct {
		bytes, most int
		fails       bool
	}{{1 << 20, 2 << 20, false}, {1 << 20, 1<<20 - 1, true}, {0, 64 << 10, false}} {
		r := &refusal{TB: t}
		Within(r, c.most, func() { kept = make([]byte, c.bytes) })
		if r.failed != c.fails {
			t.Errorf("%d bytes against a bound of %d: failed %v", c.bytes, c.most, r.failed)
		}
	}
}
