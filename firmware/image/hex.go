package image

import (
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
)

// FlashBytes is the flash of an ATmega2560.
const FlashBytes = 256 << 10

// Record types of Intel HEX. Start addresses (3 and 5) mean nothing to a board
// that starts at address 0; compiler and programmers write none.
const (
	recordData    = 0
	recordEnd     = 1
	recordSegment = 2 // bits 4 to 19 of the addresses that follow
	recordLinear  = 4 // bits 16 to 31 of the addresses that follow
	recordMost    = 255
	recordWritten = 16 // data bytes of a record that WriteHex writes
)

// ErrNoEnd is a file that was cut off.
var ErrNoEnd = errors.New("no end record; the file was cut off")

// Segment is bytes in flash from one address on.
type Segment struct {
	Address uint32
	Bytes   []byte
}

// End is the address behind the last byte.
func (s Segment) End() uint32 { return s.Address + uint32(len(s.Bytes)) }

// ReadHex reads Intel HEX strictly: addresses ascend, every checksum and length
// is right, nothing lies outside the flash or follows the end record. Bytes
// that adjoin come as one segment.
func ReadHex(text []byte) ([]Segment, error) {
	var r hexReader
	lines := strings.Split(string(text), "\n")
	for i, line := range lines {
		line = strings.TrimSuffix(line, "\r")
		if line == "" && i == len(lines)-1 {
			break // behind the last line feed
		}
		if err := r.line(line); err != nil {
			return nil, fmt.Errorf("line %d: %w", i+1, err)
		}
	}
	if !r.ended {
		return nil, ErrNoEnd
	}
	return r.segments, nil
}

type hexReader struct {
	base     uint32
	segments []Segment
	ended    bool
}

func (r *hexReader) line(line string) error {
	if r.ended {
		return errors.New("something follows the end record")
	}
	digits, colon := strings.CutPrefix(line, ":")
	if !colon {
		return errors.New("a record begins with a colon")
	}
	if len(digits) > 2*(recordMost+5) {
		return fmt.Errorf("%d digits; a record has at most %d", len(digits), 2*(recordMost+5))
	}
	raw, err := hex.DecodeString(digits)
	if err != nil {
		return fmt.Errorf("not hexadecimal: %w", err)
	}
	if len(raw) < 5 || len(raw) != int(raw[0])+5 {
		return fmt.Errorf("%d bytes do not fit the record's own length", len(raw))
	}
	sum := byte(0)
	for _, b := range raw {
		sum += b
	}
	if sum != 0 {
		last := raw[len(raw)-1]
		return fmt.Errorf("checksum is %02X; the bytes give %02X", last, last-sum)
	}
	return r.record(raw[3], uint32(raw[1])<<8|uint32(raw[2]), raw[4:len(raw)-1])
}

func (r *hexReader) record(kind byte, offset uint32, data []byte) error {
	switch {
	case kind == recordData:
		return r.data(offset, data)
	case kind == recordEnd && len(data) == 0 && offset == 0:
		r.ended = true
	case kind == recordSegment && len(data) == 2 && offset == 0:
		r.base = (uint32(data[0])<<8 | uint32(data[1])) << 4
	case kind == recordLinear && len(data) == 2 && offset == 0:
		r.base = (uint32(data[0])<<8 | uint32(data[1])) << 16
	case kind <= recordLinear && kind != 3:
		return fmt.Errorf("a record of type %d with %d bytes at %04X", kind, len(data), offset)
	default:
		return fmt.Errorf("record type %d; 0, 1, 2 and 4 are known here", kind)
	}
	return nil
}

func (r *hexReader) data(offset uint32, data []byte) error {
	if len(data) == 0 {
		return errors.New("a data record without data")
	}
	s := Segment{Address: r.base + offset, Bytes: data}
	if offset+uint32(len(data)) > 1<<16 {
		return fmt.Errorf("%d bytes at %04X run past the end of their 64 KiB", len(data), offset)
	}
	if s.Address >= FlashBytes || s.End() > FlashBytes {
		return fmt.Errorf("address %X; the flash ends at %X", s.Address, FlashBytes)
	}
	if n := len(r.segments); n > 0 {
		before := &r.segments[n-1]
		if s.Address < before.End() {
			return fmt.Errorf("address %X comes after %X; addresses ascend", s.Address, before.End())
		}
		if s.Address == before.End() {
			before.Bytes = append(before.Bytes, data...)
			return nil
		}
	}
	r.segments = append(r.segments, s)
	return nil
}

// WriteHex writes segments, which ascend and lie in the flash, as Intel HEX.
func WriteHex(segments ...Segment) []byte {
	var b strings.Builder
	base := uint32(0)
	for _, s := range segments {
		for at := uint32(0); at < uint32(len(s.Bytes)); {
			address := s.Address + at
			if high := address >> 16; high != base {
				base = high
				record(&b, recordLinear, 0, []byte{byte(high >> 8), byte(high)})
			}
			n := min(recordWritten, uint32(len(s.Bytes))-at, 1<<16-address&0xFFFF)
			record(&b, recordData, uint16(address), s.Bytes[at:at+n])
			at += n
		}
	}
	record(&b, recordEnd, 0, nil)
	return []byte(b.String())
}

func record(b *strings.Builder, kind byte, offset uint16, data []byte) {
	raw := append([]byte{byte(len(data)), byte(offset >> 8), byte(offset), kind}, data...)
	sum := byte(0)
	for _, v := range raw {
		sum -= v
	}
	fmt.Fprintf(b, ":%X\n", append(raw, sum))
}
