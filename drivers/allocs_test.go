package drivers

import (
	"io"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// wordLine is a Line that hands over one prepared frame a read and says when a
// write came: nothing in it allocates.
type wordLine struct {
	in    chan []byte
	wrote chan int
	gone  chan struct{}
}

func (l *wordLine) Read(b []byte) (int, error) {
	select {
	case frame := <-l.in:
		return copy(b, frame), nil
	case <-l.gone:
		return 0, io.EOF
	}
}

func (l *wordLine) Write(b []byte) (int, error) {
	select {
	case l.wrote <- len(b):
	case <-l.gone:
	}
	return len(b), nil
}

func (l *wordLine) Close() error { return nil }

// From the bytes of a snapshot to its report, and from a request to its bytes,
// reader, queue, pump, outbox and writer together allocate nothing.
func TestNoAllocationsInSteadyState(t *testing.T) {
	l := &wordLine{in: make(chan []byte), wrote: make(chan int, 8), gone: make(chan struct{})}
	s, err := Open(Options{Path: "words", Device: testDevice, HostSession: testHost,
		OpenLine: func() (Line, error) { return l, nil }})
	if err != nil {
		t.Fatal(err)
	}
	head := wire.Header{Device: testDevice, MCUSession: testMCU, HostSession: testHost}
	hello := wire.HelloOf(&rig.Capabilities{Scale: 1}, 1)
	<-l.wrote // the hello request
	l.in <- wire.AppendHello([]byte{0}, &head, &hello)
	await(t, s, ReportHello, deadline)

	snap, buf := rig.Snapshot{In: warden.InEstopOK}, make([]byte, 0, readBytes)
	request := fuelRequest(1200)
	size, failed := wire.ClassRequest.WireBytes(), 0
	step := func() {
		head.Seq++
		snap.StampMs += 10
		buf = wire.AppendSnapshot(buf[:0], &head, &snap)
		l.in <- buf
		for r := range s.Reports() {
			if r.Kind == ReportSnapshot && r.Snap.StampMs == snap.StampMs {
				break
			}
			failed++
		}
		for s.Send(request) != nil { // until the queue knows that the hello was taken
		}
		for n := range l.wrote { // hello and parameters requests go by
			if n == size {
				break
			}
		}
	}
	for range 10 {
		step()
	}
	if n := testing.AllocsPerRun(2000, step); n != 0 {
		t.Errorf("%v allocations for a snapshot in and a request out", n)
	}
	if failed != 0 {
		t.Errorf("%d other reports than the snapshots sent", failed)
	}
	close(l.gone)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
