package bench

// Sizes of the line's queues, in bytes. A frame is at most 110 bytes on the
// wire; a run of bytes without a delimiter is cut at gatherMax.
const (
	gatherMax = 256
	queueMax  = 8192 // a third of a second of the fastest line in use
	lateMax   = 64   // frames under way at the longest delay worth trying
)

// lineUpsets is what is wrong with the line, both ways. Shares are 0 to 1.
type lineUpsets struct {
	flip, drop, repeat, swap float64
	delayMs                  uint16
	cut                      bool
}

// queue is a ring of bytes.
type queue struct {
	buf     [queueMax]byte
	head, n int
}

func (q *queue) room() int { return queueMax - q.n }

// put appends all of p or, when it does not fit, nothing.
func (q *queue) put(p []byte) bool {
	if len(p) > q.room() {
		return false
	}
	for _, b := range p {
		q.buf[(q.head+q.n)%queueMax] = b
		q.n++
	}
	return true
}

func (q *queue) take() byte {
	b := q.buf[q.head]
	q.head = (q.head + 1) % queueMax
	q.n--
	return b
}

// appendAll moves everything to the end of dst.
func (q *queue) appendAll(dst []byte) []byte {
	for q.n > 0 {
		dst = append(dst, q.take())
	}
	return dst
}

// gathered is one frame with its delimiter.
type gathered struct {
	buf [gatherMax]byte
	n   int
}

func (g *gathered) bytes() []byte { return g.buf[:g.n] }

type lateFrame struct {
	dueMs uint64
	gathered
}

// line is one direction of the wire: bytes wait in from, cross at the line's
// speed, and come out in to, whole frames at a time, at the moment when their
// last byte has crossed.
type line struct {
	from, to   queue
	baud       uint32
	credit     uint32 // bits times 1,000 that may still cross
	frame      gathered
	held       gathered // swapped, waits for the next
	late       [lateMax]lateFrame
	first, lag int    // ring of late
	dropped    uint32 // whole frames lost because to was full
	crossed    uint64 // frames that came out
}

// step lets one millisecond of bytes cross.
func (l *line) step(nowMs uint64, u *lineUpsets, rnd *chance) {
	const bitsPerByte = 10 * 1000 // start, 8, stop; times 1,000
	l.credit = min(l.credit+l.baud, max(l.baud, bitsPerByte)+bitsPerByte)
	for l.from.n > 0 && l.credit >= bitsPerByte {
		l.credit -= bitsPerByte
		l.cross(l.from.take(), nowMs, u, rnd)
	}
	if l.from.n == 0 {
		l.credit = min(l.credit, bitsPerByte)
	}
	for l.lag > 0 && nowMs >= l.late[l.first].dueMs {
		l.emit(&l.late[l.first].gathered)
		l.first = (l.first + 1) % lateMax
		l.lag--
	}
}

func (l *line) cross(b byte, nowMs uint64, u *lineUpsets, rnd *chance) {
	if u.cut {
		l.frame.n = 0
		return
	}
	if u.flip > 0 && rnd.share() < u.flip {
		b ^= 1 << (rnd.next() & 7)
	}
	l.frame.buf[l.frame.n] = b
	l.frame.n++
	if b != 0 && l.frame.n < gatherMax {
		return
	}
	l.fate(nowMs, u, rnd)
	l.frame.n = 0
}

// fate decides what becomes of the frame that is complete now. A delimiter
// alone is no frame and always passes.
func (l *line) fate(nowMs uint64, u *lineUpsets, rnd *chance) {
	if l.frame.n > 1 {
		if u.drop > 0 && rnd.share() < u.drop {
			return
		}
		if u.swap > 0 && l.held.n == 0 && rnd.share() < u.swap {
			l.held = l.frame
			return
		}
	}
	l.send(&l.frame, nowMs, u)
	if l.frame.n > 1 && u.repeat > 0 && rnd.share() < u.repeat {
		l.send(&l.frame, nowMs, u)
	}
	if l.held.n > 0 && l.frame.n > 1 {
		l.send(&l.held, nowMs, u)
		l.held.n = 0
	}
}

func (l *line) send(g *gathered, nowMs uint64, u *lineUpsets) {
	if u.delayMs == 0 && l.lag == 0 {
		l.emit(g)
		return
	}
	if l.lag == lateMax {
		l.dropped++
		return
	}
	l.late[(l.first+l.lag)%lateMax] = lateFrame{nowMs + uint64(u.delayMs), *g}
	l.lag++
}

func (l *line) emit(g *gathered) {
	if !l.to.put(g.bytes()) {
		l.dropped++
		return
	}
	if g.n > 1 {
		l.crossed++
	}
}

// clear forgets all that is under way: the microcontroller restarted.
func (l *line) clear() {
	l.from.n, l.to.n, l.frame.n, l.held.n, l.lag = 0, 0, 0, 0, 0
}
