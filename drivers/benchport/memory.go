package benchport

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"pressrig/drivers/bench"
)

// stored is the file's form.
type stored struct {
	Byte  uint8  `json:"byte"`
	Boots uint32 `json:"boots"`
}

// LoadNV reads the non-volatile memory kept at path, for Options.NV of
// bench.New. A file that does not exist is a board that has never run. One
// that cannot be understood gives memory that the warden takes for unreadable
// and answers with lockout, like a decayed cell.
func LoadNV(path string) (*bench.NV, error) {
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return bench.NewNV(), nil
	case err != nil:
		return nil, fmt.Errorf("read the bench's memory: %w", err)
	}
	var s stored
	if err := json.Unmarshal(text, &s); err != nil {
		return &bench.NV{}, nil
	}
	return &bench.NV{Byte: s.Byte, Boots: s.Boots}, nil
}

// memory writes the non-volatile memory down whenever it has changed.
type memory struct {
	path string
	last bench.NV
}

// keep stores nv at once: a boot counts even when it ends at once.
func keep(path string, nv bench.NV) (*memory, error) {
	m := &memory{path: path}
	return m, m.write(nv)
}

func (m *memory) save(nv bench.NV) error {
	if nv == m.last {
		return nil
	}
	return m.write(nv)
}

// write replaces the file whole, so that being killed leaves the old memory or
// the new one.
func (m *memory) write(nv bench.NV) error {
	m.last = nv
	if m.path == "" {
		return nil
	}
	text, err := json.Marshal(stored(nv))
	if err != nil {
		return fmt.Errorf("encode the bench's memory: %w", err)
	}
	f, err := os.CreateTemp(filepath.Dir(m.path), ".nv-*")
	if err != nil {
		return fmt.Errorf("store the bench's memory: %w", err)
	}
	_, werr := f.Write(append(text, '\n'))
	err = errors.Join(werr, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), m.path)
	}
	if err != nil {
		return fmt.Errorf("store the bench's memory: %w", errors.Join(err, os.Remove(f.Name())))
	}
	return syncFolder(filepath.Dir(m.path))
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("store the bench's memory: %w", err)
	}
	return errors.Join(d.Sync(), d.Close())
}
