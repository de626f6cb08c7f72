package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// A file from elsewhere can call a view or a trigger by the name of one of our
// tables, and reading it would then run whatever stands there. So a journal's
// tables must be, word for word, those that the migrations make.

// sameTables refuses a file whose tables are not those of version.
func sameTables(q querier, version int) error {
	want, err := tablesOf(version)
	if err != nil {
		return err
	}
	have, err := readTables(q)
	if err != nil {
		return err
	}
	for name, text := range have {
		if want[name] != text {
			return fmt.Errorf("%w: %s is not as version %d of the tables has it",
				ErrForeign, name, version)
		}
	}
	for name := range want {
		if _, ok := have[name]; !ok {
			return fmt.Errorf("%w: %s is missing; version %d of the tables has it",
				ErrForeign, name, version)
		}
	}
	return nil
}

// readTables gives each table, index, view and trigger with the text that made
// it. SQLite's own (statistics, automatic indexes) only it can make.
func readTables(q querier) (map[string]string, error) {
	rows, err := q.QueryContext(context.Background(), `SELECT type || ' ' || name, sql
		FROM sqlite_schema WHERE NOT (type IN ('table', 'index') AND name LIKE 'sqlite\_%' ESCAPE '\')`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	tables := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		tables[name] = text
	}
	return tables, rows.Err()
}

// tablesOf is what the migrations up to version make.
func tablesOf(version int) (tables map[string]string, err error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	conn, err := db.Conn(context.Background())
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	for v := range version {
		if err := migrateStep(conn, v+1); err != nil {
			return nil, err
		}
	}
	return readTables(conn)
}
