//go:build unix

package journal

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile takes the lock that keeps two daemons from one journal. It goes by
// itself when the process ends, however it ends.
func lockFile(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, fileMode)
	if err != nil {
		return nil, err
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		err = ErrLocked
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%w (lock %s)", err, path), f.Close())
	}
	return f, nil
}

// diskFree is how many bytes the file system of path has left for us.
func diskFree(path string) (int64, error) {
	var st unix.Statfs_t
	if err := unix.Statfs(path, &st); err != nil {
		return 0, fmt.Errorf("free space of %s: %w", path, err)
	}
	return int64(st.Bavail) * int64(st.Bsize), nil
}
