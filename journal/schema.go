package journal

import (
	"context"
	"database/sql"
	"fmt"
)

// applicationID marks a database file as a journal: "prjo" in ASCII.
const applicationID = 0x70726A6F

// migrations are the steps from each version of the tables to the next, from
// an empty file on. Forward only; a step that has shipped is never changed.
var migrations = [...]string{
	// 1: documents, cycles, records, packed steps.
	`
CREATE TABLE reserved (          -- one row: numbers given away
	one   INTEGER PRIMARY KEY CHECK (one = 1),
	cycle INTEGER NOT NULL,
	run   INTEGER NOT NULL,
	probe INTEGER NOT NULL       -- wall clock of the newest trial write, unix ms
) STRICT;
INSERT INTO reserved VALUES (1, 0, 0, 0);
CREATE TABLE document (          -- recipe and profile texts, each kept once
	hash BLOB NOT NULL PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of body
	body BLOB NOT NULL
) STRICT;
CREATE TABLE cycle (
	number           INTEGER PRIMARY KEY,
	run              INTEGER NOT NULL,
	piece            INTEGER NOT NULL,
	dummy            INTEGER NOT NULL,
	last             INTEGER NOT NULL,
	guarded          INTEGER NOT NULL,
	by_name          TEXT NOT NULL,
	rig              TEXT NOT NULL,
	recipe           TEXT NOT NULL,
	recipe_hash      BLOB NOT NULL REFERENCES document (hash),
	profile_hash     BLOB NOT NULL REFERENCES document (hash),
	capabilities     TEXT NOT NULL,               -- JSON of rig.Capabilities
	started_ms       INTEGER NOT NULL,            -- wall clock, unix ms
	start_elapsed_ms INTEGER NOT NULL,            -- loop's clock
	ended_ms         INTEGER,                     -- NULL while it runs
	state            TEXT NOT NULL DEFAULT '',
	reason           TEXT NOT NULL DEFAULT '',
	cause            INTEGER NOT NULL DEFAULT 0,  -- first cause
	lockout          INTEGER NOT NULL DEFAULT 0,
	recovered        INTEGER NOT NULL DEFAULT 0,  -- closed by Open
	saved_ms         INTEGER NOT NULL DEFAULT 0   -- trace of a recovered cycle
) STRICT;
CREATE TABLE phase (
	cycle INTEGER NOT NULL REFERENCES cycle (number),
	place INTEGER NOT NULL,
	name  TEXT NOT NULL,
	kind  TEXT NOT NULL,
	PRIMARY KEY (cycle, place)
) STRICT;
CREATE TABLE record (
	id         INTEGER PRIMARY KEY,
	cycle      INTEGER REFERENCES cycle (number), -- NULL outside a cycle
	kind       INTEGER NOT NULL,                  -- controller.Rec...
	elapsed_ms INTEGER NOT NULL,
	wall_ms    INTEGER NOT NULL,
	stamp_ms   INTEGER NOT NULL,
	phase      INTEGER NOT NULL,
	state      INTEGER NOT NULL,
	command    INTEGER NOT NULL,
	cause      INTEGER NOT NULL,
	causes     INTEGER NOT NULL,                  -- 64 bits as they are
	lockout    INTEGER NOT NULL,
	prompt     INTEGER NOT NULL,
	name       TEXT NOT NULL,
	value      REAL,                              -- NULL: not a number
	unit       TEXT NOT NULL,
	reason     TEXT NOT NULL,
	by_name    TEXT NOT NULL
) STRICT;
CREATE INDEX record_by_cycle ON record (cycle, id);
CREATE UNIQUE INDEX record_one_start ON record (cycle) WHERE kind = 1 AND cycle IS NOT NULL;
CREATE UNIQUE INDEX record_one_end ON record (cycle) WHERE kind = 12 AND cycle IS NOT NULL;
CREATE TABLE chunk (
	id         INTEGER PRIMARY KEY,
	cycle      INTEGER NOT NULL REFERENCES cycle (number),
	seq        INTEGER NOT NULL,                  -- 0, 1, ... without a hole
	steps      INTEGER NOT NULL,
	gap_steps  INTEGER NOT NULL,                  -- steps lost in this place
	first_tick INTEGER NOT NULL,
	last_tick  INTEGER NOT NULL,
	last_ms    INTEGER NOT NULL,                  -- elapsed at the last step
	wall_ms    INTEGER NOT NULL,                  -- wall clock when it was packed
	data       BLOB,                              -- package chunk
	UNIQUE (cycle, seq),
	CHECK ((steps > 0 AND gap_steps = 0 AND data IS NOT NULL)
		OR (steps = 0 AND gap_steps > 0 AND data IS NULL))
) STRICT;
`,
	// 2: records that did not fit into memory are counted; lists by recipe.
	`
ALTER TABLE cycle ADD COLUMN lost_records INTEGER NOT NULL DEFAULT 0;
CREATE INDEX cycle_by_recipe ON cycle (recipe, number);
CREATE INDEX cycle_by_run ON cycle (run, number);
`,
	// 3: signed proof tests, appended and never changed; when the journal began.
	`
CREATE TABLE beginning (         -- one row
	one      INTEGER PRIMARY KEY CHECK (one = 1),
	began_ms INTEGER NOT NULL    -- wall clock, unix ms
) STRICT;
CREATE TABLE proof (
	number       INTEGER PRIMARY KEY,
	function     TEXT NOT NULL,
	rig          TEXT NOT NULL,
	at_ms        INTEGER NOT NULL,               -- wall clock, unix ms
	by_name      TEXT NOT NULL CHECK (by_name <> ''),
	result       TEXT NOT NULL CHECK (result IN ('passed', 'failed')),
	value        REAL,                           -- NULL: nothing was measured
	unit         TEXT NOT NULL,
	limit_text   TEXT NOT NULL,
	by_eye       INTEGER NOT NULL,
	why          TEXT NOT NULL,
	note         TEXT NOT NULL,
	profile_hash BLOB NOT NULL REFERENCES document (hash)
) STRICT;
CREATE INDEX proof_by_function ON proof (rig, function, number);
CREATE TRIGGER proof_unchanged BEFORE UPDATE ON proof
	BEGIN SELECT RAISE(ABORT, 'a stored proof is never changed'); END;
CREATE TRIGGER proof_kept BEFORE DELETE ON proof
	BEGIN SELECT RAISE(ABORT, 'a stored proof is never taken away'); END;
`,
	// 4: the user that the kernel knows, beside the name that was typed.
	`
ALTER TABLE cycle ADD COLUMN by_user TEXT NOT NULL DEFAULT '';
ALTER TABLE record ADD COLUMN by_user TEXT NOT NULL DEFAULT '';
ALTER TABLE proof ADD COLUMN by_user TEXT NOT NULL DEFAULT '';
`,
	// 5: the ledger (ledger.go); rows from before get their entries here.
	`
CREATE TABLE ledger (            -- an entry for each row that was written
	seq        INTEGER PRIMARY KEY,              -- 1, 2, ... without a hole
	table_name TEXT NOT NULL,
	row_key    ANY NOT NULL,                     -- primary key of the row
	row_hash   BLOB NOT NULL CHECK (length(row_hash) = 32), -- SHA-256 of the row
	hash       BLOB NOT NULL CHECK (length(hash) = 32)      -- chained with the one before
) STRICT;
CREATE TRIGGER ledger_unchanged BEFORE UPDATE ON ledger
	BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never changed'); END;
CREATE TRIGGER ledger_kept BEFORE DELETE ON ledger
	BEGIN SELECT RAISE(ABORT, 'an entry of the ledger is never taken away'); END;
`,
}

// proofVersion is the first version with proofs.
const proofVersion = 3

// migrate brings the tables to the newest version, a step a transaction.
func migrate(conn *sql.Conn) error {
	version, err := schemaVersion(conn)
	if err != nil {
		return err
	}
	for v := version; v < len(migrations); v++ {
		if err := migrateStep(conn, v+1); err != nil {
			return fmt.Errorf("bring tables to version %d: %w", v+1, err)
		}
	}
	return nil
}

// querier is what both a connection and a pool of them can do.
type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// schemaVersion is 0 for an empty file. It refuses what is newer, not ours or
// not whole.
func schemaVersion(q querier) (int, error) {
	var version, app, tables int
	for _, p := range []struct {
		ask string
		to  *int
	}{
		{`PRAGMA user_version`, &version},
		{`PRAGMA application_id`, &app},
		{`SELECT count(*) FROM sqlite_schema`, &tables},
	} {
		if err := q.QueryRowContext(context.Background(), p.ask).Scan(p.to); err != nil {
			return 0, err
		}
	}
	switch {
	case tables == 0 && version == 0:
		return 0, nil
	case app != applicationID:
		return 0, fmt.Errorf("%w: application id %#x, a journal has %#x",
			ErrForeign, app, applicationID)
	case version > len(migrations):
		return 0, fmt.Errorf("%w: tables of version %d, this program knows up to %d",
			ErrNewer, version, len(migrations))
	case version < 1:
		return 0, fmt.Errorf("%w: tables of version %d", ErrForeign, version)
	}
	return version, sameTables(q, version)
}

func migrateStep(conn *sql.Conn, to int) error {
	ctx := context.Background()
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for _, statement := range []string{
		migrations[to-1],
		fmt.Sprintf(`PRAGMA application_id = %d`, applicationID),
		fmt.Sprintf(`PRAGMA user_version = %d`, to),
	} {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	if to == ledgerVersion {
		if err := (&txn{ctx: ctx, tx: tx}).enterAll(); err != nil {
			return err
		}
	}
	return tx.Commit()
}
