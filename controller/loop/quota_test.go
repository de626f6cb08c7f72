package loop

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"pressrig/drivers"
	"pressrig/rig"
)

// A storm of notes of one kind is logged 10 times at once and then once a second, and
// what was left out is counted whole.
func TestNotesAreBounded(t *testing.T) {
	var q quota
	logged, counted := 0, uint32(0)
	for ms := range 60_000 {
		if ok, leftOut := q.allow(time.Duration(ms) * time.Millisecond); ok {
			logged++
			counted += leftOut
		}
	}
	if logged < 60 || logged > 71 {
		t.Errorf("%d logged in 60 s", logged)
	}
	if got := logged + int(counted) + int(q.leftOut); got != 60_000 {
		t.Errorf("%d logged and told as left out, of 60,000", got)
	}
	if ok, _ := q.allow(2 * time.Minute); !ok {
		t.Error("after a minute's rest nothing is logged")
	}
}

// A board that greets and falters a thousand times within a second: the log has some lines of it.
func TestHelloStormFillsNoLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		lines := 0
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{}, Log: func(Note) { lines++ }})
		end := run(t, l)
		for n := range 1000 {
			port.hello(uint32(n+1), 1)
			port.reports <- drivers.Report{Kind: drivers.ReportEvent, Event: 2}
			later(time.Millisecond)
			synctest.Wait()
		}
		if lines < 20 || lines > 24 {
			t.Errorf("%d lines for 2,000 reports", lines)
		}
		_ = end()
	})
}

// What is wrong with the line stands in the status, with its own words: a rig that is
// not the profile's, a line that is down or too noisy; an acknowledgement is for the
// noise.
func TestStatusTellsOfTheLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		wrong := errors.New("another device id")
		noisy := 0
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{},
			Log: func(n Note) {
				if n.Kind == NoteNoisy {
					noisy++
				}
			},
			Accept: func(*rig.Capabilities) error { return wrong }})
		end := run(t, l)
		line := func(what, want string) {
			t.Helper()
			later(100 * time.Millisecond)
			synctest.Wait()
			if got := l.out.Status.Line; got != want {
				t.Errorf("%s: %q, want %q", what, got, want)
			}
		}
		port.hello(7, 1)
		line("a foreign rig", wrong.Error())
		wrong = nil
		port.hello(8, 1)
		feed(port, 5)
		line("the profile's", "")
		port.reports <- drivers.Report{Kind: drivers.ReportBad}
		line("one bad frame", "")
		for range 100 {
			port.reports <- drivers.Report{Kind: drivers.ReportBad, Noisy: true}
		}
		line("too many", noisyWords)
		if noisy != 1 {
			t.Errorf("logged %d times", noisy)
		}
		if _, err := l.Do(t.Context(), Order{Ack: true, By: "test"}); err != nil {
			t.Error(err)
		}
		line("acknowledged", "")
		port.reports <- drivers.Report{Kind: drivers.ReportDown, Err: errPortClosed}
		line("down", errPortClosed.Error())
		_ = end()
	})
}
