package wire

import (
	"encoding/binary"
	"math/bits"
	"math/rand/v2"
	"testing"
)

// crcModel is a CRC in the parameters of the catalogue of parametrised CRC
// algorithms (SV source S38), worked bit by bit: slow and plain, to check the
// fast ones against.
type crcModel struct {
	width      int
	poly, init uint32
	reflected  bool
	xorout     uint32
}

func (m crcModel) mask() uint32 { return uint32(1)<<m.width - 1 }

// register is the CRC of b before the final exclusive-or.
func (m crcModel) register(b []byte) uint32 {
	reg := m.init & m.mask()
	for _, v := range b {
		if m.reflected {
			v = bits.Reverse8(v)
		}
		reg ^= uint32(v) << (m.width - 8)
		for range 8 {
			out := reg >> (m.width - 1) & 1
			reg = reg << 1 & m.mask()
			if out == 1 {
				reg ^= m.poly
			}
		}
	}
	if m.reflected {
		reg = bits.Reverse32(reg) >> (32 - m.width)
	}
	return reg
}

func (m crcModel) sum(b []byte) uint32 { return m.register(b) ^ m.xorout }

var (
	sdlc   = crcModel{16, 0x1021, 0xFFFF, true, 0xFFFF}
	modbus = crcModel{width: 16, poly: 0x8005, init: 0xFFFF, reflected: true}
	dnp    = crcModel{width: 16, poly: 0x3D65, reflected: true, xorout: 0xFFFF}
	ieee   = crcModel{32, 0x04C11DB7, ^uint32(0), true, ^uint32(0)}
	crc32c = crcModel{32, 0x1EDC6F41, ^uint32(0), true, ^uint32(0)}
)

var nine = []byte("123456789")

func TestPublishedCRCs(t *testing.T) {
	tests := []struct {
		id    string
		model crcModel
		in    string
		want  uint32
	}{
		{"SV-001 CRC-16/IBM-SDLC, catalogue S38", sdlc, "123456789", 0x906E},
		{"SV-002 CRC-32/ISO-HDLC, catalogue S38", ieee, "123456789", 0xCBF43926},
		{"SV-003 CRC-32C, catalogue S38", crc32c, "123456789", 0xE3069283},
		{"SV-004 CRC-16/MODBUS, catalogue S38", modbus, "123456789", 0x4B37},
		{"CRC-16/DNP, catalogue S38", dnp, "123456789", 0xEA82},
		{"safety.md 5.1, SDLC of four zeros", sdlc, "\x00\x00\x00\x00", 0xFCDE},
		{"safety.md 5.1, SDLC of four FF", sdlc, "\xff\xff\xff\xff", 0x0F47},
		{"safety.md 5.1, SDLC of A", sdlc, "A", 0xA3F5},
		{"safety.md 5.1, ISO-HDLC of A", ieee, "A", 0xD3D99E8B},
		{"safety.md 5.1, CRC-32C of four zeros", crc32c, "\x00\x00\x00\x00", 0x48674BC7},
		{"safety.md 5.1, CRC-32C of four FF", crc32c, "\xff\xff\xff\xff", 0xFFFFFFFF},
		{"safety.md 5.1, CRC-32C of A", crc32c, "A", 0xE16DCDEE},
		{"SV-017 Modbus 02 07, Modbus over serial line specification", modbus, "\x02\x07", 0x1241},
		{"SV-018 Modbus 01 03 00 00 00 0A, public tests S42", modbus, "\x01\x03\x00\x00\x00\x0a", 0xCDC5},
		{"Modbus 01 04 02 FF FF, public tests S42", modbus, "\x01\x04\x02\xff\xff", 0x80B8},
		{"Modbus 11 03 00 6B 00 03, safety.md 5.5", modbus, "\x11\x03\x00\x6b\x00\x03", 0x8776},
	}
	for _, tt := range tests {
		if got := tt.model.sum([]byte(tt.in)); got != tt.want {
			t.Errorf("%s: got %X, want %X", tt.id, got, tt.want)
		}
	}
}

// SV-017 and SV-018 as they stand on the wire: low byte first.
func TestModbusBytesOnTheWire(t *testing.T) {
	for in, want := range map[string]string{
		"\x02\x07":                 "\x41\x12",
		"\x01\x03\x00\x00\x00\x0a": "\xc5\xcd",
	} {
		got := binary.LittleEndian.AppendUint16(nil, uint16(modbus.sum([]byte(in))))
		if string(got) != want {
			t.Errorf("% X: got % X, want % X", in, got, want)
		}
	}
}

// A message followed by its own CRC always leaves the same residue.
func TestResidues(t *testing.T) {
	msg := append([]byte(nil), nine...)
	withSDLC := binary.LittleEndian.AppendUint16(msg, uint16(sdlc.sum(msg)))
	if got := sdlc.register(withSDLC); got != 0xF0B8 {
		t.Errorf("SV-005 SDLC residue, catalogue S38: got %X, want F0B8", got)
	}
	withC := binary.LittleEndian.AppendUint32(msg, crc32c.sum(msg))
	if got := crc32c.sum(withC); got != 0x48674BC7 {
		t.Errorf("SV-006 CRC-32C of message and CRC, safety.md 5.1: got %X, want 48674BC7", got)
	}
}

// firmwareTable is how PROTOCOL.md tells a firmware to make its table.
func firmwareTable() (table [256]uint32) {
	for i := range table {
		crc := uint32(i)
		for range 8 {
			crc = crc>>1 ^ 0x82F63B78&-(crc&1)
		}
		table[i] = crc
	}
	return table
}

// The byte-wise algorithm of PROTOCOL.md 3.1, the library and the bit-wise
// reference agree on any bytes, salt included.
func TestFirmwareCRCEqualsOurs(t *testing.T) {
	table := firmwareTable()
	rnd := rand.New(rand.NewPCG(1, 2))
	for n := HeaderBytes; n < MaxFrame; n++ {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(rnd.Uint32())
		}
		prefix := []byte{'P', 'R', byte(FromMCU), b[atClass]}
		crc := ^uint32(0)
		for _, v := range append(prefix, b...) {
			crc = table[byte(crc)^v] ^ crc>>8
		}
		if got, want := checksum(FromMCU, b), ^crc; got != want {
			t.Fatalf("%d bytes: ours %08X, firmware's %08X", n, got, want)
		}
		if want := crc32c.sum(append(prefix, b...)); ^crc != want {
			t.Fatalf("%d bytes: firmware's %08X, reference %08X", n, ^crc, want)
		}
	}
}
