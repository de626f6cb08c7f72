package telemetry

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The ring is a bounded queue that drops its oldest: compared with a slice.
func TestRingIsABoundedQueue(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		size := rapid.IntRange(1, 5).Draw(rt, "size")
		r := newRing[int](size)
		var want []int
		var lost uint64
		for i, push := range rapid.SliceOf(rapid.Bool()).Draw(rt, "push") {
			if push {
				r.push(&i)
				if want = append(want, i); len(want) > size {
					want, lost = want[1:], lost+1
				}
			} else if v, number, ok := r.peek(); ok {
				if v != want[0] {
					rt.Fatalf("oldest is %d, want %d", v, want[0])
				}
				r.drop(number)
				want = want[1:]
			}
		}
		var got []int
		for {
			v, number, ok := r.peek()
			if !ok {
				break
			}
			r.drop(number)
			got = append(got, v)
		}
		if !slices.Equal(got, want) || r.lost != lost {
			rt.Fatalf("got %v lost %d, want %v lost %d", got, r.lost, want, lost)
		}
	})
}

// An item overwritten while it was being sent must not take its successor.
func TestRingDropsOnlyWhatWasPeeked(t *testing.T) {
	r := newRing[int](2)
	for i := range 2 {
		r.push(&i)
	}
	_, number, _ := r.peek()
	two := 2
	r.push(&two) // overwrites 0
	r.drop(number)
	if v, _, ok := r.peek(); !ok || v != 1 || r.lost != 1 {
		t.Errorf("oldest is %d, lost %d; want 1 and 1", v, r.lost)
	}
}
