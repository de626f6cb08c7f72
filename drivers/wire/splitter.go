package wire

// Splitter cuts a stream of bytes at the delimiters. Its buffer is bounded:
// what is longer than any frame is thrown away up to the next delimiter and
// yielded as nil, which a Receiver counts as corrupt. Bytes before the first
// delimiter are the rest of a frame that began before we listened, and are
// passed over. The zero value is ready.
type Splitter struct {
	buf    [MaxEncoded]byte
	n      int
	synced bool
	long   bool
}

// Feed takes one byte. When it is the delimiter that ends a frame, Feed
// returns what stood before it, without the delimiter, and true. The slice
// lives until the next Feed. Empty frames (two delimiters in a row) are idle
// line and yield nothing.
func (s *Splitter) Feed(b byte) ([]byte, bool) {
	if b != 0 {
		switch {
		case !s.synced:
		case s.n == len(s.buf):
			s.long = true
		default:
			s.buf[s.n] = b
			s.n++
		}
		return nil, false
	}
	n, long := s.n, s.long
	s.n, s.long, s.synced = 0, false, true
	if long {
		return nil, true
	}
	return s.buf[:n], n > 0
}
