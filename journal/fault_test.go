package journal

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
	"pressrig/rig"
	"pressrig/trials"
)

var errTest = errors.New("disk says no")

// SV rows 27 and 28 of the cause-and-effect table: idle, a start is refused;
// running, the cycle finishes in memory and the next start is refused.
func TestFullDiskWhileRunning(t *testing.T) {
	var f faults
	o := still()
	o.Fault, o.MaxBytes = f.add, 64<<20
	j := open(t, inDir(t), o)
	n := begin(t, j, someInfo(), 0)
	src := steptest.New(3)
	want := feed(j, src, 100)
	flush(t, j)
	if list := f.take(); len(list) != 0 {
		t.Fatalf("faults with room left: %v", list)
	}
	_ = j.SetMaxBytes(1) // not one page more than there is
	for range 60 {
		want = append(want, feed(j, src, 100)...)
		_ = j.Flush()
	}
	end(j, n, src.ElapsedMs())
	want = append(want, feed(j, src, 1)...)
	if err := j.Flush(); err == nil || !strings.Contains(err.Error(), "full") {
		t.Fatalf("flush to a full disk: %v", err)
	}
	if h := j.Health(); h.Writable || h.Started != n {
		t.Errorf("health %+v", h)
	}
	if _, err := j.Prepare(someInfo()); !errors.Is(err, ErrNotWritable) {
		t.Errorf("next start: %v, want ErrNotWritable", err)
	}
	if list := f.take(); len(list) != 1 || list[0] == nil {
		t.Errorf("faults %v, want one", list)
	}
	if err := j.SetMaxBytes(64 << 20); err != nil {
		t.Fatal(err)
	}
	if list := f.take(); len(list) != 1 || list[0] != nil {
		t.Errorf("faults %v, want one nil: all is well again", list)
	}
	got, gap := readSteps(t, j, n)
	if diff := cmp.Diff(want, got); diff != "" || gap != nil {
		t.Errorf("after healing: gap %v, %s", gap, diff)
	}
	if c := must[trials.Cycle](t)(j.Cycle(n)); c.State != "complete" {
		t.Errorf("state %q", c.State)
	}
	if _, err := j.Prepare(someInfo()); err != nil {
		t.Error(err)
	}
}

func TestStartOnAFullDiskIsNotAcknowledged(t *testing.T) {
	j := open(t, inDir(t), still())
	n := must[uint32](t)(j.Prepare(someInfo()))
	_ = j.SetMaxBytes(1)
	info := someInfo()
	for i := range info.Phases { // more than fits into the pages there are
		info.Phases[i].Name = strings.Repeat("long ", 4000)
	}
	j.queue.prepared[0].Phases = info.Phases
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
	if err := j.Flush(); err == nil {
		t.Fatal("the start record fits; the test needs a fuller disk")
	}
	if h := j.Health(); h.Started == n || h.Writable {
		t.Errorf("health %+v", h)
	}
	if err := j.SetMaxBytes(0); err != nil {
		t.Fatal(err)
	}
	if h := j.Health(); h.Started != n || !h.Writable {
		t.Errorf("after healing: health %+v", h)
	}
}

// A quota that is nearly used refuses starts before anything fails.
func TestQuotaNearlyUsed(t *testing.T) {
	for _, c := range []struct {
		left int64
		ok   bool
	}{{reserveBytes - 4096, false}, {reserveBytes + 2*4096, true}} {
		j := open(t, inDir(t), still())
		used := must[int64](t)(pragma(j.conn, "page_count"))
		_ = j.SetMaxBytes(used*4096 + c.left)
		if j.Health().Writable != c.ok {
			t.Errorf("%d bytes left: writable %v", c.left, !c.ok)
		}
		if _, err := j.Prepare(someInfo()); (err == nil) != c.ok {
			t.Errorf("%d bytes left: %v", c.left, err)
		}
	}
}

// When memory for unwritten steps is used up the oldest become one gap.
func TestBacklogBecomesAGap(t *testing.T) {
	fail := true
	o := still()
	o.beforeCommit = func() error {
		if fail {
			return errTest
		}
		return nil
	}
	fail = false
	j := open(t, inDir(t), o)
	n := begin(t, j, someInfo(), 0)
	src := steptest.New(4)
	rows := feed(j, src, 100)
	flush(t, j)
	fail = true
	for range 5 {
		rows = append(rows, feed(j, src, 100)...)
		_ = j.Flush()
	}
	err := j.ask(func(w *writer) error { // as if the five were the limit
		w.shed()
		w.shed()
		return nil
	})
	fail = false
	if err != nil {
		t.Fatal(err)
	}
	flush(t, j)
	got, gap := readSteps(t, j, n)
	if gap == nil || gap.Missing != 200 || gap.AfterTick != 100 || len(got) != 100 {
		t.Fatalf("%d steps, then %v", len(got), gap)
	}
	tr := must[*trials.Trace](t)(j.Trace(n))
	want := []trials.Gap{{AfterMs: uint32(rows[99].ElapsedMs), Steps: 200}}
	if diff := cmp.Diff(want, tr.Gaps); diff != "" {
		t.Error(diff)
	}
	if last := tr.Ms[len(tr.Ms)-1]; last < uint32(rows[590].ElapsedMs) {
		t.Errorf("the trace ends at %d ms: what came after the gap is gone", last)
	}
}

// blocked is a journal whose writer stands in the middle of a write, with a
// cycle running and both step buffers empty.
func blocked(t *testing.T) (j *Journal, n uint32, release func()) {
	t.Helper()
	var (
		armed   = false
		entered = make(chan struct{})
		leave   = make(chan struct{})
	)
	o := still()
	o.beforeCommit = func() error {
		if armed {
			armed = false
			entered <- struct{}{}
			<-leave
		}
		return nil
	}
	j = open(t, inDir(t), o)
	n = begin(t, j, someInfo(), 0)
	must[uint32](t)(j.NextRun()) // the writer is at rest: it only waits for us
	err := j.ask(func(*writer) error { armed = true; return nil })
	if err != nil {
		t.Fatal(err)
	}
	j.Append(controller.Record{Kind: controller.RecState, Cycle: n, State: controller.Running})
	<-entered
	return j, n, func() { close(leave) }
}

func TestStepsAreDroppedAndTheGapIsMarked(t *testing.T) {
	j, n, release := blocked(t)
	src := steptest.New(5)
	const fits = stepBuffers * chunk.MaxRows
	rows := feed(j, src, fits+50)
	release()
	flush(t, j)
	feed(j, src, 10)
	end(j, n, src.ElapsedMs())
	feed(j, src, 1)
	flush(t, j)
	got, gap := readSteps(t, j, n)
	if diff := cmp.Diff(rows[:fits], got); diff != "" {
		t.Error(diff)
	}
	if gap == nil || gap.Missing != 50 || gap.AfterTick != fits {
		t.Errorf("gap %v, want 50 steps after tick %d", gap, fits)
	}
	tr := must[*trials.Trace](t)(j.Trace(n))
	if len(tr.Gaps) != 1 || tr.Gaps[0].Steps != 50 {
		t.Errorf("gaps %v", tr.Gaps)
	}
}

// Records outlive a slow disk up to the limit; beyond, they are counted.
func TestRecordsBeyondTheLimitAreCounted(t *testing.T) {
	j, n, release := blocked(t)
	var f faults
	j.opt.Fault = f.add                         // the writer stands still
	const limit, beyond = queueRecords + 904, 3 // past the preallocated queue
	j.queue.mu.Lock()
	j.queue.limit = limit
	j.queue.mu.Unlock()
	for i := range limit - 1 + beyond { // one is being written
		j.Append(controller.Record{Kind: controller.RecMark, Cycle: n, ElapsedMs: uint64(i)})
	}
	release()
	flush(t, j)
	c := must[trials.Cycle](t)(j.Cycle(n))
	if c.LostRecords != beyond {
		t.Errorf("%d records counted as lost, want %d", c.LostRecords, beyond)
	}
	if list := f.take(); len(list) != 1 || list[0] == nil {
		t.Errorf("faults %v, want one", list)
	}
	if got := len(must[[]controller.Record](t)(j.Records(n))); got != limit+1 {
		t.Errorf("%d records, want %d", got, limit+1)
	}
	j.Append(controller.Record{Kind: controller.RecMark, Cycle: n})
	flush(t, j)
	if j.queue.held != 0 {
		t.Errorf("%d records held with nothing to write", j.queue.held)
	}
}

func TestNothingIsAllocatedForAStep(t *testing.T) {
	j, _, release := blocked(t)
	defer release()
	in, req := steptest.New(6).Next()
	rec := controller.Record{Kind: controller.RecMark}
	step := func() {
		in.Tick++
		j.AppendStep(in, req)
	}
	for _, c := range []struct {
		what string
		runs int
		do   func()
	}{
		{"step into a buffer", stepBuffers*chunk.MaxRows - 10, step},
		{"step beyond both buffers", 1000, step},
		{"record", queueRecords / 2, func() { j.Append(rec) }},
	} {
		if n := testing.AllocsPerRun(c.runs, c.do); n != 0 {
			t.Errorf("%s: %v allocations", c.what, n)
		}
	}
}

// oneCycle is the shortest life of a cycle with everything in it. It gives its
// number and whether its start was acknowledged.
func oneCycle(j *Journal) (n uint32, started bool, rows []chunk.Row) {
	n, err := j.Prepare(someInfo())
	if err != nil {
		return 0, false, nil
	}
	src := steptest.New(9)
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
	_ = j.Flush()
	started = j.Health().Started == n
	for range 3 {
		rows = append(rows, feed(j, src, 50)...)
		_ = j.Flush()
	}
	end(j, n, src.ElapsedMs())
	rows = append(rows, feed(j, src, 1)...)
	return n, started, rows
}

// The n-th write fails, once or from then on; then the file is opened again.
func TestFailAtEveryWrite(t *testing.T) {
	for _, forever := range []bool{false, true} {
		for at := 1; failAt(t, at, forever); at++ {
			if at > 50 {
				t.Fatal("a cycle takes more than 50 writes")
			}
		}
	}
}

// failAt reports whether the failure came.
func failAt(t *testing.T, at int, forever bool) bool {
	t.Helper()
	name := fmt.Sprintf("write %d, forever %v", at, forever)
	path, writes := inDir(t), 0
	o := still()
	o.beforeCommit = func() error {
		writes++
		if writes == at || forever && writes > at {
			return errTest
		}
		return nil
	}
	j := must[*Journal](t)(Open(path, o))
	n, started, want := oneCycle(j)
	flushed := j.Flush()
	closed := j.Close()
	if !forever && n != 0 && (closed != nil || flushed != nil && writes > at+1) {
		t.Errorf("%s: does not heal: %v, %v", name, flushed, closed)
	}
	mustCheck(t, path)
	j = must[*Journal](t)(Open(path, still()))
	if n != 0 {
		verifyFailed(t, j, name, n, started, want, !forever)
	}
	if err := j.Close(); err != nil {
		t.Error(err)
	}
	mustCheck(t, path)
	return writes >= at
}

func verifyFailed(t *testing.T, j *Journal, name string, n uint32, started bool, want []chunk.Row,
	whole bool) {
	t.Helper()
	c, err := j.Cycle(n)
	if err != nil {
		if started || !errors.Is(err, ErrNoCycle) {
			t.Errorf("%s: started %v, then %v", name, started, err)
		}
		return
	}
	got, gap := readSteps(t, j, n)
	if gap != nil || len(got) > len(want) || !slices.Equal(want[:len(got)], got) {
		t.Errorf("%s: %d steps are no prefix of what was written, gap %v", name, len(got), gap)
	}
	if c.State == "complete" && len(got) < len(want)-1 {
		t.Errorf("%s: an end with %d of %d steps", name, len(got), len(want))
	}
	if whole && (c.State != "complete" || len(got) != len(want)) {
		t.Errorf("%s: state %q, %d of %d steps", name, c.State, len(got), len(want))
	}
	if c.State != "complete" && c.State != "aborted" {
		t.Errorf("%s: state %q", name, c.State)
	}
}

// A write that fails while misfits are set apart stores nothing twice.
func TestNothingIsStoredTwice(t *testing.T) {
	const marks = 4
	for at := 1; at <= marks+4; at++ {
		left := 0
		o := still()
		o.beforeCommit = func() error {
			if left--; left == 0 {
				return errTest
			}
			return nil
		}
		j := open(t, inDir(t), o)
		n := begin(t, j, someInfo(), 0)
		end(j, n, 1)
		flush(t, j)
		if err := j.ask(func(*writer) error { left = at; return nil }); err != nil {
			t.Fatal(err)
		}
		for i := range marks {
			if i == marks/2 { // the misfit stands in the middle
				j.queue.mu.Lock()
				j.queue.recs = append(j.queue.recs, queued{rec: controller.Record{
					Kind: controller.RecEnd, Cycle: n, State: controller.Stopped}})
				j.queue.held++
				j.queue.mu.Unlock()
			}
			j.Append(controller.Record{Kind: controller.RecMark, Cycle: n})
		}
		_ = j.Flush()
		left = 0
		flush(t, j)
		of := must[[]controller.Record](t)(j.Records(n))
		apart := must[[]controller.Record](t)(j.Records(0))
		if len(of) != marks+2 || len(apart) != 1 {
			t.Errorf("failure %d: %d records of the cycle, want %d; %d apart, want 1",
				at, len(of), marks+2, len(apart))
		}
		if j.queue.held != 0 {
			t.Errorf("failure %d: %d records held with nothing to write", at, j.queue.held)
		}
	}
}

// The clock writes what is queued, without anything urgent.
func TestTickWrites(t *testing.T) {
	tick := make(chan time.Time)
	o := still()
	o.Tick = tick
	j := open(t, inDir(t), o)
	n := begin(t, j, someInfo(), 0)
	rows := feed(j, steptest.New(2), 30)
	j.Append(controller.Record{Kind: controller.RecMark, Cycle: n, Reason: "soft"})
	tick <- wall
	tick <- wall // taken only after the first was served
	got, _ := readSteps(t, j, n)
	if diff := cmp.Diff(rows, got); diff != "" {
		t.Error(diff)
	}
	if recs := must[[]controller.Record](t)(j.Records(n)); len(recs) != 2 {
		t.Errorf("%d records", len(recs))
	}
}

// Readers, starts and the loop at the same time; of use with the race detector.
func TestEveryoneAtOnce(t *testing.T) {
	tick := make(chan time.Time)
	o := still()
	o.Tick = tick
	j := open(t, inDir(t), o)
	done := make(chan error)
	end(j, begin(t, j, someInfo(), 0), 10)
	for _, read := range []func(n uint32) error{
		func(uint32) error { _, err := j.Cycles(Filter{Story: true}); return err },
		func(n uint32) error { _, err := j.Trace(n); return err },
		func(n uint32) error { return j.ExportJSON(new(strings.Builder), n) },
		func(n uint32) error {
			return j.Steps(n, func(*controller.Input, *rig.Request) error { return nil })
		},
		func(uint32) error {
			r, err := j.Check()
			if err == nil && !r.OK() {
				err = errors.New(strings.Join(r.Problems, "\n"))
			}
			return err
		},
		func(uint32) error { _, err := j.NextRun(); return err },
	} {
		go func() {
			var err error
			for i := 0; i < 15 && err == nil; i++ {
				err = read(j.Health().Started)
			}
			done <- err
		}()
	}
	for range 8 {
		n := must[uint32](t)(j.Prepare(someInfo()))
		src := steptest.New(uint64(n))
		j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
		for range 6 {
			feed(j, src, 60)
			tick <- wall
		}
		end(j, n, src.ElapsedMs())
	}
	for range 6 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}
