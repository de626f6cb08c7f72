package warden

import "testing"

// The burner's timings against the limits of the reference. "common practice"
// is a fact of the trade without a source.

// SV-025: purge at least 30 s (BS 5990:2006 15.5; EN 746-2:2010 5.2.3.2).
// SV-019: trial at most 3 s (ours; 5 s is the limit up to 70 kW, OENORM EN 676).
// SV-032: oxygen only after 1 s of proven flame (fuel first on lighting: common
// practice, no source).
func TestLightUp(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.in.Request.Flags |= ReqFlame | ReqOxygen
	w.in.Request.FuelMl, w.in.Request.OxygenMl = 1000, 1500
	w.until("purge", 12000, func() bool { return w.s.Burner == BurnerPurge })
	purge := w.until("igniter", 40000, func() bool { return w.out.Bits&OutIgniter != 0 })
	if purge < 30000 {
		t.Errorf("purged %d ms; at least 30,000", purge)
	}
	igniter := w.until("fuel", 2000, func() bool { return w.out.Bits&OutFuel == OutFuel })
	if igniter < 1000 {
		t.Errorf("igniter only %d ms before fuel", igniter)
	}
	flame := w.until("flame", 3000, func() bool { return w.flame })
	proven := w.until("oxygen", 5000, func() bool { return w.out.Bits&OutOxygen != 0 })
	if proven < 1000 {
		t.Errorf("oxygen %d ms after flame (lit after %d); at least 1,000", proven, flame)
	}
	if w.out.Bits&OutIgniter != 0 {
		t.Error("igniter on in run")
	}
}

// SV-026: purge flow lost for 2 s delays its end by at least 2 s (EN 746-2 5.2.3.2).
func TestPurgeClockStopsWithoutFlow(t *testing.T) {
	length := func(lose bool) uint32 {
		w := newWorld(t)
		w.start()
		w.in.Request.Flags |= ReqFlame
		w.until("purge", 12000, func() bool { return w.s.Burner == BurnerPurge })
		w.run(10000)
		if lose {
			for range 2000 {
				w.tick()
				w.set(InExtraction, false)
			}
		}
		return 10000 + w.until("igniter", 40000, func() bool { return w.out.Bits&OutIgniter != 0 })
	}
	if full, broken := length(false), length(true); broken < full {
		t.Errorf("purge ended after %d ms, %d without the loss", broken+2000, full)
	}
}

// The igniter never sparks with the door open: an opened door ends the light-up,
// and only START at the rig begins another.
func TestOpenDoorEndsTheLightUp(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.in.Request.Flags |= ReqFlame
	w.until("purge", 12000, func() bool { return w.s.Burner == BurnerPurge })
	w.set(InDoorClosed, false)
	for range 35000 {
		w.tick()
		w.wantOff("door open", energising)
	}
	w.wantTrip(CauseNone, LockNone)
	w.set(InDoorClosed, true)
	for range 45000 {
		w.tick()
		w.wantOff("no START since the door was opened", energising)
	}
	w.set(InDoorClosed, false) // renews the time in which START counts
	w.run(100)
	w.set(InDoorClosed, true)
	w.pushStart()
	w.until("igniter", 45000, func() bool { return w.out.Bits&OutIgniter != 0 })
}

// Oxygen waits for door and START where a soft flame may be parked with the door
// open; the parked flame itself stays lit and needs no START.
func TestOxygenWaitsForStart(t *testing.T) {
	w := standing(t)
	w.in.Request.Flags |= ReqOxygen
	w.in.Request.OxygenMl = 1000
	for range 100 {
		w.tick()
		w.wantOff("door open", OutOxygen)
	}
	w.wantTrip(CauseNone, LockNone)
	w.set(InDoorClosed, true)
	for range 2000 {
		w.tick()
		w.wantOff("no START since the door was opened", OutOxygen)
	}
	w.pushStart()
	w.until("oxygen", 10, func() bool { return w.out.Bits&OutOxygen != 0 })
}

// B2: a flow switch that never showed its rest position blocks the start, before
// every light-up (EN 746-2:2010 5.2.3.2), with the fan standing all that time.
func TestStuckExtractionSwitchRefusesLightUp(t *testing.T) {
	refused := func(w *world) {
		t.Helper()
		w.flowStuck = true
		w.set(InExtraction, true)
		w.start()
		w.in.Request.Flags |= ReqFlame
		for range 10100 {
			w.tick()
			if w.s.Trips != 0 {
				break
			}
			w.wantOff("the flow switch has to be at rest", OutFan|OutFuel|OutIgniter)
		}
		w.wantTrip(CauseExtraction, LockAbort)
	}
	t.Run("at power-up", func(t *testing.T) { refused(newWorld(t)) })
	t.Run("after a light-off", func(t *testing.T) {
		w := newWorld(t)
		w.light()
		w.in.Request.Flags &^= ReqFlame
		w.flowStuck = true
		w.until("standby", 40000, func() bool { return w.s.Burner == BurnerStandby })
		w.in.Request.Flags = 0
		w.run(100)
		refused(w)
	})
}

// A run of 8 h ends in a light-off: nothing else shows that the flame signal still
// goes out with the flame. A signal that stays is found 2 s after it.
func TestLongRunEndsInALightOff(t *testing.T) {
	w := newWorld(t)
	w.light()
	w.s.RunMs = w.cfg.RunMs - 1000
	left := w.until("light-off", 2000, func() bool { return w.s.Burner != BurnerRun })
	if left != 1000 {
		t.Errorf("light-off after %d ms; want 1,000", left)
	}
	w.wantTrip(CauseNone, LockNone)
	for n := 0; w.s.Trips == 0 && n < 3000; n++ {
		w.set(InFlame, true)
		w.tick()
	}
	w.wantTrip(CauseFalseFlame, LockLockout)
	w.run(100)
	w.wantOff("no relight by itself", OutFuel|OutIgniter)
}

// A sharp flame stands at the blank no longer than the board's own limit, whatever
// a daemon that has lost the thread goes on asking.
func TestSharpFlameEnds(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.run(1000)
	w.s.SharpMs = w.cfg.SharpMs - 500
	at := w.until("the end", 600, func() bool { return w.s.Trips != 0 })
	if at != 500 {
		t.Errorf("ended after %d ms; want 500", at)
	}
	w.wantTrip(CauseSharpLong, LockAbort)
	w.wantOff("sequenced", OutOxygen|OutBurnerIn)
	if w.s.Spindle != SpindleCreep {
		t.Error("soft glass does not creep")
	}
	w = newWorld(t)
	w.heat()
	w.s.SharpMs = w.cfg.SharpMs - 500
	w.in.Request.Flags &^= ReqOxygen
	w.in.Request.FuelMl = w.cfg.SoftMaxMl
	w.run(2000)
	w.wantTrip(CauseNone, LockNone)
}

// SV-019, SV-030: one trial of at most 3 s, then lockout and no relight.
func TestFailedTrialLocksOut(t *testing.T) {
	w := newWorld(t)
	w.noIgnite = true
	w.start()
	w.in.Request.Flags |= ReqFlame
	w.in.Request.FuelMl = 1000
	w.until("fuel", 60000, func() bool { return w.out.Bits&OutFuel != 0 })
	open := w.until("shut", 4000, func() bool { return w.out.Bits&OutFuel == 0 })
	if open > 3000 {
		t.Errorf("fuel open %d ms unlit; at most 3,000", open)
	}
	w.wantTrip(CauseNoIgnition, LockLockout)
	for range 100000 {
		w.tick()
		if w.out.Bits&energising != 0 {
			t.Fatalf("output %03x rose in lockout", w.out.Bits)
		}
	}
}

// SV-021: flame loss to valve outputs off within 1 s (OENORM EN 676 family, EN 298).
// O5: both gases in one tick.
func TestFlameLost(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.flame = false
	w.noIgnite = true
	lost := uint32(0)
	for w.out.Bits&OutFuel != 0 || w.out.Bits&OutOxygen != 0 {
		w.flame = false
		w.tick()
		w.set(InFlame, false)
		w.flame = false
		lost++
		if (w.out.Bits&OutFuel == 0) != (w.out.Bits&OutOxygen == 0) {
			t.Fatal("gases not shut in one tick")
		}
	}
	if lost > 1000 {
		t.Errorf("valves off %d ms after flame loss; at most 1,000", lost)
	}
	w.wantTrip(CauseFlameLost, LockLockout)
	if w.s.Spindle != SpindleCreep {
		t.Errorf("spindle %d; creep keeps soft glass round", w.s.Spindle)
	}
}

// SV-028: flame seen in purge: lockout, fuel never opens (EN 746-2:2010 5.2.6.1).
func TestFlameInPurge(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.in.Request.Flags |= ReqFlame
	w.until("purge", 12000, func() bool { return w.s.Burner == BurnerPurge })
	for range 500 {
		w.tick()
		w.set(InFlame, true)
		w.wantOff("flame in purge", OutFuel)
	}
	w.wantTrip(CauseFalseFlame, LockLockout)
}

// SV-029: lockout survives power loss; B14: only the local RESET edge clears it.
func TestLockoutSurvivesPowerLoss(t *testing.T) {
	w := newWorld(t)
	w.set(InEstopOK, false)
	w.run(10)
	w.boot(w.out.NV)
	w.run(10)
	w.wantTrip(CauseRestart, LockLockout)
	w.in.Request.Flags = ReqReset
	w.run(1000)
	w.wantTrip(CauseRestart, LockLockout)
	w.set(InReset, true)
	w.run(100)
	w.wantTrip(CauseNone, LockNone)
}

// A power loss while fuel was open is found at boot.
func TestRunningMarker(t *testing.T) {
	w := newWorld(t)
	w.light()
	if w.out.NV != NVRunning {
		t.Fatalf("marker %#x while fuel is open", w.out.NV)
	}
	w.boot(w.out.NV)
	w.run(5)
	w.wantTrip(CauseRestart, LockLockout)
}

// 2.2 test 3: RESET held from before does not reset.
func TestResetNeedsAnEdge(t *testing.T) {
	w := newWorld(t)
	w.boot(NVLockout)
	w.set(InReset, true)
	w.run(2000)
	w.wantTrip(CauseRestart, LockLockout)
	w.set(InReset, false)
	w.run(10)
	w.set(InReset, true)
	w.run(10)
	w.wantTrip(CauseNone, LockNone)
}

// SV-033: normal stop, oxygen before fuel, at most 1 s apart (oxygen first on
// shutting down: common practice, no source).
func TestNormalShutDown(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.in.Request.Flags = ReqCycle
	w.until("oxygen off", 100, func() bool { return w.out.Bits&OutOxygen == 0 })
	if w.out.Bits&OutFuel == 0 {
		t.Fatal("fuel did not outlive oxygen")
	}
	gap := w.until("fuel off", 1100, func() bool { return w.out.Bits&OutFuel == 0 })
	if gap == 0 || gap > 1000 {
		t.Errorf("fuel off %d ms after oxygen", gap)
	}
	if w.s.Lock != LockNone {
		t.Errorf("lock %d after a normal stop", w.s.Lock)
	}
}

// SV-042: emergency stop, everything energising off in the next tick, in every
// burner and press phase. SV-043: unlatching raises nothing.
func TestEmergencyStop(t *testing.T) {
	for name, to := range map[string]func(*world){
		"standby": func(*world) {}, "light": (*world).light, "heat": (*world).heat, "press": (*world).press,
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld(t)
			to(w)
			w.set(InEstopOK, false)
			w.tick()
			w.wantOff("emergency stop", energising|OutPressOpen)
			w.run(50)
			w.set(InEstopOK, true)
			for range 5000 {
				w.tick()
				w.wantOff("after unlatching", energising|OutPressOpen)
			}
			w.wantTrip(CauseEstop, LockLockout)
		})
	}
}

// SV-044: a lease is dead 500 ms after the last valid frame, plus one tick.
func TestLeaseExpiry(t *testing.T) {
	w := newWorld(t)
	w.heat()
	w.until("a request", 100, func() bool { return w.in.Fresh == 1 })
	w.reqEvery = 0
	alive := w.until("shut", 600, func() bool { return w.out.Bits&(OutFuel|OutOxygen) == 0 })
	if alive < 499 || alive > 501 {
		t.Errorf("gas shut %d ms after the last frame; want 500 and a tick", alive)
	}
	w.wantTrip(CauseLinkLost, LockAbort)
	w.until("creep ends", 122000, func() bool { return w.s.Spindle == SpindleOff })
}

// Link lost in contact: force is ramped away within 1 s (row 21).
func TestLinkLostInContactEases(t *testing.T) {
	w := newWorld(t)
	w.press()
	w.reqEvery = 0
	w.until("easing", 600, func() bool { return w.s.Press == PressEasing })
	gone := w.until("no force", 1100, func() bool { return w.out.Bits&OutPressClose == 0 })
	if gone > 1000 {
		t.Errorf("force gone after %d ms; at most 1,000", gone)
	}
}

// Invariant 7: START counts only when seen released while armed; one arming,
// one start; arming ends after 60 s.
func TestStartEdge(t *testing.T) {
	w := newWorld(t)
	w.set(InStart, true)
	w.in.Request = Request{Lease: LeaseFuel, Flags: ReqArm, ArmID: 7}
	w.run(200)
	if w.s.Started != 0 {
		t.Fatal("a held button started")
	}
	w.set(InStart, false)
	w.run(10)
	w.set(InStart, true)
	w.run(10)
	if w.s.Started != 1 {
		t.Fatal("an edge did not start")
	}
	w.set(InStart, false)
	w.in.Request.Flags = 0
	w.run(100)
	w.in.Request.Flags = ReqArm
	w.run(100)
	if w.s.Started != 0 || w.s.Armed != 0 {
		t.Fatal("one arming served twice")
	}
	w.in.Request.ArmID = 8
	w.run(59000)
	if w.s.Armed != 1 {
		t.Fatal("not armed")
	}
	w.run(2000)
	if w.s.Armed != 0 {
		t.Fatal("armed for more than 60 s")
	}
}

// Both hold-to-run buttons at once ask for nothing, also when one of them has
// been stuck since power-up and so does not count.
func TestBothHoldButtonsMoveNothing(t *testing.T) {
	w := newWorld(t)
	w.set(InHoldOpen, true)
	w.run(10)
	w.set(InHoldClose, true)
	for range 100 {
		w.tick()
		w.wantOff("both buttons held", OutPressClose|OutPressOpen)
	}
}

// Invariant 9: each permit alone keeps the press open.
func TestStrokePermits(t *testing.T) {
	spoil := map[string]func(*world){
		"START awaited":    func(w *world) { w.s.Wait = 1 },
		"burner not clear": func(w *world) { w.set(InBurnerClear, false) },
		"spindle slow":     func(w *world) { w.in.Analog[AiSpindle] = 100 },
		"glass cold":       func(w *world) { w.in.Analog[AiGlass] = 8499 },
		"glass hot":        func(w *world) { w.in.Analog[AiGlass] = 9301 },
		"glass old":        func(w *world) { w.in.GlassAgeMs = 201 },
		"wire broken":      func(w *world) { w.in.AnalogOK &^= 1 << AiGlass },
		"no lease":         func(w *world) { w.s.LeaseMs[iPress] = forever },
		"not started":      func(w *world) { w.s.Started = 0 },
		"not homed":        func(w *world) { w.s.Homed = 0 },
		"oxygen still on":  func(w *world) { w.s.Oxygen = 1 },
		"button stuck":     func(w *world) { w.s.Above = PressInhibit },
	}
	w := newWorld(t)
	w.heat()
	w.in.Request.Flags &^= ReqBurnerIn | ReqOxygen
	w.run(1000)
	if !MayStroke(&w.cfg, &w.s, &w.in) {
		t.Fatal("permits do not hold though all is right")
	}
	for name, f := range spoil {
		bad := *w
		f(&bad)
		if MayStroke(&bad.cfg, &bad.s, &bad.in) {
			t.Errorf("%s: the press may leave open", name)
		}
	}
}

// Invariant 3, SV-023, SV-024: a leak of 4 s in every 30 s trips, whatever its
// pattern; the correct-system-design case study's gas burner (duration calculus).
func TestUnburntBudget(t *testing.T) {
	for _, pattern := range []struct{ dark, lit uint32 }{{4000, 20000}, {500, 3500}, {50, 300}, {4000, 26000}} {
		s, c := State{}, testConfig()
		var in Input
		var history []uint32
		worst, sum := uint32(0), uint32(0)
		for ms := uint32(0); ms < 120000; ms++ {
			s.Out.Bits = OutFuel
			dark := ms%(pattern.dark+pattern.lit) < pattern.dark
			in.Bits = 0
			if !dark {
				in.Bits = InFlame
			}
			sense(&c, &s, &in)
			history = append(history, one(dark))
			sum += one(dark)
			if len(history) > 30000 {
				sum -= history[len(history)-30001]
			}
			worst = max(worst, sum)
			if s.Unburnt >= unburntLimit(&c) {
				break
			}
		}
		if worst+uint32(c.ValveCloseMs) > 4000 {
			t.Errorf("%v: %d ms unburnt in 30 s before the trip", pattern, worst)
		}
	}
}

// Invariant 12: the combination is associative, commutative and idempotent,
// and every pair of causes equals the column maximum (SV-066's rule).
func TestStrongestIsALattice(t *testing.T) {
	for a := range NumCauses {
		for b := range NumCauses {
			x, y := Matrix[a].Reaction, Matrix[b].Reaction
			got := Strongest(x, y)
			if got != Strongest(y, x) || Strongest(got, x) != got || Strongest(x, x) != x {
				t.Fatalf("causes %d and %d: not a lattice", a, b)
			}
			if got.Gas < x.Gas || got.Spindle < y.Spindle || got.Lock < max(x.Lock, y.Lock) {
				t.Fatalf("causes %d and %d: weaker together", a, b)
			}
		}
	}
}

func BenchmarkStep(b *testing.B) {
	w := &world{cfg: testConfig(), reqEvery: 50}
	w.boot(NVClear)
	b.ReportAllocs()
	for b.Loop() {
		Step(&w.cfg, &w.s, &w.in, &w.out)
	}
}

// A daemon that hangs while soft glass turns: the lease dies, row 21 creeps for
// CreepMs, then the spindle stops by itself. The same where the request for the
// spindle goes in the very tick in which rows 3 and 40 trip.
func TestCreepIsKept(t *testing.T) {
	for _, c := range []struct {
		name  string
		cause uint8
		do    func(*world)
	}{
		{"lease dies", CauseLinkLost, func(w *world) { w.reqEvery = 0 }},
		{"abort without a spindle asked", CauseHostAbort, func(w *world) {
			w.in.Request.SpindleDrpm = 0
			w.in.Request.Flags |= ReqAbort
		}},
		{"flame lost", CauseFlameLost, func(w *world) { w.noIgnite, w.flame = true, false }},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.cfg.CreepMs = 5000
			w.heat()
			w.reqEvery = 1 // what is asked is accepted in the same tick
			c.do(w)
			for range 2000 {
				if w.s.Trips != 0 {
					break
				}
				w.tick()
			}
			if w.s.First != c.cause {
				t.Fatalf("first cause %d, want %d", w.s.First, c.cause)
			}
			for ms := range w.cfg.CreepMs {
				if w.out.Bits&OutSpindle == 0 || w.out.SpindleDrpm != w.cfg.CreepDrpm {
					t.Fatalf("after %d ms of %d the spindle is driven at %d", ms, w.cfg.CreepMs, w.out.SpindleDrpm)
				}
				w.tick()
			}
			for range w.cfg.RampMs {
				w.tick()
			}
			if w.out.Bits&OutSpindle != 0 {
				t.Error("creep does not end by itself")
			}
		})
	}
}
