package telemetry

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"sync"
)

// Limits of the store.
const (
	maxSummaries = 1000 // a week of pieces; 64 MB at the very most, 3 MB in practice
	maxUnsaved   = 64   // kept in memory while the disk refuses

	summarySuffix = ".json"
	partialSuffix = ".partial"
)

// store keeps cycle summaries until the broker has acknowledged them: one file
// each, named by a running number, written under another name and then
// renamed, so that a file is whole or not there. A file is removed only after
// the PUBACK, hence at least once: a crash between the two sends it again with
// the same id. Over the limit the oldest is dropped and counted.
type store struct {
	dir   string
	limit int

	mu    sync.Mutex
	queue []stored // oldest first
	next  uint64
	lost  uint64 // dropped: over the limit, or unreadable
}

// stored is one summary in the queue; payload is set while it is not on disk.
type stored struct {
	number  uint64
	payload []byte
}

// openStore makes the folder when missing and finds what an earlier process
// left undelivered.
func openStore(dir string, limit int) (*store, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("telemetry: folder of summaries: %w", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, fmt.Errorf("telemetry: folder of summaries: %w", err)
	}
	s := &store{dir: dir, limit: limit, next: 1}
	for _, e := range entries {
		name := e.Name()
		if strings.HasSuffix(name, partialSuffix) { // never finished: nobody counts on it
			_ = os.Remove(filepath.Join(dir, name))
			continue
		}
		number, err := strconv.ParseUint(strings.TrimSuffix(name, summarySuffix), 10, 63)
		if err == nil && name == fileName(number) {
			s.queue = append(s.queue, stored{number: number})
		}
	}
	sort.Slice(s.queue, func(i, j int) bool { return s.queue[i].number < s.queue[j].number })
	if n := len(s.queue); n > 0 {
		s.next = s.queue[n-1].number + 1
	}
	s.trim()
	return s, nil
}

func fileName(number uint64) string { return fmt.Sprintf("%020d%s", number, summarySuffix) }

func (s *store) path(number uint64) string { return filepath.Join(s.dir, fileName(number)) }

// append adds the newest summary. After an error it is kept in memory: it will
// be delivered unless this process ends before.
func (s *store) append(payload []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	item := stored{number: s.next}
	s.next++
	err := writeWhole(s.path(item.number), payload)
	if err != nil {
		item.payload = payload
		err = fmt.Errorf("telemetry: keep a cycle summary: %w", err)
	}
	s.queue = append(s.queue, item)
	s.trim()
	return err
}

// trim drops the oldest over the limits.
func (s *store) trim() {
	for len(s.queue) > s.limit {
		s.removeAt(0)
		s.lost++
	}
	unsaved, oldest := 0, -1
	for i := len(s.queue) - 1; i >= 0; i-- {
		if s.queue[i].payload != nil {
			unsaved, oldest = unsaved+1, i
		}
	}
	if unsaved > maxUnsaved {
		s.removeAt(oldest)
		s.lost++
	}
}

func (s *store) removeAt(i int) {
	if s.queue[i].payload == nil {
		_ = os.Remove(s.path(s.queue[i].number)) // left over: sent again after a restart
	}
	s.queue = append(s.queue[:i], s.queue[i+1:]...)
}

// oldest gives the summary to deliver next. A file that cannot be read or is
// empty is put aside under another name, counted, and the next one tried.
func (s *store) oldest() (payload []byte, number uint64, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for len(s.queue) > 0 {
		item := s.queue[0]
		if item.payload != nil {
			return item.payload, item.number, true
		}
		data, err := readSmall(s.path(item.number), maxPayload)
		if err == nil && len(data) > 0 {
			return data, item.number, true
		}
		if !errors.Is(err, fs.ErrNotExist) {
			_ = os.Rename(s.path(item.number), s.path(item.number)+".unreadable")
		}
		s.removeAt(0)
		s.lost++
	}
	return nil, 0, false
}

// delivered removes the summary that the broker has acknowledged.
func (s *store) delivered(number uint64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.queue) > 0 && s.queue[0].number == number {
		s.removeAt(0)
	}
}

func (s *store) counts() (waiting int, lost uint64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.queue), s.lost
}

// writeWhole writes a file so that after a crash it is whole or not there.
func writeWhole(path string, data []byte) error {
	partial := path + partialSuffix
	f, err := os.OpenFile(partial, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o640)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(partial, path)
	}
	if err != nil {
		_ = os.Remove(partial)
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes the rename itself survive a power cut.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
