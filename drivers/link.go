package drivers

import (
	"sync"
	"sync/atomic"
	"time"

	"pressrig/drivers/wire"
	"pressrig/rig"
)

// pollRead is how long a Line's Read waits for bytes, so that a reader sees
// soon that the line was given up. Bytes that come are returned at once.
const pollRead = 50 * time.Millisecond

// readBytes is the most taken in one read: four snapshots.
const readBytes = 512

// link is one opened line with its reader and its writer. The last of the two
// to leave closes the line: the library's Close gives the descriptor's number
// free while a Read or Write may still use it, and the next file opened, the
// journal perhaps, would get bytes meant for the rig.
type link struct {
	line   Line
	box    outbox
	ended  chan struct{} // closed by stop
	closed chan struct{} // closed once the line is
	failed chan error    // first error of reader and of writer
	users  atomic.Int32
	since  atomic.Int64 // when the running write began, ns of base; 0 none
	base   time.Time
}

func newLink(line Line) *link {
	l := &link{
		line:   line,
		ended:  make(chan struct{}),
		closed: make(chan struct{}),
		failed: make(chan error, 2),
		base:   time.Now(),
	}
	l.box.wake = make(chan struct{}, 1)
	l.users.Store(2)
	return l
}

func (l *link) stop() { close(l.ended) }

func (l *link) leave() {
	if l.users.Add(-1) == 0 {
		l.line.Close()
		close(l.closed)
	}
}

func (l *link) over() bool {
	select {
	case <-l.ended:
		return true
	default:
		return false
	}
}

// hangs reports whether the running write has taken longer than limit.
func (l *link) hangs(limit time.Duration) bool {
	since := l.since.Load()
	return since != 0 && time.Since(l.base)-time.Duration(since) > limit
}

// read hands whole frames to take until the line ends. It ends soon after
// stop, for Read never waits longer than pollRead.
func (l *link) read(take func(raw []byte)) {
	defer l.leave()
	var split wire.Splitter
	buf := make([]byte, readBytes)
	for !l.over() {
		n, err := l.line.Read(buf)
		for _, b := range buf[:n] {
			if raw, ok := split.Feed(b); ok {
				take(raw)
			}
		}
		if err != nil {
			l.failed <- err
			return
		}
	}
}

// write is the line's only writer: it takes what the outbox holds until the
// line ends. A write that hangs hangs here alone.
func (l *link) write(encode func([]byte, *job) []byte) {
	defer l.leave()
	buf := make([]byte, 0, 2*wire.MaxEncoded)
	var j job
	for {
		select {
		case <-l.ended:
			return
		case <-l.box.wake:
		}
		for !l.over() && l.box.take(&j) {
			buf = encode(buf[:0], &j)
			if err := l.writeAll(buf); err != nil {
				l.failed <- err
				return
			}
		}
	}
}

func (l *link) writeAll(b []byte) error {
	l.since.Store(max(int64(time.Since(l.base)), 1))
	defer l.since.Store(0)
	for len(b) > 0 {
		n, err := l.line.Write(b)
		if err != nil {
			return err
		}
		b = b[n:]
	}
	return nil
}

// job is one frame to send.
type job struct {
	class   wire.Class
	request rig.Request
	session uint32 // the microcontroller's, that the request is meant for
	piece   uint8
}

// outbox holds at most one frame of each class that the host sends. A newer
// request replaces one that has not left; requests go before the others.
type outbox struct {
	wake chan struct{}

	mu      sync.Mutex
	request rig.Request
	session uint32
	has     bool
	hello   bool
	ask     bool
	piece   uint8
}

// put queues a request and reports whether it replaced one.
func (o *outbox) put(r *rig.Request, session uint32) bool {
	o.mu.Lock()
	replaced := o.has
	o.request, o.session, o.has = *r, session, true
	o.mu.Unlock()
	o.signal()
	return replaced
}

func (o *outbox) askHello() {
	o.mu.Lock()
	o.hello = true
	o.mu.Unlock()
	o.signal()
}

func (o *outbox) askParameters(piece uint8) {
	o.mu.Lock()
	o.ask, o.piece = true, piece
	o.mu.Unlock()
	o.signal()
}

// clear forgets what has not left.
func (o *outbox) clear() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.has, o.hello, o.ask = false, false, false
}

func (o *outbox) signal() {
	select {
	case o.wake <- struct{}{}:
	default: // the writer is awake already
	}
}

// take gives the next frame to send.
func (o *outbox) take(j *job) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	switch {
	case o.has:
		o.has = false
		j.class, j.request, j.session = wire.ClassRequest, o.request, o.session
	case o.hello:
		o.hello = false
		j.class = wire.ClassHelloRequest
	case o.ask:
		o.ask = false
		j.class, j.piece = wire.ClassParametersRequest, o.piece
	default:
		return false
	}
	return true
}
