package chunk

// Rice's code writes a number as its high part in ones and a zero, then its
// low width bits. From Robert F. Rice, "Some practical universal noiseless
// coding techniques", JPL Publication 79-22, 1979 (from memory).

const (
	// maxWidth of a low part; wider numbers are rare enough for the escape.
	maxWidth = 20
	// escape ones mean that the number follows whole, in 64 bits.
	escape = 24
)

// bestWidth is the width that makes vals shortest, and how many bits they take.
func bestWidth(vals []uint64) (width uint, size uint64) {
	for w := uint(0); w <= maxWidth; w++ {
		bits := uint64(0)
		for _, v := range vals {
			bits += riceBits(v, w)
		}
		if w == 0 || bits < size {
			width, size = w, bits
		}
	}
	return width, size
}

func riceBits(v uint64, width uint) uint64 {
	if v>>width >= escape {
		return escape + 64
	}
	return v>>width + 1 + uint64(width)
}

// bitWriter appends bits, the first one highest.
type bitWriter struct {
	b   []byte
	acc uint64 // its low n bits are not yet in b
	n   uint
}

func (w *bitWriter) reset() { w.b, w.acc, w.n = w.b[:0], 0, 0 }

// put appends the low n bits of v, n <= 32.
func (w *bitWriter) put(v uint64, n uint) {
	w.acc = w.acc<<n | v&(1<<n-1)
	w.n += n
	for w.n >= 8 {
		w.n -= 8
		w.b = append(w.b, byte(w.acc>>w.n))
	}
}

func (w *bitWriter) rice(v uint64, width uint) {
	high := v >> width
	if high >= escape {
		w.put(1<<escape-1, escape)
		w.put(v>>32, 32)
		w.put(v, 32)
		return
	}
	w.put(1<<(high+1)-2, uint(high)+1)
	w.put(v, width)
}

func (w *bitWriter) riceAll(vals []uint64, width uint) {
	for _, v := range vals {
		w.rice(v, width)
	}
}

// bytes ends the last byte with zeros.
func (w *bitWriter) bytes() []byte {
	if w.n > 0 {
		w.put(0, 8-w.n)
	}
	return w.b
}

// bitReader takes bits; past the end it gives zeros and remembers.
type bitReader struct {
	b    []byte
	acc  uint64 // its low n bits come next
	n    uint
	over bool
}

// get takes n bits, n <= 32.
func (r *bitReader) get(n uint) uint64 {
	for r.n < n {
		r.acc <<= 8
		if len(r.b) == 0 {
			r.over = true
		} else {
			r.acc |= uint64(r.b[0])
			r.b = r.b[1:]
		}
		r.n += 8
	}
	r.n -= n
	return r.acc >> r.n & (1<<n - 1)
}

func (r *bitReader) rice(width uint) uint64 {
	high := uint64(0)
	for r.get(1) == 1 {
		if high++; high == escape {
			return r.get(32)<<32 | r.get(32)
		}
	}
	return high<<width | r.get(width)
}

// rest reports whether more than the filling of the last byte is left.
func (r *bitReader) rest() bool { return len(r.b) > 0 || r.acc&(1<<r.n-1) != 0 }
