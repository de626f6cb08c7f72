package journal

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/hex"
	"fmt"
	"strings"
)

// leastHead is how many digits of a head a person has to give: 64 bits, which
// nobody finds a second chain for.
const leastHead = 16

// parseHead reads a head as people wrote it down, or its first digits.
func parseHead(text string) (string, error) {
	text = strings.ToLower(strings.TrimSpace(text))
	if _, err := hex.DecodeString(text + strings.Repeat("0", len(text)%2)); err != nil ||
		len(text) < leastHead || len(text) > 2*len(Head{}.Hash) {
		return "", fmt.Errorf("head %q: it has %d to %d digits 0 to 9 and a to f", text, leastHead, 2*len(Head{}.Hash))
	}
	return text, nil
}

// ledger: the chain is whole, every row is as its last entry has it, every
// entry has its row, and the head that was told elsewhere is in the chain.
func (c *checker) ledger() error {
	if c.report.Version < ledgerVersion {
		if c.head != "" {
			c.problem("head %s is not in this journal: it has no ledger yet", c.head)
		}
		return nil
	}
	if err := c.chain(); err != nil {
		return err
	}
	for i := range kept {
		if err := c.keptRows(&kept[i]); err != nil {
			return err
		}
	}
	return nil
}

// chain goes through the entries. After a broken one it goes on with what that
// one says, so that the next break is seen too.
func (c *checker) chain() error {
	var h Head
	found := int64(0) // entry whose hash is the head looked for
	err := c.rows(`SELECT seq, table_name, row_key, row_hash, hash FROM ledger ORDER BY seq`, func(rows *sql.Rows) error {
		var (
			seq       int64
			table     string
			key       any
			row, hash []byte
		)
		if err := rows.Scan(&seq, &table, &key, &row, &hash); err != nil {
			return err
		}
		if seq != h.Entries+1 {
			c.problem("table ledger, row %d: it follows row %d: entries between them were taken away", seq, h.Entries)
			h.Entries = seq - 1
		}
		want, err := h.next(table, key, row)
		if err != nil {
			return fmt.Errorf("table ledger, row %d: %w", seq, err)
		}
		if string(want.Hash[:]) != string(hash) {
			c.problem("table ledger, row %d (of table %s, row %s): it is not chained with the one before: "+
				"one of the two was altered, inserted or taken away", seq, table, keyText(key))
		}
		if _, ok := keptNamed(table); !ok {
			c.problem("table ledger, row %d: no table %q is kept in the ledger", seq, table)
		}
		h.Entries = seq
		copy(h.Hash[:], hash)
		if c.head != "" && strings.HasPrefix(h.String(), c.head) {
			found = seq
		}
		return nil
	})
	if err != nil {
		return err
	}
	c.report.Head = h
	if c.head == "" {
		return nil
	}
	if c.report.After = h.Entries - found; found == 0 {
		c.report.After = 0
		c.problem("head %s is not in the ledger, which ends with entry %d, head %s: entries were cut off its end, "+
			"or it was made anew", c.head, h.Entries, h)
	}
	return nil
}

// keptRows goes through a table and its last entries side by side, both in the
// order of the key.
func (c *checker) keptRows(t *keptTable) error {
	entries, err := c.cursor(fmt.Sprintf(`SELECT row_key, MAX(seq), row_hash FROM ledger WHERE table_name = '%s'
		GROUP BY row_key ORDER BY row_key`, t.name))
	if err != nil {
		return err
	}
	defer entries.rows.Close()
	rows, err := c.cursor(fmt.Sprintf(`SELECT %s AS row_key, * FROM %s ORDER BY row_key`, t.key, t.name))
	if err != nil {
		return err
	}
	defer rows.rows.Close()
	for entries.now != nil || rows.now != nil {
		order := 0 // of entry and row
		switch {
		case entries.now == nil:
			order = 1
		case rows.now == nil:
			order = -1
		default:
			order = compareKeys(entries.now[0], rows.now[0])
		}
		if order >= 0 {
			err = c.keptRow(t, entries.now, rows.now, order == 0)
		} else {
			c.problem("table %s, row %s: it is gone; entry %v of the ledger has it: it was deleted", t.name,
				keyText(entries.now[0]), entries.now[1])
		}
		if err == nil && order <= 0 {
			err = entries.next()
		}
		if err == nil && order >= 0 {
			err = rows.next()
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// keptRow judges a row, by its last entry where it has one.
func (c *checker) keptRow(t *keptTable, entry, row []any, entered bool) error {
	key := keyText(row[0])
	if !entered {
		c.problem("table %s, row %s: the ledger has no such row: it was inserted, not by this program", t.name, key)
		return nil
	}
	hash, err := rowHash(t.name, row[1:])
	if err != nil {
		return err
	}
	if want, ok := entry[2].([]byte); !ok || string(want) != string(hash[:]) {
		c.problem("table %s, row %s: it is not what entry %v of the ledger says: it was altered", t.name, key, entry[1])
	}
	return nil
}

// cursor is a query at one of its rows.
type cursor struct {
	rows *sql.Rows
	now  []any // nil after the last
}

func (c *checker) cursor(query string) (*cursor, error) {
	rows, err := c.db.QueryContext(context.Background(), query)
	if err != nil {
		return nil, err
	}
	cur := &cursor{rows: rows}
	return cur, cur.next()
}

func (c *cursor) next() (err error) {
	if !c.rows.Next() {
		c.now = nil
		return c.rows.Err()
	}
	c.now, err = scanRow(c.rows)
	return err
}

// compareKeys is the order in which SQLite sorts: integers, texts, blobs.
func compareKeys(a, b any) int {
	class := func(v any) int {
		switch v.(type) {
		case int64:
			return 1
		case float64: // no table has such a key, an altered ledger may
			return 2
		case string:
			return 3
		case []byte:
			return 4
		}
		return 0
	}
	if d := cmp.Compare(class(a), class(b)); d != 0 {
		return d
	}
	switch a := a.(type) {
	case int64:
		return cmp.Compare(a, b.(int64))
	case float64:
		return cmp.Compare(a, b.(float64))
	case string:
		return cmp.Compare(a, b.(string))
	case []byte:
		return bytes.Compare(a, b.([]byte))
	}
	return 0
}
