//go:build object

// Package object is the compiled C warden as a Go function, so that the search
// through every state can walk the object code that goes onto the board's
// sources instead of the specification. Only tests with the build tag object
// have it; the program that runs a rig has no C in it.
//
// Go and C lay the structs out alike: a test holds every offset and size of the
// one to the other. Start reading at Step.
package object

/*
#cgo CFLAGS: -std=c99 -O2 -Wall -Wextra
#include "object.h"
*/
import "C"

import "unsafe"

// Step is warden_step on a Config, State, Input and Output of package
// safety/warden, which this package cannot name: it would be a circle.
func Step(config, state, in, out unsafe.Pointer) {
	C.warden_step((*C.warden_config)(config), (*C.warden_state)(state), (*C.warden_input)(in), (*C.warden_output)(out))
}

// The records whose fields Layout gives.
const (
	Config = 0
	State  = 1
	Input  = 2
	Output = 3
)

// Field is where a field of a C struct lies.
type Field struct {
	Name         string
	Offset, Size uintptr
}

// Layout is every number of a record in order, and the record's size.
func Layout(record int) (fields []Field, size uintptr) {
	all := unsafe.Slice(C.object_all, int(C.object_field_count))
	for i := range all {
		if int(all[i].record) == record {
			fields = append(fields, Field{C.GoString(all[i].name), uintptr(all[i].offset), uintptr(all[i].size)})
		}
	}
	return fields, uintptr(C.object_sizes[record])
}
