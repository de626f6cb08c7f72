package firmware_test

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"testing"

	"pressrig/safety/warden"
)

// twin is the C warden beside the Go warden. Each step of the Go warden is put
// on the tape; same plays it to the C warden and holds every state and output
// to the Go warden's.
type twin struct {
	*tape
	config  warden.Config // what the C warden has by now
	state   warden.State
	told    bool // it has them at all
	refused int  // by the last word
	steps   int
}

func newTwin(t *testing.T, program string) *twin { return &twin{tape: run(t, program)} }

// step is warden.Step.
func (w *twin) step(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	w.tell(c, s, in)
	before := *s
	warden.Step(c, s, in, out)
	if why := lastWord(c, &before, s, in); why != "" {
		w.t.Fatalf("the specification drives what the last word refuses: %s", why)
	}
	w.answer(c, s, in, out)
}

// filter plays inputs that bounce, chatter and stay to the filter: each that is
// filtered alone and all together, from power-up.
func (w *twin) filter(seed uint64, ms int) {
	rnd := rand.New(rand.NewPCG(seed, 23))
	w.commands = append(w.commands, 'Z')
	var f warden.Filter
	raw, often := rnd.Uint32(), 1+rnd.IntN(40)
	for range ms {
		if rnd.IntN(often) == 0 {
			raw ^= rnd.Uint32() & rnd.Uint32()
		}
		in := warden.Input{Bits: raw}
		w.commands = pack(append(w.commands, 'B'), &in.Bits)
		w.mark("a millisecond of the filter")
		warden.StepFilter(&f, &in)
		w.want = pack(w.want, &in.Bits)
	}
}

// tell gives C what it steps from.
func (w *twin) tell(c *warden.Config, s *warden.State, in *warden.Input) {
	if !w.told || *c != w.config {
		w.commands = pack(append(w.commands, 'C'), c)
		w.config = *c
	}
	if !w.told || *s != w.state { // else the C warden goes on from its own
		w.commands = pack(append(w.commands, 'S'), s)
	}
	w.told = true
	w.commands = pack(append(w.commands, 'T'), in)
	w.mark("step")
}

// stepFromAnywhere is step from a state that may be one which no step leaves:
// there C answers with lockout what its last word refuses.
func (w *twin) stepFromAnywhere(c *warden.Config, s *warden.State, in *warden.Input) {
	w.tell(c, s, in)
	before := *s
	out := warden.Output{}
	warden.Step(c, s, in, &out)
	if lastWord(c, &before, s, in) != "" {
		warden.Init(s, warden.NVLockout)
		s.NV, s.Out.NV, s.Out.Bits = warden.NVLockout, warden.NVLockout, warden.OutBrake
		out = s.Out
		w.refused++
	}
	w.answer(c, s, in, &out)
}

// lastWord is core/last.c in other words: what an output breaks, "" for a sound
// one.
func lastWord(c *warden.Config, before, s *warden.State, in *warden.Input) string {
	bits := s.Out.Bits
	on := func(mask uint16) bool { return bits&mask != 0 }
	gases := warden.OutFuel1 | warden.OutFuel2 | warden.OutOxygen | warden.OutIgniter
	both := warden.OutFuel1 | warden.OutFuel2
	alive := func(i int) bool { return s.LeaseMs[i] < c.LeaseMs }
	if corrupt(before) {
		fresh := warden.State{}
		warden.Init(&fresh, warden.NVLockout)
		before = &fresh
	}
	locking := uint64(0)
	for cause, row := range warden.Matrix {
		if row.Lock == warden.LockLockout {
			locking |= 1 << cause
		}
	}
	edge := in.Bits&warden.InReset != 0 && before.ResetSeen != 0
	switch {
	case (s.Trips&locking != 0) != (s.Lock == warden.LockLockout):
		return "lock without its cause"
	case before.Lock == warden.LockLockout && before.Trips&locking != 0 && !edge && s.Lock != warden.LockLockout:
		return "lockout let go"
	case in.Bits&warden.InEstopOK == 0 && on(gases|warden.OutBurnerIn|warden.OutPressClose|warden.OutPressOpen):
		return "emergency stop"
	case s.Lock == warden.LockLockout && on(gases):
		return "lockout"
	case on(warden.OutPressClose) && on(warden.OutPressOpen), on(warden.OutBrake) && on(warden.OutPressClose|warden.OutPressOpen):
		return "press both ways"
	case on(both) && bits&both != both, on(warden.OutOxygen) && !on(both):
		return "valves apart"
	case on(both) && !alive(0) && !(s.Burner == warden.BurnerOff && s.PhaseMs == 0):
		return "fuel without its lease"
	case on(warden.OutPressClose) && s.Press != warden.PressEasing && s.Press != warden.PressHandClose && !alive(2):
		return "press closes without its lease"
	case on(warden.OutOxygen) && (s.Burner != warden.BurnerRun || !alive(1) || before.Out.Bits&warden.OutOxygen == 0 && s.FlameMs < c.OxygenAfterMs):
		return "oxygen without proven flame"
	}
	return ""
}

// corrupt is what the specification calls decayed memory.
func corrupt(s *warden.State) bool {
	return s.Burner >= warden.NumBurner || s.Press >= warden.NumPress || s.Spindle >= warden.NumSpindle ||
		s.Link >= warden.NumLink || s.Lock > warden.LockLockout || s.First >= warden.NumCauses ||
		s.Started > 1 || s.Armed > 1 || s.Oxygen > 1 || s.Touching > 1
}

// answer is what C has to say.
func (w *twin) answer(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	w.state = *s
	w.want = pack(pack(w.want, s), out)
	w.want = append(w.want, number(warden.ViewFree(c, s, in)), number(warden.MayStroke(c, s, in)))
	w.want = binary.LittleEndian.AppendUint32(w.want, warden.UnburntLimit(c))
	w.steps++
}

// powerUp starts both wardens.
func (w *twin) powerUp(nv uint8) {
	warden.Init(&w.state, nv)
	w.commands = append(w.commands, 'I', nv)
	w.mark("power-up")
	w.want = pack(w.want, &w.state)
}

// matrix asks for all rows.
func (w *twin) matrix() {
	w.commands = append(w.commands, 'M')
	w.mark("matrix")
	w.want = pack(w.want, &warden.Matrix)
}

func number(b bool) byte {
	if b {
		return 1
	}
	return 0
}

// same plays what is on the tape and names the fields that differ.
func (w *twin) same() bool {
	w.t.Helper()
	d := w.play()
	if d == nil {
		return true
	}
	all := append(fieldsOf(records[1].of, "state"), fieldsOf(records[3].of, "output")...)
	all = append(all, field{"view free", "", 1}, field{"may stroke", "", 1}, field{"unburnt limit", "", 4})
	w.t.Errorf("answer %d of this tape (%s) differs:", d.number, d.about)
	at := 0
	for _, f := range all {
		if at+f.size > len(d.want) {
			break
		}
		if got, want := d.got[at:at+f.size], d.want[at:at+f.size]; !bytes.Equal(got, want) {
			w.t.Errorf("  %s: C has % x, Go has % x (little-endian)", f.name, got, want)
		}
		at += f.size
	}
	return false
}

// Every non-volatile byte at power-up.
func TestSameAtPowerUp(t *testing.T) {
	w := newTwin(t, build(t, "test/warden_peer.c"))
	for nv := range 256 {
		w.powerUp(uint8(nv))
	}
	w.same()
}
