//go:build avr

package emulated_test

import (
	"encoding/binary"
	"os/exec"
	"path/filepath"
	"testing"

	"pressrig/drivers/bench"
	"pressrig/firmware/emulated"
	fitted "pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// tiny is the test program, fitted with an identity wiring: one unit a count.
func tiny(t testing.TB) *emulated.Image {
	t.Helper()
	elf := filepath.Join(t.TempDir(), "tiny.elf")
	out, err := exec.Command("avr-gcc", "-mmcu=atmega2560", "-DF_CPU=16000000UL", "-std=gnu99", "-Os", "-Wall",
		"-Wextra", "-Werror", "-o", elf, "testdata/tiny.c").CombinedOutput()
	if err != nil {
		t.Fatalf("avr-gcc: %v\n%s", err, out)
	}
	img, err := emulated.ReadELF(elf)
	if err != nil {
		t.Fatal(err)
	}
	block := make([]byte, fitted.BlockBytes)
	for ai := range 10 {
		r := block[fitted.BlockAnalog+rig.AnalogBytes*ai:]
		binary.LittleEndian.PutUint16(r[2:], 1023)
		binary.LittleEndian.PutUint32(r[8:], 4096)
	}
	for i := range 5 {
		binary.LittleEndian.PutUint32(block[fitted.BlockSetpoints+4*i:], 1<<16)
	}
	img.Flash = append(img.Flash, make([]byte, 0xFE00-len(img.Flash))...)
	img.Flash = append(img.Flash, block...)
	return img
}

func startTiny(t *testing.T) *emulated.Board {
	t.Helper()
	b, err := emulated.Start(emulated.Options{Program: emulator(t), Image: tiny(t), Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

// steps lets n milliseconds pass.
func steps(b *emulated.Board, in *bench.BoardInput, out *bench.BoardOutput, n int) {
	for range n {
		out.ToHost, out.Ran = out.ToHost[:0], false
		b.Step(in, out)
		in.FromHost = in.FromHost[:0]
	}
}

// What a program reads and drives passes the emulated board's wires unchanged:
// contacts, each count of the converter, the encoder, outputs with their sense,
// pulse widths, bytes.
func TestWires(t *testing.T) {
	b := startTiny(t)
	var in bench.BoardInput
	var out bench.BoardOutput
	in.Sensors.AnalogOK = 0x3FF
	steps(b, &in, &out, 5)
	if out.Pins.Bits != warden.OutBrake || !out.Ran {
		t.Fatalf("outputs %#x, ran %v; only the brake, ran", out.Pins.Bits, out.Ran)
	}
	for counts := int16(0); counts < 1024; counts++ {
		in.Sensors.Analog[warden.AiGlass], in.Sensors.Analog[warden.AiSpindle] = counts, 1023-counts
		in.Sensors.Analog[warden.AiTravel] = counts
		steps(b, &in, &out, 2)
		if got := out.In.Analog; got[warden.AiGlass] != counts || got[warden.AiSpindle] != 1023-counts ||
			got[warden.AiTravel] != counts {
			t.Fatalf("counts %d and %d, travel %d read as %v", counts, 1023-counts, counts, got)
		}
		if counts > 0 && out.Pins.SpindleDrpm != uint16(counts) {
			t.Fatalf("a pulse of %d steps reads as %d", counts, out.Pins.SpindleDrpm)
		}
	}
	if got := out.In.AnalogOK; got < 224 || got > 226 { // 1.1 V of 5 V, data sheet
		t.Errorf("the bandgap reads as %d counts; 225", got)
	}
	in.Sensors.Bits = warden.InEstopOK | warden.InDoorClosed | warden.InFuelLow
	in.FromHost = append(in.FromHost, "hello"...)
	steps(b, &in, &out, 3)
	if want := uint32(0b11101111) ^ 1<<2 ^ 1<<3; out.In.Bits&0xFF != want { // pressure contacts open on danger
		t.Errorf("port A reads %#b; %#b", out.In.Bits, want)
	}
	if out.Pins.Bits != warden.OutFuel1 || b.Figures.High&warden.OutFuel1 == 0 {
		t.Errorf("outputs %#x; fuel 1 open, brake released", out.Pins.Bits)
	}
	if b.Figures.FromBoard != 5 || b.Figures.Overruns != 0 {
		t.Errorf("%+v: 5 bytes come back", b.Figures)
	}
	if p := b.Figures.Pulses; p < b.Figures.Ms-2 || p > b.Figures.Ms {
		t.Errorf("%d pulses in %d ms", p, b.Figures.Ms)
	}
}

// A board that hangs is restarted by its watchdog, and memory outlives it.
func TestResets(t *testing.T) {
	b := startTiny(t)
	var in bench.BoardInput
	var out bench.BoardOutput
	steps(b, &in, &out, 10)
	if out.State.First != emulated.PowerOn {
		t.Errorf("cause of reset %#x; power-on", out.State.First)
	}
	if cell := b.EEPROM()[7]; cell != 0x5A {
		t.Errorf("cell 7 holds %#x; 0x5A", cell)
	}
	in.Sensors.Bits = warden.InEstopOK
	steps(b, &in, &out, 5)
	for _, interrupts := range []bool{true, false} {
		for _, inTick := range []bool{true, false} {
			before := b.Figures.Resets
			b.Hang(interrupts, inTick)
			steps(b, &in, &out, 10)
			if out.Pins.Bits&warden.OutFuel1 == 0 || out.Ran {
				t.Errorf("interrupts %v, in tick %v: outputs %#x; hanging they stay", interrupts, inTick, out.Pins.Bits)
			}
			steps(b, &in, &out, 12)
			if b.Figures.Resets != before+1 || out.State.First != 1<<3 {
				t.Errorf("interrupts %v, in tick %v: %d resets, cause %#x", interrupts, inTick,
					b.Figures.Resets-before, out.State.First)
			}
		}
	}
	in.Sensors.Bits |= warden.InReset
	in.WatchdogDead = true
	before := b.Figures.Resets
	steps(b, &in, &out, 100)
	if b.Figures.Resets != before {
		t.Error("a dead watchdog has acted")
	}
	in.WatchdogDead, in.Sensors.Bits = false, warden.InStart
	in.NVDead = true
	steps(b, &in, &out, 40)
	if cell := b.EEPROM()[7]; cell != 0x5A {
		t.Errorf("cell 7 holds %#x; dead memory keeps 0x5A", cell)
	}
	in.NVDead = false
	steps(b, &in, &out, 1)
	b.Tear(emulated.BrownOut, 0x0F)
	steps(b, &in, &out, 2)
	if out.State.First != emulated.BrownOut || b.Figures.EarlyWrites != 0 {
		t.Errorf("cause of reset %#x, %+v; brown-out", out.State.First, b.Figures)
	}
	if got := out.In.NV; got != 0xA5^0x0F {
		t.Errorf("the torn cell reads %#x; %#x", got, 0xA5^0x0F)
	}
}

// The same inputs give the same cycles, bytes and outputs, every time.
func TestRepeats(t *testing.T) {
	var first emulated.Figures
	for run := range 2 {
		b := startTiny(t)
		var in bench.BoardInput
		var out bench.BoardOutput
		in.Sensors.AnalogOK = 0x3FF
		for ms := range 200 {
			in.FromHost = append(in.FromHost, byte(ms), byte(ms*7))
			in.Sensors.Analog[warden.AiTravel] = int16(ms * 3)
			steps(b, &in, &out, 1)
		}
		if run == 0 {
			first = b.Figures
		} else if b.Figures != first {
			t.Errorf("%+v, then %+v", first, b.Figures)
		}
	}
}

// An emulator that dies is an error, never a hang, and the outputs are off.
func TestDeadEmulator(t *testing.T) {
	b, err := emulated.Start(emulated.Options{Program: emulator(t), Image: tiny(t)})
	if err != nil {
		t.Fatal(err)
	}
	var out bench.BoardOutput
	in := bench.BoardInput{Sensors: warden.Input{Bits: warden.InEstopOK | warden.InDoorClosed}}
	steps(b, &in, &out, 5)
	if out.Pins.Bits != warden.OutFuel1 {
		t.Fatalf("outputs %#x; fuel 1", out.Pins.Bits)
	}
	b.Peek(0xFFFF, 2) // no such address: it ends
	steps(b, &in, &out, 2)
	if b.Err() == nil || out.Pins.Bits != warden.OutBrake || out.Ran {
		t.Errorf("error %v, outputs %#x, ran %v", b.Err(), out.Pins.Bits, out.Ran)
	}
	if b.Close() == nil {
		t.Error("a dead emulator ends in order")
	}
}

// EEPROM in a file outlives the emulator.
func TestMemoryInAFile(t *testing.T) {
	o := emulated.Options{Program: emulator(t), Image: tiny(t), Memory: filepath.Join(t.TempDir(), "eeprom")}
	for run, want := range []uint8{0xFF, 0x5A} {
		b, err := emulated.Start(o)
		if err != nil {
			t.Fatal(err)
		}
		var in bench.BoardInput
		var out bench.BoardOutput
		steps(b, &in, &out, 5)
		if out.In.NV != want {
			t.Errorf("run %d begins with %#x; %#x", run, out.In.NV, want)
		}
		steps(b, &in, &out, 10)
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	}
}
