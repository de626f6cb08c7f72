package journal

import (
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
		if err := c.lostRows(&kept[i]); err != nil {
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

// keptRows compares each row of a table with its last entry.
func (c *checker) keptRows(t *keptTable) error {
	rows, err := c.db.QueryContext(context.Background(), fmt.Sprintf(`SELECT l.seq, l.row_hash, t.* FROM %s t LEFT JOIN
		(SELECT row_key, MAX(seq) AS seq, row_hash FROM ledger WHERE table_name = '%s' GROUP BY row_key) l
		ON l.row_key = %s`, t.name, t.name, t.key))
	if err != nil {
		return err
	}
	defer rows.Close()
	const before = 2 // columns of the ledger
	return eachRow(rows, func(row []any) error {
		key := keyText(t.keyOf(row[before:]))
		if row[0] == nil {
			c.problem("table %s, row %s: the ledger has no such row: it was inserted, not by this program", t.name, key)
			return nil
		}
		hash, err := rowHash(t.name, row[before:])
		if err != nil {
			return err
		}
		if want, ok := row[1].([]byte); !ok || string(want) != string(hash[:]) {
			c.problem("table %s, row %s: it is not what entry %v of the ledger says: it was altered", t.name, key, row[0])
		}
		return nil
	})
}

// lostRows finds the entries whose row is gone.
func (c *checker) lostRows(t *keptTable) error {
	return c.rows(fmt.Sprintf(`SELECT row_key, MAX(seq) FROM ledger WHERE table_name = '%s'
		AND row_key NOT IN (SELECT %s FROM %s) GROUP BY row_key`, t.name, t.key, t.name), func(rows *sql.Rows) error {
		var key any
		var seq int64
		if err := rows.Scan(&key, &seq); err != nil {
			return err
		}
		c.problem("table %s, row %s: it is gone; entry %d of the ledger has it: it was deleted", t.name, keyText(key), seq)
		return nil
	})
}
