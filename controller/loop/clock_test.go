package loop

import (
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"pressrig/controller"
	"pressrig/rig"
)

const ms = time.Millisecond

func TestScaledTime(t *testing.T) {
	s := scaled{scale: 10}
	s.snapshot(0, 5000)
	cases := []struct {
		what  string
		now   time.Duration
		stamp uint32 // 0: no snapshot
		want  uint64
	}{
		{"runs at scale", 10 * ms, 0, 100},
		{"at most 200 ms past the newest snapshot", 300 * ms, 0, 200},
		{"still, up to 1 s of silence", 499 * ms, 0, 200},
		{"the snapshot says how far the rig is", 499 * ms, 5150, 200},
		{"and time waits for it", 500 * ms, 0, 200},
		{"then goes on from it", 506 * ms, 0, 220},
		{"a silence lets it run on", 1599 * ms, 0, 1350},
		{"a rig that stood still does not freeze it", 1600 * ms, 5160, 1360},
		{"nor does it go back", 1601 * ms, 0, 1370},
	}
	for _, c := range cases {
		if c.stamp != 0 {
			s.snapshot(c.now, c.stamp)
		}
		if got := s.elapsed(c.now); got != c.want {
			t.Errorf("%s: %d ms at %v, want %d", c.what, got, c.now, c.want)
		}
	}
}

func TestScaledTimeFollowsAWrappingStamp(t *testing.T) {
	s := scaled{scale: 10}
	s.snapshot(0, 1<<32-50)
	s.snapshot(10*ms, 50)
	if got := s.elapsed(10 * ms); got != 100 {
		t.Errorf("%d ms over the wrap, want 100", got)
	}
}

// Scaled time never goes back and never outruns the newest snapshot by more
// than 200 ms while the line is alive.
func TestScaledTimeIsMonotoneAndTied(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.SampledFrom([]uint64{1, 2, 10, 60}).Draw(t, "scale")
		s := scaled{scale: scale}
		var now time.Duration
		var stamp uint32
		var last uint64
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			now += time.Duration(rapid.IntRange(0, 700).Draw(t, "ms")) * ms
			if rapid.Bool().Draw(t, "snapshot") {
				stamp += uint32(rapid.IntRange(0, 20_000).Draw(t, "stamp"))
				s.snapshot(now, stamp)
			}
			got := s.elapsed(now)
			if got < last {
				t.Fatalf("went back from %d to %d", last, got)
			}
			if scale > 1 && s.synced && now-s.at < silence && got > s.base+aheadMs && got != last {
				t.Fatalf("%d ms past the newest snapshot", got-s.base)
			}
			last = got
		}
	})
}

func TestAtScaleOneTheStampDoesNotSteer(t *testing.T) {
	s := scaled{scale: 1}
	s.snapshot(5*ms, 4_000_000)
	if got := s.elapsed(1234 * ms); got != 1234 {
		t.Errorf("%d ms, want the plain clock's 1234", got)
	}
}

// traceWith runs 20 s with the given wall clock, journal and publishers and
// returns every request.
func traceWith(t *testing.T, change func(*Options)) (sent []rig.Request) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		port := newPort()
		o := Options{Port: port, Machine: machineFunc(digest), Journal: &fakeJournal{}}
		o.Clock = SystemClock()
		change(&o)
		end := run(t, New(o))
		port.hello(7, 1)
		feed(port, 2000)
		_ = end()
		sent = port.sent
	})
	return sent
}

// SV-065: the wall clock set by an hour either way leaves the requests as they
// are. A rule of this project, no published source.
func TestSV065WallClockJumpsLeaveTheRequestsAlone(t *testing.T) {
	want := traceWith(t, func(*Options) {})
	for _, by := range []time.Duration{time.Hour, -time.Hour} {
		var notes []time.Duration
		j := &fakeJournal{}
		got := traceWith(t, func(o *Options) {
			start := time.Now()
			o.Clock.Wall = func() time.Time {
				if since := time.Since(start); since%(8*time.Second) > 4*time.Second {
					return time.Now().Round(0).Add(by)
				}
				return time.Now().Round(0)
			}
			o.Journal = j
			o.Log = func(n Note) {
				if n.Kind == NoteWallClock {
					notes = append(notes, n.By)
				}
			}
		})
		sameRequests(t, want, got)
		if len(notes) != 4 || notes[0].Round(time.Second) != by {
			t.Errorf("jump by %v noted as %v, want 4 notes", by, notes)
		}
		marks := 0
		for _, r := range j.records {
			if r.Kind == controller.RecMark && r.Name == "wall_clock_set" {
				marks++
			}
		}
		if marks != len(notes) {
			t.Errorf("%d marks in the journal for %d jumps", marks, len(notes))
		}
	}
}

// Invariant 14 and SV-064 as far as the loop goes: a journal that takes nothing
// and a publisher whose queue nobody reads leave the requests as they are.
func TestInvariant14BrokenReceiversLeaveTheRequestsAlone(t *testing.T) {
	want := traceWith(t, func(*Options) {})
	dead := &fullPublisher{queue: make(chan rig.Snapshot, 4)}
	got := traceWith(t, func(o *Options) {
		o.Journal = brokenJournal{}
		o.Publishers = []Publisher{dead}
	})
	sameRequests(t, want, got)
	if dead.dropped == 0 {
		t.Error("the dead publisher's queue never overflowed: the test shows nothing")
	}
}

// brokenJournal is a journal whose disk is full: nothing is kept.
type brokenJournal struct{}

func (brokenJournal) Append(controller.Record)                   {}
func (brokenJournal) AppendStep(*controller.Input, *rig.Request) {}
func (brokenJournal) Health() (none controller.JournalHealth)    { return none }

// fullPublisher has a bounded queue that nobody reads.
type fullPublisher struct {
	queue   chan rig.Snapshot
	dropped int
}

func (p *fullPublisher) Record(controller.Record) {}

func (p *fullPublisher) Tell(_ *controller.Status, s *rig.Snapshot) {
	if s == nil {
		return
	}
	select {
	case p.queue <- *s:
	default:
		p.dropped++
	}
}
