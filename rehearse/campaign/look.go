package campaign

import "pressrig/safety/warden"

// look is one millisecond of a rig as the judge sees it: what the warden was
// given, what it drove before and after, and timers of the judge's own.
type look struct {
	c     *warden.Config
	in    *warden.Input
	out   *warden.Output
	after *warden.State
	boot  bool // the microcontroller started anew

	// The tick before.
	prevOut    warden.Output
	prev       warden.State
	heatedOpen bool // a flame stood at the blank, the press open
	seen       bool

	fuelOffMs  uint32 // fuel shut, as driven
	trialMs    uint32 // fuel open and no flame seen yet
	silentMs   uint32 // since the host's newest accepted request
	darkMs     uint32
	startMs    uint32
	resetMs    uint32
	slideMs    uint32 // the slide is not where it was sent
	nvMs       uint32
	sharpMs    uint32 // oxygen, or more fuel than a soft flame, at the blank
	stilled    bool   // extraction seen at rest, the fan off, since fuel was last open
	asked      asked
	standMs    uint32 // driven to close, and travel within 0.1 mm
	standCmm   int16
	handStroke bool // the press has closed with the door open, under two hands
	newHost    bool // a session of the host has begun since its newest lease

	bad     [16]uint64 // ms of the newest bad frames
	nBad    int
	unburnt [30_000]bool // ring: fuel open and no flame seen
	sum     uint32
	leaky   uint32 // the published sum: +120 for an unburnt ms, -1 for another
	nowMs   uint64
}

const forever = 1 << 30

// begin takes this tick's inputs; what was driven is still the tick before's.
func (l *look) begin(in *warden.Input, out *warden.Output, after *warden.State, boot bool, nowMs uint64) {
	l.in, l.out, l.after, l.nowMs = in, out, after, nowMs
	l.boot = boot || !l.seen
	if l.boot {
		l.prevOut, l.prev, l.heatedOpen = warden.Output{NV: in.NV}, warden.State{}, false
		l.fuelOffMs, l.silentMs, l.newHost, l.nBad = forever, forever, false, 0
		l.asked, l.stilled, l.sharpMs = asked{}, false, 0
		l.leaky, l.startMs, l.resetMs, l.slideMs, l.nvMs, l.darkMs, l.trialMs, l.standMs = 0, 0, 0, 0, 0, 0, 0, 0 // all forgotten
	}
	l.fuelOffMs = count(!l.was(warden.OutFuel), l.fuelOffMs)
	l.darkMs = count(!l.has(warden.InFlame), l.darkMs)
	l.trialMs = count(l.was(warden.OutFuel) && l.burner(warden.BurnerTrial, warden.BurnerTrial), l.trialMs)
	l.startMs = count(l.has(warden.InStart), l.startMs)
	l.resetMs = count(l.has(warden.InReset), l.resetMs)
	l.nvMs = count(in.NV != l.prevOut.NV, l.nvMs)
	l.silentMs = count(in.Fresh == 0, l.silentMs)
	l.newHost = in.NewSession != 0 || l.newHost && in.Fresh == 0
	l.slideMs = count(!l.slideThere(), l.slideMs)
	sharp := l.was(warden.OutOxygen) || l.prevOut.FuelMl > l.c.SoftMaxMl
	l.sharpMs = count(sharp && l.atBlank(), l.sharpMs)
	l.stilled = !l.was(warden.OutFuel) && (l.stilled || !l.was(warden.OutFan) && !l.has(warden.InExtraction))
	l.asked.add(uint32(l.c.FlowSettleMs), l.prevOut.FuelMl, l.prevOut.OxygenMl)
	l.standMs = count(l.closesDriven() && l.near(l.standCmm, 10), l.standMs)
	if l.standMs == 0 {
		l.standCmm = in.Analog[warden.AiTravel]
	}
	for range in.BadFrames {
		l.bad[l.nBad%len(l.bad)] = nowMs
		l.nBad++
	}
	at := nowMs % uint64(len(l.unburnt))
	if l.unburnt[at] {
		l.sum--
	}
	l.unburnt[at] = l.was(warden.OutFuel) && !l.has(warden.InFlame)
	if l.unburnt[at] {
		l.sum++
		l.leaky += 120
	} else if l.leaky > 0 {
		l.leaky--
	}
}

// end remembers this tick for the next.
func (l *look) end() {
	if (l.out.Bits^l.prevOut.Bits)&warden.OutBurnerIn != 0 {
		l.slideMs = 0
	}
	pushes := l.after.Press == warden.PressClosing || l.after.Press == warden.PressContact
	open := l.has(warden.InPressOpen)
	l.handStroke = !l.has(warden.InDoorClosed) && (pushes || l.handStroke && !open)
	l.heatedOpen = l.heating() && l.open()
	l.prevOut, l.prev, l.seen = *l.out, *l.after, true
}

func count(on bool, ms uint32) uint32 {
	if !on {
		return 0
	}
	return min(ms+1, forever)
}

func (l *look) has(bit uint32) bool        { return l.in.Bits&bit != 0 }
func (l *look) was(bits uint16) bool       { return l.prevOut.Bits&bits != 0 }
func (l *look) fitted(bit uint32) bool     { return l.c.FittedIn&bit != 0 }
func (l *look) option(bit uint16) bool     { return l.c.Options&bit != 0 }
func (l *look) burner(from, to uint8) bool { return l.prev.Burner >= from && l.prev.Burner <= to }

// value is an analog channel; ok is false where it is missing or broken.
func (l *look) value(ai uint8) (int16, bool) {
	return l.in.Analog[ai], l.c.FittedAnalog&l.in.AnalogOK&(1<<ai) != 0
}

// hands: both actuators of the two-hand control are held.
func (l *look) hands() bool {
	const both = warden.InTwoHandLeft | warden.InTwoHandRight
	return l.c.FittedIn&l.in.Bits&both == both
}

// gas: from check to post-purge.
func (l *look) gas() bool { return l.burner(warden.BurnerCheck, warden.BurnerPostPurge) }

// driven: something that energises is on; force that is being eased does not
// count. begun: or about to be.
func (l *look) driven() bool {
	return l.was(warden.OutFuel|warden.OutOxygen|warden.OutIgniter|warden.OutBurnerIn) ||
		l.prev.Spindle == warden.SpindleRun || l.prev.Press == warden.PressClosing ||
		l.prev.Press == warden.PressContact
}

func (l *look) begun() bool {
	startNow := l.after.Started != 0 || l.prev.Armed != 0 && l.has(warden.InStart)
	return l.driven() || l.prev.Started != 0 || startNow || l.was(warden.OutSpindle|warden.OutPressOpen) ||
		l.burner(warden.BurnerCheck, warden.BurnerOff)
}

func (l *look) atBlank() bool {
	return l.option(warden.OptBurnerFixed) || l.has(warden.InBurnerAtBlank)
}

// heating: a flame may burn at the blank.
func (l *look) heating() bool { return l.was(warden.OutFuel) && l.atBlank() }

// open: the press is open or where heating is safe.
func (l *look) open() bool {
	travel, ok := l.value(warden.AiTravel)
	return l.has(warden.InPressOpen) || ok && travel <= l.c.HeatCmm
}

func (l *look) turning() bool {
	rpm, ok := l.value(warden.AiSpindle)
	return !l.option(warden.OptSpindleFitted) || ok && rpm >= int16(l.c.SpindleHeatDrpm)
}

// standing: less than 1 rpm, and known to be.
func (l *look) standing() bool {
	rpm, ok := l.value(warden.AiSpindle)
	return !l.option(warden.OptSpindleFitted) || ok && rpm <= 10
}

// pressState: the spindle is as the stroke needs it.
func (l *look) pressState() bool {
	rpm, ok := l.value(warden.AiSpindle)
	switch {
	case !l.option(warden.OptSpindleFitted):
		return true
	case l.option(warden.OptSpindleTurns):
		return ok && rpm >= int16(l.c.PressLowDrpm) && rpm <= int16(l.c.PressHighDrpm)
	case l.option(warden.OptSpindleIndexed):
		return l.standing() && l.has(warden.InIndexed)
	}
	return l.standing()
}

// above: the press closes and has left open, before contact.
func (l *look) above() bool {
	return l.prev.Press == warden.PressClosing && !l.has(warden.InPressOpen) && l.prev.Touching == 0
}

// pressWorks: the press moves or works, but for what a person opens.
func (l *look) pressWorks() bool {
	return l.was(warden.OutPressClose) || l.prev.Press == warden.PressOpening
}

// broken: a fitted channel that cannot be read.
func (l *look) broken(ai uint8) bool { return l.c.FittedAnalog&^l.in.AnalogOK&(1<<ai) != 0 }

// near: travel is readable and within so much of where.
func (l *look) near(where int16, cmm int32) bool {
	travel, ok := l.value(warden.AiTravel)
	d := int32(travel) - int32(where)
	return ok && -cmm < d && d < cmm
}

// closesDriven: a drive closes the press at 1 mm/s or more, not at its target,
// and nothing was felt.
func (l *look) closesDriven() bool {
	closing := l.prev.Press == warden.PressClosing || l.prev.Press == warden.PressHandClose
	travel, ok := l.value(warden.AiTravel)
	return closing && ok && l.option(warden.OptPressDriven) && l.prevOut.SpeedCmms >= 100 &&
		int32(l.prevOut.TravelCmm)-int32(travel) > 50
}

// unfelt: a pressing stroke has come to its stop and no force is felt.
func (l *look) unfelt() bool {
	_, force := l.value(warden.AiForce)
	travel, ok := l.value(warden.AiTravel)
	return l.above() && l.option(warden.OptPressDriven) && l.in.Request.Press == warden.PressForce &&
		force && ok && int32(l.prevOut.TravelCmm)-int32(travel) <= 5
}

// slideThere: a driven burner slide is where it was sent.
func (l *look) slideThere() bool {
	if !l.option(warden.OptBurnerDriven) || l.option(warden.OptBurnerFixed) {
		return true
	}
	if l.was(warden.OutBurnerIn) {
		return l.has(warden.InBurnerAtBlank) && !l.has(warden.InBurnerClear)
	}
	return l.has(warden.InBurnerClear) && !l.has(warden.InBurnerAtBlank)
}

// badWithin is how many of the newest bad frames came within ms.
func (l *look) badWithin(ms uint64) int {
	n := 0
	for i := range min(l.nBad, len(l.bad)) {
		if l.nowMs-l.bad[i] < ms {
			n++
		}
	}
	return n
}

// unstilled: check waits for a flow switch that it has not seen at rest.
func (l *look) unstilled() bool { return l.prev.Burner == warden.BurnerCheck && !l.stilled }

// asked is what was asked of fuel and oxygen lately: least and most of each, by
// quarters of the time that a flow controller has to follow.
type asked struct {
	least, most [2][everAsked]uint16 // newest first
	ms          uint32               // of the newest quarter
}

// recent quarters are surely judged by, and everAsked holds all that may be.
const (
	recent    = 4
	everAsked = 9
)

func (a *asked) add(settleMs uint32, ml ...uint16) {
	turn := a.ms == 0 || a.ms >= settleMs/recent
	for i, v := range ml {
		if turn {
			copy(a.least[i][1:], a.least[i][:])
			copy(a.most[i][1:], a.most[i][:])
			a.least[i][0], a.most[i][0] = v, v
		}
		a.least[i][0], a.most[i][0] = min(a.least[i][0], v), max(a.most[i][0], v)
	}
	if turn {
		a.ms = 0
	}
	a.ms++
}

// flowWrong: a gas is wrong, on the same side, against all that was asked of it in so
// many quarters; open wants its valves open too.
func (l *look) flowWrong(quarters int, wrong func(ml, asked int) bool, open bool) bool {
	for i, gas := range [...]struct {
		ai  uint8
		bit uint16
	}{{warden.AiFuelFlow, warden.OutFuel}, {warden.AiOxygenFlow, warden.OutOxygen}} {
		reading, ok := l.value(gas.ai)
		ml := int(max(reading, 0))
		least, most := 1<<16, 0
		for q := range quarters {
			least, most = min(least, int(l.asked.least[i][q])), max(most, int(l.asked.most[i][q]))
		}
		outside := ml > most && wrong(ml, most) || ml < least && wrong(ml, least)
		if ok && outside && (!open || l.was(gas.bit)) {
			return true
		}
	}
	return false
}

// unchanged: neither gas was asked for anything else lately.
func (l *look) unchanged() bool {
	for i := range l.asked.least {
		for q := range everAsked {
			if l.asked.least[i][q] != l.asked.most[i][0] || l.asked.most[i][q] != l.asked.most[i][0] {
				return false
			}
		}
	}
	return true
}
