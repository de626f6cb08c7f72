package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"pressrig/trials"
)

const (
	// listCycles is how many cycles a list has when nobody says.
	listCycles = 50
	// maxCycles is the longest list; go on with Filter.Before.
	maxCycles = 5000
)

// Filter chooses cycles. Zero fields choose all.
type Filter struct {
	Recipe string
	Rig    string
	Run    uint32
	State  string    // complete | stopped | aborted
	Since  time.Time // started then or later
	Before uint32    // numbers below, to page through a long list
	Limit  int       // 0: 50; at most 5,000
	// Story also reads phases, measures and events of every cycle.
	Story bool
}

// readLongest ends a read that a damaged file would make endless: its pages may
// lead to each other in circles. Only tests change it.
var readLongest = time.Minute

func reading() (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.Background(), readLongest)
}

// number reads a single number.
func (j *Journal) number(query string, args ...any) (uint32, error) {
	ctx, cancel := reading()
	defer cancel()
	var n uint32
	err := j.read.QueryRowContext(ctx, query, args...).Scan(&n)
	return n, err
}

const selectCycle = `SELECT number, run, piece, dummy, last, guarded, by_name, rig, recipe,
	lower(hex(recipe_hash)), lower(hex(profile_hash)), capabilities, started_ms,
	start_elapsed_ms, ended_ms, state, reason, cause, lockout, recovered, saved_ms, lost_records, by_user
	FROM cycle `

// Cycles lists cycles, newest first.
func (j *Journal) Cycles(f Filter) ([]trials.Cycle, error) {
	where, args := f.where()
	limit := f.Limit
	if limit <= 0 {
		limit = listCycles
	}
	args = append(args, min(limit, maxCycles))
	list, err := j.cycles(selectCycle+where+` ORDER BY number DESC LIMIT ?`, args...)
	if err != nil {
		return nil, fmt.Errorf("list cycles: %w", err)
	}
	out := make([]trials.Cycle, len(list))
	for i := range list {
		if f.Story {
			if err := j.story(&list[i]); err != nil {
				return nil, fmt.Errorf("list cycles: %w", err)
			}
		}
		out[i] = list[i].Cycle
	}
	return out, nil
}

func (f *Filter) where() (string, []any) {
	var parts []string
	var args []any
	add := func(set bool, part string, arg any) {
		if set {
			parts, args = append(parts, part), append(args, arg)
		}
	}
	add(f.Recipe != "", "recipe = ?", f.Recipe)
	add(f.Rig != "", "rig = ?", f.Rig)
	add(f.Run != 0, "run = ?", f.Run)
	add(f.State != "", "state = ?", f.State)
	add(!f.Since.IsZero(), "started_ms >= ?", f.Since.UnixMilli())
	add(f.Before != 0, "number < ?", f.Before)
	if len(parts) == 0 {
		return "", nil
	}
	return "WHERE " + strings.Join(parts, " AND "), args
}

// Cycle is one cycle with its phases, measures and events.
func (j *Journal) Cycle(n uint32) (trials.Cycle, error) {
	c, err := j.cycle(n)
	if err == nil {
		err = j.story(&c)
	}
	if err == nil {
		var h Head
		h, err = j.Head()
		c.Ledger = h.Told()
	}
	if err != nil {
		return trials.Cycle{}, fmt.Errorf("cycle %d: %w", n, err)
	}
	return c.Cycle, nil
}

// stored is a cycle with what only reading its records needs.
type stored struct {
	trials.Cycle
	startElapsed int64
	caps         string
}

// at is the time since the cycle's start.
func (c *stored) at(elapsedMs int64) time.Duration {
	return time.Duration(elapsedMs-c.startElapsed) * time.Millisecond
}

func (j *Journal) cycle(n uint32) (stored, error) {
	list, err := j.cycles(selectCycle+`WHERE number = ?`, n)
	if err != nil {
		return stored{}, err
	}
	if len(list) == 0 {
		return stored{}, ErrNoCycle
	}
	return list[0], nil
}

func (j *Journal) cycles(query string, args ...any) ([]stored, error) {
	ctx, cancel := reading()
	defer cancel()
	rows, err := j.read.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []stored
	for rows.Next() {
		c, err := j.scanCycle(rows)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, rows.Err()
}

func (j *Journal) scanCycle(rows *sql.Rows) (stored, error) {
	var (
		c              stored
		started, saved int64
		ended          sql.NullInt64
		firmware       struct{ Firmware string }
	)
	err := rows.Scan(&c.Number, &c.Run, &c.Piece, &c.Dummy, &c.Last, &c.Guarded, &c.By, &c.Rig,
		&c.Recipe, &c.Hash, &c.Profile, &c.caps, &started, &c.startElapsed, &ended,
		&c.State, &c.Reason, &c.Cause, &c.Lockout, &c.Recovered, &saved, &c.LostRecords, &c.User)
	if err != nil {
		return c, err
	}
	if err := json.Unmarshal([]byte(c.caps), &firmware); err != nil {
		return c, fmt.Errorf("capabilities: %w", err)
	}
	c.Firmware = firmware.Firmware
	c.Started = time.UnixMilli(started)
	if ended.Valid {
		c.Ended = time.UnixMilli(ended.Int64)
	}
	c.Saved = time.Duration(saved) * time.Millisecond
	if c.Cause != 0 {
		c.CauseText = j.opt.CauseText(c.Cause)
	}
	return c, nil
}

// Frozen is what the cycle froze at its start: with Steps, enough to replay it.
func (j *Journal) Frozen(n uint32) (CycleInfo, error) {
	info, err := j.frozen(n)
	if err != nil {
		return CycleInfo{}, fmt.Errorf("cycle %d: %w", n, err)
	}
	return info, nil
}

func (j *Journal) frozen(n uint32) (CycleInfo, error) {
	c, err := j.cycle(n)
	if err != nil {
		return CycleInfo{}, err
	}
	info := CycleInfo{Number: c.Number, Run: c.Run, Piece: c.Piece, Dummy: c.Dummy, Last: c.Last,
		Guarded: c.Guarded, By: c.By, User: c.User, Started: c.Started, Recipe: c.Recipe, Rig: c.Rig}
	if err := json.Unmarshal([]byte(c.caps), &info.Capabilities); err != nil {
		return info, fmt.Errorf("capabilities: %w", err)
	}
	ctx, cancel := reading()
	defer cancel()
	var recipeHash, profileHash []byte
	err = j.read.QueryRowContext(ctx, `SELECT r.hash, r.body, p.hash, p.body
		FROM cycle JOIN document r ON r.hash = recipe_hash JOIN document p ON p.hash = profile_hash
		WHERE number = ?`, n).
		Scan(&recipeHash, &info.RecipeText, &profileHash, &info.ProfileText)
	if err != nil {
		return info, fmt.Errorf("frozen texts: %w", err)
	}
	copy(info.RecipeHash[:], recipeHash)
	copy(info.ProfileHash[:], profileHash)
	info.Phases, err = j.phases(n)
	return info, err
}

func (j *Journal) phases(n uint32) ([]PhaseInfo, error) {
	ctx, cancel := reading()
	defer cancel()
	rows, err := j.read.QueryContext(ctx,
		`SELECT place, name, kind FROM phase WHERE cycle = ? ORDER BY place`, n)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []PhaseInfo
	for last := int64(-1); rows.Next(); {
		var p PhaseInfo
		var place int64
		if err := rows.Scan(&place, &p.Name, &p.Kind); err != nil {
			return nil, err
		}
		if place <= last { // or a damaged index gives the same ones again and again
			return nil, fmt.Errorf("phase %d comes after phase %d: the file is damaged", place, last)
		}
		last = place
		list = append(list, p)
	}
	return list, errors.Join(rows.Err(), rows.Close())
}
