// Package wiring writes what a person wires a board from: the pin tables of
// docs/wiring.md and the drawing docs/wiring.svg, out of the one pin list
// firmware/boards/mega2560/pins.h and the words in this package.
//
// It never chooses a pin and never talks to a board, and nothing of it runs in
// pressrig: its tests write the two files with -update and fail while they are
// older than the pin list. What it describes is not a safety device.
//
// Start reading at pins.go, then words.go; page.go is the tables, drawing.go,
// chains.go and circuits.go the drawing, wires.go the wire list and the parts.
package wiring
