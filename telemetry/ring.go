package telemetry

// ring is a first-in first-out queue of fixed size: pushing into a full one
// drops the oldest and counts it. Items are numbered, so that a reader can
// peek, work without the lock, and then drop exactly what it has read.
type ring[T any] struct {
	buf   []T
	first uint64 // number of the oldest item
	n     int
	lost  uint64 // dropped because full
}

func newRing[T any](size int) ring[T] { return ring[T]{buf: make([]T, size)} }

func (r *ring[T]) slot(number uint64) *T { return &r.buf[number%uint64(len(r.buf))] }

func (r *ring[T]) push(v *T) {
	if r.n == len(r.buf) {
		r.first++
		r.n--
		r.lost++
	}
	*r.slot(r.first + uint64(r.n)) = *v
	r.n++
}

// next is the number that the next pushed item will get.
func (r *ring[T]) next() uint64 { return r.first + uint64(r.n) }

// peek copies the oldest item and its number.
func (r *ring[T]) peek() (v T, number uint64, ok bool) {
	if r.n == 0 {
		return v, 0, false
	}
	return *r.slot(r.first), r.first, true
}

// drop removes the oldest item if it still is the one with this number.
func (r *ring[T]) drop(number uint64) {
	if r.n == 0 || r.first != number {
		return // overwritten meanwhile: it was counted as lost
	}
	var zero T
	*r.slot(number) = zero // let go of what it points to
	r.first++
	r.n--
}
