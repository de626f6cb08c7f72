package chunk

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"slices"

	"github.com/klauspost/compress/zstd"
)

// format is the first byte of a block.
const format = 1

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// Shapes of a column. On disk: written out, never renumbered.
const (
	shapeSame      = 0 // every value is the first
	shapeRamp      = 1 // every difference is the same
	shapeSteps     = 2 // differences to the value before
	shapeStepsBits = 3 // differences to the value before plus a mean step, in bits
	shapeAboutBits = 4 // differences to a level, in bits
	shapeCopy      = 5 // every value is that of the column before
	shapeZero      = 6 // every value is 0
)

// headBytes come before the frame: format and checksum.
const headBytes = 5

// Encoder packs rows. It is not safe for use by several goroutines.
type Encoder struct {
	z     *zstd.Encoder
	raw   []byte
	frame []byte
	bits  bitWriter
	vals  []uint64
	prev  []uint64 // vals of the column before
	diffs []uint64
}

// NewEncoder makes an encoder; it is meant to be kept and used again.
func NewEncoder() (*Encoder, error) {
	z, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1),
		zstd.WithEncoderLevel(zstd.SpeedBestCompression), zstd.WithEncoderCRC(false),
		zstd.WithWindowSize(MaxBytes), zstd.WithSingleSegment(true))
	if err != nil {
		return nil, fmt.Errorf("chunk encoder: %w", err)
	}
	return &Encoder{z: z}, nil
}

// Encode appends the block of rows to dst. There must be 1 to MaxRows rows.
func (e *Encoder) Encode(dst []byte, rows []Row) ([]byte, error) {
	if len(rows) == 0 || len(rows) > MaxRows {
		return dst, fmt.Errorf("chunk of %d rows; 1 to %d go into one", len(rows), MaxRows)
	}
	e.bits.reset()
	e.raw = binary.AppendUvarint(e.raw[:0], uint64(len(rows)))
	for i := range columns {
		e.column(i, rows)
	}
	e.raw = appendSides(e.raw, rows)
	e.frame = e.z.EncodeAll(e.raw, e.frame[:0])

	begin := len(dst)
	dst = append(dst, format, 0, 0, 0, 0)
	dst = binary.AppendUvarint(dst, uint64(len(e.frame)))
	dst = append(dst, e.frame...)
	dst = append(dst, e.bits.bytes()...)
	sum := crc32.Checksum(dst[begin+headBytes:], castagnoli)
	binary.LittleEndian.PutUint32(dst[begin+1:], sum)
	return dst, nil
}

// column appends one column in the shape that suits its values.
func (e *Encoder) column(index int, rows []Row) {
	c := &columns[index]
	e.prev, e.vals = e.vals, e.prev[:0]
	for i := range rows {
		if !c.snap || rows[i].HasSnap {
			e.vals = append(e.vals, c.get(&rows[i]))
		}
	}
	if len(e.vals) == 0 {
		return
	}
	same, ramp := regular(e.vals)
	switch {
	case same && e.vals[0] == 0:
		e.raw = append(e.raw, shapeZero)
	case same:
		e.raw = appendSigned(append(e.raw, shapeSame), e.vals[0])
	case ramp:
		e.raw = appendSigned(append(e.raw, shapeRamp), e.vals[0])
		e.raw = appendSigned(e.raw, e.vals[1]-e.vals[0])
	case copies(index) && slices.Equal(e.vals, e.prev):
		e.raw = append(e.raw, shapeCopy)
	case c.noisy:
		e.inBits()
	default:
		e.raw = appendSigned(append(e.raw, shapeSteps), e.vals[0])
		for i, v := range e.vals[1:] {
			e.raw = appendSigned(e.raw, v-e.vals[i])
		}
	}
}

// inBits writes the column as steps or, if that is shorter, as differences to
// its mean: noise about a level has less spread than its steps.
func (e *Encoder) inBits() {
	n := len(e.vals)
	step := uint64(int64(e.vals[n-1]-e.vals[0]) / int64(n-1))
	width, size := bestWidth(e.steps(step))
	level := mean(e.vals)
	levelWidth, levelSize := bestWidth(e.about(level))
	if levelSize <= size {
		e.raw = appendSigned(append(e.raw, shapeAboutBits, byte(levelWidth)), level)
		e.bits.riceAll(e.diffs, levelWidth)
		return
	}
	e.raw = appendSigned(append(e.raw, shapeStepsBits, byte(width)), e.vals[0])
	e.raw = appendSigned(e.raw, step)
	e.bits.riceAll(e.steps(step), width)
}

// steps fills diffs with the steps between values, less the mean step.
func (e *Encoder) steps(mean uint64) []uint64 {
	e.diffs = e.diffs[:0]
	for i, v := range e.vals[1:] {
		e.diffs = append(e.diffs, zigzag(v-e.vals[i]-mean))
	}
	return e.diffs
}

// about fills diffs with the differences to a level.
func (e *Encoder) about(level uint64) []uint64 {
	e.diffs = e.diffs[:0]
	for _, v := range e.vals {
		e.diffs = append(e.diffs, zigzag(v-level))
	}
	return e.diffs
}

// copies reports whether a column may be a copy of the one before: both must
// have values for the same rows.
func copies(index int) bool {
	return index > 0 && columns[index].snap == columns[index-1].snap
}

// regular tells whether all values are the same, or all differences are.
func regular(vals []uint64) (same, ramp bool) {
	same, ramp = true, true
	for i := 1; i < len(vals); i++ {
		d := vals[i] - vals[i-1]
		same = same && d == 0
		ramp = ramp && d == vals[1]-vals[0]
	}
	return same, ramp
}

// mean is about the middle of the values; any number would be right, a good
// one makes short differences.
func mean(vals []uint64) uint64 {
	sum := int64(0)
	for _, v := range vals {
		sum += int64(v - vals[0])
	}
	return vals[0] + uint64(sum/int64(len(vals)))
}

// zigzag maps small differences of either sign to small numbers. All
// arithmetic wraps, so that every uint64 comes back exactly.
func zigzag(d uint64) uint64 { return d<<1 ^ uint64(int64(d)>>63) }

func unzigzag(z uint64) uint64 { return z>>1 ^ -(z & 1) }

func appendSigned(b []byte, d uint64) []byte { return binary.AppendUvarint(b, zigzag(d)) }
