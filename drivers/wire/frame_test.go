package wire

import (
	"encoding/binary"
	"encoding/hex"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"pressrig/rig"
	"pressrig/safety/warden"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write testdata anew")

const goldenFrames = "testdata/frames.txt"

// The golden file is what another implementation checks itself against, so a
// change of it is a change of the protocol.
func TestGoldenFrames(t *testing.T) {
	var b strings.Builder
	b.WriteString("# One frame a line: name, then its bytes on the line, delimiter included.\n" +
		"# Values are invented; samples_test.go says what they are.\n")
	for _, s := range samples() {
		fmt.Fprintf(&b, "%s %s\n", s.name, hex.EncodeToString(s.wire))
	}
	if *update {
		if err := os.WriteFile(goldenFrames, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(goldenFrames)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Errorf("frames differ from %s (-want +got):\n%s", goldenFrames, diff)
	}
}

// The frame table against the bytes that really come out, against the limits
// of the design (snapshot 110, others 64), and against PROTOCOL.md.
func TestFrameSizes(t *testing.T) {
	for _, s := range samples() {
		if len(s.wire) != s.class.WireBytes() {
			t.Errorf("%v takes %d bytes, the table says %d", s.class, len(s.wire), s.class.WireBytes())
		}
		most := 64
		if s.class == ClassSnapshot {
			most = 110
		}
		if len(s.wire) > most {
			t.Errorf("%v takes %d bytes, at most %d", s.class, len(s.wire), most)
		}
	}
	if len(samples()) != len(layouts) {
		t.Errorf("%d samples for %d classes", len(samples()), len(layouts))
	}
	if Class(0).WireBytes() != 0 || Class(0).String() != "class?" {
		t.Error("class 0 has a size or a name")
	}
}

// Everything at its greatest rate leaves 30 % of 250,000 baud 8N1 free each
// way. The rates are those of PROTOCOL.md section 5.
func TestLineLoad(t *testing.T) {
	const bytesPerSecond = 250000 / 10
	rates := map[Class]int{
		ClassRequest: 100, ClassHelloRequest: 10, ClassParametersRequest: 20,
		ClassSnapshot: 100, ClassHello: 10, ClassEvent: 10, ClassParameters: 20,
	}
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, from := range []Direction{FromHost, FromMCU} {
		load := 0
		for _, m := range layouts {
			if m.from == from {
				load += rates[m.class] * m.class.WireBytes()
			}
		}
		if load > bytesPerSecond*7/10 {
			t.Errorf("%c sends %d bytes/s of %d: less than 30 %% free", from, load, bytesPerSecond)
		}
		cell := fmt.Sprintf("| %d,%03d | %d %% |", load/1000, load%1000, (load*100+bytesPerSecond/2)/bytesPerSecond)
		if !strings.Contains(string(page), cell) {
			t.Errorf("PROTOCOL.md section 8 must say %q", cell)
		}
	}
}

// PROTOCOL.md section 5 must give each class as the frame table does.
func TestProtocolListsTheClasses(t *testing.T) {
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range layouts {
		sender, size := "host", fmt.Sprint(m.most)
		wire := fmt.Sprint(m.class.WireBytes())
		if m.from == FromMCU {
			sender = "MCU"
		}
		if m.least != m.most {
			size = fmt.Sprintf("%d to %d", m.least, m.most)
			wire = fmt.Sprintf("%d to %d", m.class.WireBytes()-m.most+m.least, m.class.WireBytes())
		}
		row := fmt.Sprintf("| %d | %s | %s | %s | %s |", m.class, m.name, sender, size, wire)
		if !strings.Contains(string(page), row) {
			t.Errorf("PROTOCOL.md section 5 must have the row %q", row)
		}
	}
}

// The masks of bits that exist are those of the shared words.
func TestMasksCoverTheSharedWords(t *testing.T) {
	var in uint32
	for _, s := range rig.Switches {
		in |= s.Bit
	}
	if in != allIn {
		t.Errorf("rig.Switches has bits %b, the wire takes %b", in, allIn)
	}
	if len(rig.Analogs) != int(warden.NumAnalog) {
		t.Errorf("%d analog channels, the wire has %d", len(rig.Analogs), warden.NumAnalog)
	}
}

func drawRequest(t *rapid.T) Request {
	r := Request{EchoMs: rapid.Uint32().Draw(t, "echo")}
	w := &r.Want
	w.Lease = rapid.Uint8Max(allLeases).Draw(t, "lease")
	w.Press = rapid.Uint8Max(warden.PressOpen).Draw(t, "press")
	w.Flags = rapid.Uint16Max(allAsks).Draw(t, "flags")
	for _, p := range []*uint16{&w.ArmID, &w.FuelMl, &w.OxygenMl, &w.SpindleDrpm, &w.SpeedCmms,
		&w.ForceDN, &w.EstUncDC, &w.EstAgeMs} {
		*p = rapid.Uint16().Draw(t, "u16")
	}
	for _, p := range []*int16{&w.TravelCmm, &w.GlassLowDC, &w.GlassHighDC, &w.EstDC} {
		*p = rapid.Int16().Draw(t, "i16")
	}
	return r
}

func drawSnapshot(t *rapid.T) Snapshot {
	s := Snapshot{
		StampMs:  rapid.Uint32().Draw(t, "stamp"),
		In:       rapid.Uint32Max(allIn).Draw(t, "in"),
		AnalogOK: rapid.Uint16Max(allAnalog).Draw(t, "ok"),
		Flags:    rapid.Uint16Max(allFlags).Draw(t, "flags"),
		Out:      rapid.Uint16Max(allOut).Draw(t, "out"),
		Burner:   rapid.Uint8Max(warden.NumBurner-1).Draw(t, "burner"),
		Press:    rapid.Uint8Max(warden.NumPress-1).Draw(t, "press"),
		Spindle:  rapid.Uint8Max(warden.NumSpindle-1).Draw(t, "spindle"),
		Link:     rapid.Uint8Max(warden.NumLink-1).Draw(t, "link"),
		Lock:     rapid.Uint8Max(warden.LockLockout).Draw(t, "lock"),
		First:    rapid.Uint8Max(warden.NumCauses-1).Draw(t, "first"),
		Trips:    rapid.Uint64Max(allCauses).Draw(t, "trips"),
		Present:  rapid.Uint64Max(allCauses).Draw(t, "present"),
		Unburnt:  rapid.Uint32().Draw(t, "unburnt"),
	}
	for i := range s.Analog {
		s.Analog[i] = rapid.Int16().Draw(t, "analog")
	}
	for i := range s.LeaseCs {
		s.LeaseCs[i] = rapid.Uint8().Draw(t, "lease")
	}
	s.TravelCmm = rapid.Int16().Draw(t, "travel")
	for _, p := range []*uint16{&s.GlassAgeMs, &s.FuelMl, &s.OxygenMl, &s.SpindleDrpm,
		&s.SpeedCmms, &s.ForceDN, &s.ArmID, &s.PhaseCs, &s.BadFrames, &s.Gaps, &s.EchoSeq} {
		*p = rapid.Uint16().Draw(t, "u16")
	}
	return s
}

func drawHello(t *rapid.T) Hello {
	m := Hello{
		StampMs:      rapid.Uint32().Draw(t, "stamp"),
		ConfigHash:   rapid.Uint32().Draw(t, "hash"),
		FittedIn:     rapid.Uint32Max(allIn).Draw(t, "in"),
		FittedAnalog: rapid.Uint16Max(allAnalog).Draw(t, "analog"),
		Scale:        rapid.Uint16Min(1).Draw(t, "scale"),
	}
	m.SetFirmware(rapid.StringMatching(`[ -~]{0,24}`).Draw(t, "firmware"))
	return m
}

// Whatever is within its range comes back as it went, for every class.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := Header{
			Device: rapid.Uint16().Draw(t, "device"), Seq: rapid.Uint16().Draw(t, "seq"),
			MCUSession: rapid.Uint32().Draw(t, "mcu"), HostSession: rapid.Uint32().Draw(t, "host"),
		}
		want := Frame{Request: drawRequest(t), Snapshot: drawSnapshot(t), Hello: drawHello(t)}
		want.Event = Event{
			Code:  rapid.Uint16Range(1, NumEvent-1).Draw(t, "code"),
			Value: rapid.Uint32().Draw(t, "value"), StampMs: rapid.Uint32().Draw(t, "stamp"),
		}
		want.Index = rapid.Uint8().Draw(t, "index")
		p := &want.Parameters
		p.Count = rapid.Uint8Min(1).Draw(t, "count")
		p.Index = rapid.Uint8Max(p.Count-1).Draw(t, "piece")
		p.N = uint8(copy(p.Bytes[:], rapid.SliceOfN(rapid.Byte(), 1, PieceBytes).Draw(t, "bytes")))

		stream := AppendHelloRequest(nil, &h)
		stream = AppendRequest(stream, &h, &want.Request)
		stream = AppendParametersRequest(stream, &h, want.Index)
		fromHost := len(stream)
		stream = AppendHello(stream, &h, &want.Hello)
		stream = AppendSnapshot(stream, &h, &want.Snapshot)
		stream = AppendEvent(stream, &h, &want.Event)
		stream = AppendParameters(stream, &h, p)

		var got Frame
		for i, raw := range frames(stream) {
			from := FromHost
			if i >= len(frames(stream[:fromHost])) {
				from = FromMCU
			}
			if v := Decode(raw, from, &got); v != Accepted {
				t.Fatalf("frame %d (%v): %v", i, got.Class, v)
			}
			want.Header = h
			want.Class = layouts[i].class
			if got.Header != want.Header {
				t.Fatalf("header %+v, want %+v", got.Header, want.Header)
			}
		}
		if diff := cmp.Diff(want, got, cmpopts.IgnoreUnexported(Frame{})); diff != "" {
			t.Fatalf("-want +got:\n%s", diff)
		}
	})
}

// craft makes a frame with a right CRC around any header bytes and payload.
func craft(from Direction, version uint8, class Class, payload []byte) []byte {
	dst, start := begin(nil, header(9), class)
	dst[start+1+atVersion] = version
	wire := finish(append(dst, payload...), start, from)
	return wire[:len(wire)-1]
}

// payloadOf gives the payload bytes of a good frame of class.
func payloadOf(t *testing.T, class Class) []byte {
	for _, s := range samples() {
		if s.class == class {
			var plain [MaxFrame]byte
			n, ok := DecodeCOBS(plain[:], s.wire[:len(s.wire)-1])
			if !ok {
				t.Fatalf("sample %s does not decode", s.name)
			}
			return slices.Clone(plain[HeaderBytes : n-CRCBytes])
		}
	}
	t.Fatalf("no sample of %v", class)
	return nil
}

// Values just inside and just outside each range; offsets are PROTOCOL.md's.
func TestRangesAreRefused(t *testing.T) {
	tests := []struct {
		class     Class
		what      string
		at        int
		good, bad byte
	}{
		{ClassRequest, "lease", 4, 15, 16},
		{ClassRequest, "press", 5, 3, 4},
		{ClassRequest, "flags, high byte", 7, 3, 4},
		{ClassHello, "inputs fitted, high byte", 11, 63, 64},
		{ClassHello, "analog fitted, high byte", 13, 3, 4},
		{ClassHello, "scale", 14, 1, 0},
		{ClassHello, "firmware, not printable", 16, '~', 127},
		{ClassHello, "firmware, control byte", 16, ' ', 31},
		{ClassHello, "firmware, text after the end", 39, 0, 'x'},
		{ClassSnapshot, "inputs, high byte", 7, 63, 64},
		{ClassSnapshot, "analog valid, high byte", 29, 3, 4},
		{ClassSnapshot, "flags", 32, 15, 16},
		{ClassSnapshot, "outputs, high byte", 35, 31, 32},
		{ClassSnapshot, "burner", 48, 10, 11},
		{ClassSnapshot, "press", 49, 7, 8},
		{ClassSnapshot, "spindle", 50, 4, 5},
		{ClassSnapshot, "link", 51, 4, 5},
		{ClassSnapshot, "latch", 52, 3, 4},
		{ClassSnapshot, "first cause", 53, 52, 53},
		{ClassSnapshot, "causes tripped, byte 6", 60, 31, 32},
		{ClassSnapshot, "causes tripped, byte 7", 61, 0, 128},
		{ClassSnapshot, "causes present, byte 6", 68, 31, 32},
		{ClassEvent, "code", 0, 6, 7},
		{ClassEvent, "code, lowest", 0, 1, 0},
		{ClassParameters, "index", 0, 3, 4},
		{ClassParameters, "pieces", 1, 2, 1},
	}
	var f Frame
	for _, tt := range tests {
		from := layoutOf(tt.class).from
		p := payloadOf(t, tt.class)
		p[tt.at] = tt.good
		if v := Decode(craft(from, Version, tt.class, p), from, &f); v != Accepted {
			t.Errorf("%v, %s %d: %v", tt.class, tt.what, tt.good, v)
		}
		p[tt.at] = tt.bad
		if v := Decode(craft(from, Version, tt.class, p), from, &f); v != BadValue {
			t.Errorf("%v, %s %d: %v, want bad value", tt.class, tt.what, tt.bad, v)
		}
	}
}

// A length byte that is wrong under a right CRC: the check that catches a zero
// put in front (safety.md 5.3) does not lean on the CRC.
func TestLengthByteIsChecked(t *testing.T) {
	for _, wrong := range []byte{0, 31, 33, 255} {
		dst, start := begin(nil, header(9), ClassRequest)
		dst = append(dst, payloadOf(t, ClassRequest)...)
		dst[start+1+atLength] = wrong
		dst = binary.LittleEndian.AppendUint32(dst, checksum(FromHost, dst[start+1:]))
		stuff(dst[start:])
		var f Frame
		if v := Decode(dst, FromHost, &f); v != Corrupt {
			t.Errorf("length %d with a payload of 32: %v, want corrupt", wrong, v)
		}
	}
}

func TestDecodeVerdicts(t *testing.T) {
	p := payloadOf(t, ClassRequest)
	short, long := craft(FromHost, Version, ClassRequest, p[:31]),
		craft(FromHost, Version, ClassRequest, append(slices.Clone(p), 0))
	tests := []struct {
		why  string
		raw  []byte
		want Verdict
	}{
		{"good", craft(FromHost, Version, ClassRequest, p), Accepted},
		{"over-long, as the splitter says it", nil, Corrupt},
		{"shorter than a header", []byte{2, 1}, Corrupt},
		{"header without CRC", EncodeCOBS(nil, make([]byte, HeaderBytes+CRCBytes-1)), Corrupt},
		{"all zeros", EncodeCOBS(nil, make([]byte, HeaderBytes+CRCBytes)), Corrupt},
		{"other direction", craft(FromMCU, Version, ClassRequest, p), Corrupt},
		{"version 3", craft(FromHost, 3, ClassRequest, p), BadVersion},
		{"unknown class", craft(FromHost, Version, 99, p), WrongClass},
		{"class of the other direction", craft(FromHost, Version, ClassSnapshot, p), WrongClass},
		{"payload one byte short", short, BadValue},
		{"payload one byte long", long, BadValue},
		{"longest frame", craft(FromHost, Version, ClassRequest,
			make([]byte, MaxFrame-HeaderBytes-CRCBytes)), BadValue},
		{"parameters without bytes", craft(FromHost, Version, ClassParameters, p[:2]), WrongClass},
	}
	var f Frame
	for _, tt := range tests {
		if v := Decode(tt.raw, FromHost, &f); v != tt.want {
			t.Errorf("%s: %v, want %v", tt.why, v, tt.want)
		}
	}
	for _, n := range []int{2, 3 + PieceBytes} {
		raw := craft(FromMCU, Version, ClassParameters, make([]byte, n))
		if v := Decode(raw, FromMCU, &f); v != BadValue {
			t.Errorf("parameters with payload of %d: %v, want bad value", n, v)
		}
	}
}

func TestCapabilitiesRoundTrip(t *testing.T) {
	want := rig.Capabilities{
		Protocol: Version, Device: testDevice, Firmware: "exactly 24 bytes long, y",
		ConfigHash: 5, FittedIn: 3, FittedAnalog: 1, Scale: 4, Session: testMCU,
	}
	m := HelloOf(&want, 1)
	wire := AppendHello(nil, header(0), &m)
	var f Frame
	if v := Decode(wire[:len(wire)-1], FromMCU, &f); v != Accepted {
		t.Fatal(v)
	}
	if got := f.Capabilities(); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	m.SetFirmware("tab\there, and far more than there is room for")
	if got := string(m.Firmware[:]); got != "tab?here, and far more t" {
		t.Errorf("firmware %q", got)
	}
}

// The control path must not allocate.
func TestNoAllocations(t *testing.T) {
	buf := make([]byte, 0, 2*MaxEncoded)
	snap, request := sampleSnapshot(), sampleRequest()
	h := header(3)
	raw := AppendSnapshot(nil, h, &snap)
	f := new(Frame)
	r := NewHostReceiver(testDevice, testHost)
	n := testing.AllocsPerRun(100, func() {
		buf = AppendSnapshot(buf[:0], h, &snap)
		buf = AppendRequest(buf[:0], h, &request)
		Decode(raw[:len(raw)-1], FromMCU, f)
		r.Take(raw[:len(raw)-1], 5, f)
	})
	if n != 0 {
		t.Errorf("%v allocations", n)
	}
}
