package firmware_test

import (
	"encoding/binary"
	"math/rand/v2"
	"reflect"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// line makes the bytes of a disturbed line from a host whose frames are right
// most of the time.
type line struct {
	rnd     *rand.Rand
	device  uint16
	session uint32 // of the microcontroller
	host    uint32
	seq     uint16
	nowMs   uint32
	last    []byte
}

// chunk is what the line brings next: one frame, disturbed in one way of many.
func (l *line) chunk() []byte {
	l.seq++
	h := wire.Header{Device: l.device, MCUSession: l.session, HostSession: l.host, Seq: l.seq}
	echo := l.nowMs - uint32(l.rnd.IntN(210))
	switch l.rnd.IntN(40) {
	case 0:
		h.Device ^= 1 << l.rnd.IntN(16)
	case 1:
		h.MCUSession += uint32(l.rnd.IntN(3))
	case 2:
		h.HostSession = uint32(l.rnd.IntN(3))
	case 3:
		h.Seq -= uint16(l.rnd.IntN(3))
	case 4:
		l.seq += uint16(l.rnd.IntN(60))
		h.Seq = l.seq
	case 5:
		echo = l.rnd.Uint32()
	case 6: // the daemon starts anew
		l.host = l.rnd.Uint32()
		h.HostSession = l.host
	case 7: // the sender has lost its count
		if l.rnd.IntN(8) == 0 {
			l.seq = uint16(l.rnd.Uint32())
		}
	case 8:
		l.nowMs += uint32(l.rnd.IntN(1200))
	}
	frame := l.disturb(l.frame(&h, echo))
	l.last = frame
	l.nowMs += uint32(l.rnd.IntN(20))
	return frame
}

func (l *line) frame(h *wire.Header, echo uint32) []byte {
	kind := l.rnd.IntN(10)
	if l.seq%20 == 1 {
		kind = 9
	}
	switch kind {
	case 9:
		h.MCUSession *= uint32(l.rnd.IntN(2))
		return wire.AppendHelloRequest(nil, h)
	case 8:
		return wire.AppendParametersRequest(nil, h, uint8(l.rnd.Uint32()))
	case 7:
		return wire.AppendEvent(nil, h, &wire.Event{Code: 1}) // an echo, or crossed wires
	}
	m := wire.Request{EchoMs: echo}
	bendAll(l.rnd, &m.Want)
	if l.rnd.IntN(10) != 0 {
		m.Want.Lease &= 15
		m.Want.Press &= 3
		m.Want.Flags &= 511
	}
	return wire.AppendRequest(nil, h, &m)
}

// disturb changes the bytes of a frame as a bad line or a foreign sender does.
func (l *line) disturb(frame []byte) []byte {
	at := l.rnd.IntN(len(frame))
	switch l.rnd.IntN(30) {
	case 0:
		frame[at] ^= 1 << l.rnd.IntN(8)
	case 1:
		frame = frame[at:]
	case 2:
		frame = append(frame[:at:at], frame[at+1:]...)
	case 3:
		frame = append(frame, l.last...)
	case 4: // noise, now and then longer than any frame
		frame = make([]byte, 1+l.rnd.IntN(700))
		for i := range frame {
			frame[i] = byte(1 + l.rnd.IntN(255))
			if l.rnd.IntN(200) == 0 {
				frame[i] = 0
			}
		}
	case 5:
		frame = append([]byte{0, 0}, frame...)
	case 6:
		frame = l.foreign()
	}
	return frame
}

// foreign is a frame whose CRC is right and whose contents are anything: of
// another version, class or size.
func (l *line) foreign() []byte {
	sizes := []int{0, 1, 32, l.rnd.IntN(36), l.rnd.IntN(235)}
	plain := make([]byte, 15+sizes[l.rnd.IntN(len(sizes))])
	for i := range plain {
		plain[i] = byte(l.rnd.IntN(4) * l.rnd.IntN(256))
	}
	plain[0], plain[1] = byte(1+l.rnd.IntN(3)/2), byte(l.rnd.IntN(22))
	binary.LittleEndian.PutUint16(plain[2:], l.device)
	binary.LittleEndian.PutUint32(plain[4:], l.session)
	binary.LittleEndian.PutUint32(plain[8:], l.host)
	binary.LittleEndian.PutUint16(plain[12:], l.seq)
	plain[14] = byte(len(plain) - 15)
	return sealed(plain)
}

// castagnoli is CRC-32C bit by bit from its polynomial, RFC 3720 appendix B.4.
func castagnoli(bytes []byte) uint32 {
	crc := ^uint32(0)
	for _, b := range bytes {
		crc ^= uint32(b)
		for range 8 {
			crc = crc>>1 ^ 0x82F63B78&-(crc&1)
		}
	}
	return ^crc
}

// bendAll gives every number of a record a value by chance.
func bendAll(rnd *rand.Rand, record any) { chance(rnd, reflect.ValueOf(record).Elem()) }

func chance(rnd *rand.Rand, v reflect.Value) {
	switch {
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			chance(rnd, v.Field(i))
		}
	case v.Kind() == reflect.Array:
		for i := range v.Len() {
			chance(rnd, v.Index(i))
		}
	case v.CanInt():
		v.SetInt(int64(int16(rnd.Uint32())))
	default:
		v.SetUint(rnd.Uint64() >> (64 - v.Type().Bits()))
		if rnd.IntN(4) == 0 {
			v.SetUint(0)
		}
	}
}

// The C receiver gives each byte string of a disturbed line the verdicts of the
// Go receiver, reads the same messages and counts the same.
func TestSameOnDisturbedLines(t *testing.T) {
	p := run(t, build(t, "test/wire_peer.c"))
	var verdicts [wire.NumVerdict]uint32
	frames := max(*steps/20, 3000)
	for seed := uint64(0); frames > 0; seed++ {
		goes := p.disturbedLine(seed, 500)
		frames -= 500
		if d := p.play(); d != nil {
			t.Fatalf("seed %d: %s", seed, d)
		}
		for v, n := range goes.Counts {
			verdicts[v] += n
		}
	}
	t.Logf("verdicts %v", verdicts)
	for v := wire.Accepted; v < wire.NumVerdict; v++ {
		if verdicts[v] < 10 {
			t.Errorf("verdict %q was given only %d times", v, verdicts[v])
		}
	}
}

// disturbedLine puts a line of so many frames on the tape. It returns the Go
// receiver that took them.
func (p *tape) disturbedLine(seed uint64, frames int) wire.Receiver {
	rnd := rand.New(rand.NewPCG(seed, 13))
	l := &line{rnd: rnd, device: 300, session: 1 + uint32(rnd.IntN(9)), host: rnd.Uint32(), nowMs: rnd.Uint32()}
	goes := wire.NewMCUReceiver(l.device, l.session)
	var splitter wire.Splitter
	p.commands = append(p.commands, 'N')
	p.commands = binary.LittleEndian.AppendUint16(p.commands, l.device)
	p.commands = binary.LittleEndian.AppendUint32(p.commands, l.session)
	for range frames {
		p.bytesCame(l.chunk(), l.nowMs, &goes, &splitter)
	}
	return goes
}

// bytesCame gives bytes to the Go receiver and puts them on the tape.
func (p *tape) bytesCame(bytes []byte, nowMs uint32, r *wire.Receiver, splitter *wire.Splitter) {
	le := binary.LittleEndian
	p.commands = le.AppendUint32(append(p.commands, 'B'), nowMs)
	p.commands = le.AppendUint16(p.commands, uint16(len(bytes)))
	p.commands = append(p.commands, bytes...)
	p.mark("bytes from the line")
	var f wire.Frame
	for _, b := range bytes {
		raw, whole := splitter.Feed(b)
		if !whole {
			continue
		}
		v := r.Take(raw, nowMs, &f)
		p.want = append(p.want, byte(v))
		if v != wire.Accepted {
			continue
		}
		p.want = le.AppendUint16(append(p.want, byte(f.Class)), f.Seq)
		p.want = append(p.want, number(r.NewSession))
		switch f.Class {
		case wire.ClassRequest:
			p.want = pack(le.AppendUint32(p.want, f.Request.EchoMs), &f.Request.Want)
		case wire.ClassParametersRequest:
			p.want = append(p.want, f.Index)
		}
	}
	p.want = pack(append(p.want, 0), r.Counts)
	p.want = le.AppendUint32(le.AppendUint32(p.want, r.Gaps), r.Peer())
	p.want = append(le.AppendUint16(p.want, r.Seq()), number(r.Silent(nowMs)))
}

// What the C wire sends is, byte for byte, what the Go wire would.
func TestSameFramesSent(t *testing.T) {
	p := run(t, build(t, "test/wire_peer.c"))
	for seed := range uint64(300) {
		p.framesSent(seed)
	}
	if d := p.play(); d != nil {
		t.Fatal(d)
	}
}

// framesSent puts one message of each kind on the tape.
func (p *tape) framesSent(seed uint64) {
	le := binary.LittleEndian
	rnd := rand.New(rand.NewPCG(seed, 17))
	var h wire.Header
	var hello wire.Hello
	var snapshot rig.Snapshot
	var event wire.Event
	var config warden.Config
	for _, record := range []any{&h, &hello, &snapshot, &event, &config} {
		bendAll(rnd, record)
	}
	begin := func(command byte) {
		p.mark(string(command))
		p.commands = le.AppendUint16(append(p.commands, command), h.Device)
		p.commands = le.AppendUint32(p.commands, h.MCUSession)
		p.commands = le.AppendUint16(le.AppendUint32(p.commands, h.HostSession), h.Seq)
	}
	sent := func(frame []byte) { p.want = append(append(p.want, byte(len(frame))), frame...) }

	begin('H')
	p.commands = pack(p.commands, &hello)
	sent(wire.AppendHello([]byte{0}, &h, &hello))
	begin('S')
	p.commands = pack(p.commands, &snapshot)
	sent(wire.AppendSnapshot(nil, &h, &snapshot))
	begin('E')
	p.commands = pack(p.commands, &event)
	sent(wire.AppendEvent(nil, &h, &event))
	for _, index := range []uint8{0, 1, 2, 3, 7, 255} {
		begin('P')
		p.commands = pack(append(p.commands, index), &config)
		var frame []byte
		if piece, ok := wire.ConfigPiece(wire.EncodeConfig(&config), index); ok {
			frame = wire.AppendParameters(nil, &h, &piece)
		}
		sent(frame)
	}
	p.mark("configuration hash")
	p.commands = pack(append(p.commands, 'K'), &config)
	p.want = le.AppendUint32(p.want, wire.ConfigHash(config))
}
