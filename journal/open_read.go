package journal

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
)

// Errors of reading.
var (
	// ErrReadOnly: the journal was opened to be read.
	ErrReadOnly = errors.New("journal is open for reading only")
	// ErrOlder: the tables are of an older version, which only Open changes.
	ErrOlder = errors.New("journal was written by an older program; start the daemon once")
)

// OpenRead opens the journal at path to be read, also while a daemon has it
// open. It takes no lock, makes nothing, closes no unended cycle (such a cycle
// reads as running) and starts no goroutine that writes. What would write says
// ErrReadOnly, records and steps are ignored, and Health is not writable. Of
// Options only CauseText is used. Errors: ErrNewer, ErrOlder, ErrForeign, or
// what the disk says.
func OpenRead(path string, o Options) (*Journal, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open journal: %w", err)
	}
	j := &Journal{opt: o.filled(), path: path, refusal: ErrReadOnly,
		stop: make(chan struct{}), done: make(chan struct{})}
	close(j.done) // nobody writes
	j.queue.shut()
	if err := j.openRead(); err != nil {
		return nil, errors.Join(fmt.Errorf("open journal %s: %w", path, err), j.release())
	}
	return j, nil
}

func (j *Journal) openRead() error {
	if _, err := os.Stat(j.path); err != nil {
		return err
	}
	if err := j.connectReaders(); err != nil {
		return err
	}
	version, err := schemaVersion(j.read)
	switch {
	case err != nil:
		return err
	case version == 0:
		return fmt.Errorf("%w: it is empty", ErrForeign)
	case version < len(migrations):
		return fmt.Errorf("%w: tables of version %d, this program reads version %d",
			ErrOlder, version, len(migrations))
	}
	return nil
}

// connectReaders opens the connections that cannot change the file.
func (j *Journal) connectReaders() (err error) {
	j.read, err = sql.Open("sqlite", address(j.path, url.Values{"mode": {"ro"}}))
	if err != nil {
		return err
	}
	j.read.SetMaxOpenConns(readers)
	return nil
}
