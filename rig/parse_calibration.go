package rig

import (
	"fmt"
	"time"

	"pressrig/units"
	"pressrig/yamlfile"
)

// A calibration corrects a good instrument a little; more than this is a wrong
// instrument, a wrong channel or swapped figures.
const (
	leastGain = 0.8
	mostGain  = 1.25
	mostShift = 0.1 // of the larger reading, at either point
)

// calibrations reads [{channel, read: [a, b], actual: [a, b], date, reference}].
func (p *Profile) calibrations(n yamlfile.Node) {
	seen := map[string]int{}
	for _, item := range n.List(len(Analogs)) {
		c, ok := p.calibration(item)
		if line, twice := seen[c.Channel]; twice && c.Channel != "" {
			item.Fault("a second calibration of "+c.Channel,
				fmt.Sprintf("keep this one or the one in line %d", line))
			continue
		}
		seen[c.Channel] = item.Line()
		if ok {
			p.Calibration = append(p.Calibration, c)
		}
	}
}

func (p *Profile) calibration(item yamlfile.Node) (c Calibration, ok bool) {
	m := item.Map("channel", "read", "actual", "date", "reference")
	name := m.Need("channel", "name the analog channel")
	c.Date = date(m.Need("date", "write the day, like 2026-11-25"))
	c.Reference = m.Need("reference", "name the instrument or fixed point and its "+
		"certificate").Text(mostNote)
	read := m.Need("read", "write what the channel showed at two points")
	actual := m.Need("actual", "write what the reference showed at the same two points")
	ch, known := ChannelNamed(name.Word())
	if name.Present() && !known {
		name.Fault("no analog channel is called "+quote(name.Word()),
			"use the name of an analog channel")
	}
	if !known {
		return c, false
	}
	c.Channel = ch.Name
	if !p.Sensors[ch.Name] {
		name.Fault(ch.Name+" is not fitted", "list it under fitted, or remove its calibration")
	}
	var r, a bool
	c.Read, r = pair(read, ch.Dim)
	c.True, a = pair(actual, ch.Dim)
	return c, r && a && c.sensible(read, actual)
}

// pair reads two quantities.
func pair(n yamlfile.Node, d units.Dimension) (v [2]float64, ok bool) {
	if !n.Present() {
		return v, false
	}
	items := n.List(2)
	if len(items) != 2 {
		if n.IsList() && len(items) < 2 {
			n.Fault("a calibration needs two points", "write two values")
		}
		return v, false
	}
	for i := range items {
		v[i] = items[i].Quantity(d, -1e5, 1e5)
	}
	return v, true
}

func (c *Calibration) sensible(read, actual yamlfile.Node) bool {
	if c.Read[0] == c.Read[1] {
		read.Fault("the two points are the same", "take them far apart, within the range that "+
			"is used")
		return false
	}
	if g := c.gain(); !(g >= leastGain && g <= mostGain) {
		actual.Fault(fmt.Sprintf("calibration changes the channel by a factor of %.3g", g),
			fmt.Sprintf("a factor from %g to %g is a correction; more is a fault of the "+
				"instrument", leastGain, mostGain))
		return false
	}
	span := max(abs(c.Read[0]), abs(c.Read[1]))
	for i := range c.Read {
		if abs(c.True[i]-c.Read[i]) > mostShift*span {
			actual.Fault(fmt.Sprintf("calibration moves point %d by %.4g", i+1,
				c.True[i]-c.Read[i]),
				"at most a tenth of the larger reading is a correction")
			return false
		}
	}
	return true
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}

// date reads a day. YAML knows no dates here, so it is text.
func date(n yamlfile.Node) string {
	s := n.Word()
	if !n.Present() {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		n.Fault("date is "+quote(s), "write the day like 2026-11-25")
		return ""
	}
	return s
}
