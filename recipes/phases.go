package recipes

import (
	"fmt"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/units"
	"pressrig/yamlfile"
)

// places remembers where the parts of a phase stand in the file, for checks
// that come after reading.
type places struct {
	self, name, kind, prompt, flame, place, fuel, oxygen, hold, spindle yamlfile.Node
	press, to, speed, force, ends, when, after, soft, answer, there     yamlfile.Node
	longest, late, onHold                                               yamlfile.Node
	bands                                                               []yamlfile.Node
}

// or is the first of nodes that stands in the file.
func or(nodes ...yamlfile.Node) yamlfile.Node {
	for _, n := range nodes {
		if n.Present() {
			return n
		}
	}
	return nodes[len(nodes)-1]
}

// kindNames is in the order of a normal cycle.
var kindNames = []string{
	string(Load), string(Hands), string(WarmMould), string(Light), string(Warm), string(Fire),
	string(Soak), string(Clear), string(Press), string(Set), string(Part), string(SoftFlame),
	string(FlameCool), string(Out), string(Unload),
}

func (d *reader) phases(n yamlfile.Node) {
	items := n.List(MostPhases)
	if n.IsList() && len(items) == 0 && n.Present() {
		n.Fault("no phases", "list the phases in their order")
	}
	seen := map[string]int{}
	for _, item := range items {
		ph, at := d.phase(item)
		if line, twice := seen[ph.Name]; twice && ph.Name != "" {
			at.name.Fault(fmt.Sprintf("phase %q stands twice", ph.Name),
				fmt.Sprintf("give this one or the one in line %d another name", line))
		}
		seen[ph.Name] = ph.Line
		d.r.Phases = append(d.r.Phases, ph)
		d.at = append(d.at, at)
	}
}

func (d *reader) phase(item yamlfile.Node) (Phase, places) {
	m := item.Map("phase", "kind", "prompt", "flame", "spindle", "press", "ends", "longest", "late",
		"on_hold", "bands")
	at := places{self: item,
		name:    m.Need("phase", "name the phase"),
		kind:    m.Need("kind", "write one of "+strings.Join(kindNames, ", ")),
		prompt:  m.Get("prompt"),
		spindle: m.Get("spindle"),
		longest: m.Need("longest", "write the longest the phase may take"),
		late:    m.Need("late", "write what happens then: next, hold, stop or abort"),
		onHold:  m.Get("on_hold"),
		flame:   m.Get("flame"),
		press:   m.Get("press"),
		ends:    m.Need("ends", "write how the phase ends by itself"),
	}
	ph := Phase{Line: item.Line(), Name: at.name.Ident(mostName),
		Prompt: at.prompt.Text(mostPrompt)}
	ph.Kind = Kind(at.kind.Choice(kindNames...))
	ph.Longest = at.longest.Time(10*time.Millisecond, mostPhaseTime)
	ph.Late = Late(at.late.Choice(string(LateNext), string(LateHold), string(LateStop),
		string(LateAbort)))
	ph.Flame = d.flame(&at)
	ph.SpindleRPM, ph.SpindleKeep = spindle(at.spindle)
	ph.Press = d.stroke(&at)
	ph.End = d.end(&at)
	ph.OnHold = onHold(at.onHold)
	ph.Bands = d.bands(m.Get("bands"), &at)
	return ph, at
}

// flame reads "off" or a map; an absent flame is the flame of the phase before,
// and so is an absent place.
func (d *reader) flame(at *places) Flame {
	off := Flame{At: AtClear} // the slide goes clear when nothing holds it in
	if d.profile != nil && d.profile.Burner.Fixed {
		off.At = AtBlank
	}
	before := off
	if n := len(d.r.Phases); n > 0 {
		before = d.r.Phases[n-1].Flame
	}
	switch {
	case !at.flame.Present():
		return before
	case !at.flame.IsMap():
		at.flame.Choice("off")
		return off
	}
	m := at.flame.Map("at", "fuel", "oxygen", "lit", "hold", "trim")
	at.place, at.fuel, at.oxygen, at.hold = m.Get("at"), m.Get("fuel"), m.Get("oxygen"),
		m.Get("hold")
	fl := Flame{At: before.At, Lit: true}
	if at.place.Present() {
		fl.At = Place(at.place.Choice(string(AtBlank), string(AtClear)))
	}
	if lit := m.Get("lit"); lit.Present() {
		fl.Lit = lit.Bool()
	}
	if !fl.Lit {
		for _, n := range []yamlfile.Node{at.fuel, at.oxygen, at.hold} {
			if n.Present() {
				n.Fault(n.Name()+" of a flame that is not lit", "remove it, or remove lit: false")
			}
		}
		return fl
	}
	fl.Fuel = units.LitrePerMinute(m.Need("fuel", "write the fuel flow, or lit: false").
		Quantity(units.Flow, 0.05, 30))
	fl.Oxygen = units.LitrePerMinute(at.oxygen.Quantity(units.Flow, 0, 30))
	fl.hold(m)
	return fl
}

// hold reads a glass temperature that is held by trimming the fuel.
func (fl *Flame) hold(m yamlfile.Map) {
	hold, trim := m.Get("hold"), m.Get("trim")
	fl.HasHold = hold.Present()
	fl.HoldC = units.Celsius(hold.Quantity(units.Temperature, 1, 2000))
	if fl.HasHold {
		trim = m.Need("trim", "write by how much of fuel the flame may be trimmed, like 20 %")
		fl.Trim = units.Percent(trim.Quantity(units.Share, 1, 50))
	} else if trim.Present() {
		trim.Fault("trim without hold", "write the glass temperature to hold, or remove trim")
	}
}

// spindle reads a speed or "keep"; absent is keep.
func spindle(n yamlfile.Node) (units.RPM, bool) {
	if !n.Present() || n.Word() == "keep" {
		return 0, true
	}
	return units.RPM(n.Quantity(units.Rotation, 0, 3000)), false
}

// stroke reads "stay" or a map; absent is stay.
func (d *reader) stroke(at *places) Stroke {
	if !at.press.Present() || !at.press.IsMap() {
		at.press.Choice(string(DoStay))
		return Stroke{Do: DoStay}
	}
	m := at.press.Map("do", "to", "speed", "force")
	at.to, at.speed, at.force = m.Get("to"), m.Get("speed"), m.Get("force")
	s := Stroke{Do: Do(m.Need("do", "write close, force, open or stay").
		Choice(string(DoClose), string(DoForce), string(DoOpen), string(DoStay)))}
	if d.byHand() {
		d.handStroke(&s, at)
		return s
	}
	s.To = d.position(at.to)
	s.Speed = units.MillimetrePerSecond(at.speed.Quantity(units.Speed, 0.1, 500))
	s.Force = units.Newton(at.force.Quantity(units.Force, 0.1, 3000))
	for _, key := range strokeNeeds(s.Do) {
		if d.profile != nil && d.profile.Press.Fitted == rig.Driven {
			m.Need(key, fmt.Sprintf("a driven press that is to %s needs it", s.Do))
		}
	}
	return s
}

func strokeNeeds(do Do) []string {
	switch do {
	case DoClose:
		return []string{"to", "speed", "force"}
	case DoForce:
		return []string{"to", "force"}
	case DoOpen:
		return []string{"to", "speed"}
	}
	return nil
}

// byHand reports whether a person works the press of the rig.
func (d *reader) byHand() bool {
	return d.onRig() && !d.r.Assisted && d.profile.Press.Fitted != rig.Driven
}

// handStroke fills in the limits of the rig: the request then permits what the
// operator's hand may do, and the brake is all that the warden drives.
func (d *reader) handStroke(s *Stroke, at *places) {
	for _, n := range []yamlfile.Node{at.to, at.speed, at.force} {
		if n.Present() {
			n.Fault(n.Name()+" of a press that is pulled by hand",
				"remove it: the weights give the force, the operator the speed, the end "+
					"switches the stop")
		}
	}
	p := &d.profile.Press
	switch s.Do {
	case DoClose, DoForce:
		s.To, s.Speed, s.Force = p.End, p.SpeedMax, p.ForceMax
	case DoOpen:
		s.Speed = p.SpeedMax
	}
}

// position reads a travel from open, or the name of one in the profile.
func (d *reader) position(n yamlfile.Node) units.Millimetre {
	if !n.Present() {
		return 0
	}
	word := n.Word()
	if word == "" || strings.ContainsAny(word[:1], "0123456789+-.") {
		return units.Millimetre(n.Quantity(units.Length, 0, 300))
	}
	if d.profile == nil || !d.profile.Board {
		n.Ident(mostName)
		return 0
	}
	if mm, ok := d.profile.Press.Positions[word]; ok {
		return mm
	}
	names := d.profile.PositionNames()
	right := "write a travel from open like \"58 mm\""
	if len(names) > 0 {
		right += ", or one of the profile's positions " + strings.Join(names, ", ")
	}
	n.Fault(fmt.Sprintf("no press position %q", word), right)
	return 0
}

// onHold reads "cool" or {keep_warm, for}; absent is cool.
func onHold(n yamlfile.Node) OnHold {
	if !n.Present() || !n.IsMap() {
		n.Choice("cool")
		return OnHold{}
	}
	m := n.Map("keep_warm", "for")
	return OnHold{
		KeepWarm: true,
		Fuel: units.LitrePerMinute(m.Need("keep_warm", "write the fuel of the soft flame").
			Quantity(units.Flow, 0.05, 30)),
		For: m.Need("for", "write how long, at most 120 s").Time(time.Second, mostHoldFor),
	}
}
