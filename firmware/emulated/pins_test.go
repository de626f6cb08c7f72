//go:build avr

package emulated_test

import (
	"os"
	"testing"

	"pressrig/drivers/bench"
	"pressrig/firmware/wiring"
)

// Where a port's DDR and PORT stand in data space, and how many pins it has:
// data sheet of the ATmega2560, register summary (from memory).
var ports = []struct {
	name byte
	ddr  uint16 // PORT is the next
	bits int
}{
	{'A', 0x21, 8}, {'B', 0x24, 8}, {'C', 0x27, 8}, {'D', 0x2A, 8}, {'E', 0x2D, 8}, {'F', 0x30, 8},
	{'G', 0x33, 6}, {'H', 0x101, 8}, {'J', 0x104, 8}, {'K', 0x107, 8}, {'L', 0x10A, 8},
}

// Once booted, each pin of the list has its direction, inputs have no pull-up
// beside their resistor, and every other pin of the chip, brought out or not,
// is an input with pull-up: none floats, none drives.
func TestUnusedPinsAreSafe(t *testing.T) {
	l := bareLoop(t, "practice-disc")
	r, err := bench.New(bench.Options{Profile: l.profile, Config: l.config, Seed: 1, Board: l.board})
	if err != nil {
		t.Fatal(err)
	}
	for ms := 0; l.boots == 0 && ms < 5000; ms++ {
		r.Step()
	}
	text, err := os.ReadFile("../boards/mega2560/pins.h")
	if err != nil {
		t.Fatal(err)
	}
	pins, err := wiring.Parse(string(text))
	if err != nil {
		t.Fatal(err)
	}
	type state struct{ output, pulled bool }
	want := map[string]state{"PE0": {}, "PE1": {output: true}}
	for _, p := range pins {
		drives := p.Kind == wiring.Output || p.Kind == wiring.Pulse || p.Kind == wiring.Setpoint
		want[p.At] = state{output: drives}
	}
	for _, port := range ports {
		at := l.board.Peek(port.ddr, 2)
		for bit := range port.bits {
			name := "P" + string(port.name) + string(rune('0'+bit))
			got := state{output: at[0]>>bit&1 != 0, pulled: at[0]>>bit&1 == 0 && at[1]>>bit&1 != 0}
			w, used := want[name]
			if !used {
				w.pulled = true
			}
			if got != w {
				t.Errorf("%s, used %v: %+v, want %+v", name, used, got, w)
			}
		}
	}
	if err := l.board.Err(); err != nil {
		t.Fatal(err)
	}
}
