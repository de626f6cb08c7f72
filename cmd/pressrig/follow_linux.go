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
