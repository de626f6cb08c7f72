package drivers

import (
	"testing"
	"time"
)

// A storm of 5 s at 1,000 events a second: the 10 at once and 10 a second of the
// protocol, no more; as many as the protocol allows pass whole, for as long as they
// come.
func TestEventsAreRated(t *testing.T) {
	var storm, steady rate
	at := time.Now()
	passed := 0
	for ms := range 5000 {
		if storm.allow(at.Add(time.Duration(ms) * time.Millisecond)) {
			passed++
		}
	}
	if passed < 50 || passed > 60 {
		t.Errorf("%d of a storm of 5 s, want 50 to 60", passed)
	}
	for n := range 1000 {
		if !steady.allow(at.Add(time.Duration(n) * 100 * time.Millisecond)) {
			t.Fatalf("event %d of 10 a second is dropped", n)
		}
	}
}
