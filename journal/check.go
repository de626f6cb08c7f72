package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	"pressrig/journal/chunk"
)

// maxProblems bounds a report; one torn page can make thousands.
const maxProblems = 100

// Report is what a check found.
type Report struct {
	Path     string
	Version  int // of the tables
	Cycles   int
	Running  int // cycles without an end yet
	Records  int
	Chunks   int
	Steps    int
	Gaps     int
	Proofs   int
	Head     Head     // of the ledger; zero for tables of before it
	After    int64    // entries after the head that was asked for
	Problems []string // at most 100, empty when all is well
}

// OK reports whether nothing is wrong. Marked gaps are no fault of the file.
func (r *Report) OK() bool { return len(r.Problems) == 0 }

// checker goes through a journal and notes what is wrong.
type checker struct {
	db     *sql.Tx // all is read as it stood at one moment
	head   string  // that must be in the ledger, "" for any
	report Report
}

// Check reads the whole journal while it is in use. The error says that the
// check could not be made; what it found is in the report.
func (j *Journal) Check() (Report, error) { return check(j.path, j.read, "") }

// CheckFile checks the journal at path without changing it, also while a
// daemon has it open. A head that was told elsewhere must be in its ledger; ""
// for none. Without one it cannot be seen that the newest entries were cut off
// together with their rows.
func CheckFile(path, head string) (Report, error) {
	path, err := filepath.Abs(path)
	if err == nil && head != "" {
		head, err = parseHead(head)
	}
	if err != nil {
		return Report{}, fmt.Errorf("check journal: %w", err)
	}
	if _, err := os.Stat(path); err != nil {
		return Report{Path: path}, fmt.Errorf("check journal: %w", err)
	}
	db, err := sql.Open("sqlite", address(path, url.Values{"mode": {"ro"}}))
	if err != nil {
		return Report{Path: path}, fmt.Errorf("check journal: %w", err)
	}
	defer db.Close()
	return check(path, db, head)
}

func check(path string, db *sql.DB, head string) (Report, error) {
	tx, err := db.BeginTx(context.Background(), nil)
	if err != nil {
		return Report{Path: path}, fmt.Errorf("check journal %s: %w", path, err)
	}
	defer tx.Rollback() // nothing was written
	c := checker{db: tx, head: head, report: Report{Path: path}}
	version, err := schemaVersion(tx)
	if err != nil {
		return c.report, fmt.Errorf("check journal %s: %w", path, err)
	}
	c.report.Version = version
	if version == 0 {
		return c.report, fmt.Errorf("check journal %s: %w: it is empty", path, ErrForeign)
	}
	if err := c.integrity(); err != nil {
		return c.report, fmt.Errorf("check journal %s: %w", path, err)
	}
	if !c.report.OK() { // what a damaged file says of its cycles means nothing
		return c.report, nil
	}
	for _, step := range []func() error{
		c.foreignKeys, c.counts, c.hashes, c.startsAndEnds, c.reserved, c.chunks, c.proofRows,
		c.ledger,
	} {
		if err := step(); err != nil {
			return c.report, fmt.Errorf("check journal %s: %w", path, err)
		}
	}
	return c.report, nil
}

func (c *checker) problem(form string, args ...any) {
	if len(c.report.Problems) < maxProblems {
		c.report.Problems = append(c.report.Problems, fmt.Sprintf(form, args...))
	}
}

// each runs a query whose every row is one problem in words.
func (c *checker) each(query string) error {
	return c.rows(query, func(rows *sql.Rows) error {
		var text string
		if err := rows.Scan(&text); err != nil {
			return err
		}
		c.problem("%s", text)
		return nil
	})
}

func (c *checker) rows(query string, fn func(*sql.Rows) error) error {
	rows, err := c.db.QueryContext(context.Background(), query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (c *checker) integrity() error {
	return c.rows(`PRAGMA integrity_check`, func(rows *sql.Rows) error {
		var text string
		err := rows.Scan(&text)
		if err == nil && text != "ok" {
			c.problem("database: %s", text)
		}
		return err
	})
}

func (c *checker) foreignKeys() error {
	return c.each(`SELECT 'table ' || "table" || ', row ' || COALESCE(rowid, '?') ||
		': refers to a missing row of ' || parent FROM pragma_foreign_key_check`)
}

func (c *checker) counts() error {
	r := &c.report
	return c.db.QueryRowContext(context.Background(), `SELECT (SELECT count(*) FROM cycle),
		(SELECT count(*) FROM cycle WHERE ended_ms IS NULL), (SELECT count(*) FROM record)`).
		Scan(&r.Cycles, &r.Running, &r.Records)
}

func (c *checker) hashes() error {
	return c.rows(`SELECT hash, body FROM document`, func(rows *sql.Rows) error {
		var hash, body sql.RawBytes
		if err := rows.Scan(&hash, &body); err != nil {
			return err
		}
		if sum := sha256.Sum256(body); string(sum[:]) != string(hash) {
			c.problem("document %x: its text has hash %x", []byte(hash), sum)
		}
		return nil
	})
}

// startsAndEnds: one start each, at most one end, and the end says what the
// cycle's own row says.
func (c *checker) startsAndEnds() error {
	return c.each(`SELECT 'cycle ' || number || ': ' || starts || ' starts, ' || ends ||
		' ends, ' || CASE WHEN ended_ms IS NULL THEN 'still running' ELSE 'ended ' || state END
		FROM (SELECT number, state, ended_ms,
			(SELECT count(*) FROM record r WHERE r.cycle = number AND kind = 1) AS starts,
			(SELECT count(*) FROM record r WHERE r.cycle = number AND kind = 12) AS ends FROM cycle)
		WHERE starts <> 1 OR ends <> (ended_ms IS NOT NULL)
		OR (ended_ms IS NOT NULL AND state NOT IN ('complete', 'stopped', 'aborted'))`)
}

// reserved: the numbers given away stand in one row.
func (c *checker) reserved() error {
	return c.each(`SELECT 'table reserved: ' || count(*) || ' rows, one is right' FROM reserved
		HAVING count(*) <> 1`)
}

// chunks: every sequence is whole, every chunk decodes to what its row says,
// ticks only grow.
func (c *checker) chunks() error {
	dec, err := chunk.NewDecoder()
	if err != nil {
		return err
	}
	var cycles []uint32
	err = c.rows(`SELECT DISTINCT cycle FROM chunk ORDER BY cycle`, func(rows *sql.Rows) error {
		var n uint32
		err := rows.Scan(&n)
		cycles = append(cycles, n)
		return err
	})
	if err != nil {
		return err
	}
	for _, n := range cycles {
		s := stream{checker: c, dec: dec, cycle: n}
		if err := blocks(c.db, n, s.block); err != nil {
			return err
		}
	}
	return nil
}

// stream checks the chunks of one cycle, in order.
type stream struct {
	*checker
	dec      *chunk.Decoder
	cycle    uint32
	seq      uint32 // expected next
	begun    bool
	lastTick uint64
	rows     []chunk.Row
}

func (s *stream) block(b *block) error {
	if b.seq != s.seq {
		s.problem("cycle %d: chunk %d follows chunk %d", s.cycle, b.seq, int64(s.seq)-1)
	}
	s.seq = b.seq + 1
	if b.gap > 0 {
		s.report.Gaps++
		return nil
	}
	s.report.Chunks++
	var err error
	if s.rows, err = s.dec.Decode(s.rows[:0], b.data); err != nil {
		s.problem("cycle %d, chunk %d: %v", s.cycle, b.seq, err)
		return nil
	}
	s.report.Steps += len(s.rows)
	n := len(s.rows)
	if n != b.steps || s.rows[0].Tick != b.firstTick || s.rows[n-1].Tick != b.lastTick ||
		s.rows[n-1].ElapsedMs != b.lastMs {
		s.problem("cycle %d, chunk %d: holds %d steps, ticks %d to %d; its row says %d, %d to %d",
			s.cycle, b.seq, n, s.rows[0].Tick, s.rows[n-1].Tick, b.steps, b.firstTick, b.lastTick)
	}
	for i := range s.rows {
		if s.begun && s.rows[i].Tick <= s.lastTick {
			s.problem("cycle %d, chunk %d: tick %d follows tick %d",
				s.cycle, b.seq, s.rows[i].Tick, s.lastTick)
		}
		s.begun, s.lastTick = true, s.rows[i].Tick
	}
	return nil
}
