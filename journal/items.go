package journal

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"pressrig/controller"
)

// item is one thing to be written.
type item interface {
	write(*txn) error
	what() string // for messages
}

type recordItem struct{ queued }

func (it recordItem) what() string {
	return fmt.Sprintf("record %d of cycle %d", it.rec.Kind, it.rec.Cycle)
}

func (it recordItem) write(s *txn) error {
	rec := &it.rec
	switch rec.Kind {
	case controller.RecStart:
		if err := writeStart(s, it.queued); err != nil {
			return err
		}
	case controller.RecTrip:
		err := s.exec("cycle", `UPDATE cycle SET cause = ?, lockout = lockout | ?
			WHERE number = ? AND ended_ms IS NULL`, rec.Cause, rec.Lockout, rec.Cycle)
		if err != nil {
			return err
		}
	case controller.RecEnd:
		err := s.exec("cycle", `UPDATE cycle SET ended_ms = ?, state = ?, reason = ?, cause = ?,
			lockout = lockout | ? WHERE number = ? AND ended_ms IS NULL`,
			it.wallMs, rec.State.String(), rec.Reason, rec.Cause, rec.Lockout, rec.Cycle)
		if err != nil {
			return err
		}
	}
	return writeRecord(s, it.queued, true)
}

// writeRecord stores the line. With attach it belongs to its cycle, if that
// exists; records outside a cycle have none.
func writeRecord(s *txn, q queued, attach bool) error {
	rec := &q.rec
	return s.exec("record", `INSERT INTO record (cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state,
		command, cause, causes, lockout, prompt, name, value, unit, reason, by_name, by_user)
		VALUES ((SELECT number FROM cycle WHERE number = ? AND ?),
		?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		rec.Cycle, attach, rec.Kind, int64(rec.ElapsedMs), q.wallMs, rec.StampMs, rec.Phase,
		rec.State, rec.Command, rec.Cause, int64(rec.Causes), rec.Lockout, rec.Prompt,
		rec.Name, rec.Value, rec.Unit, rec.Reason, rec.By, rec.User)
}

// writeStart stores what the cycle froze. A cycle that was never prepared has
// its story all the same, with empty documents.
func writeStart(s *txn, q queued) error {
	info := q.info
	if info == nil {
		info = unprepared(q.rec)
	}
	started := q.wallMs
	if !info.Started.IsZero() {
		started = info.Started.UnixMilli()
	}
	caps, err := json.Marshal(info.Capabilities)
	if err != nil {
		return fmt.Errorf("capabilities of cycle %d: %w", info.Number, err)
	}
	for _, d := range []struct {
		hash [32]byte
		text []byte
	}{{info.RecipeHash, info.RecipeText}, {info.ProfileHash, info.ProfileText}} {
		err := s.exec("document", `INSERT INTO document (hash, body) VALUES (?, ?) ON CONFLICT DO NOTHING`,
			d.hash[:], append([]byte{}, d.text...))
		if err != nil {
			return err
		}
	}
	err = s.exec("cycle", `INSERT INTO cycle (number, run, piece, dummy, last, guarded, by_name, rig,
		recipe, recipe_hash, profile_hash, capabilities, started_ms, start_elapsed_ms, by_user)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		info.Number, info.Run, info.Piece, info.Dummy, info.Last, info.Guarded, info.By, info.Rig,
		info.Recipe, info.RecipeHash[:], info.ProfileHash[:], string(caps), started,
		int64(q.rec.ElapsedMs), info.User)
	for i, p := range info.Phases {
		if err == nil {
			err = s.exec("phase", `INSERT INTO phase (cycle, place, name, kind) VALUES (?, ?, ?, ?)`,
				info.Number, i, p.Name, p.Kind)
		}
	}
	return err
}

type chunkItem struct {
	cycle               uint32
	steps               int
	firstTick, lastTick uint64
	lastMs              uint64
	wallMs              int64
	data                []byte
}

func (it chunkItem) what() string { return fmt.Sprintf("%d steps of cycle %d", it.steps, it.cycle) }

func (it chunkItem) write(s *txn) error {
	return writeChunk(s, it, 0)
}

type gapItem struct {
	cycle uint32
	steps uint32
}

func (it gapItem) what() string { return fmt.Sprintf("gap of cycle %d", it.cycle) }

func (it gapItem) write(s *txn) error {
	return writeChunk(s, chunkItem{cycle: it.cycle}, it.steps)
}

func writeChunk(s *txn, it chunkItem, gap uint32) error {
	n, _, err := s.put("chunk", `INSERT INTO chunk (cycle, seq, steps, gap_steps,
		first_tick, last_tick, last_ms, wall_ms, data)
		SELECT number, (SELECT COALESCE(MAX(seq) + 1, 0) FROM chunk WHERE cycle = number),
		?, ?, ?, ?, ?, ?, ? FROM cycle WHERE number = ?`,
		it.steps, gap, int64(it.firstTick), int64(it.lastTick), int64(it.lastMs), it.wallMs,
		it.data, it.cycle)
	if err == nil && n != 1 {
		return errStray
	}
	return err
}

type lostItem struct {
	cycle   uint32
	records uint32
}

func (it lostItem) what() string { return fmt.Sprintf("lost records of cycle %d", it.cycle) }

func (it lostItem) write(s *txn) error {
	return s.exec("cycle", `UPDATE cycle SET lost_records = lost_records + ? WHERE number = ?`,
		it.records, it.cycle)
}

// apart stores an item that the tables refuse: a record without its cycle, and
// nothing of steps that belong nowhere.
type apart struct{ item }

func (it apart) write(s *txn) error {
	if rec, ok := it.item.(recordItem); ok {
		return writeRecord(s, rec.queued, false)
	}
	return nil
}

// numberKind is a kind of numbers that are given away.
type numberKind struct {
	column string // of table reserved
	place  int    // of that column
	of     string // column of table cycle that has the used ones
}

var (
	cycleNumber = numberKind{"cycle", 1, "number"}
	runNumber   = numberKind{"run", 2, "run"}
)

type reserveItem struct {
	kind numberKind
	to   *uint32
}

func (it reserveItem) what() string { return "next number of a " + it.kind.column }

func (it reserveItem) write(s *txn) error {
	_, row, err := s.put("reserved", fmt.Sprintf(`UPDATE reserved
		SET %[1]s = MAX(%[1]s, (SELECT COALESCE(MAX(%[2]s), 0) FROM cycle)) + 1`, it.kind.column, it.kind.of))
	if err != nil {
		return err
	}
	*it.to, err = numberIn(row, it.kind.place)
	return err
}

// numberIn is the number that a row has been given.
func numberIn(row []any, place int) (uint32, error) {
	if len(row) <= place {
		return 0, errors.New("no row was written that has the next number")
	}
	n, ok := row[place].(int64)
	if !ok || n < 1 || n > math.MaxUint32 {
		return 0, fmt.Errorf("the next number is %v; 1 to %d are possible", row[place], uint32(math.MaxUint32))
	}
	return uint32(n), nil
}

type probeItem struct{ wallMs int64 }

func (it probeItem) what() string { return "trial write" }

func (it probeItem) write(s *txn) error {
	return s.exec("reserved", `UPDATE reserved SET probe = ?`, it.wallMs)
}

func (w *writer) probe() item { return probeItem{w.j.opt.Now().UnixMilli()} }
