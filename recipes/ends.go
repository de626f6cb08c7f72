package recipes

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
	"pressrig/yamlfile"
)

// end reads how a phase ends by itself.
func (d *reader) end(at *places) End {
	if !at.ends.Present() {
		return End{}
	}
	m := at.ends.Map("when", "for", "after", "least", "soft", "answer", "lit", "there")
	at.when, at.after, at.soft = m.Get("when"), m.Get("after"), m.Get("soft")
	at.answer, at.there = m.Get("answer"), m.Get("there")
	e := End{
		After:  at.after.Time(10*time.Millisecond, mostPhaseTime),
		Least:  m.Get("least").Time(10*time.Millisecond, mostPhaseTime),
		Soft:   at.soft.Bool(),
		Answer: at.answer.Bool(),
		Lit:    m.Get("lit").Bool(),
		There:  at.there.Bool(),
	}
	if at.when.Present() {
		hold := m.Need("for", "write how long the condition must stand, like 500 ms")
		e.When = d.condition(at.when)
		if e.When != nil {
			e.When.For = hold.Time(10*time.Millisecond, time.Minute)
		}
	} else if n := m.Get("for"); n.Present() {
		n.Fault("for without when", "write the condition under when, or remove for")
	}
	timed := at.when.Present() || at.after.Present()
	if m.Node().Present() && !timed && !e.Soft && !e.Answer && !e.Lit && !e.There {
		at.ends.Fault("the phase has no way to end",
			"write at least one of when, after, soft: true, answer: true, lit: true, there: true")
	}
	if e.Least > 0 && e.After > 0 && e.Least > e.After {
		m.Get("least").Fault("least is longer than after",
			"write less than "+units.FormatTime(e.After))
	}
	return e
}

// condition reads "channel >= quantity", "channel <= quantity", "switch on" or
// "switch off".
func (d *reader) condition(n yamlfile.Node) *Condition {
	const right = `write it like "glass >= 450 C" or "burner_clear on"`
	if n.Text(mostName*2) == "" {
		return nil
	}
	fields := strings.Fields(n.Word())
	if len(fields) == 2 {
		return d.switchCondition(n, fields)
	}
	if len(fields) < 3 || fields[1] != ">=" && fields[1] != "<=" {
		n.Fault(fmt.Sprintf("%q is no condition", n.Word()), right)
		return nil
	}
	ch, ok := d.channel(n, fields[0])
	if !ok {
		return nil
	}
	rest := strings.Join(fields[2:], " ")
	offset := strings.Index(n.Word(), fields[1]) + len(fields[1]) + 1
	v, err := units.Parse(rest, ch.Dim)
	if err != nil {
		d.unitFault(n, offset, err)
		return nil
	}
	c := &Condition{Channel: ch.Name, AI: uint8(ch.AI), AtLeast: fields[1] == ">=", Value: v}
	c.Count, ok = d.count(n, offset, ch, v)
	if !ok {
		return nil
	}
	return c
}

func (d *reader) unitFault(n yamlfile.Node, offset int, err error) {
	var u *units.Error
	if errors.As(err, &u) {
		n.FaultAt(offset, u.What, u.Right)
		return
	}
	n.FaultAt(offset, err.Error(), "write the value with its unit")
}

func (d *reader) switchCondition(n yamlfile.Node, fields []string) *Condition {
	sw, ok := rig.SwitchNamed(fields[0])
	if !ok {
		if _, analog := rig.ChannelNamed(fields[0]); analog {
			n.Fault(fmt.Sprintf("%q is no condition", n.Word()), `write it like "glass >= 450 C"`)
			return nil
		}
		n.Fault(fmt.Sprintf("no switch is called %q", fields[0]),
			"use a switch that the profile lists under fitted"+
				nearest(fields[0], switchNames()))
		return nil
	}
	if fields[1] != "on" && fields[1] != "off" {
		n.FaultAt(strings.Index(n.Word(), " ")+1, fmt.Sprintf("a switch is not %q", fields[1]),
			"write on or off")
		return nil
	}
	if d.onRig() && !d.profile.Fits(sw.Name) {
		n.Fault(sw.Name+" is not fitted on "+d.profile.Name,
			"end the phase by what is fitted, or fit it")
		return nil
	}
	return &Condition{Switch: sw.Bit, On: fields[1] == "on"}
}

// onRig reports whether checks against the channels of a rig can be made.
func (d *reader) onRig() bool { return d.profile != nil && d.profile.Board }

func (d *reader) channel(n yamlfile.Node, name string) (rig.Channel, bool) {
	ch, ok := rig.ChannelNamed(name)
	if !ok {
		n.Fault(fmt.Sprintf("no channel is called %q", name),
			"channels: "+strings.Join(channelNames(), ", ")+nearest(name, channelNames()))
		return ch, false
	}
	if d.onRig() && !d.profile.Fits(name) {
		n.Fault(name+" is not fitted on "+d.profile.Name,
			"end the phase by what is fitted, or fit it")
		return ch, false
	}
	return ch, true
}

// count turns a value into counts of its channel and keeps it inside what the
// channel can show on this rig.
func (d *reader) count(n yamlfile.Node, offset int, ch rig.Channel, v float64) (int16, bool) {
	if low, high, ok := d.channelRange(uint8(ch.AI)); ok && (v < low || v > high) {
		n.FaultAt(offset, fmt.Sprintf("%s is outside what %s can show", units.Format(v, ch.Dim),
			ch.Name),
			fmt.Sprintf("write %s to %s", units.Format(low, ch.Dim), units.Format(high, ch.Dim)))
		return 0, false
	}
	var err error
	var count int16
	if d.profile != nil {
		count, err = d.profile.CountFor(uint8(ch.AI), v)
	} else {
		count, err = (&rig.Profile{}).CountFor(uint8(ch.AI), v)
	}
	if err != nil {
		n.FaultAt(offset, fmt.Sprintf("%s does not fit channel %s", units.Format(v, ch.Dim),
			ch.Name),
			fmt.Sprintf("write %s to %s", units.Format(math.MinInt16*ch.Scale, ch.Dim),
				units.Format(math.MaxInt16*ch.Scale, ch.Dim)))
		return 0, false
	}
	return count, true
}

// channelRange is what a channel can honestly show on the rig, base unit.
func (d *reader) channelRange(ai uint8) (low, high float64, ok bool) {
	if !d.onRig() {
		return 0, 0, false
	}
	p := d.profile
	switch ai {
	case warden.AiGlass:
		return float64(p.Thermometer.Low), float64(p.Thermometer.High), true
	case warden.AiMouldLower, warden.AiMouldUpper:
		return 0, mostMouldC, true
	case warden.AiTravel:
		return 0, float64(p.Press.End), true
	case warden.AiForce:
		return -float64(p.Press.PullMax), float64(p.Press.ForceMax), true
	case warden.AiSpindle:
		return 0, float64(p.Spindle.Max), true
	case warden.AiFuelFlow:
		return 0, float64(p.Gas.FuelMax), true
	case warden.AiOxygenFlow:
		return 0, float64(p.Gas.OxygenMax), true
	}
	return 0, 16, true // bar; no workshop regulator gives more
}

// bands reads [{channel, from, to, grace, fault}].
func (d *reader) bands(n yamlfile.Node, at *places) []Band {
	var bands []Band
	for _, item := range n.List(mostBands) {
		if b, ok := d.band(item); ok {
			bands = append(bands, b)
			at.bands = append(at.bands, item)
		}
	}
	return bands
}

func (d *reader) band(item yamlfile.Node) (b Band, ok bool) {
	m := item.Map("channel", "from", "to", "grace", "fault")
	name := m.Need("channel", "name the channel")
	from := m.Need("from", "write the lower end")
	to := m.Need("to", "write the upper end")
	b.Grace = m.Need("grace", "write how long the channel may be outside, like 2 "+
		"s").Time(10*time.Millisecond, time.Minute)
	b.Fault = Late(m.Need("fault", "write hold, stop or abort").
		Choice(string(LateHold), string(LateStop), string(LateAbort)))
	if !name.Present() || name.Word() == "" {
		return b, false
	}
	ch, known := d.channel(name, name.Word())
	if !known {
		return b, false
	}
	b.Channel, b.AI = ch.Name, uint8(ch.AI)
	low, high := math.MinInt16*ch.Scale, math.MaxInt16*ch.Scale
	if l, h, ok := d.channelRange(b.AI); ok {
		low, high = l, h
	}
	b.Low = from.Quantity(ch.Dim, low, high)
	b.High = to.Quantity(ch.Dim, low, high)
	if b.High <= b.Low && from.Present() && to.Present() && d.f.Err() == nil {
		to.Fault("to is not above from", "write the upper end of the band")
		return b, false
	}
	var l, h bool
	b.LowCount, l = d.count(from, 0, ch, b.Low)
	b.HighCount, h = d.count(to, 0, ch, b.High)
	return b, l && h
}

func channelNames() []string {
	var names []string
	for _, c := range rig.Analogs {
		names = append(names, c.Name)
	}
	return names
}

func switchNames() []string {
	var names []string
	for _, s := range rig.Switches {
		names = append(names, s.Name)
	}
	return names
}

func nearest(s string, list []string) string {
	if w := yamlfile.Near(s, list); w != "" {
		return " (did you mean " + w + "?)"
	}
	return ""
}
