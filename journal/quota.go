package journal

import (
	"context"
	"database/sql"
	"fmt"
	"math"
)

// noQuota is SQLite's own largest number of pages.
const noQuota = math.MaxUint32 - 1

// setMaxBytes sets the quota of the writing connection, 0 for none. The file's
// write-ahead log comes on top: usually 4 MiB at most.
func setMaxBytes(conn *sql.Conn, n int64) error {
	page, err := pragma(conn, "page_size")
	if err != nil {
		return err
	}
	pages := int64(noQuota)
	if n > 0 {
		pages = max(1, n/page)
	}
	_, err = pragma(conn, fmt.Sprintf("max_page_count(%d)", pages))
	return err
}

// quotaFree is how many bytes the quota leaves.
func quotaFree(conn *sql.Conn) (int64, error) {
	var v [4]int64
	for i, name := range []string{"page_size", "max_page_count", "page_count", "freelist_count"} {
		var err error
		if v[i], err = pragma(conn, name); err != nil {
			return 0, err
		}
	}
	return (v[1] - v[2] + v[3]) * v[0], nil
}

func pragma(conn *sql.Conn, name string) (int64, error) {
	var v int64
	err := conn.QueryRowContext(context.Background(), "PRAGMA "+name).Scan(&v)
	if err != nil {
		return 0, fmt.Errorf("pragma %s: %w", name, err)
	}
	return v, nil
}
