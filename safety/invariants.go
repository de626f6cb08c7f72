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
	purgedMs uint32 // purge of this light-up, extraction proven
	litOnce  bool   // flame seen since fuel opened
	flameMs  uint32
	unburnt  [30000]bool // ring: one bit a millisecond
	at       int
	sum      uint32
	heldMs   [len(Contradictions)]uint32
	now      Seen                       // kept here so that a tick allocates nothing
	holding  [len(Contradictions)]uint8 // the first holds of these are what holds now; a copy shares nothing
	holds    uint8
	armedMs  uint32
	askedMs  uint32 // since a request that arms
	released bool   // START seen released since it could count
	waits    bool   // motion and heat wait for START
	waitMs   uint32 // since START could count again
	gave     bool   // START seen released since then
	startFor bool   // a START has not yet been used for a light-up
	hands    [warden.NumHands]pair
	handUse  bool // two hands stood in for the door in this stroke
	spent    bool // and that stroke is over: both have to be released first
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
	(*Watch).oxygen, (*Watch).budget, (*Watch).estop, (*Watch).lockout,
	(*Watch).relight, (*Watch).start, (*Watch).stroke, (*Watch).heat,
	(*Watch).order, (*Watch).strongest, (*Watch).first, (*Watch).staysOn, (*Watch).contradicts,
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
	w.flameMs = w.while(flame, w.flameMs)
	w.litOnce = fuel && (w.litOnce || flame)
	switch {
	case t.After.Burner < warden.BurnerPurge:
		w.purgedMs = 0
	case t.After.Burner == warden.BurnerPurge && t.In.Bits&warden.InExtraction != 0:
		w.purgedMs++
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
	w.countStays(t)
	w.countHeld(t)
}

// countHeld times what holds. A tick that looks like the one before holds the same:
// most do.
func (w *Watch) countHeld(t *Tick) {
	seen := w.seenIn(t)
	if seen != w.now {
		w.now, w.holds = seen, 0
		for i := range Contradictions {
			if k := &Contradictions[i]; !k.HostOnly && k.Holds(&w.now) {
				w.holding[w.holds] = uint8(i)
				w.holds++
			} else {
				w.heldMs[i] = 0
			}
		}
	}
	for _, i := range w.holding[:w.holds] {
		w.heldMs[i]++
	}
}

// seenIn is the tick as the table of contradictions looks at it. Timers are the
// watch's own.
func (w *Watch) seenIn(t *Tick) Seen {
	s := t.After
	seen := Seen{Config: &w.Config, In: t.In.Bits, Analog: t.In.Analog,
		AnalogOK: t.In.AnalogOK & w.Config.FittedAnalog, Out: *t.Out,
		Burner: s.Burner, Press: s.Press, Spindle: s.Spindle, Link: s.Link, Lock: s.Lock, First: s.First,
		Trips: s.Trips, Present: s.Present, Calls: strongestTyped(s.Trips | s.Present), Started: s.Started != 0, Armed: s.Armed != 0,
		Spent: s.Unburnt >= warden.UnburntLimit(&w.Config),
		Taken: t.In.Fresh != 0, LitOnce: w.litOnce, Purged: w.purgedMs+oneTick >= w.Config.PurgeMs}
	var leases uint8
	for i := range w.leaseMs {
		seen.Dead[i] = w.leaseMs[i] > lease(&w.Config)
		if w.leaseMs[i] < uint32(w.Config.LeaseMs) {
			leases |= 1 << i
		}
	}
	seen.Asked = asked(&t.In.Request, leases)
	for i := range w.hands {
		seen.Hands[i] = w.hands[i].held
	}
	return seen
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

// contradicts judges the tick by the table that the supervisor judges snapshots by,
// without a millisecond to spare.
func (w *Watch) contradicts(t *Tick) Broken {
	for _, i := range w.holding[:w.holds] {
		if k := &Contradictions[i]; w.heldMs[i] > k.Longest(&w.Config) {
			return Broken{k.Promise, k.What}
		}
	}
	return Broken{}
}

// 2: oxygen only after 1 s of unbroken flame.
func (w *Watch) oxygen(t *Tick) Broken {
	opened := on(t.Out.Bits, warden.OutOxygen) && !on(w.prevOut.Bits, warden.OutOxygen)
	if opened && w.flameMs < uint32(w.Config.OxygenAfterMs) {
		return Broken{2, "oxygen opened before the flame burnt unbroken for long enough (at least 1 s)"}
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

// 4: emergency stop: no spindle starts.
func (w *Watch) estop(t *Tick) Broken {
	if t.In.Bits&warden.InEstopOK == 0 && on(w.rose(t), warden.OutSpindle) {
		return Broken{4, "an energising output is on with the emergency stop open"}
	}
	return Broken{}
}

// 5: lockout: nothing rises until an edge of the local RESET; it survives power
// loss. Force may still be easing, for 1 s.
func (w *Watch) lockout(t *Tick) Broken {
	if t.After.Lock == warden.LockLockout {
		if on(w.rose(t), energising|warden.OutSpindle) {
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
