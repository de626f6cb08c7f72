package drivers

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Limits of the serial port.
const (
	// ReportQueue is how many reports wait for the loop: 0.6 s of snapshots,
	// past which the leases are dead anyway.
	ReportQueue = 64
	// writeHangs is how long a write may take before the line is dead: half a
	// lease, so that the rig hears of it before the warden acts.
	writeHangs = 250 * time.Millisecond
	// silent is how long the microcontroller may say nothing, and how long it
	// may take no request, before it is asked for a hello again.
	silent = time.Duration(wire.SilentMs) * time.Millisecond
	// tick paces hello requests and the watch over hung writes. Nothing of the
	// data path waits for it.
	tick = 50 * time.Millisecond
	// helloEvery is the least time between two hello requests.
	helloEvery = 100 * time.Millisecond
	// backoffFirst and backoffMost bound the wait before the line is opened
	// again; it doubles in between.
	backoffFirst = 100 * time.Millisecond
	backoffMost  = 2 * time.Second
	// closeWaits is how long Close waits for a hung write to come back.
	closeWaits = 500 * time.Millisecond
	// configTries bounds how often pieces of the configuration are asked for
	// after a hello.
	configTries = 100
)

// What Send, Close and the Err of a ReportDown can be; compare with errors.Is.
var (
	ErrDown     = errors.New("serial line is down")
	ErrHalted   = errors.New("port was halted and sends nothing more")
	ErrClosed   = errors.New("port was closed")
	ErrHung     = errors.New("a write hangs in the device; unplug it")
	ErrSilent   = errors.New("microcontroller says nothing")
	ErrUnplug   = errors.New("device was unplugged")
	ErrDevice   = errors.New("another microcontroller answers")
	ErrProtocol = errors.New("the microcontroller speaks another version of the protocol")
	ErrStart    = errors.New("the board failed a proof of its start and drives nothing")
	ErrScaled   = errors.New("rig runs on a scaled clock; only a simulated profile may")
	ErrNoConfig = errors.New("configuration was not read yet")
)

// Line is a stream of bytes to a microcontroller. It is the seam at which
// tests put something else than a device.
type Line interface {
	// Read waits a short while (at most pollRead) for bytes. Nothing within
	// it is 0 and no error.
	Read([]byte) (int, error)
	// Write may block without end; Serial watches over it.
	Write([]byte) (int, error)
	// Close is called once, when neither Read nor Write is running.
	Close() error
}

// Options says which device to open, and who asks.
type Options struct {
	Path        string // device, or a stable link to it (see Ports)
	Baud        int    // 250,000 is exact on a 16 MHz board
	Device      uint16 // id of the microcontroller; another is refused
	HostSession uint32 // random, new at each start of the daemon, never 0
	Simulated   bool   // profile says so: a pty and a scaled clock are allowed
	LockDir     string // for lock files; default: the system's temporary folder

	Now func() time.Time // default: time.Now; its monotonic reading is what counts
	// Log is told of rare events with pairs of key and value; nil: silence. It
	// must neither block nor call the port.
	Log func(event string, pairs ...any)
	// OpenLine replaces the device, for tests and for other transports.
	OpenLine func() (Line, error)
}

// Stats are counters since Open.
type Stats struct {
	Verdicts  [wire.NumVerdict]uint32 // frames by verdict, sessions before included
	Gaps      uint32                  // missing frames
	Storm     uint64                  // events dropped because more than 10 a second came
	Dropped   uint64                  // reports lost because nobody took them
	Replaced  uint64                  // requests replaced before they left
	Sent      uint64                  // frames written
	Opens     uint64                  // times the line was opened
	BadLine   bool                    // error budget used up since Open or ResetBudget
	Connected bool                    // a hello was accepted and the line is alive
}

// Serial is a Port over a serial line. It opens the line again by itself
// whenever it is lost.
type Serial struct {
	opts  Options
	queue *reportQueue
	quit  chan struct{} // closed by Close
	done  chan struct{} // closed when run has returned

	mu       sync.Mutex
	closed   bool
	halted   bool
	up       bool // a hello was accepted and frames come
	receiver wire.Receiver
	seq      uint16 // of the next frame sent, over all lines
	stampMs  uint32 // newest stamp of the microcontroller
	caps     rig.Capabilities
	config   wire.ConfigReader
	asked    int       // how often pieces of config were asked for
	echoSeq  uint16    // newest request that the microcontroller took
	echoAt   time.Time // when that changed, or requests began
	sentAt   time.Time // when the newest request left
	helloAt  time.Time // when a hello was last asked for
	openedAt time.Time // when link was
	link     *link     // nil while no line is open
	started  time.Time // zero of the receiver's clock
	stats    Stats
	events   rate       // of what the microcontroller tells of itself
	downErr  error      // why the line is down, as last reported
	frame    wire.Frame // reader's; kept here so that a frame allocates nothing

	outgoing wire.Request // writer's
	hungErr  error        // run's, read after done
}

var _ Port = (*Serial)(nil)

// Open takes the device's lock, opens it and starts to ask for a hello. A
// device that is not there yet is no error: it is reported as down and tried
// again. Errors are wrong options, a device that another process holds, and
// too many open files.
func Open(opts Options) (*Serial, error) {
	if err := opts.complete(); err != nil {
		return nil, err
	}
	first, err := opts.OpenLine()
	if errors.Is(err, ErrLocked) || errors.Is(err, ErrDescriptors) || errors.Is(err, ErrNotSimulated) {
		return nil, fmt.Errorf("open %s: %w", opts.Path, err)
	}
	now := opts.Now()
	s := &Serial{
		opts:     opts,
		queue:    newReportQueue(ReportQueue),
		quit:     make(chan struct{}),
		done:     make(chan struct{}),
		receiver: wire.NewHostReceiver(opts.Device, opts.HostSession),
		started:  now,
		echoAt:   now,
	}
	go s.run(first, err)
	return s, nil
}

func (o *Options) complete() error {
	if o.HostSession == 0 {
		return errors.New("host session is 0; a random number is wanted")
	}
	if o.OpenLine == nil {
		if o.Path == "" {
			return errors.New("no serial device is named")
		}
		if o.Baud <= 0 {
			return fmt.Errorf("%d is no baud rate; write 250000", o.Baud)
		}
		own := *o
		o.OpenLine = func() (Line, error) { return openDevice(&own) }
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = func(string, ...any) {}
	}
	return nil
}

// Reports is a queue of ReportQueue reports. When it is full the oldest
// snapshot is dropped and counted; a flood of events and bad frames is dropped
// next. Of hello and down at least the newest always arrives. The channel is
// closed by Close.
func (s *Serial) Reports() <-chan Report { return s.queue.out }

// Send queues a request and never blocks. A newer request replaces one that
// has not left yet. Until a hello has been taken from Reports the line counts
// as down (and for an instant longer), for a request of before must not reach
// a microcontroller that has restarted.
func (s *Serial) Send(r *rig.Request) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.closed:
		return ErrClosed
	case s.halted:
		return ErrHalted
	case !s.up || s.link == nil || s.queue.helloWaits():
		return ErrDown
	}
	if s.link.box.put(r, s.receiver.Peer()) {
		s.stats.Replaced++
	}
	return nil
}

// Halt sends nothing more, hello requests included, for the life of the port.
// Within a lease the warden has made the rig inert by itself.
func (s *Serial) Halt() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.halted = true
	if s.link != nil {
		s.link.box.clear()
	}
}

// Close ends the port and waits for its goroutines. ErrHung means that a write
// did not come back in time: the descriptor stays open until it does, for its
// number must not be used again by another file meanwhile.
func (s *Serial) Close() error {
	s.mu.Lock()
	again := s.closed
	s.closed = true
	s.mu.Unlock()
	if again {
		return ErrClosed
	}
	close(s.quit)
	<-s.done
	s.queue.close()
	return s.hungErr
}

// String names the device.
func (s *Serial) String() string { return s.opts.Path }

// Stats gives the counters.
func (s *Serial) Stats() Stats {
	s.mu.Lock()
	defer s.mu.Unlock()
	st := s.stats
	st.Verdicts = s.receiver.Counts
	st.Gaps = s.receiver.Gaps
	st.BadLine = s.receiver.Budget.Tripped()
	st.Connected = s.up
	st.Dropped = s.queue.droppedSoFar()
	return st
}

// ResetBudget forgets a line that was too bad, once a person has seen to it.
func (s *Serial) ResetBudget() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.receiver.Budget.Reset()
}

// Config is the warden's configuration as the microcontroller has it, read in
// pieces after each hello. Before that the
// error is ErrNoConfig.
func (s *Serial) Config() (warden.Config, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, missing := s.config.Missing(); missing {
		return warden.Config{}, ErrNoConfig
	}
	return s.config.Config()
}
