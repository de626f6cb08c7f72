//go:build avr

package emulated_test

import (
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/firmware/emulated"
	"pressrig/safety/warden"
)

// strokes starts a cycle and waits until the press has left open, before contact.
func (l *loop) strokes() {
	l.t.Helper()
	l.starts(1)
	l.until("the press closes", 300_000, func() bool {
		return l.newest.State.Press == warden.PressClosing && l.newest.In.Bits&warden.InPressOpen == 0
	})
}

func (l *loop) travelKnown() bool { return l.newest.In.AnalogOK&(1<<warden.AiTravel) != 0 }

// homes opens the press by hold-to-run.
func (l *loop) homes() {
	l.t.Helper()
	l.Rig.Press(bench.ButtonOpen, 20_000)
	l.until("the press is opened by hand", 20_000, func() bool {
		return l.newest.In.Bits&warden.InPressOpen != 0 && l.travelKnown()
	})
}

// A track of the encoder that keeps its level reads as a press standing still. A
// fifth of a second later travel is not believed any more and the drive gets no
// speed: it stands before contact, however fast it was. The closing output goes
// off when the supervisor's phase has taken its longest, and the press opens to
// the switch, slowly.
func TestDeadEncoderTrack(t *testing.T) {
	const doubtMs, fastest = 210, 0.060 // ms with the tick of the last count; mm/ms
	for _, c := range []struct {
		name string
		a, b bool
	}{{"A", true, false}, {"B", false, true}, {"both", true, true}} {
		t.Run(c.name, func(t *testing.T) {
			l := newLoop(t, "practice-disc")
			l.strokes()
			l.board.DeadA, l.board.DeadB = c.a, c.b
			began, ms := l.Rig.Truth(), 0
			l.until("travel is doubted", doubtMs, func() bool { ms++; return !l.travelKnown() })
			l.ms(100) // the drive comes to rest
			rest := l.Rig.Truth()
			off := l.off(warden.OutPressClose, 4000)
			if end := l.Rig.Truth(); end.TravelMM > rest.TravelMM+0.1 || end.ForceN != 0 || end.Touching ||
				rest.TravelMM > began.TravelMM+fastest*(doubtMs+100) {
				t.Errorf("from %.2f mm to %.2f and %.2f, force %.1f N", began.TravelMM, rest.TravelMM, end.TravelMM, end.ForceN)
			}
			if l.Out.Status.State != controller.Holding {
				t.Errorf("%v: %s", l.Out.Status.State, l.Out.Status.Reason)
			}
			l.until("the press is open", 10_000, func() bool { return l.newest.In.Bits&warden.InPressOpen != 0 })
			t.Logf("travel doubted after %d ms, %.1f mm on; closing output off %d ms later", ms,
				rest.TravelMM-began.TravelMM, 100+off)
		})
	}
}

// Homing is opening to the end switch, also where the press stood in the middle
// of its way when power came back and nobody knows where it is.
func TestHomingFromTheMiddle(t *testing.T) {
	l := newLoop(t, "practice-disc")
	l.strokes()
	l.board.Power(emulated.BrownOut)
	l.quiet(3000)
	l.locked(warden.LockLockout, warden.CauseRestart)
	if at := l.Rig.Truth(); at.In&warden.InPressOpen != 0 {
		t.Fatalf("the press is open: %+v", at)
	}
	l.homes()
}
