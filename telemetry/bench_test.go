package telemetry

import (
	"testing"
	"time"

	"github.com/rs/zerolog"

	"pressrig/controller"
	"pressrig/rig"
)

// idle is a Telemetry without goroutines: what the caller pays, and nothing
// that runs beside it.
func idle(tb testing.TB) *Telemetry {
	s, err := check(Options{Rig: "bench", Dir: tb.TempDir(), URL: "tcp://127.0.0.1:1",
		Log: zerolog.Nop()})
	if err != nil {
		tb.Fatal(err)
	}
	return &Telemetry{o: s, words: testWords, inbox: newRing[entry](maxInbox),
		samples: newRing[sample](maxSamples), events: newRing[message](maxEvents),
		wakeCollector: make(chan struct{}, 1), wakeSender: make(chan struct{}, 1)}
}

// The caller's path allocates nothing, also with every queue overflowing.
func TestTellAndRecordAllocateNothing(t *testing.T) {
	tel := idle(t)
	status, snap := pressing(), hotSnapshot()
	now := noon
	tel.o.Now = func() time.Time { now = now.Add(time.Second); return now }
	rec := controller.Record{Kind: controller.RecPhaseEnd, Reason: "condition met"}
	n := testing.AllocsPerRun(10000, func() {
		status.Phase ^= 1 // every call changes the state and enters a phase
		tel.Tell(status, snap)
		tel.Record(rec)
	})
	if n != 0 {
		t.Errorf("%g allocations a call, want 0", n)
	}
	if tel.inbox.lost == 0 || tel.samples.lost == 0 {
		t.Error("the queues did not overflow: the test shows less than it says")
	}
}

// What the loop needs of a publisher, written again: the adapter does not know
// the loop.
var _ interface {
	Tell(*controller.Status, *rig.Snapshot)
	Record(controller.Record)
} = (*Telemetry)(nil)

// SV-065, the part that is telemetry's: a wall clock set back or forward by an
// hour neither silences the channels nor floods them.
func TestSV065WallClockJumps(t *testing.T) {
	for _, jump := range []time.Duration{time.Hour, -time.Hour} {
		tel := idle(t)
		now := noon
		tel.o.Now = func() time.Time { now = now.Add(10 * time.Millisecond); return now }
		for i := range 1000 { // 10 s at 100 Hz
			if i == 500 {
				now = now.Add(jump)
			}
			tel.Tell(pressing(), hotSnapshot())
		}
		if n := tel.samples.n; n < 20 || n > 22 {
			t.Errorf("jump of %v: %d channel messages in 10 s, want 20 (2 Hz)", jump, n)
		}
	}
}

func BenchmarkTell(b *testing.B) {
	tel, status, snap := idle(b), pressing(), hotSnapshot()
	b.ReportAllocs()
	for b.Loop() {
		tel.Tell(status, snap)
	}
}

// BenchmarkTellFloor copies what Tell must copy and reads the clock: the ratio
// of the two is the cost of the rest.
func BenchmarkTellFloor(b *testing.B) {
	status, snap := pressing(), hotSnapshot()
	var s controller.Status
	var r rig.Snapshot
	var now time.Time
	for b.Loop() {
		s, r, now = *status, *snap, time.Now()
	}
	if s.Cycle == 0 || r.StampMs == 0 || now.IsZero() {
		b.Fatal("nothing copied")
	}
}

func BenchmarkRecord(b *testing.B) {
	tel, rec := idle(b), controller.Record{Kind: controller.RecMark}
	b.ReportAllocs()
	for b.Loop() {
		tel.Record(rec)
	}
}

func BenchmarkChannelsPayload(b *testing.B) {
	s := sample{wall: noon, fresh: true, snap: *hotSnapshot()}
	b.ReportAllocs()
	for b.Loop() {
		testWords.channels(&s, false, 0)
	}
}
