package journal

import (
	"slices"
	"sync"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/rig"
)

const (
	// queueRecords are preallocated: far more than a second of the busiest cycle.
	queueRecords = 4096
	// maxRecords bounds the records in memory while the disk does not take
	// them: an hour's cycle at ten records a second has 36,000.
	maxRecords = 65536
	// stepBuffers of chunk.MaxRows steps: ten seconds of a rig while the writer
	// waits for the disk, and half a second of one simulated at 20 times.
	stepBuffers = 8
)

// queued is a record with what only its moment knows.
type queued struct {
	rec    controller.Record
	wallMs int64
	info   *CycleInfo // with RecStart
}

// stepBuffer is up to a second of steps of one cycle.
type stepBuffer struct {
	cycle uint32
	n     int
	rows  [chunk.MaxRows]chunk.Row
}

// drop counts steps of a cycle that found no buffer.
type drop struct {
	cycle uint32
	steps uint32
}

// queue is the only thing that the loop and the writer share. Its lock is held
// to copy a record or a step or to swap buffers, never over a write.
type queue struct {
	mu       sync.Mutex
	shutdown bool
	recs     []queued // waiting for the writer
	spare    []queued // the other half of recs
	held     int      // records in memory, those that the writer has included
	limit    int      // of held, maxRecords
	lost     []drop   // records beyond maxRecords
	prepared []CycleInfo

	cycle   uint32 // whose steps are taken, 0 none
	ending  bool   // one more step belongs to it
	fill    *stepBuffer
	ready   []*stepBuffer // full, in order
	free    []*stepBuffer
	dropped []drop // after the steps in ready
	urgent  bool
}

func (q *queue) init() {
	q.limit = maxRecords
	q.recs = make([]queued, 0, queueRecords)
	q.spare = make([]queued, 0, queueRecords)
	q.ready = make([]*stepBuffer, 0, stepBuffers)
	for range stepBuffers {
		q.free = append(q.free, new(stepBuffer))
	}
}

func (q *queue) shut() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.shutdown = true
}

func (q *queue) prepare(info CycleInfo) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.prepared = slices.DeleteFunc(q.prepared, func(old CycleInfo) bool {
		return old.Number == info.Number
	})
	if len(q.prepared) == maxPrepared {
		q.prepared = slices.Delete(q.prepared, 0, 1)
	}
	q.prepared = append(q.prepared, info)
}

// Append takes a copy of one record and never waits. RecStart begins the cycle
// that was prepared under its number, RecEnd ends it. Append the records of a
// step before its AppendStep. After Close records are ignored.
func (j *Journal) Append(rec controller.Record) {
	wallMs := j.opt.Now().UnixMilli()
	q := &j.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.shutdown {
		return
	}
	item := queued{rec: rec, wallMs: wallMs}
	switch rec.Kind {
	case controller.RecStart:
		item.info = q.begin(rec.Cycle)
	case controller.RecEnd:
		q.ending = q.ending || q.cycle == rec.Cycle
	}
	if atOnce(rec.Kind) {
		q.urgent = true
		j.nudge()
	}
	if q.held >= q.limit {
		q.lost = count(q.lost, rec.Cycle)
		return
	}
	q.held++
	q.recs = append(q.recs, item)
}

// atOnce tells the records that people and the next start rely on.
func atOnce(kind controller.RecordKind) bool {
	switch kind {
	case controller.RecStart, controller.RecEnd, controller.RecTrip, controller.RecState:
		return true
	}
	return false
}

// begin opens the stream of steps and finds what was prepared; nil if nothing.
func (q *queue) begin(cycle uint32) *CycleInfo {
	q.handOver()
	q.cycle, q.ending = cycle, false
	for i := range q.prepared {
		if q.prepared[i].Number == cycle {
			info := q.prepared[i]
			q.prepared = slices.Delete(q.prepared, i, i+1)
			return &info
		}
	}
	return nil
}

// AppendStep takes a copy of one step of the running cycle and never waits or
// allocates. Calls outside a cycle are ignored; the step in which the cycle
// ended still belongs to it. When both buffers wait for the writer the step is
// dropped and the gap is stored.
func (j *Journal) AppendStep(in *controller.Input, req *rig.Request) {
	q := &j.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.cycle == 0 || q.shutdown {
		return
	}
	if q.fill == nil {
		q.fill = q.takeFree()
	}
	if q.fill == nil {
		q.dropped = count(q.dropped, q.cycle)
	} else {
		q.fill.rows[q.fill.n].Set(in, req)
		q.fill.n++
	}
	if q.ending {
		q.cycle, q.ending, q.urgent = 0, false, true
	}
	if q.cycle == 0 || q.fill != nil && q.fill.n == chunk.MaxRows {
		q.handOver()
		j.nudge()
	}
}

// takeFree gives an empty buffer for the running cycle, nil when there is none.
// While dropped steps wait to be stored, later steps would come before them.
func (q *queue) takeFree() *stepBuffer {
	if len(q.free) == 0 || len(q.dropped) > 0 {
		return nil
	}
	b := q.free[len(q.free)-1]
	q.free = q.free[:len(q.free)-1]
	b.cycle, b.n = q.cycle, 0
	return b
}

// handOver gives what is filled to the writer.
func (q *queue) handOver() {
	if q.fill != nil {
		q.ready = append(q.ready, q.fill)
		q.fill = nil
	}
}

// count adds one to the newest drop if it is of the same cycle.
func count(drops []drop, cycle uint32) []drop {
	if n := len(drops); n > 0 && drops[n-1].cycle == cycle {
		drops[n-1].steps++
		return drops
	}
	return append(drops, drop{cycle, 1})
}

// nudge tells the writer that something should not wait for the next tick.
func (j *Journal) nudge() {
	select {
	case j.wake <- struct{}{}:
	default: // it has been told already
	}
}

// taken is what the writer got out of the queue, in order.
type taken struct {
	recs    []queued
	ready   []*stepBuffer
	dropped []drop
	lost    []drop
}

// take swaps the queue's halves. With all, or when something urgent is there,
// the buffer that is being filled comes along.
func (q *queue) take(all bool) taken {
	q.mu.Lock()
	defer q.mu.Unlock()
	if all || q.urgent {
		q.handOver()
	}
	q.urgent = false
	t := taken{recs: q.recs, ready: slices.Clone(q.ready), dropped: q.dropped, lost: q.lost}
	q.recs, q.ready = q.spare, q.ready[:0]
	q.spare, q.dropped, q.lost = nil, nil, nil
	return t
}

// giveBack returns the emptied half and buffers of t.
func (q *queue) giveBack(t taken) {
	q.mu.Lock()
	defer q.mu.Unlock()
	clear(t.recs)
	if cap(t.recs) > queueRecords { // grown while the writer was late
		t.recs = make([]queued, 0, queueRecords)
	}
	q.spare = t.recs[:0]
	q.free = append(q.free, t.ready...)
}

// release tells that n records are on disk.
func (q *queue) release(n int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.held -= n
}
