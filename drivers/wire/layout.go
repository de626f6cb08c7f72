package wire

import "encoding/binary"

// layout is one row of the frame table: who sends a class, how long its
// payload may be, and how it is read.
type layout struct {
	class       Class
	name        string
	from        Direction
	least, most int // payload bytes
	decode      func(*Frame, *fields) bool
}

// layouts is the frame table; PROTOCOL.md has the same rows.
var layouts = [...]layout{
	{ClassHelloRequest, "hello request", FromHost, 0, 0, func(*Frame, *fields) bool { return true }},
	{ClassRequest, "request", FromHost, 32, 32, (*Frame).decodeRequest},
	{ClassParametersRequest, "parameters request", FromHost, 1, 1, (*Frame).decodeIndex},
	{ClassHello, "hello", FromMCU, 40, 40, (*Frame).decodeHello},
	{ClassSnapshot, "snapshot", FromMCU, 88, 88, (*Frame).decodeSnapshot},
	{ClassEvent, "event", FromMCU, 10, 10, (*Frame).decodeEvent},
	{ClassParameters, "parameters", FromMCU, 3, 2 + PieceBytes, (*Frame).decodeParameters},
}

func layoutOf(c Class) *layout {
	for i := range layouts {
		if layouts[i].class == c {
			return &layouts[i]
		}
	}
	return nil
}

// String is the class's name in lower case.
func (c Class) String() string {
	if m := layoutOf(c); m != nil {
		return m.name
	}
	return "class?"
}

// WireBytes is the greatest number of bytes that a frame of this class takes
// on the line: header, payload, CRC, COBS code byte and delimiter. It is 0 for
// an unknown class.
func (c Class) WireBytes() int {
	m := layoutOf(c)
	if m == nil {
		return 0
	}
	return HeaderBytes + m.most + CRCBytes + 2
}

// fields takes little-endian integers off a payload whose length the frame
// table has checked.
type fields struct{ left []byte }

func (f *fields) u8() uint8 {
	v := f.left[0]
	f.left = f.left[1:]
	return v
}

func (f *fields) u16() uint16 {
	v := binary.LittleEndian.Uint16(f.left)
	f.left = f.left[2:]
	return v
}

func (f *fields) i16() int16 { return int16(f.u16()) }

func (f *fields) u32() uint32 {
	v := binary.LittleEndian.Uint32(f.left)
	f.left = f.left[4:]
	return v
}

func (f *fields) u64() uint64 {
	v := binary.LittleEndian.Uint64(f.left)
	f.left = f.left[8:]
	return v
}
