package warden

import "testing"

// A flame lost in contact: the force is eased, the glass sets, and the halves part
// by themselves, slowly, before the glass has shrunk on to the mould (common
// practice, no source).
func TestParting(t *testing.T) {
	lost := func(t *testing.T) *world {
		w := newWorld(t)
		w.press()
		for n := 0; w.s.Trips == 0 && n < 700; n++ {
			w.set(InFlame, false)
			w.flame = false
			w.tick()
		}
		w.wantTrip(CauseFlameLost, LockLockout)
		return w
	}
	t.Run("parts", func(t *testing.T) {
		w := lost(t)
		w.reqEvery = 0 // the host is dead
		turning := w.out.SpindleDrpm
		rest := w.until("opening", 4000, func() bool { return w.out.Bits&OutPressOpen != 0 })
		if rest != 2999 && rest != 3000 {
			t.Errorf("parts after %d ms; want 3,000", rest)
		}
		for w.s.Touching != 0 && w.ms < 1e6 {
			if w.out.SpeedCmms != w.cfg.PartCmms || w.out.ForceDN != w.cfg.PullMaxDN || w.out.Bits&OutPressClose != 0 {
				t.Fatalf("opens at %d, pull %d, outputs %03x", w.out.SpeedCmms, w.out.ForceDN, w.out.Bits)
			}
			if w.out.SpindleDrpm != turning {
				t.Fatalf("spindle at %d; its press state was %d", w.out.SpindleDrpm, turning)
			}
			w.tick()
			if w.in.Analog[AiTravel] > 0 && w.ms%50 != 0 {
				w.in.Analog[AiTravel]++ // 0.01 mm in 50 ms is slow: 2 mm/s is a thousand times that
			}
			if w.s.Trips&(1<<CauseStuck) != 0 {
				break
			}
		}
	})
	t.Run("open at last", func(t *testing.T) {
		w := lost(t)
		w.until("open", 30000, func() bool { return w.in.Bits&InPressOpen != 0 })
		w.run(2)
		if w.out.Bits&OutPressOpen != 0 || w.out.SpindleDrpm > w.cfg.CreepDrpm {
			t.Errorf("outputs %03x, spindle %d once open", w.out.Bits, w.out.SpindleDrpm)
		}
	})
	for name, bar := range map[string]func(*world){
		"door open":        func(w *world) { w.set(InDoorClosed, false) },
		"travel cut":       func(w *world) { w.in.AnalogOK &^= 1 << AiTravel },
		"force cut":        func(w *world) { w.in.AnalogOK &^= 1 << AiForce },
		"emergency stop":   func(w *world) { w.set(InEstopOK, false) },
		"mains":            func(w *world) { w.set(InMainsOK, false) },
		"over-force":       func(w *world) { w.set(InOverForce, true) },
		"past the end":     func(w *world) { w.set(InPressEnd, true) },
		"sticks":           func(w *world) { w.s.Trips |= 1 << CauseStuck },
		"pulled by hand":   func(w *world) { w.cfg.Options &^= OptPressDriven },
		"position unknown": func(w *world) { w.s.Homed = 0 },
	} {
		t.Run(name, func(t *testing.T) {
			w := lost(t)
			for range 6000 {
				bar(w)
				w.tick()
				w.wantOff(name, OutPressOpen)
			}
		})
	}
	t.Run("a hand begins the wait anew", func(t *testing.T) {
		w := lost(t)
		w.run(2000)
		w.set(InHoldOpen, true)
		w.run(20)
		w.set(InHoldOpen, false)
		rest := w.until("opening", 4000, func() bool { return w.s.Press == PressOpening })
		if rest < 3000 {
			t.Errorf("parts %d ms after a hand let go; want 3,000", rest)
		}
	})
}

// While the halves part, what sticks stops them.
func TestPartingStopsWhereItSticks(t *testing.T) {
	w := newWorld(t)
	w.press()
	for n := 0; w.s.Trips == 0 && n < 700; n++ {
		w.set(InFlame, false)
		w.flame = false
		w.tick()
	}
	w.until("opening", 4000, func() bool { return w.s.Press == PressOpening })
	n := 0
	for ; w.s.Trips&(1<<CauseStuck) == 0 && n < 600; n++ {
		w.in.Analog[AiTravel], w.in.Analog[AiForce] = 5000, -int16(w.cfg.PullMaxDN)
		w.in.Bits &^= InPressOpen
		w.tick()
	}
	if n > 501 {
		t.Errorf("pulled for %d ms at the limit", n)
	}
	for range 5000 {
		w.tick()
		w.wantOff("stuck", OutPressOpen)
	}
}
