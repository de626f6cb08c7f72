package loop

import (
	"fmt"
	"io"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"pressrig/controller"
	"pressrig/drivers"
	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// The device id and the sessions of the benchmark's board.
const (
	benchDevice = 7
	benchBoot   = 1
	benchHost   = 99
)

// patience is how long a benchmark waits for bytes before it fails: far longer
// than the 0.5 s of silence after which driver and board greet each other anew.
const patience = 10 * time.Second

// board is a microcontroller at the master end of a pty: it answers each hello
// request and sends and reads frames, and does nothing else. It must answer
// them at any moment: a computer that stands still for 0.5 s has lost its link,
// and without a hello neither side would ever say a word again.
type board struct {
	master *os.File
	line   string
	recv   wire.Receiver
	split  wire.Splitter
	head   wire.Header
	frame  wire.Frame
	out    []byte
	in     [4096]byte
	have   []byte // of in, not yet looked at
	stamp  uint32
	hellos int // answered
}

func newBoard(b *testing.B) *board {
	b.Helper()
	master, line := openPty(b)
	return &board{master: master, line: line,
		recv: wire.NewMCUReceiver(benchDevice, benchBoot),
		head: wire.Header{Device: benchDevice, MCUSession: benchBoot}}
}

// openPty gives a master end whose reads can have a deadline.
func openPty(b *testing.B) (*os.File, string) {
	b.Helper()
	opened, slave, err := pty.Open()
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _, _ = opened.Close(), slave.Close() })
	fd, err := unix.Dup(int(opened.Fd()))
	if err != nil {
		b.Fatal(err)
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		b.Fatal(err)
	}
	master := os.NewFile(uintptr(fd), opened.Name())
	b.Cleanup(func() { master.Close() })
	return master, slave.Name()
}

// next reads until a frame of the class has come and was accepted.
func (m *board) next(b *testing.B, class wire.Class) {
	b.Helper()
	for {
		for i, c := range m.have {
			raw, whole := m.split.Feed(c)
			if !whole {
				continue
			}
			if m.recv.Take(raw, m.stamp, &m.frame) != wire.Accepted {
				continue
			}
			if m.frame.Class == wire.ClassHelloRequest {
				m.hello(b)
			}
			if m.frame.Class == class {
				m.have = m.have[i+1:]
				return
			}
		}
		if err := m.master.SetReadDeadline(time.Now().Add(patience)); err != nil {
			b.Fatal(err)
		}
		n, err := m.master.Read(m.in[:])
		if err != nil {
			b.Fatalf("board waits for %v: %v (hellos %d, verdicts %v)",
				class, err, m.hellos, m.recv.Counts)
		}
		m.have = m.in[:n]
	}
}

func (m *board) write(b *testing.B) {
	if _, err := m.master.Write(m.out); err != nil {
		b.Fatal(err)
	}
	m.head.Seq++
}

// hello answers a hello request that was just taken.
func (m *board) hello(b *testing.B) {
	m.hellos++
	m.head.HostSession = m.recv.Peer()
	hello := wire.HelloOf(&rig.Capabilities{Firmware: "benchmark", Scale: 1}, m.stamp)
	m.out = wire.AppendHello([]byte{0}, &m.head, &hello) // a receiver syncs at a delimiter
	m.write(b)
}

func (m *board) snapshot(b *testing.B) {
	m.stamp += 10
	m.out = wire.AppendSnapshot(m.out[:0], &m.head, &rig.Snapshot{StampMs: m.stamp,
		In: warden.InEstopOK | warden.InDoorClosed, EchoSeq: m.recv.Seq()})
	m.write(b)
}

// startLoop runs a loop over the serial driver at the other end of the board.
func startLoop(b *testing.B, m *board, machine Machine) *Loop {
	b.Helper()
	said := make(chan string, 64)
	port, err := drivers.Open(drivers.Options{Path: m.line, Baud: 250000, Device: benchDevice,
		HostSession: benchHost, Simulated: true, LockDir: b.TempDir(),
		Log: func(event string, pairs ...any) { said <- fmt.Sprint(event, pairs) }})
	if err != nil {
		b.Fatal(err)
	}
	l := New(Options{Port: port, Machine: machine, Journal: &fakeJournal{},
		Publishers: []Publisher{&fakePublisher{}}})
	ended := make(chan error, 1)
	ctx := b.Context()
	go func() { ended <- l.Run(ctx) }()
	b.Cleanup(func() { // the context has ended by now
		if err := <-ended; err != nil {
			b.Error(err)
		}
		if err := port.Close(); err != nil {
			b.Error(err)
		}
		for close(said); m.hellos > 1 || b.Failed(); {
			line, more := <-said
			if !more {
				return
			}
			b.Log(line)
		}
	})
	m.next(b, wire.ClassHelloRequest)
	return l
}

// floorEchoes is enough for a p99 that means something.
const floorEchoes = 2000

// echoes measures n round trips of a snapshot's bytes one way and a request's
// back over a bare pty, with the same serial library and nothing else.
func echoes(b *testing.B, n int) []time.Duration {
	b.Helper()
	there := wire.ClassSnapshot.WireBytes()
	back := wire.ClassRequest.WireBytes()
	master, line := openPty(b)
	port, err := serial.Open(line, &serial.Mode{BaudRate: 250000})
	if err != nil {
		b.Fatal(err)
	}
	done := make(chan error, 1)
	go func() {
		buf := make([]byte, there)
		for range n {
			if _, err := io.ReadFull(port, buf); err != nil {
				done <- err
				return
			}
			if _, err := port.Write(buf[:back]); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	took, buf := make([]time.Duration, 0, n), make([]byte, there)
	for range n {
		start := time.Now()
		if _, err := master.Write(buf); err != nil {
			b.Fatal(err)
		}
		if err := master.SetReadDeadline(start.Add(patience)); err != nil {
			b.Fatal(err)
		}
		if _, err := io.ReadFull(master, buf[:back]); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(start))
	}
	if err := <-done; err != nil {
		b.Fatal(err)
	}
	if err := port.Close(); err != nil {
		b.Fatal(err)
	}
	return took
}

// share is the value below which that share of all lies.
func share(all []time.Duration, of float64) time.Duration {
	slices.Sort(all)
	return all[int(of*float64(len(all)-1))]
}

// against reports took beside the floor of the same run, and how often the
// link was greeted: more than once means that the computer stood still. The
// floor goes both ways over the pty, so that a stop, which goes one way, may lie
// below it.
func against(b *testing.B, m *board, took, floor []time.Duration) {
	micro := func(d time.Duration) float64 { return d.Seconds() * 1e6 }
	for _, at := range []struct {
		name string
		of   float64
	}{{"p50", 0.5}, {"p99", 0.99}} {
		t, f := share(took, at.of), share(floor, at.of)
		b.ReportMetric(micro(t), at.name+"_us")
		b.ReportMetric(micro(f), at.name+"_floor_us")
		b.ReportMetric(micro(t)/micro(f), at.name+"_x_floor")
	}
	b.ReportMetric(micro(share(took, 0.99)-share(floor, 0.99)), "p99_over_floor_us")
	b.ReportMetric(float64(m.hellos), "hellos")
}

// BenchmarkSnapshotToRequest: from the last byte of a snapshot written at the
// rig to the request that answers it read there, through pty, serial library,
// codec, loop and the cycle machine. Target: p99 at most 3 ms over the floor.
func BenchmarkSnapshotToRequest(b *testing.B) {
	profile, err := rig.Builtin("driven")
	if err != nil {
		b.Fatal(err)
	}
	floor := echoes(b, floorEchoes)
	m := newBoard(b)
	startLoop(b, m, controller.New(controller.Config{Profile: profile}))
	took := make([]time.Duration, 0, b.N)
	for b.Loop() {
		start := time.Now()
		m.snapshot(b)
		for m.next(b, wire.ClassRequest); m.frame.Request.EchoMs != m.stamp; {
			m.next(b, wire.ClassRequest) // one of an idle step before
		}
		took = append(took, time.Since(start))
	}
	against(b, m, took, floor)
}

// BenchmarkStopToWire: from a stop given to the loop to the request that
// carries it read at the rig. Target: p99 at most 3 ms over the floor.
func BenchmarkStopToWire(b *testing.B) {
	floor := echoes(b, floorEchoes)
	m := newBoard(b)
	stops := uint16(0)
	machine := machineFunc(func(in *controller.Input, out *controller.Output) {
		steady(in, out)
		if in.Command == controller.Stop {
			stops++
		}
		out.Request.ArmID = stops // the mark by which the board knows it
	})
	l := startLoop(b, m, machine)
	took, sent := make([]time.Duration, 0, b.N), uint16(0)
	for b.Loop() {
		m.snapshot(b)
		for m.next(b, wire.ClassRequest); m.frame.Request.EchoMs != m.stamp; {
			m.next(b, wire.ClassRequest)
		}
		start := time.Now()
		if _, err := l.Do(b.Context(), Order{Command: controller.Stop}); err != nil {
			b.Fatal(err)
		}
		sent++
		for m.next(b, wire.ClassRequest); m.frame.Request.Want.ArmID != sent; {
			m.next(b, wire.ClassRequest)
		}
		took = append(took, time.Since(start))
	}
	against(b, m, took, floor)
}

// BenchmarkStep is one step of the loop with fake parts: what the loop itself
// costs, with no allocation.
func BenchmarkStep(b *testing.B) {
	port := &sinkPort{}
	l := New(Options{Port: port, Machine: machineFunc(steady), Journal: &fakeJournal{},
		Publishers: []Publisher{&fakePublisher{}}})
	l.session = 1
	r := drivers.Report{Kind: drivers.ReportSnapshot}
	b.ReportAllocs()
	for b.Loop() {
		r.Snap.StampMs += 10
		l.report = r
		if _, err := l.take(&l.report); err != nil {
			b.Fatal(err)
		}
	}
}

// sinkPort takes requests and keeps none.
type sinkPort struct{ fakePort }

func (*sinkPort) Send(*rig.Request) error { return nil }
