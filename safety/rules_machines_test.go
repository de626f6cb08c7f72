package safety

import w "pressrig/safety/warden"

// burner: sequence of light-up, run and shut-down (invariants 1, 2, 6, 11).
func (r *rules) burner() {
	s := &r.now
	if s.Gas != w.GasKeep && r.gasInUse() {
		orderly := s.Gas == w.GasSequenced && (s.Burner == w.BurnerRun || s.Burner == w.BurnerOff)
		switch {
		case !orderly:
			s.Oxygen = 0
			r.phase(w.BurnerPostPurge)
		case s.Burner == w.BurnerRun:
			s.Oxygen = 0
			r.phase(w.BurnerOff)
		}
	}
	wanted := r.asks(w.ReqFlame) && r.alive(w.LeaseFuel)
	cycle := wanted && r.granted()
	switch s.Burner {
	case w.BurnerStandby:
		s.Oxygen = 0
		if s.Lock == w.LockLockout {
			r.phase(w.BurnerLockout)
		} else if cycle && s.LitOnce == 0 && s.Lock == w.LockNone {
			r.phase(w.BurnerCheck)
		}
	case w.BurnerLockout:
		if s.Lock != w.LockLockout {
			r.phase(w.BurnerStandby)
		}
	case w.BurnerCheck:
		r.goOn(cycle, w.BurnerStandby, r.readyToPurge(), true, longer(s.PhaseMs) >= uint32(r.c.CheckMs), w.BurnerPurge)
	case w.BurnerPurge: // the clock runs only while extraction is proven
		ms := s.PhaseMs
		if r.sees(w.InExtraction) {
			ms = longer(ms)
		}
		over := ms >= r.c.PurgeMs && r.sees(w.InDoorClosed)
		r.goOn(cycle, w.BurnerPostPurge, r.sees(w.InExtraction), false, over, w.BurnerIgniter)
	case w.BurnerIgniter:
		over := longer(s.PhaseMs) >= uint32(r.c.IgniterMs) && r.readyForFuel()
		r.goOn(cycle, w.BurnerPostPurge, true, false, over, w.BurnerTrial)
		if s.Burner == w.BurnerTrial {
			s.TrialMs, s.LitOnce = 1, 1
		}
	case w.BurnerTrial:
		if cycle {
			s.TrialMs = held(true, s.TrialMs)
		}
		r.goOn(cycle, w.BurnerPostPurge, true, false, s.FlameMs >= r.c.FlameOnMs, w.BurnerProve)
	case w.BurnerProve:
		r.goOn(cycle, w.BurnerPostPurge, true, false, s.FlameMs >= r.c.ProveMs, w.BurnerProveDark)
	case w.BurnerProveDark:
		over := s.FlameMs >= r.c.ProveDarkMs && longer(s.PhaseMs) >= uint32(r.c.ProveDarkMs)
		r.goOn(cycle, w.BurnerPostPurge, true, false, over, w.BurnerRun)
		if s.Burner == w.BurnerRun {
			s.ParkMs, s.RunMs = 0, 0
		}
	case w.BurnerRun:
		r.lit(wanted)
	case w.BurnerOff:
		s.Oxygen, s.PhaseMs = 0, longer(s.PhaseMs)
		if s.PhaseMs >= uint32(r.c.OffMs) || !r.alive(w.LeaseFuel) {
			r.phase(w.BurnerPostPurge)
		}
	case w.BurnerPostPurge:
		s.PhaseMs = longer(s.PhaseMs)
		if s.PhaseMs >= r.c.PostPurgeMs {
			r.phase(w.BurnerStandby)
		}
	}
	s.NV = w.NVClear
	if r.now.Burner >= w.BurnerPurge && r.now.Burner <= w.BurnerPostPurge {
		s.NV = w.NVRunning
	}
	if s.Lock == w.LockLockout {
		s.NV = w.NVLockout
	}
}

func (r *rules) phase(p uint8) { r.now.Burner, r.now.PhaseMs = p, 0 }

// goOn leaves a phase of the light-up: backwards when nobody asks any more,
// forwards when it is over. Its clock counts; when it may not, it stands, or
// starts anew where the condition has to be unbroken.
func (r *rules) goOn(asked bool, back uint8, counts, unbroken, over bool, next uint8) {
	s := &r.now
	switch {
	case !asked:
		r.phase(back)
	case !counts && unbroken:
		s.PhaseMs = 0
	case over:
		r.phase(next)
	case counts:
		s.PhaseMs = longer(s.PhaseMs)
	}
}

// readyToPurge: dark for long enough, valves proven shut, burner clear, press
// open, door closed, little old gas, and a flow switch that was seen at rest.
func (r *rules) readyToPurge() bool {
	s := &r.now
	return s.DarkMs >= r.c.CheckMs && !r.denied(w.InFuelShut) && !r.denied(w.InOxygenShut) && r.clear() &&
		r.sees(w.InPressOpen) && r.sees(w.InDoorClosed) && s.Unburnt <= 60000 && s.SawStill == 1
}

// readyForFuel: and the memory says that a light-up is under way.
func (r *rules) readyForFuel() bool {
	return r.in.NV == w.NVRunning && r.sees(w.InExtraction) && r.clear() && r.sees(w.InPressOpen) &&
		r.sees(w.InDoorClosed)
}

// lit: run, until nobody asks or a flame without a cycle burnt for too long.
func (r *rules) lit(wanted bool) {
	s := &r.now
	s.PhaseMs, s.ParkMs, s.RunMs = longer(s.PhaseMs), longer(s.ParkMs), longer(s.RunMs)
	if r.granted() {
		s.ParkMs = 0
	}
	if !wanted || s.ParkMs >= r.c.ParkMs || s.RunMs >= r.c.RunMs {
		s.Oxygen = 0
		r.phase(w.BurnerOff)
		return
	}
	pushes := r.pressIs(w.PressClosing, w.PressContact) && r.opt(w.OptBurnerFixed)
	oxygen := r.opt(w.OptOxygenFitted) && r.granted() && r.asks(w.ReqOxygen) && r.alive(w.LeaseOxygen) && !pushes
	opens := s.FlameMs >= r.c.OxygenAfterMs
	s.Oxygen = bit01(oxygen && (s.Oxygen == 1 || opens))
}

// press: closing needs every permit (invariant 9); opening and easing are safing.
func (r *rules) press() {
	r.pressPhase()
	s := &r.now
	switch {
	case r.sees(w.InDoorClosed):
		s.HandStroke = 0
	case r.pushing():
		s.HandStroke = 1
	case s.HandStroke != 0 && r.sees(w.InPressOpen): // over: both hands off before the next
		s.HandStroke, s.Hands[w.HandsStroke].Given = 0, 0
	}
}

func (r *rules) pressPhase() {
	s := &r.now
	byHand := s.Press == w.PressHandOpen || s.Press == w.PressHandClose
	column := r.column()
	if column != w.PressToPart {
		s.PartMs = 0
	}
	switch {
	case r.handOpens() && !r.pushing():
		s.Press, s.PartMs = w.PressHandOpen, 0
		return
	case column == w.PressToOff:
		s.Press = w.PressOff
		return
	case byHand:
		if r.byHand() != s.Press {
			s.Press = w.PressStay
		}
		return
	case column == w.PressToPart:
		s.PartMs = min(s.PartMs, r.c.PartMs) + 1
		if r.parts() && (s.Press == w.PressStay || s.Press == w.PressOpening) {
			s.Press = w.PressOpening
		} else {
			r.letGo(true)
		}
	case column == w.PressToEase:
		r.letGo(true)
	case column == w.PressToStay:
		r.letGo(false)
	case column == w.PressRetract:
		able := r.sees(w.InDoorClosed) && !r.sees(w.InPressOpen) && r.opt(w.OptPressDriven) && s.Homed == 1
		if able && s.Press != w.PressOff {
			s.Press = w.PressOpening
		} else {
			s.Press = w.PressStay
		}
	case s.Lock != w.LockNone && r.pushing():
		r.letGo(s.Touching == 1)
	default:
		r.onRequest()
		return
	}
	// A press that stands still after its reaction may be moved by hand; what
	// else would leave it is forbidden by the same reaction.
	if s.Press == w.PressStay && r.byHand() != w.PressStay {
		s.Press = r.byHand()
	}
}

// parts: the wait is over, the door closed, and a driven press knows where it is and
// feels what it does. What sticks, and what was not felt, has to be looked at.
func (r *rules) parts() bool {
	_, travel := r.reads(w.AiTravel)
	_, force := r.reads(w.AiForce)
	for _, cause := range []uint8{w.CauseStuck, w.CauseForceLost, w.CauseTravelLost} {
		if r.now.Trips>>cause&1 == 1 {
			return false
		}
	}
	return r.now.PartMs > r.c.PartMs && r.sees(w.InDoorClosed) && r.opt(w.OptPressDriven) && r.now.Homed == 1 && travel && force
}

func (r *rules) pushing() bool {
	return r.now.Press == w.PressClosing || r.now.Press == w.PressContact
}

// letGo takes force away: ramped where asked and where there is a drive.
func (r *rules) letGo(ramp bool) {
	s := &r.now
	switch s.Press {
	case w.PressClosing, w.PressContact:
		s.Press = w.PressStay
		if ramp && r.opt(w.OptPressDriven) {
			s.Press, s.EaseDN = w.PressEasing, r.was.Out.ForceDN
		}
	case w.PressOpening, w.PressOff:
		s.Press = w.PressStay
	case w.PressEasing:
		r.easing()
	}
}

func (r *rules) easing() {
	s := &r.now
	if s.EaseDN <= r.c.EaseStepDN {
		s.EaseDN, s.Press = 0, w.PressStay
		return
	}
	s.EaseDN -= r.c.EaseStepDN
}

// onRequest: no reaction decides; the lease and the permits do.
func (r *rules) onRequest() {
	s := &r.now
	ask, lease := r.in.Request.Press, r.alive(w.LeasePress)
	toClose := lease && (ask == w.PressClose || ask == w.PressForce)
	toOpen := lease && ask == w.PressOpen && r.mayPush() // unarmed, opening is a motion like any other
	switch s.Press {
	case w.PressOff:
		s.Press = w.PressStay
	case w.PressStay:
		switch {
		case r.byHand() != w.PressStay:
			s.Press = r.byHand()
		case toOpen && !r.sees(w.InPressOpen):
			s.Press = w.PressOpening
		case toClose && s.Touching == 1 && r.mayPush():
			s.Press = w.PressContact
		case toClose && s.Touching == 0 && r.mayLeaveOpen():
			s.Press = w.PressClosing
		}
	case w.PressClosing, w.PressContact:
		switch {
		case !r.mayPush():
			r.letGo(s.Touching == 1)
		case toOpen:
			s.Press = w.PressOpening
		case !toClose:
			r.letGo(s.Touching == 1)
		case s.Touching == 0 && r.contact():
			s.Touching, s.Press = 1, w.PressContact
		}
	case w.PressOpening:
		if !toOpen || r.sees(w.InPressOpen) {
			s.Press = w.PressStay
		}
	case w.PressEasing:
		r.easing()
	}
}

// contact: force says so; without a force sensor, anywhere but open.
func (r *rules) contact() bool {
	force, ok := r.reads(w.AiForce)
	sensor := r.c.FittedAnalog>>w.AiForce&1 == 1
	return !r.sees(w.InPressOpen) && (!sensor || ok && force >= int16(r.c.ContactDN))
}

func (r *rules) mayPush() bool {
	hands := r.now.Started == 1 && r.now.Hands[w.HandsStroke].Given == 1
	return (r.granted() || hands) && r.now.Lock == w.LockNone &&
		!r.overForce() && !r.overTravel()
}

func (r *rules) mayLeaveOpen() bool {
	return r.mayPush() && r.alive(w.LeasePress) && r.now.Above == w.PressKeep && r.now.Homed == 1 &&
		r.feels() && !r.denied(w.InChuckClamped) && r.spindleReady() && r.burnerOutOfStroke() && r.glassReady()
}

// glassReady: a fresh sample with the view free decides alone; else an estimate
// with all its doubt; without a thermometer the SOFT button.
func (r *rules) glassReady() bool {
	s, q := &r.now, &r.in.Request
	low, high := int32(s.WindowLow), int32(s.WindowHi)
	glass, ok := r.reads(w.AiGlass)
	switch {
	case low >= high:
		return false
	case r.c.FittedAnalog>>w.AiGlass&1 == 0:
		return s.SoftMs < r.c.SoftMs
	case ok && r.viewFree() && r.in.GlassAgeMs <= r.c.SampleMs:
		return int32(glass) >= low && int32(glass) <= high
	}
	estimate, doubt := int32(q.EstDC), int32(q.EstUncDC)
	return r.asks(w.ReqEstimate) && q.EstAgeMs <= r.c.EstimateMs && estimate-doubt >= low && estimate+doubt <= high
}

func (r *rules) viewFree() bool {
	return r.safeForHeat() && (r.opt(w.OptViewAlways) || r.now.ClearMs >= r.c.ViewMs)
}

// feels: no fitted sensor of the press is broken, and no force stands on it.
func (r *rules) feels() bool {
	force, ok := r.reads(w.AiForce)
	return !r.dumb(w.AiTravel) && !r.dumb(w.AiForce) && !(ok && force >= int16(r.c.ContactDN))
}

// dumb: a fitted channel that cannot be read.
func (r *rules) dumb(ai uint8) bool {
	_, ok := r.reads(ai)
	return r.c.FittedAnalog>>ai&1 == 1 && !ok
}

// handOpens (invariant 17): one hand on the button, seen released before, opens
// wherever there is drive power, whatever the door, the gas or a lock say.
func (r *rules) handOpens() bool {
	return r.alarm(w.InHoldOpen) && r.now.HoldSeen&1 != 0 && !r.sees(w.InPressOpen) &&
		r.sees(w.InEstopOK) && !r.denied(w.InMainsOK)
}

// byHand is the hold-to-run that a person asks for (invariant 17). Closing is
// for standby: no cycle, fuel shut, no lock, the door closed or the other hand
// held, and a press that is felt.
func (r *rules) byHand() uint8 {
	s := &r.now
	open, shut := r.alarm(w.InHoldOpen), r.alarm(w.InHoldClose)
	_, travel := r.reads(w.AiTravel)
	_, force := r.reads(w.AiForce)
	felt := travel && force || !r.opt(w.OptPressDriven) && !r.dumb(w.AiTravel) && !r.dumb(w.AiForce)
	idle := s.Started == 0 && !r.burning() && s.Lock == w.LockNone && !r.lighting()
	switch {
	case r.handOpens():
		return w.PressHandOpen
	case shut && !open && s.HoldSeen&2 != 0 && r.shielded(w.HandsClose) && idle && felt && !r.contact():
		return w.PressHandClose
	}
	return w.PressStay
}

// lighting is gasInUse after the burner moved.
func (r *rules) lighting() bool {
	return r.now.Burner >= w.BurnerCheck && r.now.Burner <= w.BurnerOff
}

// spindle: only a start needs START; creep and ramp end by themselves.
func (r *rules) spindle() {
	s, q := &r.now, &r.in.Request
	if !r.opt(w.OptSpindleFitted) {
		s.Spindle = w.SpindleOff
		return
	}
	s.SpinMs = longer(s.SpinMs)
	free := s.Spin == w.SpindleKeep
	asked := free && r.alive(w.LeaseSpindle) && q.SpindleDrpm != 0
	byHand := !r.denied(w.InChuckClamped) && r.alarm(w.InSetUp) && r.alarm(w.InHoldTurn) && s.HoldSeen&4 != 0 && r.shielded(w.HandsTurn) &&
		s.Lock == w.LockNone && s.Started == 0 && !r.burning()
	next := s.Spindle
	switch s.Spindle {
	case w.SpindleOff:
		if asked && r.granted() && !r.denied(w.InChuckClamped) {
			next = w.SpindleRun
		} else if byHand && free {
			next = w.SpindleHand
		}
	case w.SpindleHand:
		if !byHand || !free {
			next = w.SpindleRamp
		}
	case w.SpindleRun:
		switch {
		case s.Spin == w.SpindleToCreep: // soft glass goes on turning, whatever is asked
			next = w.SpindleCreep
		case !asked:
			next = w.SpindleRamp
		}
	case w.SpindleCreep:
		if s.SpinMs >= r.c.CreepMs {
			next = w.SpindleRamp
		} else if asked && r.granted() {
			next = w.SpindleRun
		}
	case w.SpindleRamp:
		if s.SpinMs >= uint32(r.c.RampMs) {
			next = w.SpindleOff
		}
	}
	turning := next == w.SpindleRun || next == w.SpindleCreep
	switch {
	case s.Spin == w.SpindleToOff:
		s.SpinMs, next = 0, w.SpindleOff
	case s.Spin == w.SpindleToRamp && turning:
		next = w.SpindleRamp
	case s.Spin == w.SpindleToCreep && next == w.SpindleRun:
		next = w.SpindleCreep
	}
	if next != s.Spindle || s.Spin == w.SpindleToOff {
		s.SpinMs = 0
		if next == w.SpindleOff || next == w.SpindleRamp {
			s.SpinSet = 0
		}
	}
	s.Spindle = next
	switch next {
	case w.SpindleRun:
		if !r.granted() { // not faster than it turns
			s.SpinSet = min(q.SpindleDrpm, r.c.SpindleMaxDrpm, s.SpinSet)
		} else {
			s.SpinSet = min(q.SpindleDrpm, r.c.SpindleMaxDrpm)
		}
	case w.SpindleHand:
		s.SpinSet = r.c.SetUpDrpm
	}
}

// outputs: from the phases alone; a set-point is zero whenever its bit is off,
// and never more than the configuration allows.
func (r *rules) outputs() {
	s, q, c := &r.now, &r.in.Request, r.c
	out := w.Output{NV: s.NV}
	on := func(bit uint16, when bool) {
		if when {
			out.Bits |= bit
		}
	}
	leak := false
	for _, cause := range []uint8{w.CauseFalseFlame, w.CauseGasAlarm, w.CauseFeedback, w.CauseUnburnt, w.CauseFlowOver} {
		leak = leak || (s.Trips|s.Present)>>cause&1 == 1
	}
	on(w.OutLockLamp, s.Lock == w.LockLockout)
	on(w.OutFan, s.Burner >= w.BurnerPurge && s.Burner != w.BurnerLockout || leak && (r.was.Out.Bits&w.OutFan != 0 || r.opt(w.OptFanSafe)))
	on(w.OutIgniter, s.Burner == w.BurnerIgniter || s.Burner == w.BurnerTrial || s.Burner == w.BurnerProve)
	on(w.OutBurnerIn, r.burnerIn())
	on(w.OutSpindle, s.Spindle != w.SpindleOff)
	on(w.OutArmedLamp, s.Armed == 1 || s.Wait == 1 && s.ArmMs > 0 && s.ArmMs < c.ArmMs)
	on(w.OutHorn, leak || r.asks(w.ReqHorn) && s.LinkMs < c.LeaseMs)
	if s.Burner >= w.BurnerTrial && s.Burner <= w.BurnerOff {
		on(w.OutFuel, true)
		sharp := s.Burner == w.BurnerRun && r.granted() && !r.pushing() && r.safeForHeat() &&
			(r.opt(w.OptBurnerFixed) || r.sees(w.InBurnerAtBlank) || out.Bits&w.OutBurnerIn != 0)
		switch {
		case sharp:
			out.FuelMl = min(q.FuelMl, c.FuelMaxMl)
		case s.Burner == w.BurnerOff: // never more than before
			out.FuelMl = min(r.was.Out.FuelMl, c.SoftMaxMl)
		default:
			out.FuelMl = min(q.FuelMl, c.SoftMaxMl)
		}
		if s.Oxygen == 1 {
			on(w.OutOxygen, true)
			out.OxygenMl = min(q.OxygenMl, c.OxygenMaxMl)
		}
	}
	switch s.Spindle {
	case w.SpindleCreep: // never faster than before
		out.SpindleDrpm = min(c.CreepDrpm, s.SpinSet)
		if r.column() == w.PressToPart && r.opt(w.OptSpindleTurns) { // its press state
			out.SpindleDrpm = s.SpinSet
		}
	case w.SpindleRun, w.SpindleRamp, w.SpindleHand:
		out.SpindleDrpm = s.SpinSet
	}
	r.pressOutputs(&out, on)
	s.Out = out
}

func (r *rules) pressOutputs(out *w.Output, on func(uint16, bool)) {
	s, q, c := &r.now, &r.in.Request, r.c
	within := min(max(q.TravelCmm, 0), max(c.EndCmm, 0))
	on(w.OutBrake, s.Press == w.PressOff || s.Press == w.PressStay)
	on(w.OutPressClose, r.pushing() || s.Press == w.PressEasing || s.Press == w.PressHandClose)
	on(w.OutPressOpen, s.Press == w.PressOpening || s.Press == w.PressHandOpen)
	switch s.Press {
	case w.PressClosing, w.PressContact:
		out.SpeedCmms, out.ForceDN, out.TravelCmm = min(q.SpeedCmms, c.SpeedMaxCmms), min(q.ForceDN, c.ForceMaxDN), within
	case w.PressEasing:
		out.ForceDN, out.TravelCmm = s.EaseDN, within
	case w.PressOpening, w.PressHandOpen:
		out.ForceDN, out.SpeedCmms = c.PullMaxDN, c.HandCmms
		if s.Press == w.PressOpening && r.column() == w.PressToPart {
			out.SpeedCmms = c.PartCmms
		}
		if r.openingForHost() {
			out.SpeedCmms, out.TravelCmm = min(q.SpeedCmms, c.SpeedMaxCmms), max(q.TravelCmm, 0)
		}
	case w.PressHandClose:
		out.ForceDN, out.SpeedCmms, out.TravelCmm = c.ContactDN, c.HandCmms, c.EndCmm
	}
}

// burnerIn: the slide may stand at the blank: in a cycle, asked for, no gas
// reaction, press open, door closed; lit, it comes in only over a turning
// spindle with extraction proven.
func (r *rules) burnerIn() bool {
	s := &r.now
	driven := r.opt(w.OptBurnerDriven) && !r.opt(w.OptBurnerFixed)
	asked := s.Started == 1 && r.asks(w.ReqBurnerIn) && r.alive(w.LeaseFuel)
	place := r.safeForHeat() && r.sees(w.InDoorClosed) && s.Gas == w.GasKeep
	moment := s.Burner == w.BurnerRun || s.Burner == w.BurnerStandby
	comes := s.Wait == 0 && (!r.burning() || r.turns() && r.sees(w.InExtraction))
	return driven && asked && place && moment && (comes || r.was.Out.Bits&w.OutBurnerIn != 0)
}
