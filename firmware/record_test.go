package firmware_test

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"pressrig/safety/warden"
)

var tapes = flag.String("tapes", "", "folder to which TestTapes writes its tapes")

// recording keeps all that a tape plays.
type recording struct{ commands, answers *os.File }

func newRecording(t *testing.T, name string) *recording {
	t.Helper()
	dir := *tapes
	if dir == "" {
		dir = t.TempDir()
	}
	var files [2]*os.File
	for i, ending := range []string{".commands", ".answers"} {
		file, err := os.Create(filepath.Join(dir, name+ending))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { file.Close() })
		files[i] = file
	}
	return &recording{files[0], files[1]}
}

// keep writes what is on the tape, then plays it.
func (r *recording) keep(p *tape) {
	p.t.Helper()
	for _, piece := range []struct {
		to    *os.File
		bytes []byte
	}{{r.commands, p.commands}, {r.answers, p.want}} {
		if _, err := piece.to.Write(piece.bytes); err != nil {
			p.t.Fatal(err)
		}
	}
	if d := p.play(); d != nil {
		p.t.Fatal(d)
	}
}

// The tapes that mutants of the core are played, and that the core itself
// passes: of the warden, of its last assertion, and of the wire.
func TestTapes(t *testing.T) {
	long := *tapes != ""
	t.Run("warden", func(t *testing.T) { tapeOfTheWarden(t, long) })
	t.Run("assertion", tapeOfTheAssertion)
	t.Run("wire", func(t *testing.T) { tapeOfTheWire(t, long) })
}

func tapeOfTheWarden(t *testing.T, long bool) {
	w, unused, kept := newTwin(t, build(t, "test/warden_peer.c")), newCover(), newRecording(t, "warden")
	most := 10000
	if long {
		most = *steps
	}
	for nv := range 256 {
		w.powerUp(uint8(nv))
	}
	w.matrix()
	for seed := uint64(0); w.steps < most; seed++ {
		walk(w, unused, seed, 3000, 1)
		kept.keep(w.tape)
		edges(w, seed)
		kept.keep(w.tape)
	}
}

func tapeOfTheWire(t *testing.T, long bool) {
	p, kept := run(t, build(t, "test/wire_peer.c")), newRecording(t, "wire")
	lines, frames := 4, 20
	if long {
		lines, frames = 40, 300
	}
	for seed := range uint64(lines) {
		p.disturbedLine(seed, 500)
		kept.keep(p)
	}
	for seed := range uint64(frames) {
		p.framesSent(seed)
		kept.keep(p)
	}
}

// unfit are outputs that no board may drive, whatever made them.
func unfit(s *warden.State) bool {
	on := func(bits uint16) bool { return s.Out.Bits&bits != 0 }
	gas := on(warden.OutFuel1) || on(warden.OutFuel2) || on(warden.OutOxygen)
	force := on(warden.OutPressClose) || on(warden.OutPressOpen)
	return on(warden.OutPressClose) && on(warden.OutPressOpen) || on(warden.OutBrake) && force ||
		on(warden.OutFuel1) != on(warden.OutFuel2) || on(warden.OutOxygen) && !on(warden.OutFuel1) ||
		s.Lock == warden.LockLockout && (gas || on(warden.OutIgniter))
}

// Every pattern of outputs, with and without lockout, and every value of each
// phase and flag: what no step makes ends in lockout with the brake on.
func tapeOfTheAssertion(t *testing.T) {
	p, kept := run(t, buildWithout(t, "test/assertion_peer.c", "core/drive.c")), newRecording(t, "assertion")
	decay := func(s warden.State, bad bool) {
		p.commands = pack(append(p.commands, 'D'), &s)
		p.mark("decayed memory")
		if bad {
			warden.Init(&s, warden.NVLockout)
			s.NV = warden.NVLockout
			s.Out.Bits, s.Out.NV = warden.OutBrake, warden.NVLockout
		}
		p.want = pack(pack(p.want, &s), &s.Out)
	}
	var s warden.State
	for lock := range warden.LockLockout + 1 {
		for bits := range uint16(1 << 12) {
			s = warden.State{Lock: lock, Out: warden.Output{Bits: bits}}
			decay(s, unfit(&s))
		}
	}
	for _, number := range []struct {
		value *uint8
		most  uint8
	}{
		{&s.Burner, warden.NumBurner - 1}, {&s.Press, warden.NumPress - 1}, {&s.Spindle, warden.NumSpindle - 1},
		{&s.Link, warden.NumLink - 1}, {&s.Lock, warden.LockLockout}, {&s.First, warden.NumCauses - 1},
		{&s.Started, 1}, {&s.Armed, 1}, {&s.Oxygen, 1}, {&s.Touching, 1},
	} {
		for v := range 256 {
			s = warden.State{}
			*number.value = uint8(v)
			decay(s, uint8(v) > number.most)
		}
	}
	kept.keep(p)
}
