//go:build object

package warden

import (
	"unsafe"

	"pressrig/firmware/object"
)

// With the build tag object the compiled C core is explored.
func explored(c *Config, s *State, in *Input, out *Output) {
	object.Step(unsafe.Pointer(c), unsafe.Pointer(s), unsafe.Pointer(in), unsafe.Pointer(out))
}

// hasLastWord: what is explored refuses outputs that no step makes.
const hasLastWord = true
