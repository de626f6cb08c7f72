//go:build avr

package emulated_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/firmware/emulated"
	"pressrig/rig"
	"pressrig/safety/warden"
)

const (
	bytesPerMs = 25 // 250,000 baud, 10 bits a byte
	noisePerMs = 19 // leaves room for what the host sends
)

// rate is the serial port's rate as the image has set it up (data sheet,
// USART: f / 8 or 16 (UBRR + 1)).
func rate(b *emulated.Board) int {
	const status, baud = 0xC0, 0xC4
	divider := 16
	if b.Peek(status, 1)[0]&2 != 0 { // U2X
		divider = 8
	}
	r := b.Peek(baud, 2)
	return 16_000_000 / divider / (int(r[0]) + int(r[1])<<8 + 1)
}

// talker is a host that sends as much as the protocol allows.
type talker struct {
	hash   uint32 // of its block, as hello says
	header wire.Header
	recv   wire.Receiver
	split  wire.Splitter
	frame  wire.Frame
	snap   rig.Snapshot
	counts [32]int  // frames of each class
	boot   uint32   // value of the newest boot event
	late   []uint32 // values of overrun events
}

func newTalker(device uint16, session uint32) *talker {
	return &talker{header: wire.Header{Device: device, HostSession: session}, recv: wire.NewHostReceiver(device, session)}
}

func (h *talker) take(b []byte, nowMs uint32) {
	for _, c := range b {
		raw, whole := h.split.Feed(c)
		if !whole || h.recv.Take(raw, nowMs, &h.frame) != wire.Accepted {
			continue
		}
		h.counts[h.frame.Class]++
		switch h.frame.Class {
		case wire.ClassHello:
			h.header.MCUSession = h.frame.MCUSession
			h.snap.StampMs = h.frame.Hello.StampMs
			h.hash = h.frame.Hello.ConfigHash
		case wire.ClassSnapshot:
			h.snap = h.frame.Snapshot
		case wire.ClassEvent:
			switch h.frame.Event.Code {
			case wire.EventBoot:
				h.boot = h.frame.Event.Value
			case wire.EventOverrun:
				h.late = append(h.late, h.frame.Event.Value)
			}
		}
	}
}

// say is what the host sends in this millisecond.
func (h *talker) say(ms int) []byte {
	var b []byte
	next := func() *wire.Header {
		h.header.Seq++
		return &h.header
	}
	if ms%100 == 0 {
		hello := *next()
		hello.MCUSession = 0
		b = wire.AppendHelloRequest(append(b, 0), &hello)
	}
	if h.header.MCUSession == 0 {
		return b
	}
	if ms%10 == 5 {
		b = wire.AppendRequest(b, next(), &wire.Request{EchoMs: h.snap.StampMs, Want: rig.Request{Lease: 15}})
	}
	if ms%50 == 25 {
		b = wire.AppendParametersRequest(b, next(), uint8(ms/50%3))
	}
	return b
}

// With everything at its greatest rate the image sends 100 snapshots a second,
// answers every question, takes every request, and leaves 30 % of the line free
// each way. The rate is exact: 16 MHz / 8 / 8 = 250,000.
func TestLineLoadOfTheImage(t *testing.T) {
	l := bareLoop(t, "practice-disc")
	r, err := bench.New(bench.Options{Profile: l.profile, Config: l.config, Seed: 1, Board: l.board})
	if err != nil {
		t.Fatal(err)
	}
	h := newTalker(l.profile.Device, 77)
	fresh := 0
	l.each = func(k *emulated.Tick) { fresh += int(k.In.Fresh) }
	const seconds = 10
	var before emulated.Figures
	for ms := range (seconds + 3) * 1000 {
		if ms == 3000 { // the boot is over, the pair stands
			before, fresh, h.counts = l.board.Figures, 0, [32]int{}
		}
		r.Receive(h.say(ms))
		r.Step()
		h.take(r.Transmit(nil), uint32(ms))
	}
	from := (l.board.Figures.FromBoard - before.FromBoard) / seconds
	to := (l.board.Figures.ToBoard - before.ToBoard) / seconds
	most := uint64(bytesPerMs * 1000 * 70 / 100)
	if from > most || to > most {
		t.Errorf("%d bytes/s from the board, %d to it; %d at most leaves 30 %% free", from, to, most)
	}
	for class, want := range map[wire.Class]int{wire.ClassSnapshot: 100, wire.ClassHello: 10, wire.ClassParameters: 20} {
		if got := h.counts[class]; got < want*seconds*98/100 {
			t.Errorf("class %d: %d frames in %d s; %d a second are due", class, got, seconds, want)
		}
	}
	if fresh < 100*seconds*98/100 {
		t.Errorf("%d requests accepted in %d s; 100 a second were sent", fresh, seconds)
	}
	if got := rate(l.board); got != 250_000 {
		t.Errorf("%d baud; 250,000, without error at 16 MHz", got)
	}
	if f := l.board.Figures; f.Overruns != 0 || f.Lost != 0 {
		t.Errorf("%d bytes overrun, %d lost", f.Overruns, f.Lost)
	}
	t.Logf("of 25,000 bytes/s: %d from the board (%d %% free), %d to it (%d %% free); frames %v; rate exact, error 0",
		from, 100-from/250, to, 100-to/250, h.counts)
}

// noises are what may be on a line instead of frames, a millisecond at a time.
var noises = []struct {
	name string
	make func(rnd *rand.Rand, ms int) []emulated.Symbol
}{
	{"random bytes", randomBytes},
	{"frames with a flipped bit", func(rnd *rand.Rand, ms int) []emulated.Symbol {
		if ms%3 != 0 {
			return nil
		}
		f := wire.AppendRequest(nil, &wire.Header{Device: 1, MCUSession: 1, HostSession: rnd.Uint32(), Seq: uint16(ms)},
			&wire.Request{EchoMs: uint32(ms), Want: rig.Request{Lease: 15, Flags: warden.ReqFlame}})
		f[rnd.IntN(len(f)-1)] ^= 1 << rnd.IntN(8)
		return symbols(f)
	}},
	{"half frames", func(rnd *rand.Rand, ms int) []emulated.Symbol {
		if ms%20 != 0 {
			return nil
		}
		f := wire.AppendRequest(nil, &wire.Header{Device: 1, MCUSession: 1, HostSession: 1}, &wire.Request{})
		return symbols(f[:1+rnd.IntN(len(f)-1)])
	}},
	{"a flood of delimiters", func(*rand.Rand, int) []emulated.Symbol { return make([]emulated.Symbol, noisePerMs) }},
	{"a flood without one", func(*rand.Rand, int) []emulated.Symbol {
		return slices.Repeat([]emulated.Symbol{0x55}, noisePerMs)
	}},
	{"breaks", func(*rand.Rand, int) []emulated.Symbol {
		return slices.Repeat([]emulated.Symbol{emulated.Break}, noisePerMs)
	}},
}

func randomBytes(rnd *rand.Rand, _ int) []emulated.Symbol {
	b := make([]emulated.Symbol, noisePerMs)
	for i := range b {
		b[i] = emulated.Symbol(rnd.UintN(256))
	}
	return b
}

func symbols(b []byte) []emulated.Symbol {
	s := make([]emulated.Symbol, len(b))
	for i, c := range b {
		s[i] = emulated.Symbol(c)
	}
	return s
}

// clean waits for a clean link and says how long it took: a host that begins
// anew is answered, and has a snapshot of the new pair.
func (l *loop) clean() int {
	l.t.Helper()
	n, pairedMs := 0, uint32(0)
	l.each = func(k *emulated.Tick) {
		if k.In.NewSession != 0 {
			pairedMs = k.ClockMs
		}
	}
	defer func() { l.each = nil }()
	l.RestartHost()
	l.until("the link is clean", 3000, func() bool {
		n++
		return pairedMs != 0 && l.Snap.StampMs > pairedMs
	})
	if n > 1000 {
		l.t.Errorf("the link is clean %d ms after the noise; 1,000", n)
	}
	return n
}

// Noise changes no output of an idle rig, and the link is clean within a second
// after it.
func TestNoiseOnTheLine(t *testing.T) {
	l := newLoop(t, "practice-disc")
	seed := uint64(20261126)
	rnd := rand.New(rand.NewPCG(seed, 0))
	for _, c := range noises {
		for ms := range 5000 {
			l.board.Line = append(l.board.Line, c.make(rnd, ms)...)
			l.quiet(1)
		}
		t.Logf("seed %d, %s for 5 s: clean after %d ms", seed, c.name, l.clean())
	}
}

// What noise does to a rig with a flame is in the matrix: rows 21 and 35 shut the
// gas. That nothing else happens is checked in every tick, by the warden in Go
// and the invariants.
func TestNoiseWithAFlame(t *testing.T) {
	l := newLoop(t, "practice-disc")
	rnd := rand.New(rand.NewPCG(1, 1))
	l.fires()
	for ms := range 1000 {
		l.board.Line = append(l.board.Line, randomBytes(rnd, ms)...)
		l.ms(1)
	}
	l.quiet(100)
	l.locked(warden.LockAbort, warden.CauseBadFrames, warden.CauseLinkLost)
	t.Logf("cause %d; clean after %d ms", l.newest.State.First, l.clean())
}

// Ten minutes of random bytes on the line.
func TestTenMinutesOfRandomBytes(t *testing.T) {
	l := newLoop(t, "practice-disc")
	rnd := rand.New(rand.NewPCG(10, 10))
	for ms := range 10 * 60 * 1000 {
		l.board.Line = append(l.board.Line, randomBytes(rnd, ms)...)
		l.quiet(1)
	}
	bad := l.Rig.Truth().In
	t.Logf("clean after %d ms; %+v; inputs %#x", l.clean(), l.board.Figures, bad)
	if l.newest.State.Lock == warden.LockLockout {
		t.Errorf("noise alone has locked the rig out: cause %d", l.newest.State.First)
	}
}
