package bench

import (
	"math"

	"pressrig/safety/warden"
)

// Numbers of the gas side.
const (
	valveMs       = 150  // opening and closing of a solenoid valve [common practice, no source]
	flowTauS      = 0.08 // flow controller and the gas left in the hose
	leakMl        = 300  // what a valve stuck open lets through when no flow is asked
	sensorMs      = 120  // flame sensor's delay, both ways
	igniteLeastMs = 300
	igniteMostMs  = 800
	blowOff       = 12.0 // oxygen to fuel, by volume, beyond which the flame lifts off
	// 1 L/min of propane at 0 C: lower heating value 91.16 MJ/m3, from heats of
	// formation (CO2, H2O: published tables; C3H8 -104.68 kJ/mol from memory).
	propaneKW = 1.519
	windowMs  = 30000 // the window of invariant 3

	// Below it no flame stands at the burner, and nothing worth counting leaves
	// it. 20 mL/min of propane are 30 W, 1.5 W at each of some twenty small
	// ports; a laminar diffusion flame at a small port goes out at about 1 W
	// [from memory]. It lies below the least that a recipe may ask, 50 mL/min,
	// trimmed by half: a flow controller and a sensor that still work there are
	// this bench's, a real rig has to show them.
	leastBurnMl = 20
)

// valve follows its command after valveMs.
type valve struct {
	open  bool
	since uint16
}

func (v *valve) step(command, stuckOpen bool) {
	if stuckOpen {
		v.open = true
		v.since = 0
		return
	}
	if command == v.open {
		v.since = 0
		return
	}
	v.since++
	if v.since >= valveMs {
		v.open = command
		v.since = 0
	}
}

// gas is burner, valves, hoses and flame sensor. The flame exists exactly if
// fuel flows and it was lit, or still burns and nothing blew it out.
type gas struct {
	fuel1, fuel2, oxygen valve
	fuelMl, oxygenMl     float64 // leaving the burner
	fuelLine, oxygenLine gasLine
	seats                seats
	seepMl               float64 // past the seats of shut fuel valves
	burnerCockShut       bool    // the cock at the burner itself
	lit                  bool
	igniteMs, needMs     uint16
	seen                 bool // what the flame sensor says
	seenMs               uint16

	unburntMs uint64 // all fuel-without-flame time
	window    [windowMs]bool
	at        int
	inWindow  uint32 // unburnt ms in the last 30 s
	worst     uint32 // most of it so far
}

func (g *gas) step(out *warden.Output, up *upsets, rnd *chance) {
	g.fuel1.step(out.Bits&warden.OutFuel1 != 0, up.fuel1Open)
	g.fuel2.step(out.Bits&warden.OutFuel2 != 0, up.fuel2Open)
	g.oxygen.step(out.Bits&warden.OutOxygen != 0, up.oxygenOpen)
	g.stepLines(up)
	g.fuelMl = follow(g.fuelMl, g.fuelWanted(out, up), 0.001/flowTauS)
	g.oxygenMl = follow(g.oxygenMl, g.oxygenWanted(out, up), 0.001/flowTauS)
	g.burn(out, up, rnd)
	g.sense()
	g.count()
}

// follow is one step of a first-order lag that arrives in the end.
func follow(v, wanted, share float64) float64 {
	if math.Abs(wanted-v) < 1e-6 {
		return wanted
	}
	return v + (wanted-v)*share
}

func (g *gas) fuelWanted(out *warden.Output, up *upsets) float64 {
	switch {
	case g.burnerCockShut:
		return 0
	case !g.fuel1.open || !g.fuel2.open:
		return g.seepMl
	}
	flow := up.fuelFlow.gives(float64(out.FuelMl))
	if forced(up.fuel1Open, out, warden.OutFuel1) || forced(up.fuel2Open, out, warden.OutFuel2) {
		flow = max(flow, leakMl)
	}
	return flow * g.fuelLine.share
}

// forced: a valve stands open that nobody asks to be open. One that is asked
// to be open lets through what its flow controller is asked for.
func forced(stuck bool, out *warden.Output, valve uint16) bool {
	return stuck && out.Bits&valve == 0
}

func (g *gas) oxygenWanted(out *warden.Output, up *upsets) float64 {
	if !g.oxygen.open {
		return 0
	}
	flow := up.oxygenFlow.gives(float64(out.OxygenMl))
	if forced(up.oxygenOpen, out, warden.OutOxygen) {
		flow = max(flow, leakMl)
	}
	return flow * g.oxygenLine.share
}

func (g *gas) burn(out *warden.Output, up *upsets, rnd *chance) {
	can := g.fuelMl >= leastBurnMl && !up.flameOut && g.oxygenMl <= blowOff*g.fuelMl
	if !can {
		g.lit = false
	}
	if g.lit || !can || up.igniterDead || out.Bits&warden.OutIgniter == 0 {
		g.igniteMs = 0
		return
	}
	if g.igniteMs == 0 {
		g.needMs = igniteLeastMs + uint16(rnd.share()*(igniteMostMs-igniteLeastMs))
	}
	g.igniteMs++
	g.lit = g.igniteMs >= g.needMs
}

func (g *gas) sense() {
	if g.seen == g.lit {
		g.seenMs = 0
		return
	}
	g.seenMs++
	if g.seenMs >= sensorMs {
		g.seen = g.lit
		g.seenMs = 0
	}
}

// count keeps the true unburnt time, exactly, in every window of 30 s.
func (g *gas) count() {
	unburnt := g.fuelMl >= leastBurnMl && !g.lit
	if g.window[g.at] {
		g.inWindow--
	}
	g.window[g.at] = unburnt
	if unburnt {
		g.inWindow++
		g.unburntMs++
		g.worst = max(g.worst, g.inWindow)
	}
	g.at++
	if g.at == windowMs {
		g.at = 0
	}
}

// powerKW is the heat that the flame sets free.
func (g *gas) powerKW() float64 {
	if !g.lit {
		return 0
	}
	return g.fuelMl / 1000 * propaneKW
}
