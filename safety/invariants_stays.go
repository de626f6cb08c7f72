package safety

import "pressrig/safety/warden"

// stay is one thing that must stay on: the least of a reaction, where the columns
// of the matrix say the most. Causes are those that the warden names; that it
// names them in time is judged elsewhere.
type stay struct {
	off string                   // what is told when it is not on
	due func(*Watch, *Tick) bool // in this tick it must be on
	on  func(*Watch, *Tick) bool // and so it is
}

// stays is the one list of it. The hostile walks of this package and the fault
// campaign both judge by it, as invariant 19.
var stays = [...]stay{
	{"soft glass does not creep for its whole time",
		func(w *Watch, _ *Tick) bool { return w.creepLeftMs > 0 },
		func(w *Watch, t *Tick) bool { return turnsAt(t, w.creepDrpm) }},
	{"a spindle that is asked for and that no row takes was stopped or slowed", (*Watch).spindleKept,
		func(w *Watch, t *Tick) bool {
			return turnsAt(t, min(w.prevOut.SpindleDrpm, t.In.Request.SpindleDrpm))
		}},
	{"a flame that is asked for and that no row takes was shut or starved", (*Watch).flameKept,
		func(w *Watch, t *Tick) bool {
			least := min(t.In.Request.FuelMl, w.Config.SoftMaxMl)
			return t.Out.Bits&warden.OutFuel == warden.OutFuel && t.Out.FuelMl >= least
		}},
	{"a running fan was stopped by a leak", (*Watch).fanKept,
		func(_ *Watch, t *Tick) bool { return on(t.Out.Bits, warden.OutFan) }},
	{"the fan does not run while fuel is open and for the whole post-purge", (*Watch).purged,
		func(_ *Watch, t *Tick) bool { return on(t.Out.Bits, warden.OutFan) }},
	{"the brake does not hold a press that nothing drives",
		func(_ *Watch, t *Tick) bool { return !on(t.Out.Bits, warden.OutPressClose|warden.OutPressOpen) },
		func(_ *Watch, t *Tick) bool { return on(t.Out.Bits, warden.OutBrake) }},
	{"the horn is silent after a leak",
		func(_ *Watch, t *Tick) bool { return leaks(t) },
		func(_ *Watch, t *Tick) bool { return on(t.Out.Bits, warden.OutHorn) }},
	{"the lockout lamp is dark in lockout",
		func(_ *Watch, t *Tick) bool { return t.After.Lock == warden.LockLockout },
		func(_ *Watch, t *Tick) bool { return on(t.Out.Bits, warden.OutLockLamp) }},
}

// staysOn is 19: what must stay on stays on.
func (w *Watch) staysOn(t *Tick) Broken {
	for i := range stays {
		if s := &stays[i]; s.due(w, t) && !s.on(w, t) {
			return Broken{19, s.off}
		}
	}
	return Broken{}
}

// leakRows are the rows that mean gas where none should be: a flame where none
// can be, the detector, a valve that is not where its output says, unburnt fuel, a
// flow that nobody asked for.
var leakRows = [...]uint8{5, 31, 33, 38, 50}

func leaks(t *Tick) bool {
	for _, row := range leakRows {
		if (t.After.Trips|t.After.Present)&(1<<row) != 0 {
			return true
		}
	}
	return false
}

// turned: the spindle was driven by a cycle. Hold-to-run holds no soft glass.
func (w *Watch) turned() bool {
	return w.prev.Spindle == warden.SpindleRun && on(w.prevOut.Bits, warden.OutSpindle) && w.prevOut.SpindleDrpm > 0
}

func turnsAt(t *Tick, least uint16) bool {
	return on(t.Out.Bits, warden.OutSpindle) && t.Out.SpindleDrpm >= least
}

// countStays follows what outlives its tick: creep, the parked flame and the
// time since fuel was shut.
func (w *Watch) countStays(t *Tick) {
	if w.creepLeftMs > 0 {
		w.creepLeftMs--
	}
	switch spin := w.want(t).Spindle; {
	case spin > warden.SpindleToCreep, t.After.Spindle == warden.SpindleRun: // taken, or a START has it
		w.creepLeftMs = 0
	case spin == warden.SpindleToCreep && w.turned():
		w.creepLeftMs = w.Config.CreepMs
		w.creepDrpm = min(w.Config.CreepDrpm, w.prevOut.SpindleDrpm)
	}
	fuel := on(t.Out.Bits, warden.OutFuel)
	w.parkMs = w.while(fuel && (t.After.Started == 0 || t.After.Wait != 0), w.parkMs)
	w.runMs = w.while(t.After.Burner == warden.BurnerRun, w.runMs)
	if fuel {
		w.airMs = w.Config.PostPurgeMs
	} else if w.airMs > 0 {
		w.airMs--
	}
}

// spindleKept: no row takes the spindle, and the host still asks for it under a
// live lease.
func (w *Watch) spindleKept(t *Tick) bool {
	asked := w.leaseMs[3] < uint32(w.Config.LeaseMs) && t.In.Request.SpindleDrpm > 0
	return w.turned() && asked && w.want(t).Spindle == warden.SpindleKeep
}

// flameKept: no row takes the gas, and the host still asks for the flame under a
// live lease; without START or while it is awaited no longer than a flame may be
// parked, and never longer than it may burn before a light-off proves its sensor.
func (w *Watch) flameKept(t *Tick) bool {
	burnt := w.prev.Burner == warden.BurnerRun && on(w.prevOut.Bits, warden.OutFuel)
	asked := w.leaseMs[0] < uint32(w.Config.LeaseMs) && t.In.Request.Flags&warden.ReqFlame != 0
	return burnt && asked && w.parkMs < w.Config.ParkMs && w.runMs+1 < w.Config.RunMs && w.want(t).Gas == warden.GasKeep
}

// fanKept: after a leak a running fan keeps running, and a standing one starts
// where the profile says that it cannot spark in what has leaked.
func (w *Watch) fanKept(t *Tick) bool {
	return leaks(t) && (on(w.prevOut.Bits, warden.OutFan) || w.option(warden.OptFanSafe))
}

// purged: fuel is open, or was less than the post-purge ago.
func (w *Watch) purged(*Tick) bool { return w.airMs > 0 }
