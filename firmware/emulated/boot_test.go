//go:build avr

package emulated_test

import (
	"crypto/sha256"
	"encoding/binary"
	"hash"
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/drivers/wire"
	"pressrig/firmware/emulated"
	"pressrig/rehearse"
	"pressrig/safety/warden"
)

// Each boot has the next session number and tells why it came: PROTOCOL.md, 5.6.
// The reset that boot provokes to prove the watchdog counts for nothing.
func TestResetCausesAreTold(t *testing.T) {
	l := bareLoop(t, "practice-disc")
	r, err := bench.New(bench.Options{Profile: l.profile, Config: l.config, Seed: 1, Board: l.board})
	if err != nil {
		t.Fatal(err)
	}
	session := uint32(0)
	for i, c := range []struct {
		name  string
		reset func()
		want  uint32
	}{
		{"power", func() {}, wire.BootPower},
		{"brown-out", func() { l.board.Power(emulated.BrownOut) }, wire.BootBrownOut},
		{"watchdog", func() { l.board.Hang(false, false) }, wire.BootWatchdog},
		{"reset pin", r.Reset, wire.BootPin},
		{"power again", func() { l.board.Power(emulated.PowerOn) }, wire.BootPower},
	} {
		boots := l.boots
		c.reset()
		for ms := 0; l.boots == boots && ms < 5000; ms++ {
			r.Step()
		}
		h := newTalker(l.profile.Device, uint32(100+i))
		for ms := range 1000 {
			r.Receive(h.say(ms))
			r.Step()
			h.take(r.Transmit(nil), uint32(ms))
		}
		if h.boot != c.want || h.header.MCUSession != session+1 {
			t.Errorf("%s: boot event says %#x, session %d; %#x and %d", c.name, h.boot, h.header.MCUSession, c.want,
				session+1)
		}
		session = h.header.MCUSession
		if want := wire.BlockHash(&l.config, &l.profile.Signals); h.hash != want {
			t.Errorf("%s: hello says hash %08X of the block; the profile's is %08X", c.name, h.hash, want)
		}
	}
}

// hashing keeps a hash of all that a board does.
type hashing struct {
	*emulated.Board
	sum hash.Hash
}

func (b hashing) Step(in *bench.BoardInput, out *bench.BoardOutput) {
	b.Board.Step(in, out)
	err := binary.Write(b.sum, binary.LittleEndian, struct {
		Cycles uint64
		Pins   warden.Output
		High   uint16
	}{b.Figures.Cycles, out.Pins, b.Figures.High})
	if err != nil {
		panic(err) // numbers into a hash cannot fail
	}
	b.sum.Write(out.ToHost)
}

// SV-070: the same seed gives the same bytes, outputs and cycles, every time.
func TestImageRepeats(t *testing.T) {
	var sums [2]string
	for run := range sums {
		l := bareLoop(t, "practice-disc")
		b := hashing{l.board, sha256.New()}
		h, err := rehearse.New(rehearse.Options{Profile: l.profile, Seed: 9, Answers: true, NoTrace: true, Board: b})
		if err != nil {
			t.Fatal(err)
		}
		h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: l.recipe})
		h.Run(20_000, func() bool { return false })
		sums[run] = string(b.sum.Sum(nil))
	}
	if sums[0] != sums[1] {
		t.Errorf("two runs differ: %x, %x", sums[0], sums[1])
	}
}
