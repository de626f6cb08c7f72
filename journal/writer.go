package journal

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	sqlite "modernc.org/sqlite"

	"pressrig/controller"
	"pressrig/journal/chunk"
)

const (
	// batchItems go into one transaction, so that a long backlog is written in
	// pieces and the loop's records are not kept waiting behind it.
	batchItems = 512
	// maxBacklog is how many bytes of packed steps are kept in memory while the
	// disk does not take them: more than two hours of a busy cycle.
	maxBacklog = 16 << 20
	// reserveBytes must be left for a cycle to start: about ten minutes of it.
	reserveBytes = 512 << 10
	// constraintCode is SQLITE_CONSTRAINT, the low byte of its whole family.
	constraintCode = 19
)

// errStray marks an item whose cycle is not in the journal.
var errStray = errors.New("its cycle was never begun")

// call is something that another goroutine wants done by the writer.
type call struct {
	do   func(*writer) error
	done chan error
}

// writer is all that only the writing goroutine touches.
type writer struct {
	j       *Journal
	enc     *chunk.Encoder
	pending []item // not yet on disk, in order
	backlog int    // bytes of packed steps in pending
	quota   bool   // a quota is set
	lastErr error  // of the last write, nil when it went well
	head    Head   // of the ledger, after the newest commit that wrote
	losing  bool   // records were lost since the last write that went well
}

func newWriter(j *Journal) (*writer, error) {
	enc, err := chunk.NewEncoder()
	if err != nil {
		return nil, err
	}
	w := &writer{j: j, enc: enc, quota: j.opt.MaxBytes > 0}
	j.writable.Store(true) // so that a journal that opens full is a change
	w.show()
	return w, nil
}

// ask has the writer do something and waits for it.
func (j *Journal) ask(do func(*writer) error) error {
	c := call{do, make(chan error, 1)}
	select {
	case j.calls <- c:
		return <-c.done
	case <-j.done:
		return j.refusal
	}
}

// run ends when the journal is closed.
func (w *writer) run() {
	defer close(w.j.done)
	tick := w.j.opt.Tick
	if tick == nil {
		t := time.NewTicker(commitEvery)
		defer t.Stop()
		tick = t.C
	}
	for {
		select {
		case <-w.j.stop:
			w.j.err = w.flush(true)
			return
		case c := <-w.j.calls:
			c.done <- c.do(w)
		case <-w.j.wake:
			_ = w.flush(false) // shown in Health and told to Fault
		case <-tick:
			_ = w.flush(true)
		}
	}
}

// flush writes what is pending; all takes the steps of the unfinished second
// along. What could not be written stays pending and is tried again.
func (w *writer) flush(all bool) error {
	w.collect(all)
	if w.lastErr != nil && len(w.pending) == 0 {
		w.lastErr = w.commit(w.probe())
	}
	for len(w.pending) > 0 {
		n, err := w.store(w.pending[:min(len(w.pending), batchItems)])
		w.wrote(n)
		if w.lastErr = err; err != nil {
			break
		}
	}
	w.show()
	return w.lastErr
}

// store commits the batch at once; if an item breaks a rule of the tables,
// each alone, and that one apart from its cycle: nothing else waits for it. It
// tells how many are on disk.
func (w *writer) store(batch []item) (int, error) {
	err := w.commit(batch...)
	if err == nil {
		return len(batch), nil
	}
	if !misfit(err) {
		return 0, err
	}
	for i, it := range batch {
		err := w.commit(it)
		if misfit(err) {
			w.fault(fmt.Errorf("journal: %s is set apart: %w", it.what(), err))
			err = w.commit(apart{it})
		}
		if err != nil {
			return i, err
		}
	}
	return len(batch), nil
}

// misfit reports whether trying again cannot help.
func misfit(err error) bool {
	var e *sqlite.Error
	return errors.Is(err, errStray) || errors.As(err, &e) && e.Code()&0xFF == constraintCode
}

func (w *writer) commit(items ...item) error {
	ctx := context.Background()
	tx, err := w.j.conn.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("write journal: %w", err)
	}
	s := txn{ctx: ctx, tx: tx}
	for _, it := range items {
		if err = it.write(&s); err != nil {
			return errors.Join(fmt.Errorf("write journal: %w", err), w.rollback(tx.Rollback))
		}
	}
	if w.j.opt.beforeCommit != nil {
		err = w.j.opt.beforeCommit()
	}
	if err != nil {
		return errors.Join(fmt.Errorf("write journal: %w", err), w.rollback(tx.Rollback))
	}
	if err = tx.Commit(); err != nil {
		return errors.Join(fmt.Errorf("write journal: %w", err), w.rollback(nil))
	}
	if s.head != nil {
		w.head = *s.head
	}
	return nil
}

// rollback leaves no transaction open. After some failures SQLite has rolled
// back by itself and says so with an error that means nothing.
func (w *writer) rollback(by func() error) error {
	if by != nil {
		_ = by()
	}
	_, _ = w.j.conn.ExecContext(context.Background(), `ROLLBACK`)
	return nil
}

// wrote takes the first n off pending: they are on disk.
func (w *writer) wrote(n int) {
	records := 0
	for _, it := range w.pending[:n] {
		switch it := it.(type) {
		case recordItem:
			records++
			if it.rec.Kind == controller.RecStart {
				w.j.started.Store(it.rec.Cycle)
			}
			if it.rec.Kind == controller.RecEnd && w.j.opt.Ended != nil {
				w.j.opt.Ended(it.rec.Cycle, w.head)
			}
		case chunkItem:
			w.backlog -= len(it.data)
		case lostItem:
			w.losing = false
		}
	}
	left := copy(w.pending, w.pending[n:])
	clear(w.pending[left:])
	w.pending = w.pending[:left]
	w.j.queue.release(records)
}

// collect moves what is queued to pending. An end comes after the steps of its
// cycle, so that a cycle that has an end has all its steps.
func (w *writer) collect(all bool) {
	t := w.j.queue.take(all)
	ready := t.ready
	for _, q := range t.recs {
		if q.rec.Kind == controller.RecEnd {
			for len(ready) > 0 && ready[0].cycle == q.rec.Cycle {
				w.pack(ready[0])
				ready = ready[1:]
			}
		}
		w.pending = append(w.pending, recordItem{q})
	}
	for _, b := range ready {
		w.pack(b)
	}
	for _, d := range t.dropped {
		w.pending = append(w.pending, gapItem(d))
	}
	for _, d := range t.lost {
		w.pending = append(w.pending, lostItem{d.cycle, d.steps})
		if !w.losing {
			w.fault(fmt.Errorf("journal: records of cycle %d are lost: more than %d wait for the disk",
				d.cycle, maxRecords))
		}
		w.losing = true
	}
	w.j.queue.giveBack(t)
	for w.backlog > maxBacklog {
		w.shed()
	}
}

// pack makes a chunk of a buffer. A buffer cannot fail to pack; if it does it
// is a gap.
func (w *writer) pack(b *stepBuffer) {
	rows := b.rows[:b.n]
	data, err := w.enc.Encode(nil, rows)
	if err != nil {
		w.pending = append(w.pending, gapItem{b.cycle, uint32(b.n)})
		return
	}
	w.backlog += len(data)
	w.pending = append(w.pending, chunkItem{
		cycle: b.cycle, steps: len(rows), data: data, wallMs: w.j.opt.Now().UnixMilli(),
		firstTick: rows[0].Tick, lastTick: rows[b.n-1].Tick, lastMs: rows[b.n-1].ElapsedMs,
	})
}

// shed makes the oldest packed steps a gap, joined to the gap before it.
func (w *writer) shed() {
	gap := -1
	for i, it := range w.pending {
		switch it := it.(type) {
		case gapItem:
			gap = i
		case chunkItem:
			w.backlog -= len(it.data)
			w.pending[i] = gapItem{it.cycle, uint32(it.steps)}
			if gap >= 0 && w.pending[gap].(gapItem).cycle == it.cycle {
				before := w.pending[gap].(gapItem).steps
				w.pending[gap] = gapItem{it.cycle, before + uint32(it.steps)}
				w.pending = append(w.pending[:i], w.pending[i+1:]...)
			}
			return
		}
	}
}

// show brings Health up to date and tells Fault of a change.
func (w *writer) show() {
	err := w.lastErr
	if err == nil {
		err = w.room()
	}
	if w.j.writable.Swap(err == nil) != (err == nil) {
		w.fault(err)
	}
}

func (w *writer) fault(err error) {
	if w.j.opt.Fault != nil {
		w.j.opt.Fault(err)
	}
}

// room is an error when quota or disk have less left than a start needs.
func (w *writer) room() error {
	free, err := diskFree(filepath.Dir(w.j.path))
	if err != nil {
		return err
	}
	if free < reserveBytes {
		return fmt.Errorf("%w: %d bytes are left on the disk, a start needs %d",
			ErrNotWritable, free, reserveBytes)
	}
	if !w.quota {
		return nil
	}
	if free, err = quotaFree(w.j.conn); err != nil {
		return err
	}
	if free < reserveBytes {
		return fmt.Errorf("%w: %d bytes are left of the quota, a start needs %d",
			ErrNotWritable, free, reserveBytes)
	}
	return nil
}

// reserve takes the next number of a kind: a write, so that a number that was
// given away stays so, and a trial of the disk at once.
func (w *writer) reserve(kind numberKind) (uint32, error) {
	var n uint32
	if err := w.ready(); err != nil {
		return 0, err
	}
	w.lastErr = w.commit(reserveItem{kind, &n})
	w.show()
	if w.lastErr != nil {
		return 0, fmt.Errorf("%w: %w", ErrNotWritable, w.lastErr)
	}
	return n, nil
}

// ready reports whether a cycle may start: all that is queued can be written,
// and there is room for more.
func (w *writer) ready() error {
	if err := w.flush(true); err != nil {
		return fmt.Errorf("%w: %w", ErrNotWritable, err)
	}
	return w.room()
}
