package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/journal/steptest"
	"pressrig/proof"
	"pressrig/rig"
	"pressrig/trials"
)

// story appends a whole small cycle with every kind of record.
func story(j *Journal, n uint32) {
	for _, rec := range []controller.Record{
		{Kind: controller.RecCommand, ElapsedMs: 1000, Command: controller.Start, By: "Ada"},
		{Kind: controller.RecPrompt, ElapsedMs: 1000, Prompt: 1, Reason: "blank seated?"},
		{Kind: controller.RecAnswer, ElapsedMs: 1500, Prompt: 1, Value: 1, By: "Ada"},
		{Kind: controller.RecPhaseBegin, ElapsedMs: 2000, Phase: 0},
		{Kind: controller.RecPhaseEnd, ElapsedMs: 3000, Phase: 0, Reason: "at temperature"},
		{Kind: controller.RecPhaseBegin, ElapsedMs: 3000, Phase: 1},
		{Kind: controller.RecMark, ElapsedMs: 3100, Phase: 1, Reason: "contact"},
		{Kind: controller.RecMeasure, ElapsedMs: 3200, Phase: 1, Name: "transfer",
			Value: 1.25, Unit: "s"},
		{Kind: controller.RecAlarm, ElapsedMs: 3300, Phase: 1, Cause: 21},
		{Kind: controller.RecTrip, ElapsedMs: 3400, Phase: 1, Cause: 3,
			Causes: 1<<3 | 1<<21, Lockout: true},
		{Kind: controller.RecState, ElapsedMs: 3400, Phase: 1, State: controller.Aborting},
		{Kind: controller.RecEnd, ElapsedMs: 4000, Phase: -1, State: controller.Aborted, Cause: 3,
			Reason: "flame lost while pressing"},
	} {
		rec.Cycle = n
		j.Append(rec)
	}
}

func TestStoryOfACycle(t *testing.T) {
	j := open(t, inDir(t), still())
	info := someInfo()
	n := begin(t, j, info, 1000)
	story(j, n)
	flush(t, j)
	got := must[trials.Cycle](t)(j.Cycle(n))
	sec := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	event := func(at time.Duration, kind, text string) trials.Event {
		return trials.Event{At: at, Kind: kind, Text: text}
	}
	want := trials.Cycle{
		Number: 1, Run: 2, Piece: 3, Last: true, Guarded: true, By: "Ada", Rig: "bench-1",
		Recipe: "octal-9", Firmware: "1.0.0", Started: wall.Local(), Ended: wall.Local(),
		State: "aborted", Reason: "flame lost while pressing", Cause: 3,
		CauseText: "flame lost", Lockout: true,
		Phases: []trials.Phase{
			{Name: "heat", Kind: "fire", Begin: sec(1), End: sec(2), Reason: "at temperature"},
			{Name: "form", Kind: "press", Begin: sec(2), End: sec(3), Reason: "flame lost while pressing"}},
		Measures: []trials.Measure{{Name: "transfer", Value: 1.25, Unit: "s", At: sec(2.2)}},
		Events: []trials.Event{
			event(0, "start", ""), event(0, "command", "start; by Ada"),
			event(0, "prompt", "question 1; blank seated?"),
			event(sec(.5), "answer", "question 1: yes; by Ada"),
			event(sec(1), "phase", "heat"), event(sec(2), "phase end", "heat; at temperature"),
			event(sec(2), "phase", "form"), event(sec(2.1), "mark", "contact"),
			event(sec(2.2), "measure", "transfer 1.25 s"), event(sec(2.3), "alarm", "link lost"),
			event(sec(2.4), "trip", "flame lost; then link lost; lockout"),
			event(sec(2.4), "state", "aborting"),
			event(sec(3), "end", "aborted; flame lost; flame lost while pressing"),
		},
	}
	want.Hash, want.Profile = got.Hash, got.Profile // see TestHashes
	want.Ledger = must[Head](t)(j.Head()).Told()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	frozen := must[CycleInfo](t)(j.Frozen(n))
	info.Number, info.Started = n, wall.Local()
	if diff := cmp.Diff(info, frozen); diff != "" {
		t.Error(diff)
	}
}

// FIPS 180-4 example: SHA-256 of "abc" (NIST, Secure Hash Standard examples).
func TestHashes(t *testing.T) {
	j := open(t, inDir(t), still())
	info := someInfo()
	info.RecipeText = []byte("abc")
	info.RecipeHash = sha256.Sum256(info.RecipeText)
	n := begin(t, j, info, 0)
	const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if c := must[trials.Cycle](t)(j.Cycle(n)); c.Hash != want {
		t.Errorf("recipe hash %s, want %s", c.Hash, want)
	}
	info.RecipeText = []byte("abd")
	if _, err := j.Prepare(info); err == nil {
		t.Error("a recipe text that does not fit its hash was taken")
	}
	info.RecipeText = make([]byte, maxDocument+1)
	if _, err := j.Prepare(info); err == nil {
		t.Error("a recipe text beyond the limit was taken")
	}
}

func TestEveryStepComesBack(t *testing.T) {
	path := inDir(t)
	j := open(t, path, still())
	src := steptest.New(7)
	src.Actions = true
	n := begin(t, j, someInfo(), 0)
	var want []chunk.Row
	for range 30 { // a second each
		want = append(want, feed(j, src, 100)...)
		flush(t, j)
	}
	end(j, n, 30_000)
	want = append(want, feed(j, src, 1)...) // the step that ended it
	feed(j, src, 5)                         // outside the cycle
	flush(t, j)
	got, gap := readSteps(t, j, n)
	if gap != nil {
		t.Fatal(gap)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	trace := must[*trials.Trace](t)(j.Trace(n))
	snaps := 0
	for _, r := range want {
		if r.HasSnap {
			if trace.Analog[3][snaps] != r.Snap.Analog[3] || trace.In[snaps] != r.Snap.In ||
				uint64(trace.Ms[snaps]) != r.ElapsedMs {
				t.Fatalf("snapshot %d differs", snaps)
			}
			snaps++
		}
	}
	if snaps != len(trace.Ms) || len(trace.Gaps) != 0 {
		t.Errorf("%d snapshots in the trace, %d were given; gaps %v", len(trace.Ms), snaps, trace.Gaps)
	}
	if r := mustCheck(t, path); r.Steps != len(want) || r.Cycles != 1 || r.Gaps != 0 {
		t.Errorf("report %+v", r)
	}
}

// What people and the next start rely on is written without waiting for the
// clock, and a start counts as begun only when it is on disk.
func TestWrittenAtOnce(t *testing.T) {
	commits := make(chan struct{}, 8)
	o := still()
	o.beforeCommit = func() error { commits <- struct{}{}; return nil }
	j := open(t, inDir(t), o)
	if h := j.Health(); h != (controller.JournalHealth{Writable: true}) {
		t.Fatalf("health of a new journal: %+v", h)
	}
	n := must[uint32](t)(j.Prepare(someInfo()))
	<-commits
	if h := j.Health(); h.Started != 0 {
		t.Fatalf("started before its record: %+v", h)
	}
	for i, kind := range []controller.RecordKind{controller.RecStart, controller.RecState,
		controller.RecTrip, controller.RecEnd} {
		j.Append(controller.Record{Kind: kind, Cycle: n, State: controller.Complete})
		<-commits // the record woke the writer
		if err := j.ask(func(*writer) error { return nil }); err != nil {
			t.Fatal(err)
		}
		if h := j.Health(); h.Started != n {
			t.Errorf("after record %d: health %+v", kind, h)
		}
		if recs := must[[]controller.Record](t)(j.Records(n)); len(recs) != i+1 {
			t.Errorf("after record %d: %d records are stored, want %d", kind, len(recs), i+1)
		}
	}
	j.Append(controller.Record{Kind: controller.RecMark, Cycle: n})
	select {
	case <-commits:
		t.Error("a mark does not need a write of its own")
	default:
	}
}

func TestListIsNewestFirst(t *testing.T) {
	j := open(t, inDir(t), still())
	for i := range 7 {
		info := someInfo()
		info.Run = uint32(1 + i/3)
		n := begin(t, j, info, 0)
		end(j, n, 10)
	}
	flush(t, j)
	for _, c := range []struct {
		f    Filter
		want []uint32
	}{
		{Filter{}, []uint32{7, 6, 5, 4, 3, 2, 1}},
		{Filter{Limit: 2}, []uint32{7, 6}},
		{Filter{Limit: 2, Before: 6}, []uint32{5, 4}},
		{Filter{Run: 2}, []uint32{6, 5, 4}},
		{Filter{Recipe: "none"}, []uint32{}},
		{Filter{State: "complete", Recipe: "octal-9", Rig: "bench-1", Limit: 1, Story: true},
			[]uint32{7}},
		{Filter{Since: wall.Add(time.Second)}, []uint32{}},
	} {
		got := []uint32{}
		for _, cy := range must[[]trials.Cycle](t)(j.Cycles(c.f)) {
			got = append(got, cy.Number)
			if c.f.Story != (len(cy.Events) > 0) {
				t.Errorf("%+v: %d events", c.f, len(cy.Events))
			}
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%+v: %s", c.f, diff)
		}
	}
}

func TestNumbersAreNeverUsedTwice(t *testing.T) {
	path := inDir(t)
	o := still()
	for want := uint32(1); want <= 3; want++ {
		j := must[*Journal](t)(Open(path, o))
		if n := must[uint32](t)(j.Prepare(someInfo())); n != want {
			t.Errorf("cycle %d, want %d", n, want)
		}
		if n := must[uint32](t)(j.NextRun()); n != want {
			t.Errorf("run %d, want %d", n, want)
		}
		if err := errors.Join(j.Close(), j.Close()); err != nil {
			t.Error(err)
		}
	}
}

// The user that the kernel knows stands beside the name that was typed.
func TestTheUserIsKept(t *testing.T) {
	j := open(t, inDir(t), still())
	info := someInfo()
	info.User = "uid 1000"
	n := begin(t, j, info, 0)
	j.Append(controller.Record{Kind: controller.RecCommand, Cycle: n, Command: controller.Hold, By: "Bob", User: "uid 1001"})
	end(j, n, 1000)
	flush(t, j)
	signed := someProof("estop", proof.Passed)
	signed.User = "uid 1002"
	must[uint32](t)(j.AppendProof(signed, profileText))
	c := must[trials.Cycle](t)(j.Cycle(n))
	if c.By != "Ada" || c.User != "uid 1000" || c.Events[1].Text != "hold; by Bob (uid 1001)" {
		t.Errorf("by %q, user %q, %q", c.By, c.User, c.Events[1].Text)
	}
	if f := must[CycleInfo](t)(j.Frozen(n)); f.User != "uid 1000" {
		t.Errorf("frozen user %q", f.User)
	}
	if r := must[[]controller.Record](t)(j.Records(n)); r[1].By != "Bob" || r[1].User != "uid 1001" {
		t.Errorf("record %+v", r[1])
	}
	if p := must[[]proof.Record](t)(j.Proofs(0, 1)); p[0].User != "uid 1002" {
		t.Errorf("proof %+v", p[0])
	}
}

func TestRecordsOutsideACycleAreKept(t *testing.T) {
	j := open(t, inDir(t), still())
	j.Append(controller.Record{Kind: controller.RecTrip, Cause: 1, Causes: 1 << 63})
	j.Append(controller.Record{Kind: controller.RecState, Cycle: 99, State: controller.Idle})
	flush(t, j)
	recs := must[[]controller.Record](t)(j.Records(0))
	if len(recs) != 2 || recs[0].Causes != 1<<63 || recs[1].State != controller.Idle {
		t.Errorf("records %+v", recs)
	}
}

// Bad input of a caller must neither lose a record nor stop the others.
func TestMisfitsAreSetApart(t *testing.T) {
	var f faults
	o := still()
	o.Fault = f.add
	j := open(t, inDir(t), o)
	n := begin(t, j, someInfo(), 0)
	end(j, n, 10)
	end(j, n, 20)                                                                  // a second end
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})               // a second start
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: 50, By: "Grace"}) // never prepared
	j.Append(controller.Record{Kind: controller.RecMark, Cycle: 50, Reason: "re-fired"})
	end(j, 50, 30)
	flush(t, j)
	if recs := must[[]controller.Record](t)(j.Records(0)); len(recs) != 2 {
		t.Errorf("%d records set apart, want 2", len(recs))
	}
	if list := f.take(); len(list) != 2 {
		t.Errorf("faults %v, want 2", list)
	}
	c := must[trials.Cycle](t)(j.Cycle(50))
	if c.By != "Grace" || c.State != "complete" || !c.Refired {
		t.Errorf("unprepared cycle: %+v", c)
	}
	if n := must[uint32](t)(j.Prepare(someInfo())); n != 51 {
		t.Errorf("next cycle %d, want 51", n)
	}
	if !j.Health().Writable {
		t.Error("not writable")
	}
}

func TestOneDaemonAJournal(t *testing.T) {
	path := inDir(t)
	open(t, path, still())
	if _, err := Open(path, still()); !errors.Is(err, ErrLocked) {
		t.Errorf("second Open: %v, want ErrLocked", err)
	}
}

func TestAfterClose(t *testing.T) {
	j := must[*Journal](t)(Open(inDir(t), still()))
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j.Append(controller.Record{Kind: controller.RecState})
	j.AppendStep(&controller.Input{}, &rig.Request{})
	if _, err := j.Prepare(someInfo()); !errors.Is(err, ErrClosed) {
		t.Errorf("Prepare: %v", err)
	}
	if err := j.Flush(); !errors.Is(err, ErrClosed) {
		t.Errorf("Flush: %v", err)
	}
}

func TestNoSuchCycle(t *testing.T) {
	j := open(t, inDir(t), still())
	_, err1 := j.Cycle(9)
	_, err2 := j.Trace(9)
	_, err3 := j.Frozen(9)
	err4 := j.Steps(9, nil)
	err5 := j.ExportCSV(&bytes.Buffer{}, 9)
	err6 := j.ExportJSON(&bytes.Buffer{}, 9)
	for i, err := range []error{err1, err2, err3, err4, err5, err6} {
		if !errors.Is(err, ErrNoCycle) {
			t.Errorf("reader %d: %v", i+1, err)
		}
	}
}

func TestExports(t *testing.T) {
	j := open(t, inDir(t), still())
	n := begin(t, j, someInfo(), 1000)
	snap := rig.Snapshot{Analog: [10]int16{7805, 4200, 4190, 6512, -35, 600, 3000, 5200, 1500, 4000},
		AnalogOK: 0x3FE, In: 1 | 1<<2, Out: 3, Burner: 7, Press: 2}
	j.AppendStep(&controller.Input{Tick: 1, ElapsedMs: 1010, Snap: &snap}, &rig.Request{})
	snap.AnalogOK = 0x3FF
	j.AppendStep(&controller.Input{Tick: 2, ElapsedMs: 1020, Snap: &snap}, &rig.Request{})
	story(j, n)
	flush(t, j)
	for name, export := range map[string]func(*bytes.Buffer) error{
		"cycle.csv":  func(b *bytes.Buffer) error { return j.ExportCSV(b, n) },
		"cycle.json": func(b *bytes.Buffer) error { return j.ExportJSON(b, n) },
	} {
		var b bytes.Buffer
		if err := export(&b); err != nil {
			t.Fatal(err)
		}
		golden(t, name, b.Bytes())
	}
	var b bytes.Buffer
	if err := j.ExportCSV(&b, n); err != nil {
		t.Fatal(err)
	}
	rows := must[[][]string](t)(csv.NewReader(&b).ReadAll())
	if rows[0][2] != "glass_C" || rows[1][2] != "" || rows[2][2] != "780.5" ||
		rows[0][5] != "travel_mm" || rows[1][5] != "65.12" || rows[1][6] != "-3.5" ||
		rows[0][8] != "fuel_flow_L_per_min" || rows[1][8] != "3.000" {
		t.Errorf("table:\n%s", strings.Join(rows[0], ","))
	}
	b.Reset()
	if err := j.ExportJSON(&b, n); err != nil {
		t.Fatal(err)
	}
	var any map[string]any
	if err := json.Unmarshal(b.Bytes(), &any); err != nil {
		t.Fatal(err)
	}
}

// The number of a start that was refused is used again, with what the later
// start freezes; one of a cycle that has started is not.
func TestARefusedStartsNumberIsUsedAgain(t *testing.T) {
	j := open(t, inDir(t), still())
	first := someInfo()
	n := must[uint32](t)(j.Prepare(first))
	again := someInfo()
	again.Number, again.By = n, "Grace"
	if got := must[uint32](t)(j.Prepare(again)); got != n {
		t.Fatalf("prepared again as %d, want %d", got, n)
	}
	j.Append(controller.Record{Kind: controller.RecStart, Cycle: n})
	flush(t, j)
	if c := must[trials.Cycle](t)(j.Cycle(n)); c.By != "Grace" {
		t.Errorf("cycle is by %s, want what was prepared last", c.By)
	}
	if _, err := j.Prepare(again); err == nil {
		t.Error("the number of a started cycle was taken again")
	}
	if got := must[uint32](t)(j.Prepare(someInfo())); got != n+1 {
		t.Errorf("next number %d, want %d", got, n+1)
	}
	_ = j.SetMaxBytes(1) // nothing more fits
	again.Number = n + 1
	if _, err := j.Prepare(again); !errors.Is(err, ErrNotWritable) {
		t.Errorf("prepared again on a full disk: %v, want ErrNotWritable", err)
	}
}
