package journal

import (
	"testing"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
)

// With its end a cycle has all its steps, wherever a kill comes in between.
func TestAnEndComesAfterTheSteps(t *testing.T) {
	j := open(t, inDir(t), still())
	n := begin(t, j, someInfo(), 0)
	err := j.ask(func(w *writer) error {
		feed(j, steptest.New(1), chunk.MaxRows+20)
		end(j, n, 1480)
		w.collect(true)
		if len(w.pending) != 3 {
			t.Errorf("%d items pending, want two chunks and an end", len(w.pending))
			return nil
		}
		last, ok := w.pending[2].(recordItem)
		if !ok || last.rec.Kind != controller.RecEnd {
			t.Errorf("the last item is %s, want the end", w.pending[2].what())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Steps after a gap may not be stored before it: until the writer has taken
// note of the gap, it grows, though a buffer is free again.
func TestAGapStaysInItsPlace(t *testing.T) {
	j := open(t, inDir(t), still())
	begin(t, j, someInfo(), 0)
	src := steptest.New(1)
	err := j.ask(func(*writer) error { // the writer stands still meanwhile
		q := &j.queue
		feed(j, src, stepBuffers*chunk.MaxRows)
		first := q.take(true)
		feed(j, src, 3)
		q.giveBack(first)
		feed(j, src, 1)
		second := q.take(true)
		defer q.giveBack(second)
		if len(second.ready) != 0 || len(second.dropped) != 1 || second.dropped[0].steps != 4 {
			t.Errorf("%d buffers and drops %v, want one drop of 4 steps",
				len(second.ready), second.dropped)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
