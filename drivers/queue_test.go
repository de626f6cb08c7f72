package drivers

import (
	"testing"

	"pgregory.net/rapid"
)

// kinds writes a letter for each report.
func kinds(items []Report) string {
	names := map[ReportKind]byte{ReportHello: 'h', ReportSnapshot: 's', ReportEvent: 'e',
		ReportBad: 'b', ReportDown: 'd'}
	var b []byte
	for _, r := range items {
		b = append(b, names[r.Kind])
	}
	return string(b)
}

func reportOf(c byte) *Report {
	k := map[byte]ReportKind{'h': ReportHello, 's': ReportSnapshot, 'e': ReportEvent,
		'b': ReportBad, 'd': ReportDown}[c]
	return &Report{Kind: k}
}

// idleQueue has no pump, so that a test sees what is in it.
func idleQueue(size int) *reportQueue {
	return &reportQueue{wake: make(chan struct{}, 1), items: make([]Report, 0, size)}
}

func TestFullQueueDropsInOrder(t *testing.T) {
	tests := []struct{ why, put, want string }{
		{"oldest snapshot first", "shssd", "hssd"},
		{"then the oldest event or bad frame", "hebdd", "hbdd"},
		{"snapshots before events", "esebh", "eebh"},
		{"among hellos and downs the newest is replaced", "dhdhd", "dhdd"},
		{"nothing else gets in among hellos and downs", "dhdhseb", "dhdh"},
		{"a flood of bad frames leaves the hello", "hbbbbbbbb", "hbbb"},
		{"a flood of snapshots leaves all others", "dhessssss", "dhes"},
	}
	for _, tt := range tests {
		q := idleQueue(4)
		for i := range len(tt.put) {
			q.put(reportOf(tt.put[i]))
		}
		if got := kinds(q.items); got != tt.want {
			t.Errorf("%s: %s became %s, want %s", tt.why, tt.put, got, tt.want)
		}
		if want := uint64(len(tt.put) - 4); q.dropped != want {
			t.Errorf("%s: %d counted as dropped, want %d", tt.why, q.dropped, want)
		}
	}
}

// Whatever comes, the queue keeps its size and the newest hello or down, and
// knows whether a hello waits.
func TestQueueKeepsTheStateOfTheLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := idleQueue(rapid.IntRange(1, 6).Draw(t, "size"))
		newest := ReportKind(0)
		for _, c := range rapid.SliceOfN(rapid.SampledFrom([]byte("hsebd")), 0, 40).Draw(t, "put") {
			r := reportOf(c)
			if c == 'h' || c == 'd' {
				newest = r.Kind
			}
			q.put(r)
			hellos, last := 0, ReportKind(0)
			for _, it := range q.items {
				if it.Kind == ReportHello {
					hellos++
				}
				if it.Kind == ReportHello || it.Kind == ReportDown {
					last = it.Kind
				}
			}
			if last != newest && newest != 0 {
				t.Fatalf("newest state %d is lost in %s", newest, kinds(q.items))
			}
			if q.helloWaits() != (hellos > 0) {
				t.Fatalf("hello waits: %v in %s", q.helloWaits(), kinds(q.items))
			}
		}
	})
}

// Reports come out in the order they went in, and close drops the rest.
func TestPumpKeepsOrder(t *testing.T) {
	q := newReportQueue(8)
	for v := uint32(1); v <= 8; v++ {
		q.put(&Report{Kind: ReportEvent, Value: v})
	}
	for want := uint32(1); want <= 5; want++ {
		if got := (<-q.out).Value; got != want {
			t.Errorf("got %d, want %d", got, want)
		}
	}
	q.close()
	for range q.out {
	}
	if q.droppedSoFar() != 0 {
		t.Errorf("%d dropped", q.droppedSoFar())
	}
}
