package drivers

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// fuelRequest asks for a fuel flow, by which a test knows it again.
func fuelRequest(ml uint16) *rig.Request {
	return &rig.Request{Lease: warden.LeaseFuel, Flags: warden.ReqFlame, FuelMl: ml}
}

// cut unplugs a board that listens and waits until it has seen it.
func cut(b *board) {
	b.conn.Close()
	<-b.done
}

// finish closes the port, then unplugs its board.
func finish(t *testing.T, s *Serial, b *board) {
	t.Helper()
	close1(t, s)
	cut(b)
}

func TestHelloThenSnapshotsAndRequests(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		r := next(t, s, ReportHello, time.Second)
		if r.Caps.Session != testMCU || r.Caps.Device != testDevice || r.Caps.Firmware != "fake" {
			t.Errorf("capabilities %+v", r.Caps)
		}
		stamp := stampNow()
		b.snapshot(rig.Snapshot{StampMs: stamp, In: warden.InEstopOK})
		if got := next(t, s, ReportSnapshot, time.Second).Snap; got.In != warden.InEstopOK {
			t.Errorf("snapshot %+v", got)
		}
		if err := s.Send(fuelRequest(1200)); err != nil {
			t.Fatal(err)
		}
		pass(0)
		got := b.requests()
		if len(got) != 1 || got[0].Want.FuelMl != 1200 || got[0].EchoMs != stamp {
			t.Errorf("requests %+v, want one of 1200 that echoes stamp %d", got, stamp)
		}
		if st := s.Stats(); !st.Connected || st.Opens != 1 || s.String() != "bay" {
			t.Errorf("stats %+v of %s", st, s)
		}
		finish(t, s, b)
	})
}

// A request of before the restart never reaches the microcontroller after it,
// and none leaves before the new hello was taken.
func TestRestartOfTheMicrocontroller(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.mu.Lock()
		b.rx = wire.NewMCUReceiver(testDevice, testMCU+1)
		b.head = wire.Header{Device: testDevice, MCUSession: testMCU + 1}
		b.mu.Unlock()
		b.hello(0) // the boot's own, which knows no host
		pass(0)    // the driver has asked, and the answer waits in the queue
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) {
			t.Errorf("send before the new hello was taken: %v, want %v", err, ErrDown)
		}
		old := job{class: wire.ClassRequest, session: testMCU}
		if sent := s.encode(nil, &old); len(sent) != 0 {
			t.Errorf("%d bytes for a session that is gone", len(sent))
		}
		if r := next(t, s, ReportHello, time.Second); r.Caps.Session != testMCU+1 {
			t.Errorf("session %d, want %d", r.Caps.Session, testMCU+1)
		}
		if err := s.Send(fuelRequest(2)); err != nil {
			t.Fatal(err)
		}
		pass(0)
		if got := b.requests(); len(got) != 1 || got[0].Want.FuelMl != 2 {
			t.Errorf("requests %+v, want the one of 2", got)
		}
		finish(t, s, b)
	})
}

func TestUnplugDuringReadReconnects(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		cut(b)
		if r := next(t, s, ReportDown, time.Second); !errors.Is(r.Err, ErrUnplug) {
			t.Errorf("down because of %v, want %v", r.Err, ErrUnplug)
		}
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) {
			t.Errorf("send on a line that is down: %v", err)
		}
		b = y.plug(testMCU + 1)
		if r := next(t, s, ReportHello, time.Second); r.Caps.Session != testMCU+1 {
			t.Errorf("session %d", r.Caps.Session)
		}
		if got := s.Stats().Opens; got != 2 {
			t.Errorf("%d lines opened, want 2", got)
		}
		finish(t, s, b)
	})
}

// The wait doubles from 0.1 s to 2 s, and an unchanged reason is told once.
func TestMissingDeviceIsToldOnce(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		s := y.serial()
		if r := next(t, s, ReportDown, time.Second); !errors.Is(r.Err, errNothingThere) {
			t.Errorf("down because of %v", r.Err)
		}
		pass(20 * time.Second)
		tries := y.opened()
		if n := len(tries); n < 10 || n > 16 {
			t.Errorf("opened %d times in 20 s", n)
		}
		for i := 1; i < len(tries); i++ {
			wait := tries[i].Sub(tries[i-1])
			if want := min(backoffFirst<<(i-1), backoffMost); wait != want {
				t.Errorf("wait %d was %v, want %v", i, wait, want)
			}
		}
		select {
		case r := <-s.Reports():
			t.Errorf("told again: kind %d, %v", r.Kind, r.Err)
		default:
		}
		close1(t, s)
	})
}

// Trap 2: a write that nobody reads hangs for good. Send never waits for it,
// and the line is declared dead in time.
func TestHungWriteIsADeadLine(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.deaf(testMCU)
		s := y.serial()
		began := time.Now() // the hello request hangs
		if r := next(t, s, ReportDown, time.Second); !errors.Is(r.Err, ErrHung) {
			t.Fatalf("down because of %v, want %v", r.Err, ErrHung)
		}
		if took := time.Since(began); took < writeHangs || took > writeHangs+2*tick {
			t.Errorf("declared dead after %v, want %v", took, writeHangs)
		}
		began = time.Now()
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) || time.Since(began) != 0 {
			t.Errorf("send: %v after %v", err, time.Since(began))
		}
		again := y.plug(testMCU + 1)
		pass(10 * time.Second)
		if n := len(y.opened()); n != 1 {
			t.Errorf("opened %d times while the write hangs, want 1", n)
		}
		b.conn.Close() // unplugged: the write comes back
		if r := next(t, s, ReportHello, time.Second); r.Caps.Session != testMCU+1 {
			t.Errorf("session %d", r.Caps.Session)
		}
		finish(t, s, again)
	})
}

func TestCloseDoesNotWaitForAHungWrite(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.deaf(testMCU)
		s := y.serial()
		pass(10 * time.Millisecond)
		began := time.Now()
		if err := s.Close(); !errors.Is(err, ErrHung) {
			t.Errorf("close: %v, want %v", err, ErrHung)
		}
		if took := time.Since(began); took > closeWaits {
			t.Errorf("close took %v, at most %v", took, closeWaits)
		}
		b.conn.Close() // lets the writer go
		pass(time.Second)
	})
}

// The outbox keeps one request: the newest. Afterwards trap 3: our own Close,
// which the library cannot tell from an unplug, is not reported as one.
func TestNewestRequestReplaces(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.mu.Lock() // the board hears no more: at the latest the second write hangs
		for ml := uint16(1); ml <= 5; ml++ {
			if err := s.Send(fuelRequest(ml)); err != nil {
				t.Error(err)
			}
		}
		b.mu.Unlock()
		pass(0)
		got := b.requests()
		replaced := s.Stats().Replaced
		if len(got) == 0 || got[len(got)-1].Want.FuelMl != 5 {
			t.Fatalf("requests %+v, want the newest last", got)
		}
		if uint64(len(got))+replaced != 5 {
			t.Errorf("%d arrived and %d were replaced, of 5", len(got), replaced)
		}
		finish(t, s, b)
		if r, open := <-s.Reports(); open {
			t.Errorf("our own Close was reported: kind %d, %v", r.Kind, r.Err)
		}
		if err := s.Send(fuelRequest(6)); !errors.Is(err, ErrClosed) {
			t.Errorf("send after Close: %v", err)
		}
		if err := s.Close(); !errors.Is(err, ErrClosed) {
			t.Errorf("second Close: %v", err)
		}
	})
}

func TestHaltSendsNothingMore(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		s.Halt()
		sent := s.Stats().Sent
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrHalted) {
			t.Errorf("send after Halt: %v", err)
		}
		s.mu.Lock()
		s.link.box.put(fuelRequest(1), testMCU) // had passed Send before Halt came
		s.mu.Unlock()
		pass(5 * time.Second) // silence, which would be asked about
		if got := s.Stats().Sent; got != sent {
			t.Errorf("%d frames left after Halt", got-sent)
		}
		finish(t, s, b)
	})
}

func TestSilenceIsDownAndHelloComesAgain(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.setMute(true)
		began := time.Now()
		if r := next(t, s, ReportDown, time.Second); !errors.Is(r.Err, ErrSilent) {
			t.Errorf("down because of %v, want %v", r.Err, ErrSilent)
		}
		if took := time.Since(began); took < silent || took > silent+2*tick {
			t.Errorf("told after %v, want %v", took, silent)
		}
		b.snapshot(rig.Snapshot{StampMs: stampNow()}) // a hello comes first
		pass(0)
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) {
			t.Errorf("send on a silent line: %v", err)
		}
		b.setMute(false)
		if r := <-s.Reports(); r.Kind != ReportHello || r.Caps.Session != testMCU {
			t.Errorf("kind %d, session %d; want a hello of the same session", r.Kind, r.Caps.Session)
		}
		finish(t, s, b)
	})
}

// A microcontroller that takes no request has lost its sequence window; a
// hello request sets it anew.
func TestUnheardRequestsAskForHello(t *testing.T) {
	asked := helloRequestsIn(t, func(b *board) {
		b.snapshot(rig.Snapshot{StampMs: stampNow()}) // echoes nothing
	})
	if asked < 5 {
		t.Errorf("%d hello requests in 2 s without an echo", asked)
	}
}

func TestHeardRequestsAskForNothing(t *testing.T) {
	asked := helloRequestsIn(t, func(b *board) {
		b.mu.Lock()
		seq := b.rx.Seq()
		b.mu.Unlock()
		b.snapshot(rig.Snapshot{StampMs: stampNow(), EchoSeq: seq})
	})
	if asked != 0 {
		t.Errorf("%d hello requests although every request was echoed", asked)
	}
}

// helloRequestsIn counts the hello requests in 2 s of requests and snapshots.
func helloRequestsIn(t *testing.T, snapshot func(*board)) (asked int) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.requests() // forgets the first one
		for range 200 {
			pass(10 * time.Millisecond)
			snapshot(b)
			next(t, s, ReportSnapshot, time.Second)
			if err := s.Send(fuelRequest(1)); err != nil {
				t.Fatal(err)
			}
		}
		pass(0)
		asked = b.count(wire.ClassHelloRequest)
		finish(t, s, b)
	})
	return asked
}

func TestScaledClockNeedsASimulatedProfile(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		for _, simulated := range []bool{false, true} {
			b := y.deaf(testMCU)
			b.scale = 10
			go b.listen()
			s := y.serial(func(o *Options) { o.Simulated = simulated })
			if !simulated {
				if r := next(t, s, ReportDown, time.Second); !errors.Is(r.Err, ErrScaled) {
					t.Errorf("down because of %v, want %v", r.Err, ErrScaled)
				}
				if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) {
					t.Errorf("send: %v", err)
				}
			} else if r := next(t, s, ReportHello, time.Second); r.Caps.Scale != 10 {
				t.Errorf("scale %d", r.Caps.Scale)
			}
			finish(t, s, b)
		}
	})
}

// Swapped cables: a board with another number is refused and told of once.
func TestOtherDeviceIsRefused(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.deaf(testMCU)
		b.head.Device = testDevice + 1 // answers whoever asks, with its own number
		go b.listen()
		s := y.serial()
		r := next(t, s, ReportDown, time.Second)
		if !errors.Is(r.Err, ErrDevice) || !strings.Contains(r.Err.Error(), "number 520") {
			t.Errorf("down because of %v, want %v with its number", r.Err, ErrDevice)
		}
		pass(2 * time.Second)
		if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) || len(b.requests()) != 0 {
			t.Errorf("send to another device: %v", err)
		}
		select {
		case r := <-s.Reports():
			t.Errorf("told again: kind %d, %v", r.Kind, r.Err)
		default:
		}
		finish(t, s, b)
	})
}

// A board whose start failed says so unasked, with no host's session, and where
// it is not fitted under number 0. It is refused with what to do, told once.
func TestBoardThatFailedItsStartIsRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		device uint16
		want   string
	}{
		{"mega2560 not fitted", 0, "pressrig flash"},
		{"mega2560 broken flash", testDevice, "replace the board"},
		{"mega2560 bad limits", testDevice, "correct the profile"},
		{"mega2560 output stuck", testDevice, "take the power off"},
		{"mega2560 no watchdog", testDevice, "replace the board"},
	} {
		bubble(t, func(t *testing.T, y *bay) {
			b := y.deaf(testMCU)
			b.name, b.mute, b.head.Device = c.name, true, c.device
			go b.listen()
			s := y.serial()
			b.hello(0)
			r := next(t, s, ReportDown, time.Second)
			if !errors.Is(r.Err, ErrStart) || !strings.Contains(r.Err.Error(), c.name) || !strings.Contains(r.Err.Error(), c.want) {
				t.Errorf("%s: down because of %v; wanted %q in it", c.name, r.Err, c.want)
			}
			if err := s.Send(fuelRequest(1)); !errors.Is(err, ErrDown) {
				t.Errorf("%s: send: %v", c.name, err)
			}
			b.hello(0)
			pass(100 * time.Millisecond)
			select {
			case r := <-s.Reports():
				t.Errorf("%s: told again: kind %d, %v", c.name, r.Kind, r.Err)
			default:
			}
			finish(t, s, b)
		})
	}
}

// otherVersion makes a frame of ours one of the next version, checksum included
// (PROTOCOL.md 3: salt "PR", direction, class).
func otherVersion(t *testing.T, frame []byte) []byte {
	t.Helper()
	plain := make([]byte, 256)
	n, ok := wire.DecodeCOBS(plain, bytes.Trim(frame, "\x00"))
	if !ok {
		t.Fatal("no frame")
	}
	body := plain[:n-wire.CRCBytes]
	body[0]++
	sum := crc32.Checksum(append([]byte{'P', 'R', byte(wire.FromMCU), body[1]}, body...), crc32.MakeTable(crc32.Castagnoli))
	whole := binary.LittleEndian.AppendUint32(body, sum)
	return append(wire.EncodeCOBS([]byte{0}, whole), 0)
}

// Another version of the protocol: the frame is whole, its first byte is not
// ours.
func TestOtherProtocolIsRefused(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.deaf(testMCU)
		b.mute = true
		go b.listen()
		s := y.serial()
		b.send(func(h *wire.Header) []byte {
			m := wire.HelloOf(&rig.Capabilities{Firmware: "newer", Scale: 1}, stampNow())
			return otherVersion(t, wire.AppendHello([]byte{0}, h, &m))
		})
		r := next(t, s, ReportDown, time.Second)
		if !errors.Is(r.Err, ErrProtocol) || !strings.Contains(r.Err.Error(), "pressrig flash") {
			t.Errorf("down because of %v, want %v", r.Err, ErrProtocol)
		}
		finish(t, s, b)
	})
}

func TestEventsAndBadFramesAreReported(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.send(func(h *wire.Header) []byte {
			return wire.AppendEvent(nil, h, &wire.Event{Code: wire.EventTrip, Value: 9,
				StampMs: stampNow()})
		})
		if r := next(t, s, ReportEvent, time.Second); r.Event != wire.EventTrip || r.Value != 9 {
			t.Errorf("event %d of %d", r.Event, r.Value)
		}
		for n := range 3 {
			if s.Stats().BadLine {
				t.Errorf("line too bad after %d frames", n)
			}
			b.conn.Write([]byte{3, 1, 2, 0})
			if r := next(t, s, ReportBad, time.Second); r.Noisy != (n == 2) {
				t.Errorf("bad frame %d reported with a line too bad: %v", n+1, r.Noisy)
			}
		}
		if !s.Stats().BadLine {
			t.Error("3 bad frames within 1 s are within the budget")
		}
		s.ResetBudget()
		if s.Stats().BadLine {
			t.Error("still too bad after the reset")
		}
		finish(t, s, b)
	})
}

// A board that tells 200 events at once is heard with 10 of them and a few more; the
// others are counted.
func TestEventStormIsCut(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		heard := 0
		for range 200 {
			b.send(func(h *wire.Header) []byte {
				return wire.AppendEvent(nil, h, &wire.Event{Code: wire.EventTrip, Value: 9, StampMs: stampNow()})
			})
			synctest.Wait()
			for more := true; more; {
				select {
				case r := <-s.Reports():
					if r.Kind == ReportEvent {
						heard++
					}
				default:
					more = false
				}
			}
		}
		cut := s.Stats().Storm
		if heard < 10 || heard > 20 || heard+int(cut) != 200 {
			t.Errorf("%d heard and %d cut of 200", heard, cut)
		}
		finish(t, s, b)
	})
}

func TestConfigIsReadInPieces(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.deaf(testMCU)
		b.config = wire.EncodeConfig(&warden.Config{PurgeMs: 40000, ButtonMs: 77})
		go b.listen()
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		if _, err := s.Config(); !errors.Is(err, ErrNoConfig) {
			t.Errorf("configuration at once: %v", err)
		}
		b.keepAlive(400 * time.Millisecond)
		if c, err := s.Config(); err != nil || c.PurgeMs != 40000 || c.ButtonMs != 77 {
			t.Errorf("configuration %+v, %v", c, err)
		}
		finish(t, s, b)
	})
}

// A board that never answers for a piece is not asked for ever.
func TestConfigTriesAreBounded(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU) // has no configuration
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		b.keepAlive((configTries + 50) * tick)
		if n := b.count(wire.ClassParametersRequest); n != configTries {
			t.Errorf("asked %d times, want %d", n, configTries)
		}
		finish(t, s, b)
	})
}

func TestOptionsAreChecked(t *testing.T) {
	for _, tt := range []struct {
		o    Options
		want string
	}{
		{Options{Path: "x", Baud: 250000}, "host session is 0"},
		{Options{HostSession: 1, Baud: 250000}, "no serial device"},
		{Options{HostSession: 1, Path: "x"}, "0 is no baud rate; write 250000"},
		{Options{HostSession: 1, Path: "x", Baud: -5}, "-5 is no baud rate"},
	} {
		if _, err := Open(tt.o); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v, want %q", tt.o, err, tt.want)
		}
	}
}

// The reader of a line that was given up may still hold a frame: it must not
// bring the link up.
func TestFramesOfALineGivenUpAreIgnored(t *testing.T) {
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		s := y.serial()
		next(t, s, ReportHello, time.Second)
		before := s.Stats().Verdicts
		m := wire.HelloOf(&rig.Capabilities{Scale: 1}, 1)
		raw := wire.AppendHello(nil, &wire.Header{Device: testDevice, MCUSession: testMCU + 1,
			HostSession: testHost}, &m)
		s.receive(&link{}, raw[:len(raw)-1])
		if after := s.Stats().Verdicts; after != before {
			t.Errorf("verdicts %v became %v", before, after)
		}
		finish(t, s, b)
	})
}
