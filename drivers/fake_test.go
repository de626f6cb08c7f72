package drivers

import (
	"cmp"
	"errors"
	"io"
	"net"
	"os"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// No test may leave a goroutine behind.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// Invented identities.
const (
	testDevice uint16 = 0x0207
	testHost   uint32 = 0x9E3779B9
	testMCU    uint32 = 300
)

// pipeLine is one end of a net.Pipe as a Line: writes wait until the other end
// reads, which is how a hung device behaves.
type pipeLine struct{ net.Conn }

func (p pipeLine) Read(b []byte) (int, error) {
	p.SetReadDeadline(time.Now().Add(pollRead))
	n, err := p.Conn.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return n, err
}

// board is a microcontroller at the far end of a pipe. It reads all the time
// and keeps what it accepted; deaf boards read nothing.
type board struct {
	t    *testing.T
	conn io.ReadWriteCloser
	rx   wire.Receiver
	head wire.Header
	done chan struct{}

	mu     sync.Mutex
	mute   bool // answers nothing
	config []byte
	scale  uint16
	name   string       // firmware's, in hello; "": fake
	got    []wire.Frame // accepted, oldest first
	refuse [wire.NumVerdict]uint32
}

func newBoard(t *testing.T, conn io.ReadWriteCloser, session uint32) *board {
	return &board{
		t: t, conn: conn, scale: 1, done: make(chan struct{}),
		rx:   wire.NewMCUReceiver(testDevice, session),
		head: wire.Header{Device: testDevice, MCUSession: session},
	}
}

// listen answers hello requests and parameters requests until the pipe ends.
func (b *board) listen() {
	defer close(b.done)
	var split wire.Splitter
	buf := make([]byte, 64)
	for {
		n, err := b.conn.Read(buf)
		for _, v := range buf[:n] {
			if raw, ok := split.Feed(v); ok {
				b.take(raw)
			}
		}
		if err != nil {
			return
		}
	}
}

func (b *board) take(raw []byte) {
	b.mu.Lock()
	var f wire.Frame
	v := b.rx.Take(raw, stampNow(), &f)
	b.refuse[v]++
	if v == wire.Accepted {
		b.got = append(b.got, f)
	}
	mute := b.mute || v != wire.Accepted
	b.mu.Unlock()
	switch {
	case mute:
	case f.Class == wire.ClassHelloRequest:
		b.hello(b.rx.Peer())
	case f.Class == wire.ClassParametersRequest:
		if p, ok := wire.ConfigPiece(b.config, f.Index); ok {
			b.send(func(h *wire.Header) []byte { return wire.AppendParameters(nil, h, &p) })
		}
	}
}

// stampNow is the board's clock: that of the bubble.
func stampNow() uint32 { return uint32(time.Now().UnixMilli()) }

// send writes one frame; the header's sequence is filled in.
func (b *board) send(frame func(*wire.Header) []byte) {
	b.mu.Lock()
	bytes := frame(&b.head)
	b.head.Seq++
	b.mu.Unlock()
	b.conn.Write(bytes)
}

// hello says who the board is; hostSession 0 is the boot's own.
func (b *board) hello(hostSession uint32) {
	b.send(func(h *wire.Header) []byte {
		h.HostSession = hostSession
		m := wire.HelloOf(&rig.Capabilities{Firmware: cmp.Or(b.name, "fake"), Scale: b.scale, FittedIn: 7,
			ConfigHash: b.hash()}, stampNow())
		return wire.AppendHello([]byte{0}, h, &m)
	})
}

func (b *board) hash() uint32 {
	c, err := wire.DecodeConfig(b.config)
	if err != nil {
		return 0
	}
	return wire.ConfigHash(c)
}

func (b *board) snapshot(s rig.Snapshot) {
	b.send(func(h *wire.Header) []byte { return wire.AppendSnapshot(nil, h, &s) })
}

// requests are the requests accepted since the last call.
func (b *board) requests() []wire.Request {
	b.mu.Lock()
	defer b.mu.Unlock()
	var r []wire.Request
	for _, f := range b.got {
		if f.Class == wire.ClassRequest {
			r = append(r, f.Request)
		}
	}
	b.got = nil
	return r
}

// count tells how many frames of class were accepted since the last requests.
func (b *board) count(class wire.Class) int {
	b.mu.Lock()
	defer b.mu.Unlock()
	n := 0
	for _, f := range b.got {
		if f.Class == class {
			n++
		}
	}
	return n
}

func (b *board) setMute(on bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.mute = on
}

// bay is a place to plug boards in: the Serial under test opens whatever is
// plugged in now.
type bay struct {
	t     *testing.T
	mu    sync.Mutex
	next  []net.Conn // host's ends, one an opening
	tries []time.Time
	log   []string
}

var errNothingThere = errors.New("no such device")

func (y *bay) open() (Line, error) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.tries = append(y.tries, time.Now())
	if len(y.next) == 0 {
		return nil, errNothingThere
	}
	c := y.next[0]
	y.next = y.next[1:]
	return pipeLine{c}, nil
}

// plug puts a board in that listens; deaf leaves it without ears.
func (y *bay) plug(session uint32) *board {
	b := y.deaf(session)
	go b.listen()
	return b
}

func (y *bay) deaf(session uint32) *board {
	host, mcu := net.Pipe()
	y.mu.Lock()
	defer y.mu.Unlock()
	y.next = append(y.next, host)
	return newBoard(y.t, mcu, session)
}

func (y *bay) note(event string, _ ...any) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.log = append(y.log, event)
}

func (y *bay) opened() []time.Time {
	y.mu.Lock()
	defer y.mu.Unlock()
	return append([]time.Time(nil), y.tries...)
}

// serial opens the port under test over the bay.
func (y *bay) serial(change ...func(*Options)) *Serial {
	y.t.Helper()
	o := Options{Path: "bay", Device: testDevice, HostSession: testHost, OpenLine: y.open, Log: y.note}
	for _, c := range change {
		c(&o)
	}
	s, err := Open(o)
	if err != nil {
		y.t.Fatal(err)
	}
	return s
}

// bubble runs a test in virtual time.
func bubble(t *testing.T, test func(t *testing.T, y *bay)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { test(t, &bay{t: t}) })
}

// next is await in a bubble: the queue knows afterwards that r was taken.
func next(t *testing.T, s *Serial, kind ReportKind, limit time.Duration) Report {
	t.Helper()
	r := await(t, s, kind, limit)
	synctest.Wait()
	return r
}

// await waits for the next report that is of kind, at most for limit.
func await(t *testing.T, s *Serial, kind ReportKind, limit time.Duration) Report {
	t.Helper()
	end := time.After(limit)
	for {
		select {
		case r, ok := <-s.Reports():
			if !ok {
				t.Fatalf("reports ended; kind %d was awaited", kind)
			}
			if r.Kind == kind {
				return r
			}
		case <-end:
			t.Fatalf("no report of kind %d within %v", kind, limit)
		}
	}
}

// pass lets virtual time go by and everything settle.
func pass(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

func close1(t *testing.T, s *Serial) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Errorf("close: %v", err)
	}
}

// keepAlive sends a snapshot each 10 ms for d, with the echo of the newest
// request, as a board does.
func (b *board) keepAlive(d time.Duration) {
	for range d / (10 * time.Millisecond) {
		pass(10 * time.Millisecond)
		b.mu.Lock()
		seq := b.rx.Seq()
		b.mu.Unlock()
		b.snapshot(rig.Snapshot{StampMs: stampNow(), In: warden.InEstopOK, EchoSeq: seq})
	}
	synctest.Wait()
}
