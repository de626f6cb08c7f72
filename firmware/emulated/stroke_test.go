//go:build avr

package emulated_test

import (
	"testing"

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

// byHand opens the press by hold-to-run until its switch is made, and waits.
func (l *loop) byHand() {
	l.t.Helper()
	l.Rig.Press(bench.ButtonOpen, 20_000)
	l.until("the press is opened by hand", 20_000, func() bool { return l.newest.In.Bits&warden.InPressOpen != 0 })
	l.ms(100)
}

// A track of the encoder that keeps its level reads as a press standing still. A
// fifth of a second later travel is not believed any more and the drive gets no
// speed: it stands before contact, however fast it was, and row 44 ends the
// stroke. Opened by hand, the press is found at its switch where travel cannot
// say so, and travel stays unknown until power is gone.
func TestDeadEncoderTrack(t *testing.T) {
	const doubtMs, fastest = 210, 0.060 // ms with the tick of the last count; mm/ms
	for _, c := range []struct {
		name string
		a, b bool
	}{{"A", true, false}, {"B", false, true}, {"both", true, true}} {
		t.Run(c.name, func(t *testing.T) {
			l := newLoop(t, "practice-disc")
			l.strokes()
			l.ms(200) // 12 mm
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
			l.locked(warden.LockAbort, warden.CauseTravelLost)
			l.byHand()
			if l.travelKnown() {
				t.Error("travel is believed again")
			}
			t.Logf("travel doubted after %d ms, %.1f mm on; closing output off %d ms later", ms,
				rest.TravelMM-began.TravelMM, 100+off)
		})
	}
}

// An encoder that is wrong by 20 mm when the press opens is found at the open
// switch, whichever way it is wrong: short, travel says open and the switch has
// not closed, which row 44 answers on the way; long, the switch closes where
// travel says that it cannot. Travel is not believed any more, opened again or
// not, until power is gone.
func TestEncoderSlip(t *testing.T) {
	for _, c := range []struct {
		name string
		slip int32
		lock uint8
	}{{"short by 20 mm", -2000, warden.LockAbort}, {"long by 20 mm", 2000, warden.LockNone}} {
		t.Run(c.name, func(t *testing.T) {
			l := newLoop(t, "practice-disc")
			l.strokes()
			l.until("the press opens", 120_000, func() bool { return l.newest.State.Press == warden.PressOpening })
			if at := l.Rig.Truth().TravelMM; at < 25 {
				t.Fatalf("opens at %.2f mm; 25 at least", at)
			}
			if c.slip > 0 { // not past the last position
				l.until("it is on its way", 5000, func() bool { return l.Rig.Truth().TravelMM < 25 })
			}
			l.board.Slip = c.slip
			if c.slip < 0 {
				l.until("travel is not believed", 2000, func() bool { return !l.travelKnown() })
				if at := l.Rig.Truth().TravelMM; at < 18 {
					t.Errorf("travel is doubted at %.2f mm; travel says open at 20", at)
				}
				l.ms(30)
				l.locked(warden.LockAbort, warden.CauseTravelLost)
				l.byHand()
			} else {
				l.until("the switch is made", 5000, func() bool { return l.newest.In.Bits&warden.InPressOpen != 0 })
				l.ms(30)
			}
			if l.travelKnown() {
				t.Error("travel is believed with the encoder wrong by 20 mm")
			}
			l.board.Power(emulated.BrownOut)
			boots := l.boots
			l.until("the program has started again", 5000, func() bool { return l.boots > boots })
			if l.ms(100); !l.travelKnown() {
				t.Error("travel is not believed after power was gone, with the press at its switch")
			}
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
