package firmware_test

import (
	"encoding/binary"
	"math/rand/v2"

	"pressrig/drivers/wire"
)

// sealed is a frame around plain, header first, whatever stands in it: with the
// right CRC and a delimiter.
func sealed(plain []byte) []byte {
	return append(wire.EncodeCOBS(nil, withCRC('H', plain)), 0)
}

// withCRC appends the CRC of a frame from the host ('H') or to it ('M').
func withCRC(from byte, plain []byte) []byte {
	salted := append([]byte{'P', 'R', from, plain[1]}, plain...)
	return binary.LittleEndian.AppendUint32(plain[:len(plain):len(plain)], castagnoli(salted))
}

// aimedLine puts on the tape what chance seldom brings: frames as long and as
// short as they can be, sessions of 0 and 1, numbers and ages at their bounds.
func (p *tape) aimedLine(seed uint64) {
	rnd := rand.New(rand.NewPCG(seed, 23))
	own := 1 + uint32(rnd.IntN(3))
	l := &line{rnd: rnd, device: 300, session: own, host: 1 + uint32(rnd.IntN(2)), nowMs: []uint32{0, 499, rnd.Uint32()}[rnd.IntN(3)]}
	goes := wire.NewMCUReceiver(l.device, own)
	var splitter wire.Splitter
	p.commands = append(p.commands, 'N')
	p.commands = binary.LittleEndian.AppendUint16(p.commands, l.device)
	p.commands = binary.LittleEndian.AppendUint32(p.commands, own)
	p.bytesCame([]byte{0}, l.nowMs, &goes, &splitter)
	for range 300 {
		var bytes []byte // several frames, so that nothing of one is left for the next
		for range 1 + rnd.IntN(3) {
			bytes = append(bytes, l.aimed()...)
		}
		p.bytesCame(bytes, l.nowMs, &goes, &splitter)
		l.nowMs += []uint32{0, 1, 10, 499, 500, 501}[rnd.IntN(6)]
	}
}

// aimed is one frame at a bound.
func (l *line) aimed() []byte {
	h := wire.Header{Device: l.device, MCUSession: l.session, HostSession: l.host}
	l.seq += []uint16{1, 1, 1, 2, 49, 50, 51, 0, 65535}[l.rnd.IntN(9)]
	h.Seq = l.seq
	switch l.rnd.IntN(12) {
	case 0:
		h.MCUSession = uint32(l.rnd.IntN(4))
	case 1:
		h.HostSession = uint32(l.rnd.IntN(3))
	case 2:
		return l.long()
	case 3:
		return short(l.rnd)
	case 4: // no code block is whole
		noise := make([]byte, 1+l.rnd.IntN(300))
		for i := range noise {
			noise[i] = []byte{1, 2, 253, 254, 255, byte(1 + l.rnd.IntN(255))}[l.rnd.IntN(6)]
		}
		return append(noise, 0)
	}
	switch l.rnd.IntN(4) {
	case 0:
		h.MCUSession *= uint32(l.rnd.IntN(2))
		return wire.AppendHelloRequest(nil, &h)
	case 1:
		return wire.AppendParametersRequest(nil, &h, uint8(l.rnd.IntN(4)))
	}
	m := wire.Request{EchoMs: l.nowMs - uint32(199+l.rnd.IntN(3))}
	bendAll(l.rnd, &m.Want)
	m.Want.Lease, m.Want.Press, m.Want.Flags = uint8(l.rnd.IntN(16)), uint8(l.rnd.IntN(4)), uint16(l.rnd.IntN(512))
	switch l.rnd.IntN(8) { // one bit, or one number, too many
	case 0:
		m.Want.Lease |= 16 << l.rnd.IntN(4)
	case 1:
		m.Want.Press = uint8(3 + l.rnd.IntN(3))
	case 2:
		m.Want.Flags |= 512 << l.rnd.IntN(7)
	}
	return wire.AppendRequest(nil, &h, &m)
}

// long is a frame of 251 to 256 bytes, with zeros or without; or the longest
// that there may be, whole but for one byte that follows it.
func (l *line) long() []byte {
	size, oneMore := 247+l.rnd.IntN(6), l.rnd.IntN(3) == 0
	if oneMore {
		size = 249
	}
	plain := make([]byte, size)
	for i := range plain {
		plain[i] = byte(1 + l.rnd.IntN(255))
	}
	if l.rnd.IntN(2) == 0 {
		plain[15+l.rnd.IntN(len(plain)-15)] = 0
	}
	plain[0], plain[1], plain[14] = 1, byte(1+l.rnd.IntN(4)), byte(len(plain)-15)
	frame := sealed(plain)
	if oneMore {
		frame = append(frame[:len(frame)-1], 9, 0)
	}
	return frame
}

// short is a frame that would be right if its header were: of less than 19
// bytes, the CRC right, and in the place of the length what a size below zero
// would be.
func short(rnd *rand.Rand) []byte {
	plain := make([]byte, 14)
	for {
		for i := range plain {
			plain[i] = byte(rnd.IntN(256))
		}
		plain[0], plain[1] = byte(rnd.IntN(2)), byte(1+rnd.IntN(3))
		if frame := withCRC('H', plain); frame[14] == 255 {
			return append(wire.EncodeCOBS(nil, frame), 0)
		}
	}
}

// fullLines puts frames on the tape that begin on a line of every length: what
// has no room is not sent, rather than half of it.
func (p *tape) fullLines() {
	const most, header = 154, 15 // WIRE_LINE_BYTES and WIRE_HEADER_BYTES
	le := binary.LittleEndian
	for start := range most + 1 {
		h := wire.Header{Class: wire.ClassEvent, Device: 300, MCUSession: 1, HostSession: 0x01000200, Seq: 7}
		p.mark("a frame on a filled line")
		p.commands = le.AppendUint16(append(p.commands, 'O'), h.Device)
		p.commands = le.AppendUint32(p.commands, h.MCUSession)
		p.commands = le.AppendUint16(le.AppendUint32(p.commands, h.HostSession), h.Seq)
		p.commands = append(p.commands, byte(start), byte(h.Class), 0)
		switch {
		case start+1+header > most:
			p.want = append(p.want, 255, 0)
			continue
		case start+1+header+4+1 > most:
			p.want = append(p.want, byte(start+1+header), 0)
			continue
		}
		plain := le.AppendUint16([]byte{wire.Version, byte(h.Class)}, h.Device)
		plain = le.AppendUint32(le.AppendUint32(plain, h.MCUSession), h.HostSession)
		plain = append(le.AppendUint16(plain, h.Seq), 0)
		p.want = append(p.want, byte(start+1+header), byte(start+1+header+4+1))
		for range start {
			p.want = append(p.want, 7)
		}
		p.want = append(wire.EncodeCOBS(p.want, withCRC('M', plain)), 0)
	}
}
