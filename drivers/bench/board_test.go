package bench

import (
	"bytes"
	"testing"

	"pressrig/safety/warden"
)

// scriptBoard notes what it is given and does what the test says.
type scriptBoard struct {
	in       BoardInput
	fromHost []byte
	pins     warden.Output
	send     []byte
	ran      *warden.Input
}

func (b *scriptBoard) Step(in *BoardInput, out *BoardOutput) {
	b.in = *in
	b.fromHost = append(b.fromHost, in.FromHost...)
	out.Pins, out.ToHost = b.pins, append(out.ToHost, b.send...)
	b.send, out.Pulses = b.send[:0], 1
	out.Session, out.Ms, out.NV = 7, out.Ms+1, 0x5A
	if b.ran != nil {
		out.Ran, out.In = true, *b.ran
		out.State.Burner = warden.BurnerPurge
	}
}

// A board sees the sensors with their faults and what crossed the line, and
// drives the plant; its own memory and warden are what the rig tells.
func TestBoardInThePlaceOfTheMicrocontroller(t *testing.T) {
	p, c := testConfig(t, "driven")
	b := &scriptBoard{pins: unpowered()}
	r, err := New(Options{Profile: p, Config: c, Seed: 1, Board: b})
	if err != nil {
		t.Fatal(err)
	}
	inject := func(f Fault) {
		t.Helper()
		if err := r.Inject(f); err != nil {
			t.Fatal(err)
		}
	}
	frame := append(bytes.Repeat([]byte{1}, 200), 0) // 8 ms at the rate of a board
	r.Receive(frame)
	b.send = append(b.send, frame...)
	r.Step()
	if !bytes.Equal(b.fromHost, frame) || !bytes.Equal(r.Transmit(nil), frame) {
		t.Errorf("%d bytes crossed in the first millisecond; %d both ways", len(b.fromHost), len(frame))
	}
	if b.in.Sensors.Bits&warden.InPressOpen == 0 || b.in.Sensors.Bits&warden.InExtraction != 0 {
		t.Errorf("switches %#x: press open, no extraction", b.in.Sensors.Bits)
	}
	b.pins.Bits = warden.OutFan
	inject(Fault{Name: "stuck", Target: "press_open", On: false})
	inject(Fault{Name: "lost", Target: "force"})
	inject(Fault{Name: "nv_dead"})
	for range 3000 {
		r.Step()
	}
	if got := b.in.Sensors; got.Bits&warden.InExtraction == 0 || got.Bits&warden.InPressOpen != 0 ||
		got.AnalogOK&(1<<warden.AiForce) != 0 || !b.in.NVDead || b.in.Reset || b.in.Hang {
		t.Errorf("%+v: extraction proven, press_open stuck off, force lost, memory dead", b.in)
	}
	if got := r.Truth(); got.Out != warden.OutFan || got.Session != 7 || got.NV != 0x5A {
		t.Errorf("outputs %#x, session %d, memory %#x; the board's", got.Out, got.Session, got.NV)
	}
	b.ran = &warden.Input{Fresh: 1, Bits: 5}
	inject(Fault{Name: "mcu_hang", When: Trigger{Kind: TriggerBurner, Phase: warden.BurnerPurge}})
	r.Step()
	r.Step()
	in, _, s, clock := r.Warden()
	if in.Bits != 5 || s.Burner != warden.BurnerPurge || clock != 7<<32|3003 || !b.in.Hang {
		t.Errorf("in %+v, burner %d, clock %#x, hang %v; the board's", in, s.Burner, clock, b.in.Hang)
	}
	if at, ok := r.RequestMs(); !ok || at != r.Ms() {
		t.Errorf("request at %d, %v; in the newest millisecond, %d", at, ok, r.Ms())
	}
	r.Reset()
	r.Step()
	if !b.in.Reset {
		t.Error("the board is not reset")
	}
	defer func() {
		if recover() == nil {
			t.Error("a board was forked")
		}
	}()
	r.Fork()
}
