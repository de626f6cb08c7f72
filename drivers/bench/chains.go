package bench

import "pressrig/safety/warden"

// The outside watchdog, as docs/wiring.md asks for one: it makes while the
// pulse comes, judged over 50 ms, and drops within 100 ms without.
const (
	watchdogMs = 100
	pulseMs    = 50
	fanRunOnMs = 60_000 // timer relay KX
	supplyV    = 24.0
)

// chains is the hardware between the board's outputs and what they drive. It
// acts here only where the board's program cannot act itself: it hangs, stands
// in reset, or a wire of it was pulled. Where the program can, as behind an open
// door or a pushed emergency stop, the actuators follow the program alone, so
// that a warden which does not react is not hidden by the hardware beside it.
type chains struct {
	quietMs  uint16 // since the newest edge of the pulse
	pulsesMs uint16 // unbroken pulse
	made     bool   // the outside watchdog's relay: it opens bus A and bus D

	fanOn     bool // the board asked for the fan the millisecond before
	restarted bool // the board has been without power since
	runOnMs   uint32

	cut  bool // something is taken from the outputs, and felt is what is left
	felt warden.Output
}

// step is one millisecond of the chains; ran says whether the board's program
// did, and with it gave its pulse an edge.
func (c *chains) step(out *warden.Output, ran bool, hands *panelInputs, up *upsets) {
	c.watch(ran && !up.pulseOut, up)
	c.fan(out.Bits&warden.OutFan != 0, ran, up)
	var gone uint16
	switch {
	case !c.enabled(up):
		gone = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn | warden.OutSpindle |
			warden.OutPressClose | warden.OutPressOpen
	case hands.setUp && up.handOff&warden.InSetUp != 0 && !up.keyWelded: // bus G by the key's other contact
		gone = warden.OutFuel | warden.OutOxygen | warden.OutIgniter
	}
	if up.stoOpen && !up.stoDead {
		gone |= warden.OutSpindle
	}
	if c.cut = gone != 0 || c.runOnMs > 0; !c.cut {
		return
	}
	c.felt = *out
	c.felt.Bits &^= gone
	if gone&warden.OutPressClose != 0 {
		c.felt.Bits |= warden.OutBrake
	}
	if c.runOnMs > 0 {
		c.felt.Bits |= warden.OutFan
	}
}

// watch is the outside watchdog; a dead one keeps its relay made.
func (c *chains) watch(pulse bool, up *upsets) {
	if pulse {
		c.quietMs = 0
		c.pulsesMs = min(c.pulsesMs+1, pulseMs)
	} else {
		c.quietMs = min(c.quietMs+1, watchdogMs)
	}
	switch {
	case up.watchdogDead:
		c.made = true
	case c.quietMs == watchdogMs:
		c.made, c.pulsesMs = false, 0
	case c.pulsesMs == pulseMs:
		c.made = true
	}
}

// fan is the timer relay: a fan whose board goes runs on. After a stop in order
// the warden has kept it through its post-purge, and the minute more of a real
// relay is left out, so that a simulated day of pieces is no day of waiting.
func (c *chains) fan(asked, ran bool, up *upsets) {
	if c.runOnMs > 0 {
		c.runOnMs--
	}
	if c.fanOn && !asked && (c.restarted || !ran) {
		c.runOnMs = fanRunOnMs
	}
	if asked || up.runOnDead {
		c.runOnMs = 0
	}
	c.fanOn, c.restarted = asked, false
}

// enabled: bus A has its 24 V, the emergency stop left aside.
func (c *chains) enabled(up *upsets) bool { return c.made || up.busShort }

// busV is what a meter shows from XA to X0.
func (c *chains) busV(hands *panelInputs, up *upsets) float64 {
	stopped := hands.estop || up.off&warden.InEstopOK != 0
	if up.busShort || c.made && (!stopped || up.busBridged) {
		return supplyV
	}
	return 0
}

// overrun is the speed that the drive goes for: with a worn one the old speed for
// a while after it was to stop.
func (s *spindle) overrun(wanted float64, up *upsets) float64 {
	if wanted > 0 || s.rpm == 0 {
		s.overMs = 0
		return wanted
	}
	if s.overMs++; s.overMs <= up.overrunMs {
		return s.rpm
	}
	return wanted
}

// runsOn: the brake is to hold and grips late, and the closing press goes on.
func (p *press) runsOn(out *warden.Output, up *upsets) bool {
	if out.Bits&warden.OutBrake == 0 {
		p.brakeMs = 0
		return false
	}
	if p.brakeMs >= up.brakeLateMs || p.speedMMs <= 0 || p.touching {
		return false
	}
	p.brakeMs++
	p.travelMM = min(p.stopMM, p.travelMM+p.speedMMs*0.001)
	return true
}

// Numbers of a worn brake: slow enough not to be seen in a second, plain in a
// minute. The open end has a rest that carries the weight.
const (
	slipMMs  = 0.05
	restedMM = 1.0
)

// slip is a brake that does not hold the standing press.
func (p *press) slip(up *upsets) {
	if up.brakeSlips && p.travelMM > restedMM && p.gapMM() > 0 {
		p.travelMM += slipMMs * 0.001
	}
}

// reliefAt is the pressure at which the relief valve opens, 0 without one.
func (p *press) reliefAt(up *upsets) float64 {
	if up.reliefStuck {
		return 2 * p.reliefBar
	}
	return p.reliefBar
}
