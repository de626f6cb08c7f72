package firmware_test

import (
	"bytes"
	"encoding/binary"
	"testing"

	"pressrig/safety/warden"
)

// twin is the C warden beside the Go warden. Each step of the Go warden is put
// on the tape; same plays it to the C warden and holds every state and output
// to the Go warden's.
type twin struct {
	*tape
	config warden.Config // what the C warden has by now
	state  warden.State
	told   bool // it has them at all
	steps  int
}

func newTwin(t *testing.T, program string) *twin { return &twin{tape: run(t, program)} }

// step is warden.Step.
func (w *twin) step(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
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
	warden.Step(c, s, in, out)
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
