package wire

// Consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM Transactions
// on Networking 7(2), 1999): every zero byte becomes the distance to the next
// one, so that 00 is free to mark the end of a frame.

// EncodeCOBS appends the encoding of src to dst, without the delimiter. It
// takes any length: n bytes become n+1, and one more for each whole 254.
func EncodeCOBS(dst, src []byte) []byte {
	code := len(dst) // where the code byte of the running block stands
	dst = append(dst, 1)
	for i, b := range src {
		if b != 0 {
			dst = append(dst, b)
			dst[code]++
		}
		full := dst[code] == 0xFF && i+1 < len(src)
		if b == 0 || full {
			code = len(dst)
			dst = append(dst, 1)
		}
	}
	return dst
}

// stuff encodes frame in place. frame[0] is room for the code byte, and at
// most MaxFrame bytes follow, so that no second code byte can be needed.
func stuff(frame []byte) {
	next := len(frame) // where the next zero is, or the delimiter will be
	for i := len(frame) - 1; i >= 0; i-- {
		if frame[i] == 0 {
			frame[i] = byte(next - i)
			next = i
		}
	}
}

// DecodeCOBS decodes src, the bytes between two delimiters, into dst and
// returns how many bytes it wrote. It refuses (false) an empty src, a 00
// inside, a code byte that points past the end, and what does not fit in dst.
// dst and src may be the same memory: the output never overtakes the input.
func DecodeCOBS(dst, src []byte) (int, bool) {
	if len(src) == 0 {
		return 0, false
	}
	n := 0
	for i := 0; i < len(src); {
		code := int(src[i])
		end := i + code
		if code == 0 || end > len(src) || n+code-1 > len(dst) {
			return 0, false
		}
		for i++; i < end; i++ {
			if src[i] == 0 {
				return 0, false
			}
			dst[n] = src[i]
			n++
		}
		if code == 0xFF || end == len(src) {
			continue // a full block, or the last one, stands for no zero
		}
		if n == len(dst) {
			return 0, false
		}
		dst[n] = 0
		n++
	}
	return n, true
}
