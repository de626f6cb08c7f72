package wire

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// peers is a host's sender and a microcontroller's receiver, or the other way
// round, with a clock in milliseconds that the test moves.
type peers struct {
	t     *testing.T
	rx    Receiver
	f     Frame
	nowMs uint32
}

// mcu is a microcontroller's receiver that has an established pair, the hello
// request having number 10.
func mcu(t *testing.T) *peers {
	p := &peers{t: t, rx: NewMCUReceiver(testDevice, testMCU), nowMs: 50000}
	p.want(Accepted, helloRequest(testHost, 0, 10))
	if !p.rx.Opened || !p.rx.NewSession || p.rx.Peer() != testHost {
		t.Fatalf("hello request did not open the pair: %+v", p.rx)
	}
	return p
}

// host is a daemon's receiver with an established pair, the hello having
// number 10.
func host(t *testing.T) *peers {
	p := &peers{t: t, rx: NewHostReceiver(testDevice, testHost), nowMs: 70000}
	p.want(Accepted, hello(testMCU, testHost, 10))
	return p
}

// want takes one frame (with its delimiter) and checks the verdict and that it
// was counted.
func (p *peers) want(v Verdict, wire []byte) {
	p.t.Helper()
	before := p.rx.Counts[v]
	got := p.rx.Take(wire[:len(wire)-1], p.nowMs, &p.f)
	if got != v {
		p.t.Errorf("verdict %v, want %v", got, v)
	}
	if got == v && p.rx.Counts[v] != before+1 {
		p.t.Errorf("%v was not counted", v)
	}
}

func helloRequest(hostSession, mcuSession uint32, seq uint16) []byte {
	return AppendHelloRequest(nil, &Header{Device: testDevice, HostSession: hostSession,
		MCUSession: mcuSession, Seq: seq})
}

func hello(mcuSession, hostSession uint32, seq uint16) []byte {
	m := sampleHello()
	return AppendHello(nil, &Header{Device: testDevice, HostSession: hostSession,
		MCUSession: mcuSession, Seq: seq}, &m)
}

func snapshot(seq uint16) []byte {
	s := sampleSnapshot()
	return AppendSnapshot(nil, header(seq), &s)
}

// request echoes stamp echoMs.
func request(seq uint16, echoMs uint32) []byte {
	r := sampleRequest()
	r.EchoMs = echoMs
	return AppendRequest(nil, header(seq), &r)
}

// The eight errors of a black channel (IEC 61784-3 as in OPC 10000-15 table 2,
// safety.md 2.11), one test each.

func TestChannelCorruption(t *testing.T) {
	p := mcu(t)
	bad := request(11, p.nowMs)
	bad[20] ^= 4
	p.want(Corrupt, bad)
	p.want(Accepted, request(11, p.nowMs)) // the disturbed one did not count as taken
	if p.rx.Bad() != 1 {
		t.Errorf("%d bad frames, want 1", p.rx.Bad())
	}
}

func TestChannelRepetition(t *testing.T) {
	for _, p := range []*peers{mcu(t), host(t)} {
		for seq := uint16(11); seq < 31; seq++ {
			wire := snapshot(seq)
			if p.rx.from == FromHost {
				wire = request(seq, p.nowMs)
			}
			p.want(Accepted, wire)
			p.want(Repeated, wire)
		}
		if p.rx.Counts[Repeated] != 20 {
			t.Errorf("%d repeated, want 20", p.rx.Counts[Repeated])
		}
	}
}

func TestChannelIncorrectSequence(t *testing.T) {
	p := host(t)
	p.want(Accepted, snapshot(12)) // neighbours swapped
	p.want(OutOfOrder, snapshot(11))
	p.want(Accepted, snapshot(12+50)) // PROTOCOL.md: 1 to 50 ahead
	p.want(OutOfOrder, snapshot(62+51))
	p.want(OutOfOrder, snapshot(12)) // an old one again
}

func TestChannelLoss(t *testing.T) {
	p := host(t)
	for _, tt := range []struct{ seq, lost uint16 }{{11, 0}, {13, 1}, {17, 3}, {67, 49}} {
		before := p.rx.Gaps
		p.want(Accepted, snapshot(tt.seq))
		if got := p.rx.Gaps - before; got != uint32(tt.lost) {
			t.Errorf("number %d: %d missing, want %d", tt.seq, got, tt.lost)
		}
	}
	p.nowMs += SilentMs - 1
	if p.rx.Silent(p.nowMs) {
		t.Error("silent 1 ms too early")
	}
	p.nowMs++ // all lost
	if !p.rx.Silent(p.nowMs) {
		t.Error("not silent after 500 ms without a frame")
	}
}

func TestChannelDelay(t *testing.T) {
	p := mcu(t)
	seq := uint16(10)
	for age := uint32(0); age <= 1000; age += 50 {
		seq++
		want := Accepted
		if age > MaxAgeMs {
			want = Late
		}
		p.want(want, request(seq, p.nowMs-age))
	}
	p.want(Accepted, request(seq+1, p.nowMs-200))
	p.want(Late, request(seq+2, p.nowMs-201))
	p.want(Late, request(seq+3, p.nowMs+1)) // a stamp that was never sent
	p.nowMs = 100                           // the clock has wrapped
	p.want(Accepted, request(seq+4, 0xFFFFFFFF))
	p.want(Late, request(seq+5, 0xFFFFFF00))
}

// A late request is no sign of life: the leases are as dead as in silence.
func TestChannelDelayIsSilence(t *testing.T) {
	p := mcu(t)
	for i := range uint16(60) {
		p.nowMs += 10
		p.want(Late, request(11+i, p.nowMs-300))
	}
	if !p.rx.Silent(p.nowMs) {
		t.Error("late requests kept the pair alive")
	}
}

func TestChannelInsertion(t *testing.T) {
	p := mcu(t)
	old := &Header{Device: testDevice, MCUSession: testMCU - 1, HostSession: testHost, Seq: 11}
	r := sampleRequest()
	r.EchoMs = p.nowMs
	p.want(WrongSession, AppendRequest(nil, old, &r)) // before the last boot
	old.MCUSession, old.HostSession = testMCU, testHost+1
	p.want(WrongSession, AppendRequest(nil, old, &r)) // of another daemon
	p.want(WrongSession, helloRequest(0, 0, 11))
	p.want(WrongSession, helloRequest(testHost, testMCU+1, 11))
	p.want(Accepted, request(11, p.nowMs))

	h := host(t)
	h.want(WrongSession, hello(testMCU, testHost+1, 11))
	h.want(WrongSession, hello(testMCU, 0, 11)) // a boot that no host asked for
	h.want(WrongSession, hello(0, testHost, 11))
	h.want(Accepted, snapshot(11))

	fresh := &peers{t: t, rx: NewMCUReceiver(testDevice, testMCU), nowMs: 50000}
	fresh.want(WrongSession, request(11, 50000)) // before any hello
}

// Texts that do turn up on serial lines, and our own frames echoed back.
func TestChannelMasquerade(t *testing.T) {
	texts := []string{
		"I (312) boot: ESP-IDF 2nd stage bootloader\r\n",
		"rst:0x1 (POWERON_RESET),boot:0x13 (SPI_FAST_FLASH_BOOT)\r\n",
		"AT+CGMI\r\nOK\r\n", "ATZ\r", "login: ", "# reboot\n",
		"[    0.000000] Linux version\r\n", "fuel 3000 oxygen 5200 press close\n",
		"\x7fELF\x01\x01\x01", strings.Repeat("U", 300), strings.Repeat("\xff", 4000),
	}
	for _, p := range []*peers{mcu(t), host(t)} {
		for _, text := range texts {
			for _, raw := range frames([]byte(text + "\x00")) {
				if v := p.rx.Take(raw, p.nowMs, &p.f); v != Corrupt {
					t.Errorf("%q: %v, want corrupt", text, v)
				}
			}
		}
		for _, s := range samples() {
			if s.from != p.rx.from {
				p.want(Corrupt, s.wire)
			}
		}
	}
}

// A class byte changed by somebody who makes the CRC right again, but without
// the salt, does not pass either.
func TestChannelMasqueradeWithoutSalt(t *testing.T) {
	dst, start := begin(nil, header(11), ClassEvent)
	dst = append(dst, payloadOf(t, ClassEvent)...)
	plain := dst[start+1:]
	plain[atLength] = byte(len(plain) - HeaderBytes)
	crc := crc32c.sum(plain)
	dst = append(dst, byte(crc), byte(crc>>8), byte(crc>>16), byte(crc>>24))
	stuff(dst[start:])
	host(t).want(Corrupt, append(dst, 0))
}

func TestChannelAddressing(t *testing.T) {
	p := mcu(t)
	other := header(11)
	other.Device++
	r := sampleRequest()
	r.EchoMs = p.nowMs
	p.want(WrongDevice, AppendRequest(nil, other, &r))
	p.want(WrongDevice, AppendHelloRequest(nil, other))
	h := host(t)
	s := sampleSnapshot()
	h.want(WrongDevice, AppendSnapshot(nil, other, &s))
}

func TestHelloWithinALivePairObeysTheSequence(t *testing.T) {
	p := mcu(t)
	p.want(Accepted, helloRequest(testHost, 0, 11))
	if p.rx.Opened || p.rx.NewSession {
		t.Error("a second hello request opened the pair again")
	}
	p.want(Repeated, helloRequest(testHost, 0, 11))
	p.want(OutOfOrder, helloRequest(testHost, 0, 5))
	p.nowMs += SilentMs
	p.want(Accepted, helloRequest(testHost, testMCU, 5)) // a stale pair takes a new base
	if !p.rx.Opened || p.rx.NewSession {
		t.Error("a revived pair counts as opened, not as a new session")
	}
	p.want(Accepted, request(6, p.nowMs))
}

func TestNewHostSessionTakesOver(t *testing.T) {
	p := mcu(t)
	p.want(Accepted, helloRequest(testHost+5, 0, 900))
	if !p.rx.NewSession || p.rx.Peer() != testHost+5 {
		t.Error("the new daemon's session was not taken")
	}
	p.want(WrongSession, request(11, p.nowMs)) // the old daemon's last words
}

func TestRestartedMicrocontrollerIsSeen(t *testing.T) {
	p := host(t)
	p.want(Accepted, snapshot(11))
	p.want(Accepted, hello(testMCU+1, testHost, 0))
	if !p.rx.NewSession || p.rx.Peer() != testMCU+1 {
		t.Error("the restart was not seen")
	}
	p.want(WrongSession, snapshot(12)) // still in the line from before
}

// Row 35 of docs/assessor.md: 3 bad frames in 1 s or 10 in 6 min trip.
func TestErrorBudget(t *testing.T) {
	tests := []struct {
		why    string
		frames int
		gapMs  uint32
		want   bool
	}{
		{"2 at once", 2, 0, false},
		{"3 at once", 3, 0, true},
		{"3 in 1 s", 3, 500, true},
		{"3 in just over 1 s", 3, 501, false},
		{"10 in 6 min", 10, 40000, true},
		{"one each 60 s for an hour", 60, 60000, false},
		{"one each 61 s for a day", 1440, 61000, false},
	}
	for _, tt := range tests {
		b := Budget{}
		now := ^uint32(0) - 100 // the clock wraps on the way
		b.Charge(now)
		for range tt.frames - 1 {
			now += tt.gapMs
			b.Charge(now)
		}
		if b.Tripped() != tt.want {
			t.Errorf("%s: tripped %v, want %v", tt.why, b.Tripped(), tt.want)
		}
		b.Reset()
		if b.Tripped() || b.sum != 0 {
			t.Errorf("%s: reset left %+v", tt.why, b)
		}
	}
}

// Any 3 bad frames within 1 s, and any 10 within 6 min, trip, whatever came
// before and between.
func TestErrorBudgetAlwaysTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		window, frames := uint32(1000), 3
		if rapid.Bool().Draw(t, "long") {
			window, frames = 360000, 10
		}
		at := rapid.SliceOfN(rapid.Uint32Max(window), frames, frames).Draw(t, "at")
		slices.Sort(at)
		var b Budget
		for _, now := range at {
			b.Charge(now)
		}
		if !b.Tripped() {
			t.Fatalf("%d bad frames within %d ms did not trip", frames, window)
		}
	})
}

func TestReceiverChargesTheBudget(t *testing.T) {
	p := mcu(t)
	outOfRange := craft(FromHost, Version, ClassRequest, make([]byte, 31))
	p.rx.Take(nil, p.nowMs, &p.f)
	for range 50 {
		p.want(Repeated, helloRequest(testHost, 0, 10)) // refused, but not disturbed
	}
	p.rx.Take(outOfRange, p.nowMs, &p.f)
	if p.rx.Budget.Tripped() || p.rx.Bad() != 2 {
		t.Errorf("after 2 bad frames: tripped %v, %d bad", p.rx.Budget.Tripped(), p.rx.Bad())
	}
	p.rx.Take([]byte{2, 1}, p.nowMs, &p.f)
	if !p.rx.Budget.Tripped() || p.rx.Bad() != 3 {
		t.Errorf("after 3 bad frames: tripped %v, %d bad", p.rx.Budget.Tripped(), p.rx.Bad())
	}
}

func TestVerdictNames(t *testing.T) {
	if Late.String() != "late" || Verdict(0).String() != "" || NumVerdict.String() != "verdict?" {
		t.Error("names of verdicts")
	}
}
