package benchport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// link points the symlink at path to target, in one step, replacing an older
// symlink and nothing else. The function it returns takes the link away if it
// still is ours.
func link(path, target string) (unlink func() error, err error) {
	if path == "" {
		return func() error { return nil }, nil
	}
	info, err := os.Lstat(path)
	switch {
	case err == nil && info.Mode()&fs.ModeSymlink == 0:
		return nil, fmt.Errorf("%s exists and is no symlink; name another path or "+
			"remove it yourself", path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("look at %s: %w", path, err)
	}
	next := fmt.Sprintf("%s.%d", path, os.Getpid())
	if err := os.Symlink(target, next); err != nil {
		return nil, fmt.Errorf("link %s to the pty: %w", path, err)
	}
	if err := os.Rename(next, path); err != nil {
		return nil, fmt.Errorf("link %s to the pty: %w", path, errors.Join(err, os.Remove(next)))
	}
	return func() error {
		if now, err := os.Readlink(path); err != nil || now != target {
			return nil // gone, or another's by now
		}
		return os.Remove(path)
	}, nil
}
