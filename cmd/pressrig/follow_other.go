//go:build !linux

package main

import "os"

// forgetTyped is not known on this system: a line typed ahead answers the next
// prompt.
func forgetTyped(*os.File) {}

// columns is 0, the width is not known, on every system but Linux: text is not broken.
func columns(*os.File) int { return 0 }
