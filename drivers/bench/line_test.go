package bench

import (
	"bytes"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/safety/warden"
)

// After a cut both sides want a hello; then all is well.
func TestLineCutHeals(t *testing.T) {
	h := idle(t)
	if err := h.r.Inject(Fault{Name: "line_cut", ForMs: 700}); err != nil {
		t.Fatal(err)
	}
	h.ms(800)
	h.connect()
	h.ms(200)
	if h.r.mcu.state.Link != warden.LinkUp || h.snap.Link != warden.LinkUp {
		t.Errorf("link %d, seen as %d", h.r.mcu.state.Link, h.snap.Link)
	}
}

// greet makes the rig send snapshots: a hello request, heard.
func greet(r *Rig) {
	r.Receive(wire.AppendHelloRequest([]byte{0}, &wire.Header{Device: r.mcu.device, HostSession: 5}))
	for range 50 {
		r.Step()
	}
}

// Without a pair there are no snapshots, only hello once a second.
func TestNoPairNoSnapshots(t *testing.T) {
	p, c := testConfig(t, "driven")
	r, err := New(Options{Profile: p, Config: c})
	if err != nil {
		t.Fatal(err)
	}
	for range 3100 {
		r.Step()
	}
	var f wire.Frame
	hellos := 0
	for _, raw := range bytes.Split(r.Transmit(nil), []byte{0}) {
		if len(raw) == 0 {
			continue
		}
		if v := wire.Decode(raw, wire.FromMCU, &f); v != wire.Accepted || f.Class != wire.ClassHello ||
			f.HostSession != 0 {
			t.Fatalf("%v %v of host session %d", v, f.Class, f.HostSession)
		}
		hellos++
	}
	if hellos != 4 {
		t.Errorf("%d hellos in 3.1 s; one at boot and three", hellos)
	}
}

// Bytes cross no faster than the profile's baud, 10 bits each, both ways.
func TestLineIsPacedToBaud(t *testing.T) {
	for _, baud := range []int{9600, 115200, 250000} {
		p, c := testConfig(t, "driven")
		p.Baud = baud
		r, err := New(Options{Profile: p, Config: c})
		if err != nil {
			t.Fatal(err)
		}
		greet(r)
		taken := r.Receive(make([]byte, 3*queueMax))
		if taken != queueMax {
			t.Errorf("queue took %d bytes; %d", taken, queueMax)
		}
		sent := 0
		r.Transmit(nil)
		for range 1000 {
			r.Step()
			sent += len(r.Transmit(nil))
		}
		crossed := queueMax - r.toMCU.from.n
		most := baud/10 + 30
		if crossed > most || (crossed < baud/10-30 && crossed < queueMax) {
			t.Errorf("%d baud: %d bytes to the board in 1 s; %d", baud, crossed, baud/10)
		}
		if sent > most {
			t.Errorf("%d baud: %d bytes to the host in 1 s; at most %d", baud, sent, most)
		}
	}
}

// A host that does not read loses whole frames, which are counted; what it
// reads later is all intact.
func TestFullOutputDropsWholeFrames(t *testing.T) {
	p, c := testConfig(t, "driven")
	r, err := New(Options{Profile: p, Config: c})
	if err != nil {
		t.Fatal(err)
	}
	greet(r)
	for range 5000 {
		r.Step()
	}
	if r.Truth().Dropped == 0 {
		t.Error("nothing dropped in 5 s without a reader")
	}
	frames := bytes.Split(r.Transmit(nil), []byte{0})
	var f wire.Frame
	for i, raw := range frames {
		if len(raw) > 0 && wire.Decode(raw, wire.FromMCU, &f) != wire.Accepted {
			t.Fatalf("frame %d of %d is torn: % x", i, len(frames), raw)
		}
	}
}

// Snapshots come at 100 Hz with stamps 10 ms apart, a hello when asked, and
// the configuration in pieces.
func TestMicrocontrollerSpeaks(t *testing.T) {
	h := idle(t)
	stamp, snaps := h.snap.StampMs, h.snaps
	h.ms(1000)
	if h.snaps-snaps != 100 || h.snap.StampMs-stamp != 1000 {
		t.Errorf("%d snapshots over %d ms in 1 s", h.snaps-snaps, h.snap.StampMs-stamp)
	}
	if h.hello.ConfigHash != wire.BlockHash(&h.cfg, &h.r.signals) || h.hello.Scale != 1 || h.hello.Session != 1 {
		t.Errorf("hello %+v", h.hello)
	}
	var config wire.ConfigReader
	for {
		piece, missing := config.Missing()
		if !missing {
			break
		}
		h.send(wire.AppendParametersRequest(nil, &h.header, piece))
		h.frame.Class = 0
		h.until("a piece", 100, func() bool { return h.frame.Class == wire.ClassParameters })
		config.Take(&h.frame.Parameters)
	}
	got, err := config.Config()
	if err != nil || got != h.cfg {
		t.Errorf("configuration %+v, %v", got, err)
	}
}

// Bytes that are no frames are counted as bad, not answered, and three of them
// within a second lock nothing while nothing is energised.
func TestNoiseIsRefused(t *testing.T) {
	h := idle(t)
	h.r.Receive([]byte{1, 2, 3, 0, 9, 9, 0, 5, 4, 3, 2, 1, 0})
	h.ms(20)
	if got := h.r.Truth(); got.BadFrames != 3 || got.Lock != warden.LockNone {
		t.Errorf("bad frames %d, lock %d", got.BadFrames, got.Lock)
	}
}
