package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"pressrig/journal"
	"pressrig/panel"
	"pressrig/panel/client"
	"pressrig/safety"
	"pressrig/trials"
)

// source gives stored cycles: from the journal of the folder that is named; with
// none named from the daemon where one answers, else from the usual folder.
func (e *env) source() (from panel.Records, done func() error, err error) {
	if e.flags.Data != "" {
		return e.stored()
	}
	c := e.client()
	if _, err = c.Status(e.ctx); err == nil {
		return remote{c}, func() error { return nil }, nil
	}
	if !errors.Is(err, client.ErrNoDaemon) {
		return nil, nil, err
	}
	if _, missing := os.Stat(journalFile(e.data())); missing != nil {
		return nil, nil, fmt.Errorf("%w, and there is no journal in %s", err, e.data())
	}
	return e.stored()
}

// stored is the journal in the data folder as a source.
func (e *env) stored() (panel.Records, func() error, error) {
	j, err := e.openJournal()
	if err != nil {
		return nil, nil, err
	}
	return records{j}, j.Close, nil
}

// openJournal opens the journal of the data folder for reading, also beside a
// running daemon. It makes none.
func (e *env) openJournal() (*journal.Journal, error) {
	path := journalFile(e.data())
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no journal at %s; name its folder with --data", path)
	}
	return journal.OpenRead(path, journal.Options{CauseText: safety.Sentence})
}

// remote is the daemon as a source of stored cycles.
type remote struct{ c *client.Client }

func (r remote) Cycles(ctx context.Context, before uint32, limit int) ([]trials.Cycle, error) {
	list, err := r.c.Cycles(ctx, before, limit)
	if err != nil {
		return nil, err
	}
	out := make([]trials.Cycle, len(list))
	for i := range list {
		out[i] = list[i].Trials()
	}
	return out, nil
}

func (r remote) Cycle(ctx context.Context, number uint32) (trials.Cycle, error) {
	c, err := r.c.Cycle(ctx, number)
	return c.Trials(), err
}

func (r remote) Trace(ctx context.Context, number uint32) (*trials.Trace, error) {
	t, err := r.c.Trace(ctx, number)
	if err != nil {
		return nil, err
	}
	return t.Trials()
}
