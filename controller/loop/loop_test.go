package loop

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pressrig/controller"
	"pressrig/drivers"
	"pressrig/rig"
)

func TestOutputsLeaveInTheOrderOfTheirFields(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var order []string
		port, journal := newPort(), &fakeJournal{order: &order}
		port.order = &order
		two := machineFunc(func(in *controller.Input, out *controller.Output) {
			*out = controller.Output{Send: true, N: 2}
		})
		l := New(Options{Port: port, Machine: two, Journal: journal,
			Publishers: []Publisher{&fakePublisher{order: &order}}})
		end := run(t, l)
		port.hello(7, 1)
		port.snapshot(10)
		synctest.Wait()
		want := []string{"record", "record", "step", "request", "publish", "publish", "tell"}
		if !slices.Equal(order, want) {
			t.Errorf("order %v, want %v", order, want)
		}
		if err := end(); err != nil || port.halted == 0 {
			t.Errorf("Run = %v, halted %d times; want nil and a halt", err, port.halted)
		}
	})
}

func TestEverySnapshotMakesOneStepAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		var stamps []uint32
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			*out = controller.Output{Send: true}
			if in.Snap != nil {
				stamps = append(stamps, in.Snap.StampMs)
			}
		})
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
		end := run(t, l)
		port.hello(7, 1)
		for i := range 5 { // a burst, as after a pause of the computer
			port.snapshot(uint32(i))
		}
		synctest.Wait()
		if want := []uint32{0, 1, 2, 3, 4}; !slices.Equal(stamps, want) {
			t.Errorf("steps for snapshots %v, want %v", stamps, want)
		}
		if len(port.sent) != 5 {
			t.Errorf("%d requests without time passing, want 5", len(port.sent))
		}
		_ = end()
	})
}

func TestSilenceStillRenewsLeasesAndShowsTheLostLink(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		var none, down int
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			if in.Snap == nil {
				none++
			}
			if in.Session == 0 {
				down++
			}
		})
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
		end := run(t, l)
		port.hello(7, 1)
		feed(port, 10)
		later(time.Second)
		synctest.Wait()
		if none < 50 || port.longestGap() > 20*time.Millisecond {
			t.Errorf("%d steps in a silent second, longest gap %v; want >= 50 and <= 20 ms",
				none, port.longestGap())
		}
		before := len(port.sent)
		port.reports <- drivers.Report{Kind: drivers.ReportDown, Err: errors.New("unplugged")}
		synctest.Wait()
		if down == 0 || len(port.sent) != before {
			t.Errorf("after down: %d steps with session 0, %d requests more; want some, none",
				down, len(port.sent)-before)
		}
		_ = end()
	})
}

func TestAClosedPortIsALostLinkAndNoSpin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		steps := 0
		m := machineFunc(func(in *controller.Input, out *controller.Output) { steps++; steady(in, out) })
		end := run(t, New(Options{Port: port, Machine: m, Journal: &fakeJournal{}}))
		port.hello(7, 1)
		close(port.reports)
		later(time.Second)
		synctest.Wait()
		if steps < 50 || steps > 100 {
			t.Errorf("%d steps in a second after the port closed, want the idle pace", steps)
		}
		_ = end()
	})
}

func TestWrongRigsAreRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		var notes []NoteKind
		wrong := errors.New("another device id")
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{},
			Log:    func(n Note) { notes = append(notes, n.Kind) },
			Accept: func(c *rig.Capabilities) error { return wrong }})
		end := run(t, l)
		port.hello(7, 1)
		feed(port, 20)
		if len(port.sent) != 0 || !slices.Equal(notes, []NoteKind{NoteRefused}) {
			t.Errorf("%d requests to a refused rig, notes %v; want none, [refused]",
				len(port.sent), notes)
		}
		_ = end()
	})
}

func TestScaledClockOnlyForASimulatedRig(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		port.hello(7, 10)
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{}})
		if err := l.Run(t.Context()); !errors.Is(err, ErrScale) || port.halted == 0 {
			t.Errorf("Run = %v, halted %d; want ErrScale and a halt", err, port.halted)
		}
	})
}

func TestAPanicLeavesTheRigInertAndEndsRun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		port.hello(7, 1)
		port.snapshot(10)
		port.snapshot(20)
		var note Note
		haltedAtNote := 0
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			if in.Snap != nil && in.Snap.StampMs == 20 {
				panic("impossible transition")
			}
			steady(in, out)
		})
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}, Log: func(n Note) {
			if n.Kind == NotePanic {
				note, haltedAtNote = n, port.halted
			}
		}})
		err := l.Run(t.Context())
		if !errors.Is(err, ErrPanic) || !strings.Contains(err.Error(), "impossible transition") {
			t.Errorf("Run = %v, want ErrPanic with the reason", err)
		}
		if haltedAtNote == 0 || len(note.Stack) == 0 {
			t.Errorf("halted %d times before the note, stack of %d bytes; want inert first",
				haltedAtNote, len(note.Stack))
		}
		if len(port.sent) != 1 {
			t.Errorf("%d requests, want the one before the panic", len(port.sent))
		}
		if _, err := l.Do(t.Context(), Order{Command: controller.Stop}); !errors.Is(err, ErrClosed) {
			t.Errorf("Do after the end = %v, want ErrClosed", err)
		}
	})
}

func TestBadFramesAreCountedOnceAndSaturate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		var bad []uint8
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			bad = append(bad, in.BadFrames)
		})
		end := run(t, New(Options{Port: port, Machine: m, Journal: &fakeJournal{}}))
		port.hello(7, 1)
		for range 300 {
			port.reports <- drivers.Report{Kind: drivers.ReportBad}
		}
		port.snapshot(10)
		port.snapshot(20)
		synctest.Wait()
		if want := []uint8{255, 0}; !slices.Equal(bad, want) {
			t.Errorf("bad frames %v, want %v", bad, want)
		}
		_ = end()
	})
}

func TestAFailingPortIsNotedOnceAndDoesNotEndTheLoop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		port.down = true
		notes := 0
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{},
			Log: func(n Note) {
				if n.Kind == NoteSend {
					notes++
				}
			}})
		end := run(t, l)
		port.hello(7, 1)
		feed(port, 50)
		port.down = false
		feed(port, 5)
		port.down = true
		feed(port, 5)
		if notes != 2 {
			t.Errorf("%d notes of a port that failed twice, want 2", notes)
		}
		if err := end(); err != nil {
			t.Errorf("Run = %v, want nil", err)
		}
	})
}

func TestEventsOfTheMicrocontrollerAreNotedAndMakeNoStep(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, steps := newPort(), 0
		var note Note
		m := machineFunc(func(*controller.Input, *controller.Output) { steps++ })
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{},
			Log: func(n Note) { note = n }})
		end := run(t, l)
		port.reports <- drivers.Report{Kind: drivers.ReportEvent, Event: 3, Value: 99}
		synctest.Wait()
		if note.Kind != NoteEvent || note.Event != 3 || note.Value != 99 || steps != 0 {
			t.Errorf("note %+v and %d steps, want the event and none", note, steps)
		}
		_ = end()
	})
}

func TestRunEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{}})
		if err := l.Run(ctx); err != nil || port.halted == 0 {
			t.Errorf("Run = %v, halted %d; want nil and a halt", err, port.halted)
		}
	})
}

// A step must not allocate, or the collector's pauses would grow with time.
func TestAStepAllocatesNothing(t *testing.T) {
	port, journal := newPort(), &fakeJournal{}
	port.sent, port.at = make([]rig.Request, 0, 4096), make([]time.Time, 0, 4096)
	l := New(Options{Port: port, Machine: machineFunc(steady), Journal: journal,
		Publishers: []Publisher{&fakePublisher{}}})
	l.session = 7
	r := drivers.Report{Kind: drivers.ReportSnapshot}
	if n := testing.AllocsPerRun(1000, func() {
		r.Snap.StampMs += 10
		l.report = r
		_, _ = l.take(&l.report)
	}); n != 0 {
		t.Errorf("%v allocations a step, want 0", n)
	}
	if len(port.sent) == 0 {
		t.Error("no step was made")
	}
}
