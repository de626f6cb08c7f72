package firmware_test

import (
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"pressrig/safety/warden"
	"pressrig/testcount"
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
	for seed := range uint64(60) {
		w.filter(seed, 500)
	}
	aimed(w)
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
	for seed := range uint64(lines) {
		p.aimedLine(seed)
		kept.keep(p)
	}
	p.fullLines()
	kept.keep(p)
	for seed := range uint64(frames) {
		p.framesSent(seed)
		kept.keep(p)
	}
}

// Every pattern of outputs and every value of each phase and flag, and by chance
// what the last word looks at beside them, each number at its bound and one
// before: what no step makes ends in lockout with the brake on.
func tapeOfTheAssertion(t *testing.T) {
	p, kept := run(t, buildWithout(t, "test/assertion_peer.c", "core/drive.c")), newRecording(t, "assertion")
	c := warden.Config{LeaseMs: 500, OxygenAfterMs: 1000}
	p.commands = pack(append(p.commands, 'C'), &c)
	refused, passed := 0, 0
	decay := func(before, s warden.State, in *warden.Input) {
		p.commands = pack(append(p.commands, 'I'), in)
		p.commands = pack(pack(append(p.commands, 'D'), &before), &s)
		p.mark("decayed memory")
		if passed++; corrupt(&s) || lastWord(&c, &before, &s, in) != "" {
			refused++
			warden.Init(&s, warden.NVLockout)
			s.NV = warden.NVLockout
			s.Out.Bits, s.Out.NV = warden.OutBrake, warden.NVLockout
		}
		p.want = pack(pack(p.want, &s), &s.Out)
	}
	ready := warden.Input{Bits: warden.InEstopOK}
	var s warden.State
	for lock := range warden.LockLockout + 1 {
		for bits := range uint16(1 << 12) {
			s = warden.State{Lock: lock, Burner: warden.BurnerRun, FlameMs: 2000, Out: warden.Output{Bits: bits}}
			if lock == warden.LockLockout {
				s.Trips = 1 << warden.CauseMains
			}
			decay(warden.State{}, s, &ready)
		}
	}
	for cause := range uint8(64) { // each alone, with and without lockout
		for lock := range warden.LockLockout + 1 {
			decay(warden.State{}, warden.State{Trips: 1 << cause, Lock: lock}, &ready)
		}
	}
	for _, number := range []*uint8{&s.Burner, &s.Press, &s.Spindle, &s.Link, &s.Lock, &s.First, &s.Started, &s.Armed,
		&s.Oxygen, &s.Touching} {
		for v := range 256 {
			s = warden.State{}
			*number = uint8(v)
			decay(warden.State{}, s, &ready)
		}
	}
	rnd := rand.New(rand.NewPCG(13, 17))
	for range testcount.Of(20000, 150000) {
		before, after, in := beside(rnd)
		decay(before, after, &in)
	}
	t.Logf("%d states, %d refused", passed, refused)
	kept.keep(p)
}

// beside are a state, another that decay may leave, and an input, with what the
// last word compares at its bounds.
func beside(rnd *rand.Rand) (before, s warden.State, in warden.Input) {
	coin := func() bool { return rnd.IntN(2) == 0 }
	cause := func(x *warden.State) {
		switch rnd.IntN(4) {
		case 0:
			x.Trips, x.Lock = 1<<rnd.IntN(44), uint8(rnd.IntN(4))
		case 1:
			x.Trips, x.Lock = 1<<warden.CauseEstop, warden.LockLockout
		case 2:
			x.Trips, x.Lock = 1<<warden.CauseDoor, warden.LockAbort
		}
	}
	cause(&before)
	cause(&s)
	if coin() {
		before.ResetSeen = 1
	}
	if coin() {
		before.Out.Bits = warden.OutOxygen
	}
	if rnd.IntN(4) != 0 {
		in.Bits |= warden.InEstopOK
	}
	if coin() {
		in.Bits |= warden.InReset
	}
	s.Burner = []uint8{warden.BurnerRun, warden.BurnerRun, warden.BurnerOff, uint8(rnd.IntN(int(warden.NumBurner)))}[rnd.IntN(4)]
	s.Press = uint8(rnd.IntN(int(warden.NumPress)))
	s.PhaseMs, s.FlameMs = uint32(rnd.IntN(2)), uint16(999+rnd.IntN(3))
	for i := range s.LeaseMs {
		s.LeaseMs[i] = uint16(498 + rnd.IntN(4))
	}
	s.Out.Bits = []uint16{0, warden.OutFuel1 | warden.OutFuel2, warden.OutFuel1 | warden.OutFuel2 | warden.OutOxygen,
		warden.OutPressClose, warden.OutPressOpen, warden.OutIgniter, warden.OutBurnerIn, uint16(rnd.IntN(1 << 12))}[rnd.IntN(8)]
	return before, s, in
}
