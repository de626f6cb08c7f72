package drivers

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"
)

// lockDevice takes the advisory lock of a device: a file named after it in
// dir. The system's exclusive open does not bind root, so that two daemons
// could command one rig. The lock falls with the process; the file stays.
// Processes that see different folders (a private temporary folder, another
// TMPDIR) do not see each other's locks: give all of them the same one.
func lockDevice(dir, device string) (*os.File, error) {
	if dir == "" {
		dir = os.TempDir()
	}
	name := strings.ReplaceAll(strings.Trim(device, "/"), "/", "_")
	path := filepath.Join(dir, "pressrig-"+name+".lock")
	f, err := openLock(path)
	if err != nil {
		return nil, err
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if err == nil {
		return f, nil
	}
	f.Close()
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, fmt.Errorf("%w (lock file %s)", ErrLocked, path)
	}
	return nil, fmt.Errorf("lock %s: %w", path, err)
}

// openLock opens or makes the lock file. An existing one is opened without
// O_CREAT, which a sticky folder refuses for another user's file; links are
// not followed.
func openLock(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|unix.O_NOFOLLOW, 0)
	if !errors.Is(err, os.ErrNotExist) {
		return f, err
	}
	f, err = os.OpenFile(path, os.O_RDONLY|os.O_CREATE|unix.O_NOFOLLOW, 0o644)
	return f, err
}
