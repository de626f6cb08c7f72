package loop

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pressrig/controller"
	"pressrig/drivers"
)

func TestDoSaysWhetherTheMachineTookIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			if in.Command == controller.Start {
				out.Refusal = "a cycle is running"
			}
		})
		l := New(Options{Port: newPort(), Machine: m, Journal: &fakeJournal{}})
		end := run(t, l)
		cases := []struct {
			name  string
			order Order
			taken bool
			err   error
		}{
			{"refused", Order{Command: controller.Start, By: "a"}, false, nil},
			{"taken", Order{Command: controller.Hold, By: "a"}, true, nil},
			{"answer", Order{Answer: controller.Answer{Prompt: 3, Yes: true}}, true, nil},
			{"acknowledgement", Order{Ack: true}, true, nil},
			{"nothing asked", Order{By: "a"}, false, ErrEmpty},
			{"two things asked", Order{Command: controller.Stop, Ack: true}, false, ErrEmpty},
		}
		for _, c := range cases {
			r, err := l.Do(t.Context(), c.order)
			if !errors.Is(err, c.err) || r.Taken != c.taken {
				t.Errorf("%s: taken %v, %v; want %v, %v", c.name, r.Taken, err, c.taken, c.err)
			}
			if !r.Taken && err == nil && r.Reason == "" {
				t.Errorf("%s: refused without a reason", c.name)
			}
		}
		_ = end()
	})
}

func TestAnOrderReachesOneStepOnly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		seen := 0
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			if in.Command == controller.Hold {
				seen++
			}
		})
		port := newPort()
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
		end := run(t, l)
		if _, err := l.Do(t.Context(), Order{Command: controller.Hold}); err != nil {
			t.Fatal(err)
		}
		port.hello(7, 1)
		feed(port, 10)
		if seen != 1 {
			t.Errorf("the command was in %d steps, want 1", seen)
		}
		_ = end()
	})
}

// Before Run nothing empties the queues, so both sides of their limits show.
func TestAFullQueueRefusesButNeverStopOrAbort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var got []controller.Command
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			got = append(got, in.Command)
		})
		port := newPort()
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
		var all sync.WaitGroup
		give := func(c controller.Command) {
			all.Go(func() {
				if r, err := l.Do(t.Context(), Order{Command: c}); err != nil || !r.Taken {
					t.Errorf("%v: %+v, %v; want taken", c, r, err)
				}
			})
			synctest.Wait()
		}
		for range MaxOrders {
			give(controller.Hold)
		}
		if _, err := l.Do(t.Context(), Order{Command: controller.Hold}); !errors.Is(err, ErrFull) {
			t.Errorf("order %d: %v, want ErrFull", MaxOrders+1, err)
		}
		for range 3 { // more than the slots hold: they wait, they are not refused
			give(controller.Stop)
			give(controller.Abort)
		}
		end := run(t, l)
		all.Wait()
		if got[0] != controller.Abort {
			t.Errorf("first step served %v, want abort before all else", got[0])
		}
		last := lastOf(got, controller.Stop)
		if first := firstOf(got, controller.Hold); first < last-3 {
			t.Errorf("commands came as %v: stops waited behind the queue", got)
		}
		_ = end()
	})
}

func firstOf(all []controller.Command, c controller.Command) int {
	for i, v := range all {
		if v == c {
			return i
		}
	}
	return len(all)
}

func lastOf(all []controller.Command, c controller.Command) int {
	for i := len(all) - 1; i >= 0; i-- {
		if all[i] == c {
			return i
		}
	}
	return -1
}

func TestDoEndsWithItsCaller(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := New(Options{Port: newPort(), Machine: machineFunc(steady), Journal: &fakeJournal{}})
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		for _, c := range []controller.Command{controller.Hold, controller.Stop, controller.Stop} {
			if _, err := l.Do(ctx, Order{Command: c}); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%v with no loop running: %v, want the caller's deadline", c, err)
			}
		}
	})
}

// Ten thousand orders from eight callers, with a board at its pace: the lease
// (500 ms) is renewed all the while, and so is the 100 ms of requests.
func TestAStormOfOrdersMissesNoLease(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{}})
		end := run(t, l)
		port.hello(7, 1)
		ctx, cancel := context.WithCancel(t.Context())
		var board, callers sync.WaitGroup
		board.Go(func() {
			for i := uint32(0); ctx.Err() == nil; i += 10 {
				port.snapshot(i)
				later(snapshotEvery)
			}
		})
		for range 8 {
			callers.Go(func() {
				for range 1250 {
					_, err := l.Do(ctx, Order{Command: controller.Hold})
					if err != nil && !errors.Is(err, ErrFull) {
						t.Error(err)
					}
					later(time.Millisecond)
				}
			})
		}
		callers.Wait()
		cancel()
		board.Wait()
		_ = end()
		if gap := port.longestGap(); gap > 20*time.Millisecond {
			t.Errorf("longest time between two requests %v, want <= 20 ms", gap)
		}
		if len(port.sent) < 10_000 {
			t.Errorf("%d requests, want one an order at least", len(port.sent))
		}
	})
}

// A start is judged on a snapshot, so that a refusal reaches who asked; without
// one a step answers it after a second.
func TestAStartIsAnsweredOnASnapshot(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var withSnap, without int
		m := machineFunc(func(in *controller.Input, out *controller.Output) {
			steady(in, out)
			switch {
			case in.Command != controller.Start:
			case in.Snap != nil:
				withSnap++
			default:
				without++
			}
		})
		port := newPort()
		l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
		end := run(t, l)
		port.hello(7, 1)
		feed(port, 3)
		var caller sync.WaitGroup
		start := func() {
			caller.Go(func() {
				_, err := l.Do(t.Context(), Order{Command: controller.Start})
				if err != nil {
					t.Error(err)
				}
			})
			synctest.Wait()
		}
		start()
		port.snapshot(40)
		caller.Wait()
		start()
		caller.Wait() // no snapshot comes
		_ = end()
		if withSnap != 1 || without != 1 {
			t.Errorf("%d starts with a snapshot, %d without; want 1 and 1", withSnap, without)
		}
	})
}

// A line that is slow, or goes down, while a start waits: the start is neither
// taken blindly, to be refused when nobody listens any more, nor lost.
func TestAStartOutlastsAShortSilence(t *testing.T) {
	for _, down := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			m := machineFunc(func(in *controller.Input, out *controller.Output) {
				steady(in, out)
				if in.Command == controller.Start && in.Session == 0 {
					out.Refusal = "the link to the rig is down"
				}
				if in.Command == controller.Start && in.Session != 0 && in.Snap == nil {
					t.Error("a start was judged without a snapshot")
				}
			})
			port := newPort()
			l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
			end := run(t, l)
			port.hello(7, 1)
			feed(port, 3)
			var caller sync.WaitGroup
			caller.Go(func() {
				r, err := l.Do(t.Context(), Order{Command: controller.Start})
				if err != nil || r.Taken == down || down && r.Reason == "" {
					t.Errorf("down %v: %+v, %v", down, r, err)
				}
			})
			synctest.Wait()
			later(500 * time.Millisecond)
			if down {
				port.reports <- drivers.Report{Kind: drivers.ReportDown, Err: drivers.ErrSilent}
			} else {
				port.snapshot(40)
			}
			caller.Wait()
			_ = end()
		})
	}
}

func TestAStopEndsAStartThatWaits(t *testing.T) {
	for _, c := range []controller.Command{controller.Stop, controller.Abort} {
		synctest.Test(t, func(t *testing.T) {
			started := 0
			m := machineFunc(func(in *controller.Input, out *controller.Output) {
				steady(in, out)
				if in.Command == controller.Start {
					started++
				}
			})
			port := newPort()
			l := New(Options{Port: port, Machine: m, Journal: &fakeJournal{}})
			end := run(t, l)
			port.hello(7, 1)
			feed(port, 3)
			var caller sync.WaitGroup
			caller.Go(func() {
				r, err := l.Do(t.Context(), Order{Command: controller.Start})
				if err != nil || r.Taken || r.Reason == "" {
					t.Errorf("start before %v: %+v, %v; want refused with a reason", c, r, err)
				}
			})
			synctest.Wait()
			if _, err := l.Do(t.Context(), Order{Command: c}); err != nil {
				t.Error(err)
			}
			caller.Wait()
			feed(port, 3)
			_ = end()
			if started != 0 {
				t.Errorf("a cycle was started after %v", c)
			}
		})
	}
}
