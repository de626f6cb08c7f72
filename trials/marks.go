package trials

import "strconv"

const (
	labelRoom  = 96.0 // px above the first panel for the names of the phases
	labelEvery = 13.0 // px between two of them at least
)

// phaseMarks draws the phases of a cycle over the whole height from top to
// bottom, and their names above, reading upwards. Names of short phases are
// spread out and led to their place.
func (p *plot) phaseMarks(c *Cycle, zeroMs int64, top, bottom float64) {
	var at []float64
	var names []string
	for _, ph := range c.Phases {
		from := float64(ph.Begin.Milliseconds()-zeroMs) / 1000
		to := float64(ph.End.Milliseconds()-zeroMs) / 1000
		if to <= p.x.low || from > p.x.high {
			continue
		}
		from = max(from, p.x.low)
		x := p.x.px(from)
		if len(at)%2 == 1 {
			p.c.rect(x, top, p.x.px(min(to, p.x.high))-x, bottom-top, "#f4f4f4")
		}
		p.c.line(x, top, x, bottom, phasePen)
		at, names = append(at, x), append(names, ph.Name)
	}
	for i, x := range spread(at, p.left+4, p.left+p.width) {
		p.c.line(at[i], top, x, top-14, axisPen)
		p.c.label(x+4, top-17, left, clipName(names[i]), textStyle{size: 11, turned: true})
	}
}

// spread moves sorted places apart to labelEvery, inside low to high.
func spread(at []float64, low, high float64) []float64 {
	out := append([]float64(nil), at...)
	floor := low
	for i := range out {
		out[i] = max(out[i], floor)
		floor = out[i] + labelEvery
	}
	ceiling := high
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = min(out[i], ceiling)
		ceiling = out[i] - labelEvery
	}
	return out
}

// clipName keeps a name inside labelRoom.
func clipName(s string) string {
	const most = 13
	r := []rune(s)
	if len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

const legendRow = 18.0 // px of a legend's row

// legend draws a sample of each cycle's line with what it was, a row each.
func (c *canvas) legend(x, y float64, cycles []Cycle) {
	for i := range cycles {
		c.line(x, y-4, x+44, y-4, styles[i%len(styles)])
		c.text(x+52, y, left, cycleTitle(&cycles[i]))
		y += legendRow
	}
}

// cycleTitle is one cycle in one line.
func cycleTitle(c *Cycle) string {
	h := Head{State: c.State, Lockout: c.Lockout}
	number := strconv.FormatUint(uint64(c.Number), 10)
	text := "cycle " + number + ": "
	if c.forecast() {
		text = "forecast: "
	}
	text += c.Recipe + ", " + stateText(&h)
	if c.Cause != 0 {
		text += ", first cause " + c.CauseText
	}
	if !c.Guarded {
		text += ", unguarded"
	}
	return text
}
