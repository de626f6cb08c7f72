package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	_ "modernc.org/sqlite" // the database driver, known to this package alone

	"pressrig/controller"
	"pressrig/trials"
)

// Errors that callers may test for.
var (
	// ErrLocked: another daemon has the journal open.
	ErrLocked = errors.New("journal is in use by another daemon")
	// ErrNewer: the file was written by a newer program.
	ErrNewer = errors.New("journal was written by a newer program")
	// ErrForeign: the file is a database, but no journal.
	ErrForeign = errors.New("file is not a journal")
	// ErrDamaged: pages of the file are not what a database has. Nothing was
	// written to it.
	ErrDamaged = errors.New("journal is damaged")
	// ErrNotWritable: a new cycle must not start, its records could be lost.
	ErrNotWritable = errors.New("journal cannot be written")
	// ErrNoCycle: no cycle with this number is stored.
	ErrNoCycle = errors.New("no such cycle in the journal")
	// ErrClosed: the journal was closed.
	ErrClosed = errors.New("journal is closed")
)

// commitEvery is how often queued records and steps are written. It is under a
// second, so that with the time of the write at most the last second is lost.
const commitEvery = 900 * time.Millisecond

// busyMs is how long a connection waits for a lock of another one.
const busyMs = 5000

// readers is how many reading connections there are at most.
const readers = 4

// fileMode keeps the journal, which names people, from other users.
const fileMode = 0o640

// Options are what Open may be told. The zero value is usable.
type Options struct {
	// Now is the wall clock; nil means time.Now. Only people read it.
	Now func() time.Time
	// Fault is told of each change: an error when the journal cannot be written
	// any more or records are lost, nil when all is well again. It is called
	// from the writing goroutine and must not call the journal.
	Fault func(error)
	// Ended is told of each cycle whose end is committed, with the head of the
	// ledger then: to be noted where whoever changes the journal cannot reach. It
	// is called as Fault is.
	Ended func(cycle uint32, head Head)
	// MaxBytes is a quota for the database file, 0 for none. It should be at
	// least 2 MiB: starts are refused when less than 512 KiB are left.
	MaxBytes int64
	// CauseText gives the sentence for a row of the cause-and-effect table.
	CauseText func(uint8) string
	// Tick, when set, replaces the clock that writes what is queued.
	Tick <-chan time.Time

	// beforeCommit lets tests fail the n-th write.
	beforeCommit func() error
}

// filled has a value in every field that must have one.
func (o Options) filled() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.CauseText == nil {
		o.CauseText = func(cause uint8) string { return fmt.Sprintf("cause %d", cause) }
	}
	return o
}

// Journal is an open journal. All its methods may be called from several
// goroutines; records and steps come in order from one.
type Journal struct {
	opt       Options
	path      string
	lock      *os.File
	write     *sql.DB
	conn      *sql.Conn // the one connection that writes
	read      *sql.DB
	recovered []trials.Cycle
	refusal   error // to what would write and finds no writer

	queue    queue
	writable atomic.Bool
	started  atomic.Uint32

	wake  chan struct{}
	calls chan call
	stop  chan struct{}
	done  chan struct{}
	close sync.Once
	err   error // of the last flush at Close
}

// Open opens or creates the journal at path, brings its tables to the newest
// version, closes as aborted what an ended daemon left open, and begins to
// write. A damaged file is not opened: what is written to it could be lost, and
// what is lost of it grows. Errors: ErrLocked, ErrNewer, ErrForeign, ErrDamaged,
// or what the disk says.
func Open(path string, o Options) (*Journal, error) {
	j, w, err := openWriter(path, o)
	if err != nil {
		return nil, err
	}
	go w.run()
	return j, nil
}

// openWriter is Open with its writer not yet running.
func openWriter(path string, o Options) (*Journal, *writer, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, nil, fmt.Errorf("open journal: %w", err)
	}
	j := &Journal{opt: o.filled(), path: path, refusal: ErrClosed,
		wake: make(chan struct{}, 1), calls: make(chan call),
		stop: make(chan struct{}), done: make(chan struct{})}
	if err := j.open(); err != nil {
		j.release()
		if corrupt(err) {
			err = damaged(err.Error())
		}
		return nil, nil, fmt.Errorf("open journal %s: %w", path, err)
	}
	w, err := newWriter(j)
	if err != nil {
		j.release()
		return nil, nil, fmt.Errorf("open journal %s: %w", path, err)
	}
	return j, w, nil
}

func (j *Journal) open() (err error) {
	if j.lock, err = lockFile(j.path + ".lock"); err != nil {
		return err
	}
	f, err := os.OpenFile(j.path, os.O_CREATE|os.O_RDWR, fileMode)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := j.connect(); err != nil {
		return err
	}
	if err := j.sound(); err != nil {
		return err
	}
	if err := migrate(j.conn); err != nil {
		return err
	}
	if err := j.settle(); err != nil {
		return err
	}
	if err := setMaxBytes(j.conn, j.opt.MaxBytes); err != nil {
		return err
	}
	if err := j.begin(); err != nil {
		return err
	}
	numbers, err := j.closeUnended()
	if err != nil {
		return err
	}
	for _, n := range numbers {
		c, err := j.Cycle(n)
		if err != nil {
			return err
		}
		j.recovered = append(j.recovered, c)
	}
	newest, err := j.number(`SELECT COALESCE(MAX(number), 0) FROM cycle`)
	j.started.Store(newest)
	j.queue.init()
	return err
}

func (j *Journal) connect() (err error) {
	j.write, err = sql.Open("sqlite", address(j.path, url.Values{
		"_journal_mode": {"WAL"}, "_synchronous": {"FULL"}, "_txlock": {"immediate"},
	}))
	if err != nil {
		return err
	}
	j.write.SetMaxOpenConns(1)
	if j.conn, err = j.write.Conn(context.Background()); err != nil {
		return err
	}
	return j.connectReaders()
}

// address is the database's name for the driver; path is absolute.
func address(path string, q url.Values) string {
	q.Set("_busy_timeout", fmt.Sprint(busyMs))
	q.Set("_foreign_keys", "1")
	q["_pragma"] = append(q["_pragma"], "trusted_schema(0)", "cell_size_check(1)")
	u := url.URL{Scheme: "file", Path: path, RawQuery: q.Encode()}
	return u.String()
}

// Recovered are the cycles that Open found without an end and closed.
func (j *Journal) Recovered() []trials.Cycle { return j.recovered }

// Health is what the newest commits showed. It never waits.
func (j *Journal) Health() controller.JournalHealth {
	return controller.JournalHealth{Writable: j.writable.Load(), Started: j.started.Load()}
}

// Flush writes all that is queued and tells how that went.
func (j *Journal) Flush() error {
	return j.ask(func(w *writer) error { return w.flush(true) })
}

// SetMaxBytes changes the quota, 0 for none. It cannot be less than the file
// has already.
func (j *Journal) SetMaxBytes(n int64) error {
	return j.ask(func(w *writer) error {
		if err := setMaxBytes(j.conn, n); err != nil {
			return err
		}
		w.quota = n > 0
		return w.flush(true)
	})
}

// Close writes what is queued and closes the file. A cycle that still runs is
// closed as aborted at the next Open. The error tells what was not written.
func (j *Journal) Close() error {
	j.close.Do(func() {
		j.queue.shut()
		close(j.stop)
		<-j.done
		j.err = errors.Join(j.err, j.release())
	})
	return j.err
}

func (j *Journal) release() error {
	var errs []error
	if j.read != nil {
		errs = append(errs, j.read.Close())
	}
	if j.conn != nil {
		errs = append(errs, j.conn.Close())
	}
	if j.write != nil {
		errs = append(errs, j.write.Close())
	}
	if j.lock != nil {
		errs = append(errs, j.lock.Close())
	}
	return errors.Join(errs...)
}
