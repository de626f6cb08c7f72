package journal

import (
	"database/sql"
	"fmt"

	"pressrig/controller"
	"pressrig/journal/chunk"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// GapError ends Steps where steps are missing: what comes after cannot be
// replayed, because the supervisor's state there is not known.
type GapError struct {
	Cycle     uint32
	AfterTick uint64 // the last step before the gap, 0 when there is none
	Missing   uint32 // steps
}

// Error says where the stream breaks off.
func (e *GapError) Error() string {
	return fmt.Sprintf("cycle %d: %d steps are missing after tick %d", e.Cycle, e.Missing, e.AfterTick)
}

// block is one stored chunk or gap.
type block struct {
	seq       uint32
	steps     int
	gap       uint32
	firstTick uint64
	lastTick  uint64
	lastMs    uint64
	data      []byte
}

// blocks calls fn for each chunk and gap of a cycle in order. Their numbers
// only grow, so that a damaged index cannot give the same ones again and again.
func blocks(db querier, cycle uint32, fn func(*block) error) error {
	ctx, cancel := reading()
	defer cancel()
	rows, err := db.QueryContext(ctx, `SELECT seq, steps, gap_steps, first_tick,
		last_tick, last_ms, data FROM chunk WHERE cycle = ? ORDER BY seq`, cycle)
	if err != nil {
		return err
	}
	defer rows.Close()
	for before := int64(-1); rows.Next(); {
		var (
			b                   block
			first, last, lastMs int64
			data                sql.RawBytes
		)
		err := rows.Scan(&b.seq, &b.steps, &b.gap, &first, &last, &lastMs, &data)
		if err != nil {
			return err
		}
		b.firstTick, b.lastTick, b.lastMs = uint64(first), uint64(last), uint64(lastMs)
		b.data = data
		if int64(b.seq) <= before {
			return fmt.Errorf("chunk %d comes after chunk %d: the file is damaged", b.seq, before)
		}
		before = int64(b.seq)
		if err := fn(&b); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Steps feeds the steps of a cycle to fn in order, for replay: the input as it
// was, save that Job has no Recipe (parse Frozen's text once and set it), and
// the request that was sent, to compare with. Both are valid only during the
// call. It stops with a *GapError at the first gap, or with fn's error.
func (j *Journal) Steps(n uint32, fn func(*controller.Input, *rig.Request) error) error {
	if _, err := j.cycle(n); err != nil {
		return fmt.Errorf("steps of cycle %d: %w", n, err)
	}
	dec, err := chunk.NewDecoder()
	if err != nil {
		return err
	}
	rows := make([]chunk.Row, 0, chunk.MaxRows)
	var lastTick uint64
	err = blocks(j.read, n, func(b *block) error {
		if b.gap > 0 {
			return &GapError{Cycle: n, AfterTick: lastTick, Missing: b.gap}
		}
		lastTick = b.lastTick
		if rows, err = dec.Decode(rows[:0], b.data); err != nil {
			return fmt.Errorf("chunk %d: %w", b.seq, err)
		}
		for i := range rows {
			in := rows[i].Input()
			if err := fn(&in, &rows[i].Request); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("steps of cycle %d: %w", n, err)
	}
	return nil
}

// Trace is the sampled channels of a cycle, one row a snapshot, with its gaps.
func (j *Journal) Trace(n uint32) (*trials.Trace, error) {
	c, err := j.cycle(n)
	if err != nil {
		return nil, fmt.Errorf("trace of cycle %d: %w", n, err)
	}
	t, err := j.trace(&c)
	if err != nil {
		return nil, fmt.Errorf("trace of cycle %d: %w", n, err)
	}
	return t, nil
}

func (j *Journal) trace(c *stored) (*trials.Trace, error) {
	// No more for a chunk than it can hold, whatever its row says.
	steps, err := j.number(`SELECT COALESCE(SUM(MIN(steps, ?)), 0) FROM chunk WHERE cycle = ?`,
		chunk.MaxRows, c.Number)
	if err != nil {
		return nil, err
	}
	dec, err := chunk.NewDecoder()
	if err != nil {
		return nil, err
	}
	t := newTrace(int(steps))
	rows := make([]chunk.Row, 0, chunk.MaxRows)
	var lastMs uint32
	err = blocks(j.read, c.Number, func(b *block) error {
		if b.gap > 0 {
			t.Gaps = append(t.Gaps, trials.Gap{AfterMs: lastMs, Steps: b.gap})
			return nil
		}
		if rows, err = dec.DecodeTrace(rows[:0], b.data); err != nil {
			return fmt.Errorf("chunk %d: %w", b.seq, err)
		}
		for i := range rows {
			lastMs = uint32(max(0, int64(rows[i].ElapsedMs)-c.startElapsed))
			if rows[i].HasSnap {
				add(t, lastMs, &rows[i].Snap)
			}
		}
		return nil
	})
	return t, err
}

func newTrace(n int) *trials.Trace {
	t := &trials.Trace{
		Ms: make([]uint32, 0, n), Analog: make([][]int16, warden.NumAnalog),
		OK: make([]uint16, 0, n), In: make([]uint32, 0, n), Out: make([]uint16, 0, n),
		Burner: make([]uint8, 0, n), Press: make([]uint8, 0, n),
		Flags: make([]uint16, 0, n),
	}
	for ai := range t.Analog {
		t.Analog[ai] = make([]int16, 0, n)
	}
	return t
}

func add(t *trials.Trace, ms uint32, s *rig.Snapshot) {
	t.Ms = append(t.Ms, ms)
	for ai, v := range s.Analog {
		t.Analog[ai] = append(t.Analog[ai], v)
	}
	t.OK = append(t.OK, s.AnalogOK)
	t.In = append(t.In, s.In)
	t.Out = append(t.Out, s.Out)
	t.Burner = append(t.Burner, s.Burner)
	t.Press = append(t.Press, s.Press)
	t.Flags = append(t.Flags, s.Flags)
}
