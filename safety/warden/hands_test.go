package warden

import "testing"

// standing is a rig that stands for the stroke and may keep its soft flame
// parked with the door open, so that a stroke under two hands is possible.
func standing(t *testing.T) *world {
	w := newWorld(t)
	w.cfg.Options = OptSpindleFitted | OptBurnerDriven | OptPressDriven | OptViewAlways |
		OptStrokeFlameClear | OptOxygenFitted | OptParkedDoorOpen
	w.heat()
	w.in.Request.Flags &^= ReqBurnerIn | ReqOxygen
	w.in.Request.FuelMl, w.in.Request.SpindleDrpm = 1000, 0
	w.run(2000)
	w.set(InDoorClosed, false)
	w.run(10)
	w.wantTrip(CauseNone, LockNone)
	w.in.Request.ForceDN, w.in.Request.TravelCmm, w.in.Request.SpeedCmms = 2500, 5500, 5000
	return w
}

func (w *world) hands(left, right bool, ms uint32) {
	w.set(InTwoHandLeft, left)
	w.set(InTwoHandRight, right)
	w.run(ms)
}

// SV-036, ISO 13851 type III: both within 0.5 s, given while both are held,
// anew only after both were released.
func TestTwoHandStroke(t *testing.T) {
	type held struct {
		left, right bool
		ms          uint32
	}
	for name, c := range map[string]struct {
		acts   []held
		stroke bool
	}{
		"together":              {[]held{{true, true, 300}}, true},
		"0.49 s apart":          {[]held{{true, false, 490}, {true, true, 300}}, true},
		"0.50 s apart":          {[]held{{false, true, 500}, {true, true, 300}}, true},
		"0.51 s apart":          {[]held{{true, false, 510}, {true, true, 300}}, false},
		"right 0.51 s first":    {[]held{{false, true, 510}, {true, true, 300}}, false},
		"one only":              {[]held{{true, false, 800}}, false},
		"held one, tapped two":  {[]held{{true, false, 900}, {true, true, 50}, {true, false, 50}, {true, true, 300}}, false},
		"no hands":              {[]held{{false, false, 300}}, false},
		"late, released, again": {[]held{{true, false, 900}, {true, true, 50}, {false, false, 20}, {true, true, 300}}, true},
	} {
		t.Run(name, func(t *testing.T) {
			w := standing(t)
			w.in.Request.Press = PressForce
			for _, a := range c.acts {
				w.hands(a.left, a.right, a.ms)
			}
			if moved := w.in.Bits&InPressOpen == 0; moved != c.stroke {
				t.Errorf("stroke %v, want %v (press %d, first cause %d)", moved, c.stroke, w.s.Press, w.s.First)
			}
		})
	}
}

func TestTwoHandHeldAtPowerUp(t *testing.T) {
	w := standing(t)
	w.s.Hands = [NumHands]Hands{} // as at power-up: nothing seen released
	w.in.Request.Press = PressForce
	w.hands(true, true, 500)
	if w.s.Press != PressStay {
		t.Error("hands that were held at power-up made a stroke")
	}
}

// Row 34: one hand let go in the stroke removes the force in the next tick and
// holds; the next stroke wants both released first.
func TestTwoHandReleasedInStroke(t *testing.T) {
	for name, ms := range map[string]uint32{"above contact": 300, "in contact": 4000} {
		t.Run(name, func(t *testing.T) {
			w := standing(t)
			w.in.Request.Press = PressForce
			w.hands(true, true, ms)
			if (name == "in contact") != (w.s.Touching == 1) || w.out.Bits&OutPressClose == 0 {
				t.Fatalf("press %d", w.s.Press)
			}
			w.hands(true, false, 1)
			w.wantTrip(CauseTwoHand, LockHold)
			w.wantOff("one tick after", OutPressClose|OutPressOpen)
			if w.out.Bits&OutBrake == 0 || w.out.Bits&OutFuel != OutFuel {
				t.Errorf("outputs %#x: brake and parked soft flame are wanted", w.out.Bits)
			}
			w.hands(true, true, 500)
			if w.out.Bits&OutPressClose != 0 {
				t.Error("the force came back")
			}
		})
	}
}

// Force that is being eased is force too: a hand let go removes it at once.
func TestTwoHandReleasedWhileEasing(t *testing.T) {
	w := standing(t)
	w.in.Request.Press = PressForce
	w.hands(true, true, 4000)
	w.in.Request.Flags |= ReqAbort
	w.until("easing", 100, func() bool { return w.s.Press == PressEasing })
	w.run(10)
	w.hands(false, true, 1)
	w.wantOff("one tick after", OutPressClose)
}

// A parked soft flame that may burn with the door open may be shut with it
// open, too.
func TestParkedFlameGoesOffWithTheDoorOpen(t *testing.T) {
	w := standing(t)
	w.in.Request.Flags &^= ReqFlame
	w.until("post-purge", 2000, func() bool { return w.s.Burner == BurnerPostPurge })
	w.wantTrip(CauseNone, LockNone)
}

// The door may be closed in the stroke: then it protects, and hands are free.
func TestDoorClosedInTwoHandStroke(t *testing.T) {
	w := standing(t)
	w.in.Request.Press = PressForce
	w.hands(true, true, 300)
	w.set(InDoorClosed, true)
	w.run(2)
	w.hands(false, false, 200)
	w.wantTrip(CauseNone, LockNone)
	w.set(InDoorClosed, false)
	w.run(1)
	w.wantTrip(CauseDoor, LockAbort)
}

// A second stroke, hands still held from the first one, does not come.
func TestTwoHandSpent(t *testing.T) {
	w := standing(t)
	w.in.Request.Press = PressForce
	w.hands(true, true, 4000)
	w.in.Request.Press = PressOpen
	w.in.Request.TravelCmm = 0
	w.until("open", 8000, func() bool { return w.in.Bits&InPressOpen != 0 })
	w.run(100)
	w.in.Request.Press, w.in.Request.TravelCmm = PressForce, 5500
	w.run(500)
	if w.in.Bits&InPressOpen == 0 || w.s.First != CauseNone {
		t.Fatalf("a second stroke without releasing: press %d, first cause %d", w.s.Press, w.s.First)
	}
	w.hands(false, false, 10)
	w.hands(true, true, 300)
	if w.in.Bits&InPressOpen != 0 {
		t.Error("no stroke after both were released")
	}
}

// setting is a rig in set-up, gas off, spindle standing, door open.
func setting(t *testing.T) *world {
	w := newWorld(t)
	w.set(InSetUp, true)
	w.set(InDoorClosed, false)
	w.run(10)
	return w
}

// In set-up the door may be open and the press stand anywhere; it moves only
// while both hands are held, and no faster than 10 mm/s.
func TestSetUpMovesUnderTwoHands(t *testing.T) {
	w := setting(t)
	w.set(InHoldClose, true)
	w.run(1000)
	w.wantOff("one hand", OutPressClose)
	w.set(InHoldClose, false)
	w.run(10)
	w.set(InHoldClose|InTwoHandLeft, true)
	w.run(500)
	if w.out.Bits&OutPressClose == 0 || w.out.SpeedCmms > 1000 || w.in.Bits&InPressOpen != 0 {
		t.Fatalf("both hands do not close: press %d, %d", w.s.Press, w.out.SpeedCmms)
	}
	w.set(InTwoHandLeft, false)
	w.run(1)
	w.wantOff("a hand let go", OutPressClose)
	w.set(InHoldClose, false)
	w.run(5000)
	w.wantTrip(CauseNone, LockNone)
	w.set(InHoldOpen|InTwoHandLeft, true)
	w.until("open", 2000, func() bool { return w.in.Bits&InPressOpen != 0 })
}

// The spindle turns by hold-to-run in set-up only, slowly, and stops with the
// button; the open door trips only when it turns faster.
func TestSetUpTurnsSlowly(t *testing.T) {
	w := setting(t)
	w.set(InHoldTurn|InTwoHandLeft, true)
	w.run(500)
	if w.s.Spindle != SpindleHand || w.out.SpindleDrpm != 300 {
		t.Fatalf("spindle %d at %d", w.s.Spindle, w.out.SpindleDrpm)
	}
	w.set(InHoldTurn, false)
	w.run(uint32(w.cfg.RampMs) + 1)
	w.wantOff("released", OutSpindle)
	w.wantTrip(CauseNone, LockNone)
	w.in.Analog[AiSpindle] = 501 // more than 50 rpm
	w.set(InHoldTurn, false)
	Step(&w.cfg, &w.s, &w.in, &w.out)
	w.wantTrip(CauseDoor, LockAbort)

	w = newWorld(t) // not in set-up, door closed
	w.run(10)
	w.set(InHoldTurn|InTwoHandLeft, true)
	w.run(500)
	w.wantOff("outside set-up", OutSpindle)
}

// Row 42: set-up ends what runs, oxygen first, and nothing can be armed in it.
func TestSetUpEndsACycle(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.set(InSetUp, true)
	w.run(1)
	w.wantTrip(CauseSetUp, LockAbort)
	w.wantOff("at once", OutOxygen|OutIgniter|OutBurnerIn)
	w.run(uint32(w.cfg.OffMs))
	w.wantOff("within 1 s", OutFuel)
	w.run(uint32(w.cfg.RampMs))
	w.wantOff("within 1 s", OutSpindle)
	w.in.Request.Flags = ReqReset
	w.run(100)
	w.wantTrip(CauseNone, LockNone)
	w.in.Request.Flags, w.in.Request.ArmID = ReqArm, 99
	w.run(200)
	if w.s.Armed != 0 {
		t.Error("armed in set-up")
	}
	w.set(InSetUp, false)
	w.run(200)
	if w.s.Armed != 1 {
		t.Fatal("not armed after set-up")
	}
	w.set(InSetUp, true)
	w.run(1)
	if w.s.Armed != 0 {
		t.Error("still armed in set-up")
	}
}
