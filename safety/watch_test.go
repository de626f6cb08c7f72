package safety

import (
	"testing"

	"pressrig/safety/warden"
)

// quickPace is how many times faster than real time the quick rig is: whole
// cycles in a second, so that every cause is tried in little time.
const quickPace = 10

// newQuickChaos is a hostile rig with all times short, in the same order.
func newQuickChaos(seed uint64) *chaos {
	x := newChaos(seed)
	x.pace = quickPace
	c := &x.c
	c.CheckMs, c.PurgeMs, c.IgniterMs, c.TrialMs, c.FlameOnMs = 50, 300, 100, 300, 10
	c.ProveMs, c.ProveDarkMs, c.FlameOffMs, c.OxygenAfterMs, c.OffMs = 100, 110, 60, 120, 50
	c.PostPurgeMs, c.ParkMs, c.LeaseMs, c.ArmMs, c.CreepMs = 310, 3000, 50, 1900, 400
	c.RampMs, c.EaseMs, c.EaseStepDN, c.RetractMs, c.SoftMs = 90, 100, 40, 1500, 6000
	c.ViewMs, c.SampleMs, c.EstimateMs, c.SpindleStallMs = 30, 20, 200, 200
	c.ExtractionMs, c.ExtractionWaitMs, c.PressureMs, c.SlideMs = 55, 1000, 25, 210
	c.ButtonMs, c.HandsMs = 350, 45
	return x
}

// Each cause provoked on rigs of every kind: the invariants hold, and with the
// faults gone and a person who acts correctly the rig comes back to idle and
// starts again (invariant 17).
func TestWatchQuickRig(t *testing.T) {
	tripped := map[uint8]bool{}
	for k := range uint64(3) {
		for cause := range warden.NumCauses {
			if _, aimed := moments[cause]; !aimed && k > 0 {
				continue
			}
			x := newQuickChaos(uint64(cause) + k*uint64(warden.NumCauses))
			b := x.run(5000, func(s *warden.State) {
				if s.First != 0 {
					tripped[s.First] = true
				}
			})
			if b.Number == 0 {
				b = x.comeBack()
			}
			if b.Number != 0 {
				t.Fatalf("aimed at %s, walk %d, %d ms: invariant %d: %s (first cause %d, lock %d, burner %d, press %d, options %#x)",
					Name(cause), k, x.ms, b.Number, b.What, x.s.First, x.s.Lock, x.s.Burner, x.s.Press, x.c.Options)
			}
		}
	}
	if len(tripped) < 26 {
		t.Errorf("only %d kinds of first cause: one that is provoked stays without reaction: %v", len(tripped), tripped)
	}
}

// comeBack is the correct operator: faults gone, buttons released, the press
// opened by hand, RESET pressed; then a new START.
func (x *chaos) comeBack() Broken {
	const most = 20000
	x.wait, x.in.AnalogOK = map[uint32]uint32{}, 1<<warden.NumAnalog-1
	for n := range uint32(most) {
		x.person(n, warden.Request{Flags: warden.ReqReset})
		if b := x.watched(); b.Number != 0 {
			return b
		}
		if x.idle() && n > 400 {
			return x.startAgain()
		}
	}
	return Broken{17, "idle is not reached with the faults gone and the operator acting correctly"}
}

func (x *chaos) idle() bool {
	return x.s.Trips == 0 && x.s.Lock == warden.LockNone && x.s.Burner == warden.BurnerStandby &&
		x.s.Press == warden.PressStay && x.in.Bits&warden.InPressOpen != 0 && x.s.Spindle == warden.SpindleOff
}

func (x *chaos) startAgain() Broken {
	x.arm += 5
	for n := range uint32(200) {
		x.person(n, warden.Request{Lease: 15, Flags: warden.ReqArm, ArmID: x.arm, GlassLowDC: 8000, GlassHighDC: 9500})
		force(warden.InStart, n > 100 && n < 110)(x)
		if b := x.watched(); b.Number != 0 {
			return b
		}
		if x.s.Started != 0 {
			return Broken{}
		}
	}
	return Broken{17, "a new START does not start from idle"}
}

// person makes the inputs of one tick: a sound rig, a host that asks for r, and
// hands on the buttons as the lock and the press demand.
func (x *chaos) person(n uint32, r warden.Request) {
	x.ms++
	x.plant()
	x.in.Bits &^= warden.InStart | warden.InTwoHandLeft | warden.InTwoHandRight | warden.InSetUp | warden.InHoldTurn
	force(warden.InReset, x.s.Lock != warden.LockNone && n%300 > 250 && n%300 < 280)(x)
	force(warden.InHoldOpen, x.in.Bits&warden.InPressOpen == 0 && n%200 > 20)(x)
	x.in.Bits |= warden.InChuckClamped
	x.in.NewSession, x.in.BadFrames, x.in.GlassAgeMs = 0, 0, 0
	x.in.Fresh, x.in.Request = bit01(n%5 == 0), r
}

// watched is one tick under the invariants.
func (x *chaos) watched() Broken {
	x.step(&x.c, &x.s, &x.in, &x.out)
	return x.watch.Step(&Tick{In: &x.in, Out: &x.out, After: &x.s})
}
