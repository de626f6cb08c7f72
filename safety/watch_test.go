package safety

import (
	"testing"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

// Each cause provoked on rigs of every kind: the invariants hold, and with the
// faults gone and a person who acts correctly the rig comes back to idle and
// starts again (invariant 17).
func TestWatchQuickRig(t *testing.T) {
	tripped := map[uint8]bool{}
	for k := range uint64(3) {
		for cause := range warden.NumCauses {
			if !chaos.Aimed(cause) && k > 0 {
				continue
			}
			x := newWatched(chaos.NewQuick(uint64(cause) + k*uint64(warden.NumCauses)))
			b := x.run(5000, func(_, s *warden.State) {
				if s.First != 0 {
					tripped[s.First] = true
				}
			})
			if b.Number == 0 {
				b = x.comeBack()
			}
			if b.Number != 0 {
				t.Fatalf("aimed at %s, walk %d, %d ms: invariant %d: %s (first cause %d, lock %d, burner %d, press %d, options %#x)",
					Name(cause), k, x.Ms, b.Number, b.What, x.State.First, x.State.Lock, x.State.Burner, x.State.Press, x.Config.Options)
			}
		}
	}
	if len(tripped) < 26 {
		t.Errorf("only %d kinds of first cause: one that is provoked stays without reaction: %v", len(tripped), tripped)
	}
}

// comeBack is the correct operator: faults gone, buttons released, the press
// opened by hand, RESET pressed; then a new START.
func (x *watched) comeBack() Broken {
	const most = 20000
	x.Sound()
	for n := range uint32(most) {
		x.Person(n, warden.Request{Flags: warden.ReqReset}, false)
		if b := x.tick(); b.Number != 0 {
			return b
		}
		if x.idle() && n > 400 {
			return x.startAgain()
		}
	}
	return Broken{17, "idle is not reached with the faults gone and the operator acting correctly"}
}

func (x *watched) idle() bool {
	return x.State.Trips == 0 && x.State.Lock == warden.LockNone && x.State.Burner == warden.BurnerStandby &&
		x.State.Press == warden.PressStay && x.In.Bits&warden.InPressOpen != 0 && x.State.Spindle == warden.SpindleOff
}

func (x *watched) startAgain() Broken {
	id := x.NextArming()
	for n := range uint32(200) {
		ask := warden.Request{Lease: 15, Flags: warden.ReqArm, ArmID: id, GlassLowDC: 8000, GlassHighDC: 9500}
		x.Person(n, ask, n > 100 && n < 110)
		if b := x.tick(); b.Number != 0 {
			return b
		}
		if x.State.Started != 0 {
			return Broken{}
		}
	}
	return Broken{17, "a new START does not start from idle"}
}

// tick is one tick under the invariants.
func (x *watched) tick() Broken {
	x.Step(&x.Config, &x.State, &x.In, &x.Out)
	return x.watch.Step(&Tick{In: &x.In, Out: &x.Out, After: &x.State})
}
