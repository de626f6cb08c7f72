package safety

import w "pressrig/safety/warden"

// causes asks the question of each row of the matrix in this tick. Times are
// those of docs/assessor.md.
func (r *rules) causes() uint64 {
	s := &r.now
	var set uint64
	for _, row := range [...]struct {
		cause   uint8
		present bool
	}{
		{w.CauseEstop, !r.sees(w.InEstopOK)},
		{w.CauseDoor, !r.sees(w.InDoorClosed) && r.doorMatters()},
		{w.CauseFlameLost, r.flameGone() && r.burnerIs(w.BurnerRun, w.BurnerOff)},
		{w.CauseNoIgnition, r.noIgnition()},
		{w.CauseFalseFlame, r.falseFlame()},
		{w.CauseFuelLow, r.pressure(0, w.InFuelLow) && r.gasArmed()},
		{w.CauseFuelHigh, r.pressure(1, w.InFuelHigh) && r.gasArmed()},
		{w.CauseOxygenLow, r.pressure(2, w.InOxygenLow) && r.gasArmed() && r.opt(w.OptOxygenFitted)},
		{w.CauseOxygenHigh, r.pressure(3, w.InOxygenHigh) && r.gasArmed() && r.opt(w.OptOxygenFitted)},
		{w.CauseSpindleStill, r.spindleStill()},
		{w.CausePressState, r.approaching() && !r.spindleReady()},
		{w.CauseSpindleStall, r.spindleStall()},
		{w.CauseOverForce, r.overForce()},
		{w.CauseOverTravel, r.overTravel()},
		{w.CauseNotOpenForHeat, r.inTheWay()},
		{w.CauseLeftOpen, r.leftOpen()},
		{w.CauseStuck, r.stuck()},
		{w.CauseLinkLost, r.leaseMissing()},
		{w.CauseExtraction, r.extractionLost()},
		{w.CauseGasAlarm, r.alarm(w.InGasAlarm)},
		{w.CauseFlashback, r.alarm(w.InFlashback) && r.gasArmed()},
		{w.CauseFeedback, r.feedbackWrong()},
		{w.CauseTwoHand, r.handsGone()},
		{w.CauseSetUp, r.alarm(w.InSetUp) && r.working()},
		{w.CauseBadFrames, s.ErrorSum >= 179000 && r.energised()},
		{w.CauseMains, r.denied(w.InMainsOK)},
		{w.CauseButton, s.StartMs >= r.c.ButtonMs || s.ResetMs >= r.c.ButtonMs},
		{w.CauseUnburnt, r.burning() && s.Unburnt >= 120*(3750-uint32(r.c.ValveCloseMs))},
		{w.CauseSlide, r.slideLate()},
		{w.CauseHostAbort, r.in.Fresh != 0 && r.asks(w.ReqAbort) && r.energised() || r.openedInStroke()},
		{w.CauseNV, r.forgetful()},
		{w.CauseForceLost, r.forceLost()},
		{w.CauseTravelLost, r.travelLost()},
		{w.CauseSpindleFast, r.spindleFast()},
		{w.CauseSpindleAsked, r.twisted()},
		{w.CauseHandFast, r.handFast()},
		{w.CauseChuck, r.chuckLoose()},
		{w.CauseFlowOff, r.flowsOff()},
		{w.CauseFlowOver, r.flowsFar()},
		{w.CauseRatio, r.ratioOff()},
		{w.CauseSharpLong, r.sharpLong()},
	} {
		if row.present {
			set |= 1 << row.cause
		}
	}
	return set
}

func (r *rules) burnerIs(phases ...uint8) bool {
	for _, p := range phases {
		if r.was.Burner == p {
			return true
		}
	}
	return false
}

func (r *rules) pressIs(phases ...uint8) bool {
	for _, p := range phases {
		if r.was.Press == p {
			return true
		}
	}
	return false
}

// gasInUse: a light-up runs or fuel is open; gasArmed: post-purge as well.
func (r *rules) gasInUse() bool {
	return r.burnerIs(w.BurnerCheck, w.BurnerPurge, w.BurnerIgniter, w.BurnerTrial, w.BurnerProve,
		w.BurnerProveDark, w.BurnerRun, w.BurnerOff)
}

func (r *rules) gasArmed() bool { return r.gasInUse() || r.burnerIs(w.BurnerPostPurge) }

func (r *rules) energised() bool {
	return r.now.Started == 1 || r.gasInUse() || r.was.Spindle != w.SpindleOff ||
		r.pressIs(w.PressClosing, w.PressContact, w.PressOpening)
}

// doorMatters: something moves, burns or could crush. Loading is no trip.
func (r *rules) doorMatters() bool {
	out := r.was.Out.Bits
	speed, ok := r.reads(w.AiSpindle)
	spindle := r.opt(w.OptSpindleFitted) && (r.was.Spindle != w.SpindleOff || !ok || speed > 10)
	if r.alarm(w.InSetUp) && r.was.Spindle != w.SpindleRun && r.was.Spindle != w.SpindleCreep && ok && speed <= 500 {
		spindle = false // slow, by hand or running out: 50 rpm
	}
	press := !r.sees(w.InPressOpen) ||
		r.opt(w.OptPressDriven) && out&(w.OutPressClose|w.OutPressOpen) != 0
	if r.alarm(w.InSetUp) || r.was.HandStroke != 0 || r.now.Hands[w.HandsStroke].Given == 1 {
		press = false // two hands or hold-to-run stand in for the door
	}
	parked := r.opt(w.OptParkedDoorOpen) && r.burnerIs(w.BurnerRun, w.BurnerOff) && r.now.Oxygen == 0 && r.sees(w.InBurnerClear)
	return spindle || press || out&w.OutIgniter != 0 || out&w.OutBurnerIn != 0 || r.burning() && !parked
}

// leaseMissing: what is in use has no live lease. The orderly way out needs
// none: there oxygen is shut and fuel about to be.
func (r *rules) leaseMissing() bool {
	fuel := r.gasInUse() && !r.burnerIs(w.BurnerOff)
	press := r.pressIs(w.PressClosing, w.PressContact) || r.openingForHost()
	return fuel && !r.alive(w.LeaseFuel) || r.now.Oxygen == 1 && !r.alive(w.LeaseOxygen) ||
		r.was.Spindle == w.SpindleRun && !r.alive(w.LeaseSpindle) || press && !r.alive(w.LeasePress)
}

// column is the press reaction in force, before or in contact.
func (r *rules) column() uint8 {
	if r.now.Touching == 1 {
		return r.now.Touch
	}
	return r.now.Above
}

func (r *rules) openingForHost() bool {
	asReaction := r.column() == w.PressRetract || r.column() == w.PressToStay ||
		r.column() == w.PressToEase || r.column() == w.PressToPart || r.column() == w.PressToOff
	return r.now.Press == w.PressOpening && !asReaction
}

// handsGone: row 34, in a stroke that two hands protect.
func (r *rules) handsGone() bool {
	stroke := r.pressIs(w.PressClosing, w.PressContact, w.PressEasing) || r.openingForHost()
	return r.was.HandStroke != 0 && r.now.Hands[w.HandsStroke].Given == 0 && stroke
}

// working: what has no place in set-up.
func (r *rules) working() bool {
	return r.now.Started == 1 || r.gasInUse() || r.was.Spindle == w.SpindleRun || r.was.Spindle == w.SpindleCreep ||
		r.pressIs(w.PressClosing, w.PressContact, w.PressOpening)
}

func (r *rules) forgetful() bool {
	r.now.NVMs = held(r.in.NV != r.was.NV, r.was.NVMs)
	return r.now.NVMs >= 1000
}

func (r *rules) flameGone() bool { return r.now.DarkMs >= r.c.FlameOffMs }

// noIgnition: the trial is over, or the proof failed or took longer than 5 s.
func (r *rules) noIgnition() bool {
	trial := r.burnerIs(w.BurnerTrial) && r.was.TrialMs >= r.c.TrialMs
	proof := r.burnerIs(w.BurnerProve, w.BurnerProveDark)
	return trial || proof && (r.flameGone() || r.was.PhaseMs >= 5000)
}

// falseFlame: a flame before fuel was ever open, or 2 s after it was shut.
func (r *rules) falseFlame() bool {
	before := r.burnerIs(w.BurnerPurge, w.BurnerIgniter) && !r.burning()
	return r.now.FlameMs >= r.c.FlameOnMs && (before || r.now.FuelOffMs >= 2000)
}

func (r *rules) pressure(i int, bit uint32) bool {
	r.now.SwitchMs[i] = held(r.alarm(bit), r.was.SwitchMs[i])
	return r.now.SwitchMs[i] >= r.c.PressureMs
}

// feedbackWrong: for the valve's closing time and 500 ms.
func (r *rules) feedbackWrong() bool {
	oxygenOpen := r.was.Out.Bits&w.OutOxygen != 0
	fuel := r.alarm(w.InFuelShut) && r.burning() || r.denied(w.InFuelShut) && !r.burning()
	oxygen := r.alarm(w.InOxygenShut) && oxygenOpen || r.denied(w.InOxygenShut) && !oxygenOpen
	r.now.FeedMs = held(fuel, r.was.FeedMs)
	r.now.FeedOxMs = held(oxygen, r.was.FeedOxMs)
	return r.now.FeedMs >= r.c.ValveCloseMs+500 || r.now.FeedOxMs >= r.c.ValveCloseMs+500
}

// extractionLost: soon with fuel open or about to be, later while only purging, or
// while check waits for the flow switch to show its rest position.
func (r *rules) extractionLost() bool {
	waits := r.gasArmed() && !r.sees(w.InExtraction)
	if r.burnerIs(w.BurnerCheck) {
		waits = r.now.SawStill == 0
	}
	r.now.NoFlowMs = held(waits, r.was.NoFlowMs)
	switch {
	case r.burning(), r.burnerIs(w.BurnerIgniter):
		return r.now.NoFlowMs >= r.c.ExtractionMs
	}
	return r.now.NoFlowMs >= r.c.ExtractionWaitMs
}

// flameAtBlank: a flame that heats the blank. A fixed burner on a soft flame
// may stand beside the stroke and counts as none.
func (r *rules) flameAtBlank() bool {
	if r.opt(w.OptBurnerFixed) {
		return r.burning() && !r.softFlame()
	}
	return r.burning() && r.sees(w.InBurnerAtBlank)
}

func (r *rules) spindleStill() bool {
	r.now.StillMs = held(r.flameAtBlank() && !r.turns(), r.was.StillMs)
	return r.now.StillMs >= r.c.SpindleStallMs
}

// spindleStall: in contact, for a quarter of the time allowed while heating.
func (r *rules) spindleStall() bool {
	contact := r.pressIs(w.PressContact) && r.opt(w.OptSpindleTurns)
	r.now.StallMs = held(contact && !r.turns(), r.was.StallMs)
	return r.now.StallMs >= r.c.SpindleStallMs/4
}

// approaching: closing, above contact, out of the open position.
func (r *rules) approaching() bool {
	return r.pressIs(w.PressClosing) && !r.sees(w.InPressOpen) && r.now.Touching == 0
}

func (r *rules) overForce() bool {
	force, ok := r.reads(w.AiForce)
	return r.alarm(w.InOverForce) || ok && force > int16(r.c.OverForceDN)
}

// overTravel: the end switch, or 1 mm past the last position.
func (r *rules) overTravel() bool {
	travel, ok := r.reads(w.AiTravel)
	return r.alarm(w.InPressEnd) || ok && travel > r.c.EndCmm+100
}

// leftOpen: heating, and open in the last tick but not in this.
func (r *rules) leftOpen() bool {
	atBlank := r.burning() && (r.opt(w.OptBurnerFixed) || r.sees(w.InBurnerAtBlank))
	r.now.BurnerWasOpen = bit01(atBlank && r.safeForHeat())
	return r.flameAtBlank() && !r.safeForHeat() && r.was.BurnerWasOpen == 1
}

// inTheWay: 200 ms of a flame asked for, or standing, where the press is, or of
// an approach towards the burner.
func (r *rules) inTheWay() bool {
	asked := !r.opt(w.OptBurnerFixed) && r.asks(w.ReqBurnerIn) && r.alive(w.LeaseFuel) && r.granted()
	flame := r.burning() && !r.safeForHeat() && (r.flameAtBlank() || asked)
	r.now.BlockMs = held(flame || r.approaching() && !r.burnerOutOfStroke(), r.was.BlockMs)
	return r.now.BlockMs >= 200
}

// burnerOutOfStroke: fixed and soft or fuel shut; or clear, sent clear, and at
// most a flame of fuel alone where the rig allows one.
func (r *rules) burnerOutOfStroke() bool {
	if r.opt(w.OptBurnerFixed) {
		return !r.burning() || r.softFlame() && r.opt(w.OptStrokeFlameSoft)
	}
	clear := r.sees(w.InBurnerClear) && !r.sees(w.InBurnerAtBlank) && r.now.Out.Bits&w.OutBurnerIn == 0
	return clear && (!r.burning() || r.now.Oxygen == 0 && r.opt(w.OptStrokeFlameClear))
}

// stuck: opening takes too long, or pulls at its limit for 500 ms.
func (r *rules) stuck() bool {
	force, ok := r.reads(w.AiForce)
	opening := r.pressIs(w.PressOpening) && r.opt(w.OptPressDriven)
	r.now.PressMs = held(opening, r.was.PressMs)
	full := -int32(r.c.PullMaxDN - r.c.PullMaxDN/8) // a reading hovers about the limit
	r.now.PullMs = held(opening && ok && int32(force) <= full, r.was.PullMs)
	if r.column() == w.PressToPart {
		return r.now.PressMs >= r.c.PartOpenMs || r.now.PullMs >= 500
	}
	return r.now.PressMs >= r.c.RetractMs || r.now.PullMs >= 500
}

// slideLate: a driven slide is not where it was sent.
func (r *rules) slideLate() bool {
	if r.opt(w.OptBurnerFixed) || !r.opt(w.OptBurnerDriven) {
		return false
	}
	in := r.was.Out.Bits & w.OutBurnerIn
	here := r.sees(w.InBurnerAtBlank) == (in != 0) && r.sees(w.InBurnerClear) == (in == 0)
	r.now.SlideMs = held(!here && in == r.was.SlideSent, r.was.SlideMs)
	r.now.SlideSent = in
	return r.now.SlideMs >= r.c.SlideMs && (in != 0 || r.energised())
}

// openedInStroke: the open button ends a stroke of the host.
func (r *rules) openedInStroke() bool {
	stroke := r.pressIs(w.PressClosing, w.PressContact) || r.openingForHost()
	return r.handOpens() && r.now.Started == 1 && stroke
}

// pressWorks: what has to be felt; opening by hand is a person's own.
func (r *rules) pressWorks() bool {
	return r.pressIs(w.PressClosing, w.PressContact, w.PressOpening, w.PressEasing, w.PressHandClose)
}

// toGo is how far the press is from where it is driven, 0.01 mm.
func (r *rules) toGo() int {
	travel, _ := r.reads(w.AiTravel)
	return int(r.was.Out.TravelCmm) - int(travel)
}

// forceLost: 20 ms without a reading, or 300 ms at the stop of a pressing stroke
// that felt nothing.
func (r *rules) forceLost() bool {
	_, force := r.reads(w.AiForce)
	_, travel := r.reads(w.AiTravel)
	atStop := r.pressIs(w.PressClosing) && !r.sees(w.InPressOpen) && r.opt(w.OptPressDriven) &&
		r.in.Request.Press == w.PressForce && force && travel && r.toGo() <= 5
	r.now.ForceLostMs = held(r.pressWorks() && r.dumb(w.AiForce), r.was.ForceLostMs)
	r.now.UnfeltMs = held(atStop, r.was.UnfeltMs)
	return r.now.ForceLostMs >= 20 || r.now.UnfeltMs >= 300
}

// travelLost: 20 ms without a reading, or 500 ms within 0.1 mm although driven at
// 1 mm/s or more with 0.5 mm to go.
func (r *rules) travelLost() bool {
	travel, ok := r.reads(w.AiTravel)
	driven := r.opt(w.OptPressDriven) && r.pressIs(w.PressClosing, w.PressHandClose) && r.was.Out.SpeedCmms >= 100
	moved := int(travel) - int(r.was.StandCmm)
	still := moved > -10 && moved < 10
	r.now.TravelLostMs = held(r.pressWorks() && r.dumb(w.AiTravel), r.was.TravelLostMs)
	r.now.StandMs = held(driven && ok && r.toGo() > 50 && still, r.was.StandMs)
	if r.now.StandMs == 0 {
		r.now.StandCmm = r.in.Analog[w.AiTravel]
	}
	return r.now.TravelLostMs >= 20 || r.now.StandMs >= 500
}

// spindleFast: for 200 ms an eighth and 5 rpm above what it may do, by hand what
// set-up may do, or 5 rpm backwards.
func (r *rules) spindleFast() bool {
	speed, ok := r.reads(w.AiSpindle)
	most := int(r.c.SpindleMaxDrpm)
	if r.was.Spindle == w.SpindleHand {
		most = int(r.c.SetUpDrpm)
	}
	fast := int(speed) > most+most/8+50 || speed < -50
	r.now.FastMs = held(r.opt(w.OptSpindleFitted) && ok && fast, r.was.FastMs)
	return r.now.FastMs >= 200
}

// twisted: turning is asked for while the halves hold the glass, on a rig that
// presses with the spindle standing.
func (r *rules) twisted() bool {
	asked := r.alive(w.LeaseSpindle) && r.in.Request.SpindleDrpm != 0 && r.granted()
	contact := r.now.Touching == 1 && r.pressIs(w.PressClosing, w.PressContact)
	return asked && contact && !r.opt(w.OptSpindleTurns)
}

// handFast: within a window of 100 ms the press went further than one and a half
// times hold-to-run's speed takes it, and 0.2 mm.
func (r *rules) handFast() bool {
	travel, ok := r.reads(w.AiTravel)
	s := &r.now
	if !r.pressIs(w.PressHandOpen, w.PressHandClose) || !r.opt(w.OptPressDriven) || !ok {
		s.HandMs = 0
		return false
	}
	if r.was.HandMs == 0 {
		s.HandFromCmm = travel
	}
	gone := int(travel) - int(s.HandFromCmm)
	s.HandMs = held(true, r.was.HandMs)
	if s.HandMs >= 100 {
		s.HandMs = 0
	}
	speed := int(r.c.HandCmms)
	return max(gone, -gone)*10 > speed+speed/2+200
}

// chuckLoose: for 100 ms with the spindle powered or the press pushing.
func (r *rules) chuckLoose() bool {
	works := r.was.Spindle != w.SpindleOff || r.pressIs(w.PressClosing, w.PressContact)
	r.now.ChuckMs = held(works && r.denied(w.InChuckClamped), r.was.ChuckMs)
	return r.now.ChuckMs >= 100
}

// gases are the two that are measured: what was driven, and what flows.
var gases = [w.NumFlows]struct {
	ai   uint8
	bit  uint16
	sent func(*w.Output) uint16
}{
	{w.AiFuelFlow, w.OutFuel, func(out *w.Output) uint16 { return out.FuelMl }},
	{w.AiOxygenFlow, w.OutOxygen, func(out *w.Output) uint16 { return out.OxygenMl }},
}

// band: the least and the most that was sent in this window and the one before.
func (r *rules) band(gas int) (least, most int) {
	f := &r.now.Flow[gas]
	return min(int(f.Low), int(f.WasLow)), max(int(f.High), int(f.WasHigh))
}

// flowsOff: for 2 s a fifth and 0.1 L/min below all or above all that was sent, with
// the gas's valves open. It is asked first of the flows and keeps their windows.
func (r *rules) flowsOff() bool {
	r.now.FlowMs = held(true, r.was.FlowMs)
	over := r.now.FlowMs >= r.c.FlowSettleMs
	if over {
		r.now.FlowMs = 0
	}
	off := false
	for i, gas := range gases {
		f, sent := &r.now.Flow[i], gas.sent(&r.was.Out)
		if over {
			*f = w.Flow{Low: sent, High: sent, WasLow: f.Low, WasHigh: f.High, OffMs: f.OffMs, OverMs: f.OverMs}
		}
		f.Low, f.High = min(f.Low, sent), max(f.High, sent)
		reading, ok := r.reads(gas.ai)
		ml := max(0, int(reading))
		least, most := r.band(i)
		pc, spare := int(r.c.FlowOffPC), int(r.c.FlowOffMl)
		below := ml*100 < least*(100-pc) && least-ml > spare
		above := ml*100 > most*(100+pc) && ml-most > spare
		f.OffMs = held(ok && r.was.Out.Bits&gas.bit != 0 && (below || above), f.OffMs)
		far := ml*100 > most*int(r.c.FlowOverPC) && ml-most > int(r.c.FlowNoneMl)
		f.OverMs = held(ok && far, f.OverMs)
		off = off || f.OffMs >= r.c.FlowOffMs && ok
	}
	return off
}

// flowsFar: for 500 ms half as much again and 0.2 L/min above all that was sent.
func (r *rules) flowsFar() bool {
	return max(r.now.Flow[w.FlowFuel].OverMs, r.now.Flow[w.FlowOxygen].OverMs) >= r.c.FlowOverMs
}

// ratioOff: oxygen burns, neither gas was asked to change by much, and for 2 s the
// measured ratio is outside the profile's window.
func (r *rules) ratioOff() bool {
	fuel, fuelOK := r.reads(w.AiFuelFlow)
	oxygen, oxygenOK := r.reads(w.AiOxygenFlow)
	judged := r.was.Out.Bits&w.OutOxygen != 0 && r.c.RatioHighPC != 0 && fuelOK && oxygenOK
	for i := range gases {
		least, most := r.band(i)
		small := most-least <= int(r.c.FlowOffMl) || most*100 <= least*(100+int(r.c.FlowOffPC))
		judged = judged && small
	}
	o, f := max(0, int(oxygen))*100, max(0, int(fuel))
	r.now.RatioMs = held(judged && (o < f*int(r.c.RatioLowPC) || o > f*int(r.c.RatioHighPC)), r.was.RatioMs)
	return r.now.RatioMs >= r.c.RatioMs
}

// sharpLong: oxygen, or more fuel than soft, where the glass is.
func (r *rules) sharpLong() bool {
	sharp := r.was.Out.Bits&w.OutOxygen != 0 || r.was.Out.FuelMl > r.c.SoftMaxMl
	here := r.opt(w.OptBurnerFixed) || r.sees(w.InBurnerAtBlank)
	r.now.SharpMs = 0
	if sharp && here {
		r.now.SharpMs = longer(r.was.SharpMs)
	}
	return r.now.SharpMs >= r.c.SharpMs
}
