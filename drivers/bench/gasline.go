package bench

// Numbers of the gas lines, invented: what a proof of the valve seats needs.
const (
	lineMl    = 200.0  // from the cock at the supply to the first valve
	betweenMl = 20.0   // between the two fuel valves
	testMl    = 5000.0 // what the test cock lets out at the usual pressure
	airBar    = 1.01325
)

// gasLine is the pipe from the cock at the supply to the valves. With the cock
// open it has the supply's pressure; with the cock shut it has what is trapped,
// and loses what flows out. Flow past a leaking seat is taken as proportional
// to the pressure across it. Pressures are shares of the usual one, flows
// mL/min at 1.013 bar.
type gasLine struct {
	cockShut bool
	share    float64
	usualBar float64
}

func (l *gasLine) step(supply, outMl float64) {
	if !l.cockShut {
		l.share = supply
		return
	}
	l.share = drained(l.share, outMl, lineMl, l.usualBar)
}

// drained is the share of pressure left after a millisecond of flow out of a
// volume; a flow below zero fills it.
func drained(share, outMl, volumeMl, usualBar float64) float64 {
	const msPerMin = 60_000
	return max(0, share-outMl/msPerMin/volumeMl*airBar/usualBar)
}

// seats is the fuel between and behind the two valves: what leaks past seats
// that should be tight.
type seats struct {
	between  float64 // pressure between the valves, share of the usual
	testOpen bool    // the test cock between the valves leads to the open air
}

// step returns what leaves the line, and what of it or of the fuel between the
// valves arrives at the burner while they are not both open.
func (s *seats) step(line float64, g *gas, up *upsets) (outMl, burnerMl float64) {
	first, second := 1000*up.fuel1Leak*(line-s.between), 1000*up.fuel2Leak*s.between
	switch {
	case g.fuel1.open && s.testOpen:
		s.between = line
		return second + testMl*line, second
	case g.fuel1.open:
		s.between = line
		return second, second
	case s.testOpen, g.fuel2.open:
		s.between = 0
		if s.testOpen {
			return first, 0
		}
		return first, first
	}
	s.between = drained(s.between, second-first, betweenMl, fuelBar)
	return first, second
}

// stepLines brings the pressures on the way to the burner up to date.
func (g *gas) stepLines(up *upsets) {
	outMl, seepMl := g.seats.step(g.fuelLine.share, g, up)
	if g.fuel1.open && g.fuel2.open {
		outMl, seepMl = g.fuelMl, 0
	}
	g.seepMl = seepMl
	g.fuelLine.step(up.fuelPressure, outMl)
	oxygenMl := g.oxygenMl
	if !g.oxygen.open {
		oxygenMl = 1000 * up.oxygenLeak * g.oxygenLine.share
	}
	g.oxygenLine.step(up.oxygenPressure, oxygenMl)
}

// byHand is a switch that a person holds with a finger, whatever the machine
// does; a stuck switch stays stuck.
func byHand(u *upsets, f *Fault) {
	if f.On {
		u.handOn |= switchBit(f.Target)
	} else {
		u.handOff |= switchBit(f.Target)
	}
}
