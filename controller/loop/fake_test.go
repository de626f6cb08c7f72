package loop

import (
	"context"
	"errors"
	"hash/fnv"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"go.uber.org/goleak"

	"pressrig/controller"
	"pressrig/drivers"
	"pressrig/rig"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// fakePort keeps what was sent and when; a test feeds its reports.
type fakePort struct {
	reports chan drivers.Report
	sent    []rig.Request
	at      []time.Time
	halted  int
	down    bool
	order   *[]string
}

func newPort() *fakePort { return &fakePort{reports: make(chan drivers.Report, 64)} }

func (p *fakePort) Reports() <-chan drivers.Report { return p.reports }

func (p *fakePort) Send(r *rig.Request) error {
	if p.order != nil {
		*p.order = append(*p.order, "request")
	}
	if p.down {
		return errors.New("line is down")
	}
	p.sent = append(p.sent, *r)
	p.at = append(p.at, time.Now())
	return nil
}

func (p *fakePort) Halt()          { p.halted++ }
func (p *fakePort) Close() error   { return nil }
func (p *fakePort) String() string { return "fake port" }

func (p *fakePort) hello(session uint32, scale uint16) {
	p.reports <- drivers.Report{Kind: drivers.ReportHello,
		Caps: rig.Capabilities{Session: session, Scale: scale}}
}

func (p *fakePort) snapshot(stampMs uint32) {
	p.reports <- drivers.Report{Kind: drivers.ReportSnapshot, Snap: rig.Snapshot{StampMs: stampMs}}
}

// machineFunc is a machine that is one function.
type machineFunc func(*controller.Input, *controller.Output)

func (f machineFunc) Step(in *controller.Input, out *controller.Output) { f(in, out) }

// digest is a machine whose request depends on all of the input that may steer
// a running cycle, so that any difference in that input shows in the request.
// The journal's health is left out: it may only forbid a new cycle.
func digest(in *controller.Input, out *controller.Output) {
	*out = controller.Output{Send: in.Session != 0}
	h := fnv.New32a()
	put := func(v uint64) {
		for range 8 {
			_, _ = h.Write([]byte{byte(v)})
			v >>= 8
		}
	}
	put(in.Tick)
	put(in.ElapsedMs)
	put(uint64(in.Session))
	put(uint64(in.BadFrames))
	put(uint64(in.Command))
	if in.Snap != nil {
		put(uint64(in.Snap.StampMs) + 1)
	}
	sum := h.Sum32()
	out.Request.FuelMl, out.Request.OxygenMl = uint16(sum), uint16(sum>>16)
	out.Status.State, out.Status.Cycle = controller.Running, 1
}

// steady answers every step with the same request.
func steady(in *controller.Input, out *controller.Output) {
	*out = controller.Output{Send: in.Session != 0}
	out.Status.State = controller.Running
}

// fakeJournal keeps records and counts steps.
type fakeJournal struct {
	records []controller.Record
	steps   int
	health  controller.JournalHealth
	order   *[]string
}

func (j *fakeJournal) Append(r controller.Record) {
	if j.order != nil {
		*j.order = append(*j.order, "record")
	}
	j.records = append(j.records, r)
}

func (j *fakeJournal) AppendStep(*controller.Input, *rig.Request) {
	if j.order != nil {
		*j.order = append(*j.order, "step")
	}
	j.steps++
}

func (j *fakeJournal) Health() controller.JournalHealth { return j.health }

// fakePublisher notes the order of what it is told.
type fakePublisher struct {
	records int
	told    int
	order   *[]string
}

func (p *fakePublisher) Record(controller.Record) {
	p.records++
	if p.order != nil {
		*p.order = append(*p.order, "publish")
	}
}

func (p *fakePublisher) Tell(*controller.Status, *rig.Snapshot) {
	p.told++
	if p.order != nil {
		*p.order = append(*p.order, "tell")
	}
}

// run starts the loop inside a bubble; the returned function ends it and
// returns what Run said.
func run(t *testing.T, l *Loop) (end func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	result := make(chan error, 1)
	go func() { result <- l.Run(ctx) }()
	synctest.Wait()
	return func() error {
		cancel()
		return <-result
	}
}

// feed sends n snapshots, one each 10 ms, as a board does.
func feed(p *fakePort, n int) {
	for i := range n {
		later(snapshotEvery)
		p.snapshot(uint32(i+1) * 10)
	}
	synctest.Wait()
}

// snapshotEvery is the board's pace.
const snapshotEvery = 10 * time.Millisecond

// later lets the bubble's virtual time go on by d.
func later(d time.Duration) { <-time.After(d) }

// gaps returns the longest time between two requests.
func (p *fakePort) longestGap() time.Duration {
	var longest time.Duration
	for i := 1; i < len(p.at); i++ {
		longest = max(longest, p.at[i].Sub(p.at[i-1]))
	}
	return longest
}

func sameRequests(t *testing.T, want, got []rig.Request) {
	t.Helper()
	if len(want) == 0 {
		t.Fatal("the run to compare with has no requests")
	}
	if !slices.Equal(want, got) {
		for i := range min(len(want), len(got)) {
			if want[i] != got[i] {
				t.Fatalf("request %d differs: %+v, want %+v", i, got[i], want[i])
			}
		}
		t.Fatalf("%d requests, want %d", len(got), len(want))
	}
}
