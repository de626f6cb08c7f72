package rig

import (
	"strconv"
	"time"

	"pressrig/units"
	"pressrig/yamlfile"
)

func quote(s string) string {
	if len(s) > 40 {
		s = s[:40] + "..."
	}
	return strconv.Quote(s)
}

// SwitchNamed finds a digital input by its name.
func SwitchNamed(name string) (Switch, bool) {
	for _, s := range Switches {
		if s.Name == name {
			return s, true
		}
	}
	return Switch{}, false
}

func (p *Profile) burner(n yamlfile.Node) {
	m := n.Map("slide", "fixed", "stroke_flame", "park_longest", "parked_door_open")
	b := &p.Burner
	b.Fixed = m.Get("fixed").Bool()
	slide := m.Need("slide", "write driven, hand_with_switch, or none for a fixed burner")
	b.Slide = Fitted(slide.Choice(string(Driven), string(HandWithSwitch), string(NotFitted)))
	switch {
	case b.Slide == NotFitted && !b.Fixed:
		slide.Fault("no burner slide, and the burner is not fixed",
			"fit a slide with two switches, "+
				"or write fixed: true where the stroke cannot meet the burner")
	case b.Slide != NotFitted && b.Slide != "" && b.Fixed:
		slide.Fault("a fixed burner has no slide", "write slide: none, or fixed: false")
	}
	flame := m.Need("stroke_flame", "write clear, soft or off")
	b.StrokeFlame = flame.Choice("clear", "soft", "off")
	if b.StrokeFlame == "clear" && b.Fixed {
		flame.Fault("a fixed burner cannot be clear", "write soft or off")
	}
	if b.StrokeFlame == "soft" && !b.Fixed && b.Slide != "" {
		flame.Fault("stroke_flame soft is for a fixed burner", "write clear or off")
	}
	b.ParkLongest = m.Need("park_longest", "write how long a flame may burn without a cycle").
		Time(10*time.Second, time.Hour)
	b.ParkedDoorOpen = m.Need("parked_door_open", "write false unless the risk assessment "+
		"allows it").Bool()
}

func (p *Profile) spindle(n yamlfile.Node) {
	m := n.Map("fitted", "at_press", "upper_half", "max", "heat", "creep", "set_up",
		"press_low", "press_high", "run_down")
	s := &p.Spindle
	s.Fitted = Fitted(m.Need("fitted", "write driven, hand_with_switch or none").
		Choice(string(Driven), string(HandWithSwitch), string(NotFitted)))
	s.UpperHalf = m.Need("upper_half", "write synchronised, free or fixed").
		Choice("synchronised", "free", "fixed")
	at := m.Need("at_press", "write turning, stopped or indexed")
	s.AtPress = at.Choice("turning", "stopped", "indexed")
	if s.AtPress == "turning" && s.UpperHalf == "fixed" {
		at.Fault("turning glass meets a fixed upper half",
			"a twisted piece: stop or index the spindle, "+
				"or synchronise the upper half")
	}
	if s.Fitted == NotFitted {
		if s.AtPress == "turning" || s.AtPress == "indexed" {
			at.Fault("at_press "+s.AtPress+" without a spindle", "write stopped")
		}
		return
	}
	s.Max = units.RPM(m.Need("max", "write the largest speed").Quantity(units.Rotation, 1, mostRPM))
	s.Heat = units.RPM(m.Need("heat", "write the least speed that counts as turning").
		Quantity(units.Rotation, 1, max(float64(s.Max), 1)))
	s.Creep = units.RPM(m.Need("creep", "write the slow speed that keeps soft glass round").
		Quantity(units.Rotation, 0.1, max(float64(s.Max), 1)))
	if slow := m.Get("set_up"); slow.Present() {
		s.SetUp = units.RPM(slow.Quantity(units.Rotation, 0.1, mostSetUpRPM))
	}
	if n := m.Get("run_down"); n.Present() {
		s.RunDown = n.Time(leastStop, mostRunDown)
	}
	if s.AtPress == "turning" {
		s.PressLow = units.RPM(m.Need("press_low", "write the least speed of a stroke").
			Quantity(units.Rotation, 0.1, max(float64(s.Max), 1)))
		s.PressHigh = units.RPM(m.Need("press_high", "write the largest speed of a stroke").
			Quantity(units.Rotation, max(float64(s.PressLow), 0.1), max(float64(s.Max), 1)))
	}
}

func (p *Profile) press(n yamlfile.Node) {
	m := n.Map("fitted", "kind", "brake", "lift_off", "open_up_to", "heat_up_to", "end",
		"positions",
		"speed_max", "hand_speed", "force_max", "over_force", "pull_max", "contact", "weight",
		"lever", "friction", "part_after", "part_speed", "stopping", "relief", "manual_release")
	r := &p.Press
	r.Fitted = Fitted(m.Need("fitted", "write driven or hand_with_switch").
		Choice(string(Driven), string(HandWithSwitch)))
	kind := m.Need("kind", "write powered or weights")
	r.Kind = kind.Choice("powered", "weights")
	r.Brake = m.Get("brake").Bool()
	r.LiftOff = m.Get("lift_off").Bool()
	r.travel(m)
	r.limits(m)
	r.parting(m)
	r.stops(m)
	if r.Kind == "weights" {
		r.weights(m, kind)
	} else {
		for _, key := range []string{"weight", "lever", "friction"} {
			if w := m.Get(key); w.Present() {
				w.Fault(key+" on a powered press", "remove it, or write kind: weights")
			}
		}
	}
	if r.Fitted == HandWithSwitch && !r.Brake {
		m.Node().Fault("a press pulled by hand without a brake",
			"fit a brake: releasing it is the stroke's permit")
	}
}

// parting reads how the halves of a driven press part by themselves after a lost
// flame: as slowly as 2 mm/s unless said, and never faster than by hand.
func (r *Press) parting(m yamlfile.Map) {
	after, speed := m.Get("part_after"), m.Get("part_speed")
	if r.Fitted != Driven {
		for _, n := range []yamlfile.Node{after, speed} {
			if n.Present() {
				n.Fault("a press pulled by hand does not part by itself", "remove part_after and part_speed")
			}
		}
		return
	}
	r.PartAfter, r.PartSpeed = partAfter, min(r.HandSpeed, 2)
	if after.Present() {
		r.PartAfter = after.Time(100*time.Millisecond, 10*time.Second)
	}
	if speed.Present() {
		r.PartSpeed = units.MillimetrePerSecond(speed.Quantity(units.Speed, 0.1, max(float64(r.HandSpeed), 0.1)))
	}
}

func (r *Press) travel(m yamlfile.Map) {
	mm := func(n yamlfile.Node, least, most float64) units.Millimetre {
		return units.Millimetre(n.Quantity(units.Length, least, max(most, least)))
	}
	r.End = mm(m.Need("end", "write the largest travel from fully open"), 1, mostTravelMM)
	end := float64(r.End)
	if r.End == 0 {
		end = mostTravelMM // already reported; do not report all that follows from it
	}
	r.OpenUpTo = mm(m.Need("open_up_to", "write the travel up to which the press counts as open"),
		0, end)
	r.HeatUpTo = mm(m.Need("heat_up_to", "write the travel up to which heating is safe"),
		float64(r.OpenUpTo), end)
	r.Positions = map[string]units.Millimetre{}
	if n := m.Get("positions"); n.Present() {
		pairs := n.AnyMap().Pairs()
		if len(pairs) > mostPositions {
			n.Fault("too many positions", "name at most 16")
			return
		}
		for _, kv := range pairs {
			r.Positions[kv.Key.Ident(mostName)] = mm(kv.Value, 0, end)
		}
	}
}

// stops is how the press stands still, and how a person is freed from it.
func (r *Press) stops(m yamlfile.Map) {
	if n := m.Get("stopping"); n.Present() {
		r.Stopping = n.Time(leastStop, mostStopping)
	}
	if n := m.Get("relief"); n.Present() {
		r.Relief = units.Bar(n.Quantity(units.Pressure, 0.1, mostReliefBar))
	}
	if n := m.Get("manual_release"); n.Present() {
		r.ManualRelease = n.Text(mostNote)
	}
}

func (r *Press) limits(m yamlfile.Map) {
	force := func(key, right string) units.Newton {
		return units.Newton(m.Need(key, right).Quantity(units.Force, 0.1, mostForceN))
	}
	r.SpeedMax = units.MillimetrePerSecond(m.Need("speed_max", "write the largest press speed").
		Quantity(units.Speed, 0.1, mostSpeed))
	r.HandSpeed = units.MillimetrePerSecond(m.Need("hand_speed",
		"write the hold-to-run speed, at most 10 mm/s").
		Quantity(units.Speed, 0.1, mostHandSpeed))
	r.ForceMax = force("force_max", "write the largest press force")
	over := m.Need("over_force", "write the force that trips: above force_max, below what "+
		"breaks the moulds")
	r.OverForce = units.Newton(over.Quantity(units.Force, 0.1, mostForceN))
	if r.OverForce > 0 && r.OverForce <= r.ForceMax {
		over.Fault("over_force is not above force_max",
			"write more than "+units.Format(float64(r.ForceMax), units.Force))
	}
	r.PullMax = force("pull_max", "write the largest pull when opening")
	r.Contact = units.Newton(m.Need("contact", "write the force that means contact").
		Quantity(units.Force, 0.1, max(float64(r.ForceMax), 0.1)))
}

// weights: the force is a property of lever and friction, not a set-point, and
// a weight that cannot be taken off presses for ever.
func (r *Press) weights(m yamlfile.Map, kind yamlfile.Node) {
	if !r.Brake {
		kind.Fault("weights without a brake", "fit a brake (brake: true): force off means brake on")
	}
	if !r.LiftOff {
		kind.Fault("weights without lift-off", "fit a lift that takes the weight off without "+
			"power (lift_off: true)")
	}
	r.Weight = units.Kilogram(m.Need("weight", "weigh the mass on the lever").Quantity(units.Mass,
		0.01, 500))
	if t := m.Need("lever", "write the lever's ratio in percent, like 300 %"); t.Present() {
		r.Lever = t.Quantity(units.Share, 1, 10_000) / 100
	}
	r.Friction = units.Newton(m.Need("friction", "measure it with a spring "+
		"balance").Quantity(units.Force, 0, 1000))
	const gravity = 9.80665 // m/s2, standard value of ISO 80000-3
	f := float64(r.Weight)*r.Lever*gravity + float64(r.Friction)
	if r.ForceMax > 0 && f > float64(r.ForceMax) {
		m.Get("force_max").Fault("weight x lever + friction is "+units.Format(float64(int(f+0.5)),
			units.Force),
			"less weight, or a larger force_max if press and moulds bear it")
	}
}

// essentials refuses a board that does not see what the warden must see: what
// is not fitted is never assumed good.
func (p *Profile) essentials(m yamlfile.Map) {
	at := m.Get("fitted")
	if !at.Present() {
		m.Need("fitted", "list the switches and analog channels that exist")
		return
	}
	need := func(name, why string) {
		if !p.Sensors[name] {
			at.Fault(name+" is not fitted", "fit it: "+why)
		}
	}
	for _, name := range []string{"estop_ok", "door_closed", "flame", "extraction", "press_open",
		"start", "reset"} {
		need(name, "no rig with a board is run without it")
	}
	need("hold_open", "a press that stopped in mid-stroke is opened by it")
	if !p.Burner.Fixed {
		need("burner_at_blank", "both positions of the burner must be proven")
		need("burner_clear", "both positions of the burner must be proven")
	}
	if p.Thermometer.Fitted {
		need("glass", "it is the thermometer's channel")
	} else {
		need("soft", "without a thermometer the SOFT button is the permit of the stroke")
		if p.Sensors["glass"] {
			at.Fault("glass is fitted, but no thermometer is",
				"write thermometer: {fitted: true, ...}, or take glass out")
		}
	}
	if p.Spindle.Fitted != NotFitted {
		need("spindle", "a turning spindle must be seen turning")
	}
	if p.Spindle.AtPress == "indexed" {
		need("indexed", "the stroke's permit is the spindle at its index")
	}
	for _, pair := range [][2]string{{"two_hand_left", "two_hand_right"}, {"two_hand_right", "two_hand_left"}} {
		if p.Sensors[pair[0]] {
			need(pair[1], "two-hand control has two actuators")
		}
	}
	if p.Sensors["hold_turn"] {
		need("set_up", "the spindle turns by hold-to-run in set-up only")
		if p.Spindle.SetUp == 0 {
			at.Fault("hold_turn without a speed", "write spindle: {set_up: 30 rpm, ...}, or take hold_turn out")
		}
	}
	need("press_end", "over-travel must be seen by a switch of its own")
	if p.Press.Fitted == Driven {
		need("travel", "a driven press must know where it is")
		need("force", "a driven press must know how hard it presses")
	}
}
