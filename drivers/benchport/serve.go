package benchport

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"pressrig/drivers/bench"
)

// Numbers of the port.
const (
	// slice is the real time between looks at the pty: well below the 10 ms of
	// a snapshot, and above what a Go timer keeps (1 kHz loses slots).
	slice    = 2 * time.Millisecond
	chunkMs  = 5    // virtual ms between looks while catching up
	waiting  = 16   // commands that wait for the next slice; more block their sender
	maxScale = 1000 // a step takes about 0.3 us, a snapshot more
)

// Options say how a rig is served.
type Options struct {
	Rig   *bench.Rig // required; Serve alone uses it from now on
	Scale int        // virtual time over real time, 1 to 1,000; 0 counts as 1

	Link   string // path of a symlink to the pty, "" for none
	NVPath string // file that keeps the non-volatile memory, "" for none

	Faults  []bench.Fault // injected before the first millisecond
	Control io.Reader     // command lines, nil for none; Serve does not close it
	Replies io.Writer     // one reply line for each command line, nil for none
	Socket  string        // path of a unix socket that takes command lines, "" for none

	Ready func(path string) // called once with the path of the pty
	Log   func(text string) // nil for none
}

func (o *Options) log(format string, args ...any) {
	if o.Log != nil {
		o.Log(fmt.Sprintf(format, args...))
	}
}

// Serve runs the rig until ctx ends, which is not an error. The other end may
// hang up and come back at any time.
func Serve(ctx context.Context, o Options) (err error) {
	if o.Rig == nil {
		return errors.New("no rig to serve; make one with bench.New")
	}
	if o.Scale == 0 {
		o.Scale = 1
	}
	if o.Scale < 1 || o.Scale > maxScale {
		return fmt.Errorf("scale %d is out of range; from 1 to %d", o.Scale, maxScale)
	}
	for _, f := range o.Faults {
		if err := o.Rig.Inject(f); err != nil {
			return fmt.Errorf("fault %q: %w", f.String(), err)
		}
	}
	memory, err := keep(o.NVPath, o.Rig.NV())
	if err != nil {
		return err
	}
	port, err := openPort()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, port.close()) }()
	unlink, err := link(o.Link, port.path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, unlink()) }()
	commands, stop, err := listen(&o)
	if err != nil {
		return err
	}
	defer stop()
	if o.Ready != nil {
		o.Ready(port.path)
	}
	o.log("bench on %s, scale %d", port.path, o.Scale)
	s := server{o: &o, port: port, memory: memory, commands: commands}
	return s.run(ctx)
}

// server is the loop that owns the rig.
type server struct {
	o        *Options
	port     *port
	memory   *memory
	commands <-chan command
	pace     pace
	buf      []byte
}

// run wakes every slice at an absolute deadline and lets virtual time catch up
// with real time, whatever was missed.
func (s *server) run(ctx context.Context) error {
	began := time.Now()
	s.pace = newPace(s.o.Scale)
	timer := time.NewTimer(slice)
	defer timer.Stop()
	for n := time.Duration(1); ; n++ {
		select {
		case <-ctx.Done():
			return nil
		case c := <-s.commands:
			c.reply <- Do(s.o.Rig, c.line)
			n--
			continue
		case <-timer.C:
		}
		elapsed := time.Since(began)
		if err := s.catchUp(elapsed); err != nil {
			return err
		}
		n = max(n, elapsed/slice) // slots missed are made up by catchUp, not by more waking
		timer.Reset(time.Until(began.Add((n + 1) * slice)))
	}
}

// catchUp steps the rig until it stands at elapsed, in chunks between which
// bytes pass.
func (s *server) catchUp(elapsed time.Duration) error {
	r := s.o.Rig
	if err := s.exchange(elapsed); err != nil {
		return err
	}
	for due := s.pace.due(elapsed, r); due > 0; {
		n := min(due, chunkMs)
		for range n {
			r.Step()
		}
		s.pace.stepped(n)
		due -= n
		if err := s.exchange(elapsed); err != nil {
			return err
		}
		due = min(due, s.pace.due(elapsed, r))
	}
	return s.memory.save(r.NV())
}

// exchange moves bytes both ways without waiting.
func (s *server) exchange(elapsed time.Duration) error {
	var err error
	s.buf, err = s.port.read(s.buf[:0])
	if err != nil {
		return fmt.Errorf("read from %s: %w", s.port.path, err)
	}
	s.o.Rig.Receive(s.buf)
	s.pace.heard(elapsed, s.o.Rig)
	s.buf = s.o.Rig.Transmit(s.buf[:0])
	if err := s.port.write(s.buf); err != nil {
		return fmt.Errorf("write to %s: %w", s.port.path, err)
	}
	return nil
}
