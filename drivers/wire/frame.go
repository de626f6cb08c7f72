package wire

import "encoding/binary"

// Version is the protocol's version, the first byte of each frame. Version and
// class bytes, framing and CRC keep their places in every later version.
const Version uint8 = 2

// Sizes in bytes.
const (
	HeaderBytes = 15
	CRCBytes    = 4
	// MaxFrame is the longest frame before COBS: one code block, so that the
	// overhead is one byte always. No message comes near it.
	MaxFrame = 253
	// MaxEncoded is the longest frame between two delimiters.
	MaxEncoded = MaxFrame + 1
)

// Offsets in the header; integers are little-endian.
const (
	atVersion = 0
	atClass   = 1
	atDevice  = 2
	atMCU     = 4
	atHost    = 8
	atSeq     = 12
	atLength  = 14
)

// Direction says who sent a frame. It is part of the CRC's salt only.
type Direction uint8

// The two directions.
const (
	FromHost Direction = 'H'
	FromMCU  Direction = 'M'
)

// Class is the kind of a message. Written out, never renumbered.
type Class uint8

// Classes from the host, then from the microcontroller.
const (
	ClassHelloRequest      Class = 1
	ClassRequest           Class = 2
	ClassParametersRequest Class = 3

	ClassHello      Class = 17
	ClassSnapshot   Class = 18
	ClassEvent      Class = 19
	ClassParameters Class = 20
)

// Header is what every frame begins with. Version and length are not in it:
// the codec writes and checks them.
type Header struct {
	Class       Class
	Device      uint16 // id of the microcontroller, both ways
	MCUSession  uint32 // boot counter stored at the microcontroller, from 1; 0 not known yet
	HostSession uint32 // random, new at each start of the daemon; 0 none yet
	Seq         uint16 // one counter for each sender over all classes, wraps
}

// Frame is one decoded frame: its header and the message that Class names.
// The other messages keep what they had. Reuse one Frame for all frames.
type Frame struct {
	Header
	Hello      Hello
	Request    Request
	Snapshot   Snapshot
	Event      Event
	Parameters Parameters
	Index      uint8 // ClassParametersRequest: the piece wanted

	raw [MaxFrame]byte // decoding happens here, so that nothing is allocated
	in  fields
}

// begin appends room for the COBS code byte and then the header. It returns
// where the frame starts in dst.
func begin(dst []byte, h *Header, class Class) ([]byte, int) {
	start := len(dst)
	le := binary.LittleEndian
	dst = append(dst, 0, Version, byte(class))
	dst = le.AppendUint16(dst, h.Device)
	dst = le.AppendUint32(dst, h.MCUSession)
	dst = le.AppendUint32(dst, h.HostSession)
	dst = le.AppendUint16(dst, h.Seq)
	return append(dst, 0), start
}

// finish fills in the length, appends the CRC, stuffs and delimits the frame.
func finish(dst []byte, start int, from Direction) []byte {
	plain := dst[start+1:]
	plain[atLength] = byte(len(plain) - HeaderBytes)
	dst = binary.LittleEndian.AppendUint32(dst, checksum(from, plain))
	stuff(dst[start:])
	return append(dst, 0)
}

// Decode reads the bytes between two delimiters as a frame sent by from. It
// returns Accepted, Corrupt, BadVersion, WrongClass or BadValue; f's header is
// set unless the frame is Corrupt. Sessions, order and age are Receiver's.
func Decode(raw []byte, from Direction, f *Frame) Verdict {
	n, ok := DecodeCOBS(f.raw[:], raw)
	if !ok || n < HeaderBytes+CRCBytes {
		return Corrupt
	}
	body := f.raw[:n-CRCBytes]
	le := binary.LittleEndian
	if int(body[atLength]) != len(body)-HeaderBytes ||
		checksum(from, body) != le.Uint32(f.raw[n-CRCBytes:n]) {
		return Corrupt
	}
	f.Header = Header{
		Class:       Class(body[atClass]),
		Device:      le.Uint16(body[atDevice:]),
		MCUSession:  le.Uint32(body[atMCU:]),
		HostSession: le.Uint32(body[atHost:]),
		Seq:         le.Uint16(body[atSeq:]),
	}
	if body[atVersion] != Version {
		return BadVersion
	}
	return f.payload(from, body[HeaderBytes:])
}

// payload reads the message that the header names.
func (f *Frame) payload(from Direction, p []byte) Verdict {
	m := layoutOf(f.Class)
	if m == nil || m.from != from {
		return WrongClass
	}
	f.in.left = p
	if len(p) < m.least || len(p) > m.most || !m.decode(f, &f.in) {
		return BadValue
	}
	return Accepted
}
