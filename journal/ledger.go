package journal

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"pressrig/trials"
)

// The ledger has an entry for every row that was ever written, in the same
// transaction as the row: its table, its key, the SHA-256 of its content, and a
// hash chained with the entry before. A row that is written again (a cycle's
// end) gets one more entry, and the last one counts. So check sees whatever was
// changed behind the journal's back, except where the chain was made anew too
// or its end was cut off: then the head that was told at some other place (log,
// MQTT, printed report) is not in the chain.

// ledgerVersion is the first version of the tables with a ledger.
const ledgerVersion = 5

// keptTable is a table whose rows have entries.
type keptTable struct {
	name string
	keys int    // so many first columns are the key
	key  string // the key as SQL, equal to keyOf
}

// kept are all tables but the ledger itself, referred to before referring.
var kept = []keptTable{
	{"reserved", 1, "one"},
	{"document", 1, "hash"},
	{"cycle", 1, "number"},
	{"phase", 2, "cycle || '/' || place"},
	{"record", 1, "id"},
	{"chunk", 1, "id"},
	{"beginning", 1, "one"},
	{"proof", 1, "number"},
}

func keptNamed(name string) (keptTable, bool) {
	i := slices.IndexFunc(kept, func(t keptTable) bool { return t.name == name })
	if i < 0 {
		return keptTable{}, false
	}
	return kept[i], true
}

// keyOf is a column as it is, or more of them joined.
func (t *keptTable) keyOf(row []any) any {
	if t.keys == 1 {
		return row[0]
	}
	parts := make([]string, t.keys)
	for i := range parts {
		parts[i] = fmt.Sprint(row[i])
	}
	return strings.Join(parts, "/")
}

// keyText is a key as people read it.
func keyText(key any) string {
	if hash, ok := key.([]byte); ok {
		return hex.EncodeToString(hash)
	}
	return fmt.Sprint(key)
}

// Head is the newest entry of the ledger: how many there are, and the hash that
// depends on every one of them.
type Head struct {
	Entries int64
	Hash    [sha256.Size]byte // zero without an entry
}

// String is the hash as people write it down.
func (h Head) String() string { return hex.EncodeToString(h.Hash[:]) }

// Told is the head for who shows it.
func (h Head) Told() trials.Ledger { return trials.Ledger{Entries: h.Entries, Head: h.String()} }

// appendValue is the one canonical encoding: the kind of value, its length,
// itself. No two lists of values have the same bytes.
func appendValue(b []byte, v any) ([]byte, error) {
	text := func(kind byte, n int) []byte { return binary.BigEndian.AppendUint64(append(b, kind), uint64(n)) }
	switch v := v.(type) {
	case nil:
		return text('n', 0), nil
	case int64:
		return binary.BigEndian.AppendUint64(text('i', 8), uint64(v)), nil
	case float64:
		return binary.BigEndian.AppendUint64(text('r', 8), math.Float64bits(v)), nil
	case string:
		return append(text('t', len(v)), v...), nil
	case []byte:
		return append(text('b', len(v)), v...), nil
	}
	return b, fmt.Errorf("a value of type %T has no encoding; the tables hold integers, numbers, texts and blobs", v)
}

// hashOf is the SHA-256 of the values in the canonical encoding.
func hashOf(values ...any) (hash [sha256.Size]byte, err error) {
	b := binary.BigEndian.AppendUint64(nil, uint64(len(values)))
	for _, v := range values {
		if b, err = appendValue(b, v); err != nil {
			return hash, err
		}
	}
	return sha256.Sum256(b), nil
}

// rowHash is the hash of a row: its table's name and its columns as stored, in
// the order of the schema.
func rowHash(table string, row []any) ([sha256.Size]byte, error) {
	return hashOf(append([]any{table}, row...)...)
}

// next is the head after one more entry.
func (h Head) next(table string, key any, row []byte) (Head, error) {
	hash, err := hashOf(h.Hash[:], h.Entries+1, table, key, row)
	return Head{h.Entries + 1, hash}, err
}

// readHead is the head of what is stored.
func readHead(ctx context.Context, q querier) (h Head, err error) {
	var hash []byte
	err = q.QueryRowContext(ctx, `SELECT seq, hash FROM ledger ORDER BY seq DESC LIMIT 1`).Scan(&h.Entries, &hash)
	if errors.Is(err, sql.ErrNoRows) {
		return Head{}, nil
	}
	copy(h.Hash[:], hash)
	return h, err
}

// Head is the head of what is committed.
func (j *Journal) Head() (Head, error) {
	ctx, cancel := reading()
	defer cancel()
	h, err := readHead(ctx, j.read)
	if err != nil {
		return h, fmt.Errorf("head of the journal: %w", err)
	}
	return h, nil
}

// txn is a transaction that rows are written in. All that is written goes
// through put, so that the ledger has it.
type txn struct {
	ctx   context.Context
	tx    *sql.Tx
	entry *sql.Stmt // adds an entry; nil: not yet prepared, closed with the transaction
	head  *Head     // after the newest entry of this transaction; nil: not yet read
}

// put inserts or updates rows of the table with the statement, which has no
// RETURNING of its own, enters each row as it is then stored, and gives how
// many there were and the last one.
func (s *txn) put(table, statement string, args ...any) (n int, last []any, err error) {
	t, ok := keptNamed(table)
	if !ok {
		return 0, nil, fmt.Errorf("table %s has no ledger", table)
	}
	rows, err := s.tx.QueryContext(s.ctx, statement+" RETURNING *", args...)
	if err != nil {
		return 0, nil, err
	}
	defer rows.Close()
	err = eachRow(rows, func(row []any) error {
		n, last = n+1, row
		return s.enter(&t, row)
	})
	return n, last, err
}

// exec is put for who needs nothing of the rows.
func (s *txn) exec(table, statement string, args ...any) error {
	_, _, err := s.put(table, statement, args...)
	return err
}

// enter adds the entry of a row.
func (s *txn) enter(t *keptTable, row []any) error {
	if s.head == nil {
		h, err := readHead(s.ctx, s.tx)
		if err != nil {
			return err
		}
		s.head = &h
		if s.entry, err = s.tx.PrepareContext(s.ctx, `INSERT INTO ledger VALUES (?, ?, ?, ?, ?)`); err != nil {
			return err
		}
	}
	hash, err := rowHash(t.name, row)
	if err != nil {
		return err
	}
	key := t.keyOf(row)
	next, err := s.head.next(t.name, key, hash[:])
	if err != nil {
		return err
	}
	if _, err := s.entry.ExecContext(s.ctx, next.Entries, t.name, key, hash[:], next.Hash[:]); err != nil {
		return err
	}
	*s.head = next
	return nil
}

// enterAll enters every row that is there: of a journal from before the ledger.
func (s *txn) enterAll() error {
	for i := range kept {
		t := &kept[i]
		rows, err := s.tx.QueryContext(s.ctx, fmt.Sprintf(`SELECT * FROM %s ORDER BY rowid`, t.name))
		if err != nil {
			return err
		}
		err = eachRow(rows, func(row []any) error { return s.enter(t, row) })
		if err := errors.Join(err, rows.Close()); err != nil {
			return fmt.Errorf("enter table %s into the ledger: %w", t.name, err)
		}
	}
	return nil
}

// eachRow gives the columns of each row.
func eachRow(rows *sql.Rows, fn func([]any) error) error {
	for rows.Next() {
		row, err := scanRow(rows)
		if err != nil {
			return err
		}
		if err := fn(row); err != nil {
			return err
		}
	}
	return rows.Err()
}

// scanRow is the columns of the row that rows stands at.
func scanRow(rows *sql.Rows) ([]any, error) {
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	row, into := make([]any, len(names)), make([]any, len(names))
	for i := range row {
		into[i] = &row[i]
	}
	return row, rows.Scan(into...)
}

// inTransaction does something in one transaction, outside of the writer.
func (j *Journal) inTransaction(ctx context.Context, do func(*txn) error) error {
	tx, err := j.conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit it does nothing
	if err := do(&txn{ctx: ctx, tx: tx}); err != nil {
		return err
	}
	return tx.Commit()
}
