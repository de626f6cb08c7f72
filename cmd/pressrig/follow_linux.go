package main

import (
	"os"

	"golang.org/x/sys/unix"
)

// forgetTyped drops what was typed ahead on a terminal. On anything else it
// does nothing.
func forgetTyped(f *os.File) {
	_ = unix.IoctlSetInt(int(f.Fd()), unix.TCFLSH, unix.TCIFLUSH) // fails where it is no terminal
}

// columns is how wide a terminal is, 0 where it does not say.
func columns(f *os.File) int {
	size, err := unix.IoctlGetWinsize(int(f.Fd()), unix.TIOCGWINSZ)
	if err != nil {
		return 0
	}
	return int(size.Col)
}
