package chunk

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"

	"github.com/klauspost/compress/zstd"
)

// ErrCorrupt is wrapped by every error about the content of a block.
var ErrCorrupt = errors.New("chunk is corrupt")

// Decoder unpacks blocks. It is not safe for use by several goroutines.
type Decoder struct {
	z   *zstd.Decoder
	raw []byte
}

// NewDecoder makes a decoder; it is meant to be kept and used again.
func NewDecoder() (*Decoder, error) {
	z, err := zstd.NewReader(nil, zstd.WithDecoderConcurrency(1),
		zstd.WithDecoderMaxMemory(MaxBytes), zstd.WithDecoderLowmem(true))
	if err != nil {
		return nil, fmt.Errorf("chunk decoder: %w", err)
	}
	return &Decoder{z: z}, nil
}

// Decode appends the rows of block to dst, all fields.
func (d *Decoder) Decode(dst []Row, block []byte) ([]Row, error) {
	return d.decode(dst, block, len(columns))
}

// DecodeTrace appends the rows of block to dst with only what a trace needs:
// ElapsedMs, Journal.Writable, HasSnap and of Snap the analog values with
// their validity, In, Out, Burner, Press and Flags. It takes half the time.
func (d *Decoder) DecodeTrace(dst []Row, block []byte) ([]Row, error) {
	return d.decode(dst, block, numTrace)
}

func (d *Decoder) decode(dst []Row, block []byte, want int) ([]Row, error) {
	r, err := d.open(block)
	if err != nil {
		return dst, err
	}
	n := r.uvarint("number of rows", MaxRows)
	if n == 0 {
		r.fail("no rows")
	}
	if r.err != nil {
		return dst, r.err
	}
	was := len(dst)
	for range n {
		dst = append(dst, Row{})
	}
	r.rows(dst[was:], want)
	if r.err != nil {
		return dst[:was], r.err
	}
	return dst, nil
}

// open checks the block's head and unpacks its frame.
func (d *Decoder) open(block []byte) (reader, error) {
	if len(block) <= headBytes || len(block) > MaxBytes {
		return reader{}, fmt.Errorf("%w: %d bytes; %d to %d are possible",
			ErrCorrupt, len(block), headBytes+1, MaxBytes)
	}
	if block[0] != format {
		return reader{}, fmt.Errorf("%w: format %d; this program reads %d",
			ErrCorrupt, block[0], format)
	}
	want := binary.LittleEndian.Uint32(block[1:])
	if sum := crc32.Checksum(block[headBytes:], castagnoli); sum != want {
		return reader{}, fmt.Errorf("%w: checksum %08x, stored is %08x", ErrCorrupt, sum, want)
	}
	head := reader{b: block[headBytes:]}
	size := head.uvarint("size of the frame", uint64(len(block)))
	if size > uint64(len(head.b)) {
		head.fail("frame cut short")
	}
	if head.err != nil {
		return reader{}, head.err
	}
	raw, err := d.z.DecodeAll(head.b[:size], d.raw[:0])
	if err != nil {
		return reader{}, fmt.Errorf("%w: %w", ErrCorrupt, err)
	}
	d.raw = raw
	return reader{b: raw, bits: bitReader{b: head.b[size:]}}, nil
}

// reader takes a block apart; after its first error it only gives zeros.
type reader struct {
	b    []byte
	bits bitReader
	err  error
}

func (d *reader) rows(rows []Row, want int) {
	for i := range columns[:want] {
		d.column(i, rows)
		if d.err != nil {
			return
		}
	}
	if want < len(columns) {
		return
	}
	d.sides(rows)
	if d.err == nil && (len(d.b) > 0 || d.bits.rest()) {
		d.fail("something comes after the last row")
	}
}

// shape is how a column was written, as far as it has been read.
type shape struct {
	kind  byte
	value uint64 // the value before, or the level
	ramp  uint64
	width uint
}

func (d *reader) column(index int, rows []Row) {
	c := &columns[index]
	var s shape
	begun := false
	for i := range rows {
		if c.snap && !rows[i].HasSnap {
			continue
		}
		v := d.value(&s, begun, index)
		begun = true
		if s.kind == shapeCopy && d.err == nil {
			v = columns[index-1].get(&rows[i])
		}
		if d.bits.over {
			d.fail("bits cut short")
		}
		if !c.set(&rows[i], v) {
			d.fail("column %d, row %d: %d does not fit", index, i, int64(v))
		}
		if d.err != nil {
			return
		}
	}
}

// value is the next value of a column; the first comes with its head.
func (d *reader) value(s *shape, begun bool, index int) uint64 {
	if begun {
		return d.next(s)
	}
	s.kind = d.byte("shape of a column", 7)
	switch s.kind {
	case shapeZero:
	case shapeSame, shapeSteps:
		s.value = d.signed()
	case shapeRamp:
		s.value, s.ramp = d.signed(), d.signed()
	case shapeStepsBits:
		s.width = d.width()
		s.value, s.ramp = d.signed(), d.signed()
	case shapeAboutBits:
		s.width = d.width()
		s.value = d.signed()
		return d.next(s)
	case shapeCopy:
		if !copies(index) {
			d.fail("column %d cannot be a copy", index)
		}
	default:
		d.fail("shape %d is not known", s.kind)
	}
	return s.value
}

func (d *reader) width() uint {
	w := uint(d.byte("width", 31))
	if w > maxWidth {
		d.fail("width %d; at most %d is possible", w, maxWidth)
		return 0
	}
	return w
}

func (d *reader) next(s *shape) uint64 {
	switch s.kind {
	case shapeSteps:
		s.value += d.signed()
	case shapeStepsBits:
		s.value += s.ramp + unzigzag(d.bits.rice(s.width))
	case shapeAboutBits:
		return s.value + unzigzag(d.bits.rice(s.width))
	default:
		s.value += s.ramp
	}
	return s.value
}

func (d *reader) signed() uint64 {
	if d.err == nil && len(d.b) > 0 && d.b[0] < 0x80 { // nearly all of them
		v := uint64(d.b[0])
		d.b = d.b[1:]
		return unzigzag(v)
	}
	return unzigzag(d.uvarint("value", 1<<64-1))
}

func (d *reader) uvarint(what string, most uint64) uint64 {
	if d.err != nil {
		return 0
	}
	v, n := binary.Uvarint(d.b)
	if n <= 0 {
		d.fail("%s cut short", what)
		return 0
	}
	d.b = d.b[n:]
	if v > most {
		d.fail("%s is %d; at most %d is possible", what, v, most)
		return 0
	}
	return v
}

// byte takes one byte whose bits must all be in known.
func (d *reader) byte(what string, known byte) byte {
	if d.err == nil && len(d.b) == 0 {
		d.fail("%s cut short", what)
	}
	if d.err != nil {
		return 0
	}
	v := d.b[0]
	d.b = d.b[1:]
	if v&^known != 0 {
		d.fail("%s has unknown bits: %#x", what, v)
		return 0
	}
	return v
}

func (d *reader) text(what string) string {
	n := d.uvarint(what, MaxBy)
	if uint64(len(d.b)) < n {
		d.fail("%s cut short", what)
	}
	if d.err != nil {
		return ""
	}
	s := string(d.b[:n])
	d.b = d.b[n:]
	return s
}

func (d *reader) fail(form string, args ...any) {
	if d.err == nil {
		d.err = fmt.Errorf("%w: %s", ErrCorrupt, fmt.Sprintf(form, args...))
	}
}
