package safety

import "pressrig/safety/warden"

// Tick is one millisecond of a warden as an outsider sees it: what went in,
// what came out, and what it says of itself afterwards.
type Tick struct {
	In    *warden.Input
	Out   *warden.Output
	After *warden.State
	Boot  bool // the microcontroller started anew before this tick
}

// Watch checks the invariants of docs/assessor.md that a warden alone can break,
// on any trace, from inputs and outputs: it keeps its own timers and never
// asks the warden's. Times are those of the configuration, which CheckConfig
// holds to the standards' limits. Numbers are those of the list. The zero value with Config
// set is ready.
type Watch struct {
	Config warden.Config

	seen     bool
	prevIn   warden.Input
	prevOut  warden.Output
	prev     warden.State
	leaseMs  [warden.NumLeases]uint32
	openMs   uint32 // fuel open
	litOnce  bool   // flame seen since fuel opened
	darkMs   uint32
	flameMs  uint32
	unburnt  [30000]bool // ring: one bit a millisecond
	at       int
	sum      uint32
	pushMs   uint32 // closing force without START
	stillMs  uint32
	noFlowMs uint32
	blockMs  uint32
	seqMs    uint32
	armedMs  uint32
	askedMs  uint32 // since a request that arms
	released bool   // START seen released since it could count
	waits    bool   // motion and heat wait for START
	waitMs   uint32 // since START could count again
	gave     bool   // START seen released since then
	startFor bool   // a START has not yet been used for a light-up
	hands    [warden.NumHands]pair
	handUse  bool   // two hands stood in for the door in this stroke
	spent    bool   // and that stroke is over: both have to be released first
	setUpMs  uint32 // key switch at set-up
	low, hi  int16

	creepLeftMs uint32 // creep that is still promised
	creepDrpm   uint16 // at least
	parkMs      uint32 // fuel open without START, or while it is awaited
	runMs       uint32 // in run without a break
	airMs       uint32 // post-purge that is still due
	wantOf      uint64 // causes that wanted belongs to
	wanted      warden.Reaction
}

// Broken is an invariant that does not hold, with what was seen. Number 0
// means that all hold.
type Broken struct {
	Number uint8
	What   string
}

const energising = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn |
	warden.OutPressClose

// watchChecks are the invariants, each a question about one tick.
var watchChecks = [...]func(*Watch, *Tick) Broken{
	(*Watch).gas, (*Watch).oxygen, (*Watch).budget, (*Watch).estop, (*Watch).lockout,
	(*Watch).relight, (*Watch).start, (*Watch).leases, (*Watch).stroke, (*Watch).heat,
	(*Watch).order, (*Watch).strongest, (*Watch).first, (*Watch).setUp,
	(*Watch).staysOn,
}

// Step looks at one tick and reports the first invariant that it breaks.
func (w *Watch) Step(t *Tick) Broken {
	if t.Boot || !w.seen {
		w.boot(t)
	}
	w.count(t)
	var found Broken
	for _, check := range watchChecks {
		if b := check(w, t); b.Number != 0 && found.Number == 0 {
			found = b
		}
	}
	w.seen, w.prevIn, w.prevOut, w.prev = true, *t.In, *t.Out, *t.After
	return found
}

// boot forgets what a power loss forgets. The ring of unburnt fuel stays: gas
// does not know of power losses.
func (w *Watch) boot(t *Tick) {
	locked := w.prev.Lock == warden.LockLockout
	kept := Watch{Config: w.Config, unburnt: w.unburnt, at: w.at, sum: w.sum}
	kept.prev.Lock = warden.LockNone
	if w.seen && locked {
		kept.prev.Lock = warden.LockLockout
	}
	kept.prevIn = *t.In
	for i := range kept.leaseMs {
		kept.leaseMs[i] = 1 << 30
	}
	*w = kept
}

func (w *Watch) count(t *Tick) {
	for i := range w.leaseMs {
		w.leaseMs[i]++
		if t.In.NewSession != 0 {
			w.leaseMs[i] = 1 << 30
		}
		if t.In.Fresh != 0 && t.In.Request.Lease&(1<<i) != 0 {
			w.leaseMs[i] = 0
		}
	}
	w.askedMs++
	if t.In.Fresh != 0 && t.In.Request.Flags&warden.ReqArm != 0 {
		w.askedMs = 0
	}
	flame := t.In.Bits&warden.InFlame != 0
	fuel := t.Out.Bits&warden.OutFuel != 0
	if flame {
		w.flameMs, w.darkMs, w.litOnce = w.flameMs+1, 0, true
	} else {
		w.flameMs, w.darkMs = 0, w.darkMs+1
	}
	if fuel {
		w.openMs++
	} else {
		w.openMs, w.litOnce = 0, false
	}
	if w.unburnt[w.at] {
		w.sum--
	}
	w.unburnt[w.at] = fuel && !flame
	if fuel && !flame {
		w.sum++
	}
	w.at = (w.at + 1) % len(w.unburnt)
	w.countHands(t)
	w.blockMs = w.while(w.pressInFlame(t), w.blockMs)
	w.stillMs = w.while(w.spindleStill(t), w.stillMs)
	w.noFlowMs = w.while(fuel && t.In.Bits&warden.InExtraction == 0, w.noFlowMs)
	w.seqMs = w.while(fuel && t.After.Gas == warden.GasSequenced, w.seqMs)
	w.countStays(t)
}

func (w *Watch) while(on bool, ms uint32) uint32 {
	if on {
		return ms + 1
	}
	return 0
}

// want is the reaction to the causes of this tick, by the table typed by hand.
func (w *Watch) want(t *Tick) warden.Reaction {
	if set := t.After.Trips | t.After.Present; set != w.wantOf {
		w.wantOf, w.wanted = set, strongestTyped(set)
	}
	return w.wanted
}

func on(bits, bit uint16) bool { return bits&bit != 0 }

// rose lists the energising outputs that came on in this tick, the spindle's
// start included.
func (w *Watch) rose(t *Tick) uint16 {
	rise := t.Out.Bits &^ w.prevOut.Bits & (energising | warden.OutSpindle)
	return rise
}

// 1: fuel open implies flame proven, trial or flame-failure response running;
// igniter off in run.
func (w *Watch) gas(t *Tick) Broken {
	if !on(t.Out.Bits, warden.OutFuel) {
		return Broken{}
	}
	switch {
	case t.Out.Bits&warden.OutFuel != warden.OutFuel:
		return Broken{1, "one fuel valve open, the other not"}
	case !w.litOnce && w.openMs > uint32(w.Config.TrialMs):
		return Broken{1, "fuel open unlit for longer than the trial (at most 3 s)"}
	case w.litOnce && w.darkMs > uint32(w.Config.FlameOffMs) && w.openMs > uint32(w.Config.TrialMs):
		// a flash in the trial proves nothing
		return Broken{1, "fuel open for longer after the flame was lost than the response (at most 1 s)"}
	case t.After.Burner == warden.BurnerRun && on(t.Out.Bits, warden.OutIgniter):
		return Broken{1, "igniter on in run"}
	}
	return Broken{}
}

// 2: oxygen only after 1 s of unbroken flame, and never without fuel.
func (w *Watch) oxygen(t *Tick) Broken {
	if !on(t.Out.Bits, warden.OutOxygen) {
		return Broken{}
	}
	switch {
	case !on(w.prevOut.Bits, warden.OutOxygen) && w.flameMs < uint32(w.Config.OxygenAfterMs):
		return Broken{2, "oxygen opened before the flame burnt unbroken for long enough (at least 1 s)"}
	case !on(t.Out.Bits, warden.OutFuel):
		return Broken{2, "oxygen open without fuel"}
	case w.darkMs > uint32(w.Config.FlameOffMs):
		return Broken{2, "oxygen outlived the flame by more than the response (at most 1 s)"}
	}
	return Broken{}
}

// 3: unburnt fuel, valve closing included, at most 4 s in any 30 s.
func (w *Watch) budget(*Tick) Broken {
	if w.sum+uint32(w.Config.ValveCloseMs) > 4000 {
		return Broken{3, "more than 4 s of unburnt fuel within 30 s"}
	}
	return Broken{}
}

// 4: emergency stop: everything energising off in this tick, no retract.
func (w *Watch) estop(t *Tick) Broken {
	if t.In.Bits&warden.InEstopOK != 0 {
		return Broken{}
	}
	if on(t.Out.Bits, energising|warden.OutPressOpen) || on(w.rose(t), warden.OutSpindle) {
		return Broken{4, "an energising output is on with the emergency stop open"}
	}
	return Broken{}
}

// 5: lockout: energising outputs off until an edge of the local RESET; it
// survives power loss. Force may still be easing, for 1 s.
func (w *Watch) lockout(t *Tick) Broken {
	w.pushMs = w.while(on(t.Out.Bits, warden.OutPressClose) && t.After.Started == 0 &&
		t.After.Press != warden.PressHandClose, w.pushMs)
	if w.pushMs > uint32(w.Config.EaseMs) {
		return Broken{5, "closing force after START was voided, for longer than easing takes (at most 1 s)"}
	}
	if t.After.Lock == warden.LockLockout {
		if on(t.Out.Bits, energising&^warden.OutPressClose) || on(w.rose(t), energising|warden.OutSpindle) {
			return Broken{5, "an energising output is on in lockout"}
		}
		return Broken{}
	}
	pressed := t.In.Bits&warden.InReset != 0
	edge := pressed && w.prevIn.Bits&warden.InReset == 0
	if w.prev.Lock == warden.LockLockout && !edge {
		return Broken{5, "lockout ended without an edge of the local RESET"}
	}
	return Broken{}
}

// 6: no automatic relight: each light-up has a START of its own.
func (w *Watch) relight(t *Tick) Broken {
	if w.prev.Started == 0 && t.After.Started != 0 {
		w.startFor = true
	}
	if !on(w.rose(t), warden.OutFuel) {
		return Broken{}
	}
	if !w.startFor {
		return Broken{6, "fuel opened again without a new START"}
	}
	w.startFor = false
	return Broken{}
}

// 7: START counts only as an edge while armed, within 60 s; nothing energising
// rises without it.
func (w *Watch) start(t *Tick) Broken {
	pressed := t.In.Bits&warden.InStart != 0
	began := w.prev.Started == 0 && t.After.Started != 0
	if began && !(w.prev.Armed != 0 && pressed && w.released && w.armedMs <= w.Config.ArmMs) {
		return Broken{7, "started without an edge of START while armed"}
	}
	if began && w.askedMs > uint32(w.Config.LeaseMs) {
		return Broken{7, "started with the link dead"}
	}
	w.armedMs = w.while(t.After.Armed != 0, w.armedMs)
	if w.prev.Armed == 0 && t.After.Armed != 0 {
		w.released = false
		w.low = max(t.In.Request.GlassLowDC, w.Config.GlassLowDC)
		w.hi = min(t.In.Request.GlassHighDC, w.Config.GlassHighDC)
	}
	w.released = (w.released || !pressed) && t.In.Bits&warden.InDoorClosed != 0
	if began && t.In.Bits&warden.InDoorClosed == 0 {
		return Broken{7, "started with the safety door open"}
	}
	w.countWaiting(t, pressed)
	rise := w.rose(t)
	if t.After.Press == warden.PressHandClose {
		rise &^= warden.OutPressClose
	}
	if t.After.Spindle == warden.SpindleHand {
		rise &^= warden.OutSpindle // held to 18
	}
	if w.waits && !w.byHands(t) {
		risen := rise&^warden.OutIgniter != 0 || t.Out.SpindleDrpm > w.prevOut.SpindleDrpm && t.After.Spindle == warden.SpindleRun ||
			on(t.Out.Bits, warden.OutOxygen|warden.OutIgniter) || t.Out.FuelMl > w.Config.SoftMaxMl ||
			t.After.Press == warden.PressOpening && w.prev.Press != warden.PressOpening && t.After.Lock == warden.LockNone
		if risen {
			return Broken{7, "motion or heat came back without a fresh START"}
		}
	}
	if rise != 0 && t.After.Started == 0 && w.prev.Started == 0 {
		return Broken{7, "an energising output rose without START"}
	}
	if t.After.Started != 0 && t.After.Lock != warden.LockNone {
		return Broken{7, "START not voided by a trip"}
	}
	return Broken{}
}

// countWaiting follows what takes motion and heat of a cycle back: an opened
// door, or the host; and the fresh START, with the door closed, that gives them
// again.
func (w *Watch) countWaiting(t *Tick, pressed bool) {
	taken := t.In.Bits&warden.InDoorClosed == 0 || t.In.Request.Flags&warden.ReqHands != 0
	switch {
	case t.After.Started == 0:
		w.waits, w.gave = false, false
	case taken:
		w.waits, w.gave, w.waitMs = true, false, 0
	case w.waits:
		w.waitMs++
		if pressed && w.gave && w.waitMs < w.Config.ArmMs {
			w.waits = false
		}
		w.gave = w.gave || !pressed
	}
}

// byHands: a stroke under two hands, which answer for it themselves.
func (w *Watch) byHands(t *Tick) bool {
	rise := w.rose(t)
	return w.hands[warden.HandsStroke].held && rise&^warden.OutPressClose == 0
}

// 8: no output outlives its lease (at most 500 ms) by more than a tick.
func (w *Watch) leases(t *Tick) Broken {
	most := uint32(w.Config.LeaseMs) + 1
	pressing := t.After.Press == warden.PressClosing || t.After.Press == warden.PressContact
	switch {
	case on(t.Out.Bits, warden.OutFuel|warden.OutIgniter|warden.OutBurnerIn) && w.leaseMs[0] > most:
		return Broken{8, "fuel, igniter or burner outlived the fuel lease"}
	case on(t.Out.Bits, warden.OutOxygen) && w.leaseMs[1] > most:
		return Broken{8, "oxygen outlived its lease"}
	case pressing && on(t.Out.Bits, warden.OutPressClose) && w.leaseMs[2] > most:
		return Broken{8, "closing force outlived its lease"}
	case t.After.Spindle == warden.SpindleRun && w.leaseMs[3] > most:
		return Broken{8, "the spindle outlived its lease"}
	}
	return Broken{}
}
