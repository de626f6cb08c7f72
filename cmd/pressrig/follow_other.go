//go:build !linux

package main

import "os"

// forgetTyped is not known on this system: a line typed ahead answers the next
// prompt.
func forgetTyped(*os.File) {}

// columns is not known on this system.
func columns(*os.File) int { return 0 }
