package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	sqlite "modernc.org/sqlite"

	"pressrig/controller"
)

// reasonEnded is why a cycle without an end was closed.
const reasonEnded = "daemon ended during the cycle"

// fullCode is SQLITE_FULL.
const fullCode = 13

const (
	// corruptCode is SQLITE_CORRUPT.
	corruptCode = 11
	// lookBytes of a file are looked through in a second, also by a slow disk.
	lookBytes = 16 << 20
	// damagedWords say what to do.
	damagedWords = "nothing was written to it; copy it away with the files -wal and -shm beside it, put back a copy from " +
		"before or name another data folder, and look at the damaged one with pressrig journal check"
)

// sound refuses a damaged file: every page is looked at, not what its rows say
// (that is check's). An empty file is sound.
func (j *Journal) sound() error {
	version, err := schemaVersion(j.conn)
	if err != nil || version == 0 {
		return err
	}
	info, err := os.Stat(j.path)
	if err != nil {
		return err
	}
	longest := readLongest + time.Duration(info.Size()/lookBytes)*time.Second
	ctx, cancel := context.WithTimeout(context.Background(), longest)
	defer cancel()
	var found string
	err = j.conn.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&found)
	switch {
	case err != nil && ctx.Err() != nil:
		found = fmt.Sprintf("looking through its %d bytes did not end within %v", info.Size(), longest)
	case err != nil:
		return err
	case found == "ok":
		return nil
	}
	return damaged(found)
}

func corrupt(err error) bool {
	var e *sqlite.Error
	return errors.As(err, &e) && e.Code()&0xFF == corruptCode
}

func damaged(found string) error {
	return fmt.Errorf("%w: %s; %s", ErrDamaged, strings.Join(strings.Fields(found), " "), damagedWords)
}

// settle writes what an ended daemon left in the log into the main file. Should
// an fsync have failed for that daemon, the kernel may hold pages of the log
// that no later fsync will write; what is acknowledged from now on must not
// stand behind them. A full disk is no such case and refuses starts by itself;
// a reader at work leaves the rest to the checkpoints to come.
func (j *Journal) settle() error {
	_, err := j.conn.ExecContext(context.Background(), `PRAGMA wal_checkpoint(TRUNCATE)`)
	var e *sqlite.Error
	if errors.As(err, &e) && e.Code()&0xFF == fullCode {
		return nil
	}
	return err
}

// unended is a cycle that has a start and no end.
type unended struct {
	number       uint32
	startElapsed int64
	lastStepMs   sql.NullInt64 // elapsed of the last stored step
	lastRecordMs int64         // elapsed of the last stored record
	wallMs       int64         // newest wall clock known of it
	cause        uint8
	lockout      bool
}

// closeUnended closes as aborted every cycle that an ended daemon left open.
// All its figures are of what was stored; nothing is made up.
func (j *Journal) closeUnended() ([]uint32, error) {
	ctx, cancel := reading()
	defer cancel()
	var numbers []uint32
	err := j.inTransaction(ctx, func(s *txn) error {
		list, err := findUnended(s)
		for _, u := range list {
			if err := u.close(s); err != nil {
				return fmt.Errorf("close cycle %d as aborted: %w", u.number, err)
			}
			numbers = append(numbers, u.number)
		}
		return err
	})
	return numbers, err
}

func findUnended(s *txn) ([]unended, error) {
	rows, err := s.tx.QueryContext(s.ctx, `SELECT number, start_elapsed_ms, cause, lockout,
		(SELECT MAX(last_ms) FROM chunk WHERE cycle = number),
		(SELECT COALESCE(MAX(elapsed_ms), start_elapsed_ms) FROM record WHERE cycle = number),
		MAX(started_ms,
			(SELECT COALESCE(MAX(wall_ms), 0) FROM record WHERE cycle = number),
			(SELECT COALESCE(MAX(wall_ms), 0) FROM chunk WHERE cycle = number))
		FROM cycle WHERE ended_ms IS NULL ORDER BY number`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []unended
	for rows.Next() {
		var u unended
		if err := rows.Scan(&u.number, &u.startElapsed, &u.cause, &u.lockout,
			&u.lastStepMs, &u.lastRecordMs, &u.wallMs); err != nil {
			return nil, err
		}
		list = append(list, u)
	}
	return list, rows.Err()
}

func (u *unended) close(s *txn) error {
	saved := int64(0)
	if u.lastStepMs.Valid {
		saved = max(0, u.lastStepMs.Int64-u.startElapsed)
	}
	err := s.exec("cycle", `UPDATE cycle SET ended_ms = ?, state = ?, reason = ?, saved_ms = ?, recovered = 1
		WHERE number = ?`, u.wallMs, controller.Aborted.String(), reasonEnded, saved, u.number)
	if err != nil {
		return err
	}
	end := controller.Record{
		Kind: controller.RecEnd, Cycle: u.number, Phase: -1, State: controller.Aborted,
		ElapsedMs: uint64(max(u.lastRecordMs, u.lastStepMs.Int64)),
		Cause:     u.cause, Lockout: u.lockout, Reason: reasonEnded,
	}
	return writeRecord(s, queued{rec: end, wallMs: u.wallMs}, true)
}

// unprepared is what is frozen of a cycle that nobody prepared: nothing.
func unprepared(rec controller.Record) *CycleInfo {
	empty := sha256.Sum256(nil)
	return &CycleInfo{Number: rec.Cycle, By: rec.By, User: rec.User, RecipeHash: empty, ProfileHash: empty}
}
