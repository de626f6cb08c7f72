package rig

import (
	"math"

	"pressrig/safety/warden"
	"pressrig/units"
	"pressrig/yamlfile"
)

// Bounds of the press encoder's step. Its count travels in 16 bits.
const (
	leastStepMM   = 0.001
	mostStepMM    = 1.0
	spareTravelMM = 5.0           // past the end, so that an over-travel is still seen
	mostCounts    = math.MaxInt16 // where the board's counter stops: an encoder that counts on would freeze in mid-travel
)

// signals reads how values look on the wires. A simulated rig has none and may
// leave the section out; then no board can be flashed for it.
func (p *Profile) signals(root yamlfile.Map) {
	n := root.Get("signals")
	if !n.Present() {
		if p.Board && !p.Simulated {
			root.Need("signals", "say what 4 and 20 mA of each transmitter and the full pulse of each "+
				"set-point mean")
		}
		return
	}
	p.Signals.Given = true
	var known []string
	for _, c := range Analogs {
		known = append(known, c.Name)
	}
	for _, s := range SetPoints {
		known = append(known, s.Name)
	}
	m := n.Map(known...)
	for _, c := range Analogs {
		switch {
		case !p.Sensors[c.Name]: // taken out for a while; its signal may stay
		case c.AI == int8(warden.AiTravel):
			p.encoder(m.Need(c.Name, "write the encoder's step, like {step: 0.01 mm}"))
		default:
			p.loop(m.Need(c.Name, "write what its 4 and 20 mA mean, like {at_4_ma: "+
				units.Example(c.Dim)+", at_20_ma: ...}"), c)
		}
	}
	for i := range SetPoints {
		p.setPoint(m, i)
	}
}

// loop reads a transmitter's range and refuses one that cannot show the
// profile's own limits: a limit that the wire cannot carry never trips.
func (p *Profile) loop(n yamlfile.Node, c Channel) {
	m := n.Map("at_4_ma", "at_20_ma")
	least, most := math.MinInt16*c.Scale, math.MaxInt16*c.Scale
	low := m.Need("at_4_ma", "write what 4 mA mean")
	high := m.Need("at_20_ma", "write what 20 mA mean")
	l := Loop{low.Quantity(c.Dim, least, most), high.Quantity(c.Dim, least, most)}
	if !low.Present() || !high.Present() {
		return
	}
	p.Signals.Loops[c.AI] = l
	if l.At20 < l.At4+float64(LoopFull-LoopZero)*c.Scale/4096 {
		high.Fault("at_20_ma is not above at_4_ma", "write the upper end of the transmitter's range; "+
			"one that works backwards does not fit this board")
		return
	}
	if !travelsAs16(l.at(LoopLeast), c.Scale) || !travelsAs16(l.at(LoopMost), c.Scale) {
		high.Fault("the range is too wide for 16 bits", "at 3.8 and 21 mA it has to stay within "+
			units.Format(least, c.Dim)+" and "+units.Format(most, c.Dim))
	}
	below, above := p.shown(c.AI)
	if l.At4 > below.value {
		low.Fault(below.name+" lies below 4 mA", "write at most "+units.Format(below.value, c.Dim)+
			", and set the transmitter to it")
	}
	if l.At20 < above.value {
		high.Fault(above.name+" lies above 20 mA", "write at least "+
			units.Format(above.value, c.Dim)+", and set the transmitter to it")
	}
	if count := (l.At20 - l.At4) / (LoopFull - LoopZero); c.AI == int8(warden.AiForce) &&
		float64(p.Press.Contact) < 2*count {
		high.Fault("one count is "+units.Format(math.Round(count*1000)/1000, c.Dim)+
			", too coarse to feel the contact force", "a range of at most "+
			units.Format(math.Floor(float64(p.Press.Contact)/2*(LoopFull-LoopZero)), c.Dim)+
			", or a larger contact force")
	}
}

// flowShown is the flow at 20 mA with which 150 % of most, where a flow trips,
// is still read: the board reads up to 21 mA.
func flowShown(most units.LitrePerMinute) float64 {
	const spare = float64(LoopMost-LoopZero) / (LoopFull - LoopZero)
	return math.Ceil(float64(most)*1.5/spare*1000) / 1000
}

// limit is one of the profile's own that a signal has to carry.
type limit struct {
	name  string
	value float64
}

// shown are the least and the largest value that input ai has to show.
func (p *Profile) shown(ai int8) (below, above limit) {
	none := limit{"", math.Inf(1)}
	zero := limit{"zero", 0}
	switch uint8(ai) {
	case warden.AiGlass:
		return limit{"the thermometer's low", float64(p.Thermometer.Low)},
			limit{"the thermometer's high", float64(p.Thermometer.High)}
	case warden.AiForce:
		return limit{"pull_max, a negative force,", -float64(p.Press.PullMax)},
			limit{"over_force", float64(p.Press.OverForce)}
	case warden.AiSpindle:
		speed := float64(p.Spindle.Max)
		return limit{"turning backwards at a tenth of the spindle's max", -speed / 10},
			limit{"the spindle's max and a tenth, the trip,", speed + speed/10}
	case warden.AiFuelFlow:
		return zero, limit{"150 % of fuel_max, at 21 mA,", flowShown(p.Gas.FuelMax)}
	case warden.AiOxygenFlow:
		return zero, limit{"150 % of oxygen_max, at 21 mA,", flowShown(p.Gas.OxygenMax)}
	}
	return none, limit{"", math.Inf(-1)}
}

// encoder reads the travel of one count and refuses one with which the end of
// the stroke does not fit its counter.
func (p *Profile) encoder(n yamlfile.Node) {
	step := n.Map("step").Need("step", "write the travel of one count; an encoder gives four a period")
	s := step.Quantity(units.Length, leastStepMM, mostStepMM)
	if s == 0 {
		return
	}
	p.Signals.Step = units.Millimetre(s)
	if end := float64(p.Press.End) + spareTravelMM; end/s > mostCounts {
		step.Fault("the press's end lies past the counter's", "write at least "+
			units.Format(math.Ceil(end/mostCounts*1e4)/1e4, units.Length))
	}
}

// setPoint reads the value of a full pulse.
func (p *Profile) setPoint(m yamlfile.Map, i int) {
	s := SetPoints[i]
	most := p.asked(i)
	if most.value == 0 {
		return
	}
	full := m.Need(s.Name, "write the "+s.Label+" at full pulse, like {full: "+units.Example(s.Dim)+"}").
		Map("full").Need("full", "write the "+s.Label+" at full pulse")
	v := full.Quantity(s.Dim, s.Scale, math.MaxUint16*s.Scale)
	if v == 0 {
		return
	}
	p.Signals.Full[i] = v
	if v < most.value {
		full.Fault(most.name+" is above the full pulse", "write at least "+
			units.Format(most.value, s.Dim)+", and set the controller outside to it")
	}
}

// asked is the largest value that is asked of set-point i, 0 of one that the
// board does not drive.
func (p *Profile) asked(i int) limit {
	larger := func(a, b limit) limit {
		if b.value > a.value {
			return b
		}
		return a
	}
	r := &p.Press
	switch driven := r.Fitted == Driven; {
	case i == SetFuel:
		return limit{"fuel_max", float64(p.Gas.FuelMax)}
	case i == SetOxygen && p.Gas.Oxygen:
		return limit{"oxygen_max", float64(p.Gas.OxygenMax)}
	case i == SetSpindle && p.Spindle.Fitted == Driven:
		return larger(limit{"the spindle's max", float64(p.Spindle.Max)},
			limit{"set_up", float64(p.Spindle.SetUp)})
	case i == SetSpeed && driven:
		return larger(limit{"speed_max", float64(r.SpeedMax)}, limit{"hand_speed", float64(r.HandSpeed)})
	case i == SetForce && driven:
		return larger(limit{"force_max", float64(r.ForceMax)}, limit{"pull_max", float64(r.PullMax)})
	}
	return limit{}
}
