package warden

import "testing"

// One hand on the open button frees a person, with the door open, during a
// lockout, with the daemon dead; only the emergency stop and the mains, which
// take the drive's power, stand before it.
func TestOneHandOpens(t *testing.T) {
	for _, c := range []struct {
		name  string
		do    func(*world)
		opens bool
	}{
		{"door closed", func(*world) {}, true},
		{"door open", func(w *world) { w.set(InDoorClosed, false) }, true},
		{"door open, lockout", func(w *world) { w.set(InDoorClosed, false); w.in.Bits |= InPressEnd }, true},
		{"daemon dead", func(w *world) { w.reqEvery = 0; w.run(600) }, true},
		{"both buttons", func(w *world) { w.set(InHoldClose, true) }, true},
		{"emergency stop", func(w *world) { w.set(InEstopOK, false) }, false},
		{"mains lost", func(w *world) { w.set(InMainsOK, false) }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.press()
			w.in.Request.Flags, w.in.Request.Press = 0, PressNone
			w.until("press stands", 2000, func() bool { return w.s.Press == PressStay })
			c.do(w)
			w.run(10)
			w.set(InHoldOpen, true)
			w.run(10)
			if got := w.s.Press == PressHandOpen && w.out.Bits&OutPressOpen != 0; got != c.opens {
				t.Errorf("opens: %v, want %v (lock %d, trips %x)", got, c.opens, w.s.Lock, w.s.Trips)
			}
		})
	}
}

// In a running stroke the button ends the cycle first (row 40): closing force is
// off in that tick, and the press opens with the next.
func TestOpenButtonEndsAStroke(t *testing.T) {
	w := newWorld(t)
	w.press()
	w.set(InHoldOpen, true)
	w.tick()
	w.wantTrip(CauseHostAbort, LockAbort)
	if w.s.Started != 0 || w.s.Press == PressContact {
		t.Errorf("started %d, press %d in the tick of the button", w.s.Started, w.s.Press)
	}
	w.tick()
	if w.s.Press != PressHandOpen {
		t.Errorf("press %d in the tick after; want opening by hand", w.s.Press)
	}
}

// Unarmed, the host's request to open moves nothing: opening is a motion.
func TestHostOpensNothingUnarmed(t *testing.T) {
	w := newWorld(t)
	w.in.Bits &^= InPressOpen
	w.in.Analog[AiTravel] = 3000
	w.in.Request.Lease, w.in.Request.Press = LeasePress, PressOpen
	w.in.Request.SpeedCmms = 6000
	for range 200 {
		w.tick()
		if w.out.Bits&(OutPressOpen|OutPressClose) != 0 || w.out.Bits&OutBrake == 0 {
			t.Fatal("the press moves without START")
		}
	}
}

// A fitted channel that feels the press and is lost ends the stroke as a cause
// of its own, before the press has gone 2 mm blind.
func TestBlindStroke(t *testing.T) {
	for _, c := range []struct {
		name  string
		lose  func(*world)
		cause uint8
		most  uint32 // ms
	}{
		{"force wire cut", func(w *world) { w.in.AnalogOK &^= 1 << AiForce }, CauseForceLost, 20},
		{"travel wire cut", func(w *world) { w.in.AnalogOK &^= 1 << AiTravel }, CauseTravelLost, 20},
		{"travel frozen", func(w *world) { w.in.Analog[AiTravel] = 2000 }, CauseTravelLost, 501},
		{"force frozen", func(w *world) { w.in.Analog[AiForce], w.in.Analog[AiTravel] = 0, 5500 }, CauseForceLost, 301},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.heat()
			w.in.Request.Flags &^= ReqBurnerIn | ReqOxygen
			w.in.Request.FuelMl = 1000
			w.run(600)
			w.in.Request.Press, w.in.Request.ForceDN = PressForce, 2500
			w.in.Request.TravelCmm, w.in.Request.SpeedCmms = 5500, 1000
			w.until("half way", 5000, func() bool { return w.in.Analog[AiTravel] > 2000 })
			n := uint32(0)
			for ; w.s.Trips == 0 && n <= c.most; n++ {
				c.lose(w)
				w.tick()
			}
			w.wantTrip(c.cause, LockAbort)
			w.wantOff("blind", OutPressClose|OutOxygen)
			if n > c.most {
				t.Errorf("found after %d ms; at most %d", n, c.most)
			}
			if w.run(2); w.out.Bits&OutBrake == 0 || w.s.Started != 0 {
				t.Error("brake off or cycle going on")
			}
		})
	}
}

// Hold-to-run close is never blind, open never refused for it.
func TestHoldToRunNeedsEyesToClose(t *testing.T) {
	for _, ai := range []uint8{AiForce, AiTravel} {
		w := newWorld(t)
		w.run(10)
		w.in.AnalogOK &^= 1 << ai
		w.set(InHoldClose, true)
		for range 50 {
			w.tick()
			w.wantOff("closing blind", OutPressClose)
		}
		w.set(InHoldClose, false)
		w.in.Bits &^= InPressOpen
		w.in.Analog[AiTravel] = 3000
		w.set(InHoldOpen, true)
		w.run(2)
		if w.s.Press != PressHandOpen {
			t.Error("opening refused with a lost channel")
		}
	}
}

// Nothing moves without START at the rig: after the door was opened in a cycle,
// and after the host's hands phase, pause or hold, nothing rises until a fresh
// edge of START with the door closed, within ArmMs of its closing.
func TestNothingMovesUntilStart(t *testing.T) {
	hands := func(w *world) {
		w.in.Request.Flags |= ReqHands
		w.run(100)
		w.in.Request.Flags &^= ReqHands
	}
	door := func(w *world) {
		w.set(InDoorClosed, false)
		w.run(100)
		w.set(InDoorClosed, true)
	}
	asks := func(w *world) {
		w.in.Request.Flags = ReqCycle | ReqFlame | ReqBurnerIn | ReqOxygen
		w.in.Request.SpindleDrpm, w.in.Request.Press = 600, PressOpen
		w.in.Request.FuelMl, w.in.Request.OxygenMl = 2800, 4200
	}
	rests := func(w *world) bool {
		return w.out.Bits&(OutOxygen|OutIgniter|OutBurnerIn|OutSpindle|OutPressClose|OutPressOpen) == 0 &&
			w.out.FuelMl <= w.cfg.SoftMaxMl
	}
	for _, c := range []struct {
		name string
		lit  bool
		take func(*world)
	}{
		{"cold, door", false, door}, {"cold, hands", false, hands},
		{"parked, door", true, door}, {"parked, hands", true, hands},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.cfg.Options |= OptParkedDoorOpen
			if c.lit {
				w.light()
			} else {
				w.start()
			}
			c.take(w)
			asks(w)
			for range w.cfg.ArmMs + 1000 {
				if w.tick(); !rests(w) || w.s.Link != LinkWaiting {
					t.Fatalf("outputs %03x, link %d without START", w.out.Bits, w.s.Link)
				}
			}
			w.wantTrip(CauseNone, LockNone)
			if lit := w.out.Bits&OutFuel != 0; lit != c.lit {
				t.Errorf("parked flame lit: %v, want %v", lit, c.lit)
			}
			w.set(InStart, true) // too late
			w.run(200)
			w.set(InStart, false)
			if !rests(w) {
				t.Fatal("START counts after its time")
			}
			w.set(InDoorClosed, false)
			w.set(InStart, true) // held down while the door closes
			w.run(100)
			w.set(InDoorClosed, true)
			w.run(100)
			if !rests(w) {
				t.Fatal("a START that was held while the door closed counts")
			}
			w.set(InStart, false)
			w.pushStart()
			w.run(100)
			if w.out.Bits&OutSpindle == 0 {
				t.Error("START gives nothing back")
			}
		})
	}
}

// START counts only with the door closed, at the first start too.
func TestStartWantsTheDoorClosed(t *testing.T) {
	w := newWorld(t)
	w.in.Request.Lease, w.in.Request.Flags, w.in.Request.ArmID = 15, ReqArm, 7
	w.run(100)
	w.set(InDoorClosed, false)
	w.run(20)
	w.set(InStart, true)
	w.run(100)
	w.set(InDoorClosed, true)
	w.run(100)
	if w.s.Started != 0 {
		t.Fatal("a START pushed at the open door counts")
	}
	w.set(InStart, false)
	w.run(10)
	w.set(InStart, true)
	w.run(10)
	if w.s.Started != 1 {
		t.Error("START with the door closed does not count")
	}
}

// After a leak: the horn and the lockout lamp are the board's own, host or none;
// a running fan keeps running until RESET, a standing one stays where its motor
// could spark in what has leaked.
func TestAfterALeak(t *testing.T) {
	for _, c := range []struct {
		name      string
		lit, safe bool
		fan       bool
	}{{"standing fan", false, false, false}, {"standing fan, rated", false, true, true}, {"running fan", true, false, true}} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			if c.safe {
				w.cfg.Options |= OptFanSafe
			}
			if c.lit {
				w.light()
			}
			w.reqEvery = 0 // nobody at the other end
			w.set(InGasAlarm, true)
			for range w.cfg.PostPurgeMs + 5000 {
				w.tick()
				w.wantOff("gas alarm", OutFuel|OutOxygen|OutIgniter)
				if w.out.Bits&(OutHorn|OutLockLamp) != OutHorn|OutLockLamp {
					t.Fatalf("outputs %03x: horn and lockout lamp are wanted", w.out.Bits)
				}
				if fan := w.out.Bits&OutFan != 0; fan != c.fan {
					t.Fatalf("fan %v, want %v, burner %d", fan, c.fan, w.s.Burner)
				}
			}
			w.set(InGasAlarm, false)
			w.run(1000)
			if w.out.Bits&OutHorn == 0 {
				t.Error("the horn ends before somebody has come")
			}
			w.set(InReset, true)
			w.run(10)
			w.wantOff("after RESET", OutHorn|OutLockLamp|OutFan)
		})
	}
}
