package panel

import (
	"context"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/panel/api"
)

func record(n int) controller.Record {
	return controller.Record{Kind: controller.RecMark, Cycle: 12, ElapsedMs: uint64(n), Reason: "mark"}
}

// TestFollowSeesEveryRecord, in order and once, while it keeps up.
func TestFollowSeesEveryRecord(t *testing.T) {
	p, _, path := serving(t, nil)
	p.Tell(running())
	const many = 500
	told, next := 0, uint64(1)
	enough := errors.New("enough")
	err := clientOf(path).Follow(t.Context(), func(f *api.Frame) error {
		if f.Rig != "lathe-1" || f.Status.State != "running" || f.Missed != 0 {
			t.Errorf("frame %+v", f)
		}
		for _, r := range f.Records {
			if r.Number != next || r.AtS != float64(next)/1000 {
				t.Fatalf("record %+v, want number %d", r, next)
			}
			next++
		}
		if next > many {
			return enough
		}
		if next > uint64(told) { // one goroutine writes: here it is this one
			for range 50 {
				told++
				p.Record(record(told))
			}
			p.Tell(running())
		}
		return nil
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
}

// TestLateFollowerCountsWhatItMissed: more records than the mailbox keeps.
func TestLateFollowerCountsWhatItMissed(t *testing.T) {
	m := &mailbox{now: time.Now}
	s, snap := running()
	for n := range keptRecords + 10 {
		m.Record(record(n + 1))
		m.Tell(s, snap)
	}
	v := m.read(5, nil)
	if v.first != 11 || v.missed != 5 || len(v.records) != keptRecords {
		t.Errorf("first %d, missed %d, %d records", v.first, v.missed, len(v.records))
	}
	if v.records[0].ElapsedMs != 11 || v.records[keptRecords-1].ElapsedMs != keptRecords+10 {
		t.Error("records are not those that their numbers say")
	}
	if v = m.read(keptRecords+10, nil); len(v.records) != 0 || v.missed != 0 {
		t.Errorf("nothing is new, but %+v", v)
	}
}

// TestALockedMailboxNeverWaits: the loop goes on while a reader copies, and
// nothing is lost but what has no room.
func TestALockedMailboxNeverWaits(t *testing.T) {
	m := &mailbox{now: time.Now}
	s, snap := running()
	m.mu.Lock()
	for n := range pendingRecords + 3 {
		m.Record(record(n + 1))
		m.Tell(s, snap) // returns at once, or this test hangs
	}
	m.mu.Unlock()
	if v := m.read(0, nil); v.told || len(v.records) != 0 {
		t.Errorf("a value came in while the lock was held: %+v", v)
	}
	m.Tell(s, snap)
	v := m.read(0, nil)
	if !v.told || len(v.records) != pendingRecords || v.dropped != 3 || v.first != 1 {
		t.Errorf("%d records from %d, %d dropped", len(v.records), v.first, v.dropped)
	}
}

func TestTellAllocatesNothing(t *testing.T) {
	m := &mailbox{now: time.Now}
	s, snap := running()
	r := record(1)
	if n := testing.AllocsPerRun(1000, func() { m.Record(r); m.Tell(s, snap) }); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

func TestOldSnapshotIsNoState(t *testing.T) {
	now := time.Unix(1000, 0)
	m := &mailbox{now: func() time.Time { return now }}
	s, snap := running()
	if v := m.read(0, nil); v.link || v.told {
		t.Error("a link before the first snapshot")
	}
	m.Tell(s, snap)
	now = now.Add(snapshotDead - 1)
	m.Tell(s, nil)
	if v := m.read(0, nil); !v.link || v.ageMs != 499 {
		t.Errorf("link %v, age %d ms", v.link, v.ageMs)
	}
	now = now.Add(1)
	if v := m.read(0, nil); v.link {
		t.Error("a snapshot of 500 ms still counts")
	}
}

// TestASlowReaderIsLetGo: one that takes nothing loses its connection, and its
// place.
func TestASlowReaderIsLetGo(t *testing.T) {
	p, _, path := serving(t, nil)
	p.Tell(running())
	c := dialed(t, path)
	if _, err := io.WriteString(c, "GET /v1/follow HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	until(t, func() bool { return len(p.follows) == 1 })
	until(t, func() bool { return len(p.follows) == 0 })
	if text, err := io.ReadAll(c); err == nil && !strings.Contains(string(text), `"state":"running"`) {
		t.Errorf("read %d bytes without a frame", len(text))
	}
}

// until waits for another goroutine; the test's own time limit ends it.
func until(t *testing.T, so func() bool) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); !so(); runtime.Gosched() {
		if time.Now().After(deadline) {
			t.Fatal("it did not come about in 20 s")
		}
	}
}

func Test300Connections(t *testing.T) {
	_, d, path := serving(t, nil)
	for range MaxConnections {
		c := dialed(t, path)
		// Half a request keeps the connection, so that all are open at once.
		if _, err := io.WriteString(c, "GET /v1/status HTTP/1.1\r\n"); err != nil {
			t.Fatal(err)
		}
	}
	for range 300 - MaxConnections {
		c := dialed(t, path)
		if _, err := io.WriteString(c, "GET /v1/status HTTP/1.1\r\n"); err != nil {
			t.Fatal(err)
		}
		if got := firstLine(t, c); got != "HTTP/1.1 503 Service Unavailable" {
			t.Fatalf("got %q", got)
		}
	}
	err := clientOf(path).Command(t.Context(), "stop", "Ada")
	var refusal *api.Error
	if !errors.As(err, &refusal) || refusal.Code != api.Busy {
		t.Errorf("got %v, want busy", err)
	}
	if len(d.all()) != 0 {
		t.Error("the daemon was asked")
	}
}

// TestFollowersLeaveRoomForCommands: however many pages hang, a stop gets in.
func TestFollowersLeaveRoomForCommands(t *testing.T) {
	p, d, path := serving(t, func(o *Options) { o.Every = time.Hour })
	for range MaxFollowers {
		c := dialed(t, path)
		if _, err := io.WriteString(c, "GET /v1/follow HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
			t.Fatal(err)
		}
	}
	until(t, func() bool { return len(p.follows) == MaxFollowers })
	err := clientOf(path).Follow(t.Context(), func(*api.Frame) error { return nil })
	var refusal *api.Error
	if !errors.As(err, &refusal) || refusal.Code != api.Busy {
		t.Errorf("one follower too many: %v", err)
	}
	if err := clientOf(path).Command(t.Context(), "stop", "Ada"); err != nil || len(d.all()) != 1 {
		t.Errorf("stop: %v, asked %v", err, d.all())
	}
}

// TestFollowersLeaveAtTheEnd: Serve ends though a follower would go on.
func TestFollowersLeaveAtTheEnd(t *testing.T) {
	d := &fakeDaemon{}
	p, err := New(Options{Daemon: d, Records: fakeRecords{}, Causes: causes, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	path := socketPath(t)
	l, err := Listen(path, "")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- p.Serve(ctx, l) }()
	err = clientOf(path).Follow(t.Context(), func(f *api.Frame) error {
		if f.Status.Doing != "the daemon is starting" {
			t.Errorf("before the first step: %+v", f.Status)
		}
		cancel()
		return nil
	})
	if !errors.Is(err, io.EOF) {
		t.Errorf("the follower saw %v, want io.EOF", err)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func BenchmarkTell(b *testing.B) {
	m := &mailbox{now: time.Now}
	s, snap := running()
	b.ReportAllocs()
	for b.Loop() {
		m.Tell(s, snap)
	}
}
