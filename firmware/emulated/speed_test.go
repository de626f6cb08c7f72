//go:build avr

package emulated_test

import (
	"testing"

	"pressrig/drivers/bench"
	"pressrig/firmware/emulated"
)

func BenchmarkStep(b *testing.B) {
	board, err := emulated.Start(emulated.Options{Program: emulator(b), Image: tiny(b), Seed: 1})
	if err != nil {
		b.Fatal(err)
	}
	defer board.Close()
	var in bench.BoardInput
	var out bench.BoardOutput
	b.ResetTimer()
	steps(board, &in, &out, b.N)
}
