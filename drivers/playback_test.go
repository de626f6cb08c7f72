package drivers

import (
	"bufio"
	"encoding/hex"
	"flag"
	"fmt"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

var update = flag.Bool("update", false, "record testdata anew")

const playbackFile = "testdata/playback.txt"

// exchange is one line of a recorded conversation.
type exchange struct {
	ms    int64  // since the line was opened
	who   string // host or mcu
	bytes string // hexadecimal
}

func (e exchange) String() string { return fmt.Sprintf("%4d %-4s %s", e.ms, e.who, e.bytes) }

// recorder writes down what goes through a Line.
type recorder struct {
	Line
	start time.Time
	mu    sync.Mutex
	said  []exchange
}

func (r *recorder) note(who string, b []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.said = append(r.said, exchange{time.Since(r.start).Milliseconds(), who, hex.EncodeToString(b)})
}

func (r *recorder) Read(b []byte) (int, error) {
	n, err := r.Line.Read(b)
	if n > 0 {
		r.note("mcu", b[:n])
	}
	return n, err
}

func (r *recorder) Write(b []byte) (int, error) {
	r.note("host", b)
	return r.Line.Write(b)
}

// player is a Line that says what the microcontroller said, when it said it,
// and holds the host to the words and the moments of the record.
type player struct {
	t     *testing.T
	start time.Time
	moved chan struct{}
	mu    sync.Mutex
	left  []exchange
}

func (p *player) Read(b []byte) (int, error) {
	end := time.After(pollRead)
	for {
		p.mu.Lock()
		due := end
		if len(p.left) > 0 && p.left[0].who == "mcu" {
			wait := time.Duration(p.left[0].ms)*time.Millisecond - time.Since(p.start)
			if wait <= 0 {
				n, err := hex.Decode(b, []byte(p.left[0].bytes))
				p.left = p.left[1:]
				p.mu.Unlock()
				return n, err
			}
			due = time.After(wait)
		}
		p.mu.Unlock()
		select {
		case <-due:
		case <-p.moved:
		case <-end:
			return 0, nil
		}
		if due == end {
			return 0, nil
		}
	}
}

func (p *player) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	got := exchange{time.Since(p.start).Milliseconds(), "host", hex.EncodeToString(b)}
	switch {
	case len(p.left) == 0:
		p.t.Errorf("past the end of the record the host said\n%v", got)
		return len(b), nil
	case p.left[0] != got:
		p.t.Errorf("the host said\n%v\nand the record has\n%v", got, p.left[0])
	}
	if p.left[0].who == "host" {
		p.left = p.left[1:]
	}
	select {
	case p.moved <- struct{}{}:
	default:
	}
	return len(b), nil
}

func (p *player) Close() error { return nil }

// converse is the host's part: what the loop would do, at fixed moments.
func converse(t *testing.T, s *Serial) {
	next(t, s, ReportHello, time.Second)
	at := time.Now()
	until := func(ms int) { pass(time.Duration(ms)*time.Millisecond - time.Since(at)) }
	until(14)
	s.Send(&rig.Request{}) // nothing asked, no lease
	until(24)
	s.Send(&rig.Request{Lease: warden.LeaseFuel, Flags: warden.ReqFlame | warden.ReqArm, ArmID: 1,
		FuelMl: 800, GlassLowDC: 7600, GlassHighDC: 8400})
	until(300)
	for range 3 {
		next(t, s, ReportSnapshot, time.Second)
	}
	next(t, s, ReportEvent, time.Second)
	if _, err := s.Config(); err != nil {
		t.Errorf("configuration: %v", err)
	}
}

// record lets a board answer and writes the conversation down.
func record(t *testing.T) []exchange {
	var said []exchange
	bubble(t, func(t *testing.T, y *bay) {
		b := y.plug(testMCU)
		b.config = wire.EncodeConfig(&warden.Config{FittedIn: 7, PurgeMs: 60000, LeaseMs: 500})
		line, err := y.open()
		if err != nil {
			t.Fatal(err)
		}
		r := &recorder{Line: line, start: time.Now()}
		s := y.serial(func(o *Options) { o.OpenLine = func() (Line, error) { return r, nil } })
		go func() {
			for _, ms := range []time.Duration{12, 10, 10} {
				<-time.After(ms * time.Millisecond)
				b.snapshot(rig.Snapshot{StampMs: stampNow(), In: warden.InEstopOK, EchoSeq: 1})
			}
			b.send(func(h *wire.Header) []byte {
				return wire.AppendEvent(nil, h, &wire.Event{Code: wire.EventBoot,
					Value: wire.BootPower, StampMs: stampNow()})
			})
		}()
		converse(t, s)
		close1(t, s)
		<-b.done
		said = r.said
	})
	return said
}

func readRecord(t *testing.T) []exchange {
	f, err := os.Open(playbackFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var said []exchange
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		var e exchange
		if _, err := fmt.Sscan(lines.Text(), &e.ms, &e.who, &e.bytes); err != nil {
			t.Fatalf("%s: %q: %v", playbackFile, lines.Text(), err)
		}
		said = append(said, e)
	}
	return said
}

// A recorded conversation is played back byte for byte and millisecond for
// millisecond; a word left over or a word too many is a failure.
func TestPlayback(t *testing.T) {
	if *update {
		var b strings.Builder
		b.WriteString("# A conversation with an invented microcontroller: ms, who, bytes on the line.\n")
		for _, e := range record(t) {
			fmt.Fprintln(&b, e)
		}
		if err := os.WriteFile(playbackFile, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	said := readRecord(t)
	bubble(t, func(t *testing.T, y *bay) {
		p := &player{t: t, start: time.Now(), moved: make(chan struct{}, 1), left: said}
		s := y.serial(func(o *Options) { o.OpenLine = func() (Line, error) { return p, nil } })
		converse(t, s)
		close1(t, s)
		synctest.Wait()
		for _, e := range p.left {
			t.Errorf("never came: %v", e)
		}
	})
}
