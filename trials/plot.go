package trials

import "math"

// ink is the colour of texts and axes; dark enough on white for anybody.
const ink = "#202020"

var (
	axisPen  = pen{colour: "#606060", width: 1}
	gridPen  = pen{colour: "#d8d8d8", width: 1}
	phasePen = pen{colour: "#808080", width: 1, dash: "2 3"}
)

// styles tell up to ten lines apart by dash and width, so that a black and
// white print reads too; the colours come on top. They are the set of Okabe
// and Ito for colour-blind readers, and black (hex values from memory), then
// two greys.
var styles = [...]pen{
	{"#000000", 1.8, ""},
	{"#d55e00", 1.8, "8 3"},
	{"#0072b2", 1.8, "2 2"},
	{"#009e73", 1.8, "10 3 2 3"},
	{"#cc79a7", 2.4, "5 5"},
	{"#e69f00", 2.4, ""},
	{"#56b4e9", 2.4, "12 4"},
	{"#8a7d00", 1.8, "10 3 2 3 2 3"},
	{"#555555", 1.2, "4 2"},
	{"#909090", 1.2, "1 3"},
}

// plot is a panel of a picture: a field with a value axis. x is shared.
type plot struct {
	c           *canvas
	x           axis
	left, width float64
	top, height float64
}

// axis maps a range of values to px.
type axis struct {
	low, high float64
	from, to  float64 // px of low and high
}

func (a axis) px(v float64) float64 {
	return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from)
}

// ticks are round values in a range, at most about want of them.
func ticks(low, high float64, want int) []float64 {
	step := niceStep((high - low) / float64(want))
	var out []float64
	first := math.Ceil(low/step - 1e-9)
	for i := first; i*step <= high+step*1e-9; i++ {
		out = append(out, i*step)
	}
	return out
}

// niceStep is the least of 1, 2, 5 times a power of ten that is no less than
// least.
func niceStep(least float64) float64 {
	if !(least > 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= least*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

// rounded widens a range that holds zero to whole steps, so that lines keep off
// the frame. Noise about zero does not open the field below it.
func rounded(low, high float64) (float64, float64) {
	if !(high > low) {
		return 0, 1
	}
	step := niceStep((high - low) / 5)
	if low > -0.02*high {
		low = 0
	}
	return math.Floor(low/step+1e-9) * step, math.Ceil(high/step+0.05) * step
}

// tickText prints a tick without more decimals than its step has.
func tickText(v, step float64) string {
	d := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	return fixed(v, d)
}

// frame draws the field, its value axis from low to high, and the title.
func (p *plot) frame(title string, low, high float64) axis {
	c := p.c
	y := axis{low, high, p.top + p.height, p.top}
	marks := ticks(low, high, 4)
	step := niceStep((high - low) / 4)
	for _, v := range marks {
		c.line(p.left, y.px(v), p.left+p.width, y.px(v), gridPen)
		c.label(p.left-6, y.px(v)+4, right, tickText(v, step), textStyle{size: 11})
	}
	c.frame(p.left, p.top, p.width, p.height, axisPen)
	c.label(p.left+2, p.top-5, left, title, textStyle{bold: true, halo: true})
	return y
}

// timeAxis draws the marks of the shared time axis below y.
func (p *plot) timeAxis(y float64, title string) {
	step := timeStep(p.x.high - p.x.low)
	for i := math.Ceil(p.x.low/step - 1e-9); i*step <= p.x.high+1e-9; i++ {
		x := p.x.px(i * step)
		p.c.line(x, y, x, y+5, axisPen)
		p.c.label(x, y+18, middle, tickText(i*step, step), textStyle{size: 11})
	}
	p.c.text(p.left+p.width/2, y+34, middle, title)
}

// timeStep divides a time of length s as people do, into some ten parts.
func timeStep(s float64) float64 {
	for _, step := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800} {
		if s/step <= 14 {
			return step
		}
	}
	return 3600 * math.Ceil(s/3600/14)
}

// flatPx is how far the samples of one column of px may lie apart and still be
// one point: less cannot be seen, and fills the gaps of a dashed line.
const flatPx = 1.5

// line draws channel ai of a trace whose moment zero is zeroMs. A column of px
// holds many samples: its first, least, greatest and last are drawn, so no
// peak is lost. The line is broken where nothing valid was sampled.
func (p *plot) line(t *Trace, ai int, zeroMs int64, y axis, look pen) {
	p.c.path(p.points(t, ai, zeroMs, y), look)
}

// column gathers the samples of one column of px.
type column struct {
	x                       float64
	any                     bool
	first, last, least, top float64
}

func (p *plot) points(t *Trace, ai int, zeroMs int64, y axis) []point {
	scale := scaleOf(ai)
	out := make([]point, 0, 2048)
	var col column
	broken, lastMs := true, int64(0)
	for i := range t.Ms {
		ms := int64(t.Ms[i])
		if !t.valid(ai, i) || (i > 0 && ms-lastMs > bridgeMs) {
			out = col.flush(out, &broken)
			broken = true
		}
		lastMs = ms
		s := float64(ms-zeroMs) / 1000
		if !t.valid(ai, i) || s < p.x.low || s > p.x.high {
			continue
		}
		x, v := math.Round(p.x.px(s)), y.px(float64(t.Analog[ai][i])*scale)
		if !col.any || x != col.x {
			out = col.flush(out, &broken)
			col = column{x: x, any: true, first: v, last: v, least: v, top: v}
			continue
		}
		col.last, col.least, col.top = v, math.Min(col.least, v), math.Max(col.top, v)
	}
	return col.flush(out, &broken)
}

// flush adds the column's points; those on one spot are one.
func (c *column) flush(out []point, broken *bool) []point {
	if !c.any {
		return out
	}
	c.any = false
	corners := []float64{c.first, c.least, c.top, c.last}
	if c.top-c.least < flatPx {
		corners = []float64{(c.top + c.least) / 2}
	}
	for _, v := range corners {
		q := point{c.x, math.Round(v*10) / 10, *broken}
		if n := len(out); !*broken && n > 0 && out[n-1].x == q.x && out[n-1].y == q.y {
			continue
		}
		*broken = false
		out = append(out, q)
	}
	return out
}

// stretch is a piece of time, in s, in which something was so.
type stretch struct {
	from, to float64
}

// stretches finds where on holds, in seconds since zeroMs.
func stretches(t *Trace, zeroMs int64, on func(i int) bool) []stretch {
	var out []stretch
	open := false
	for i := range t.Ms {
		s := float64(int64(t.Ms[i])-zeroMs) / 1000
		hole := i > 0 && t.Ms[i]-t.Ms[i-1] > bridgeMs
		if open {
			if !hole {
				out[len(out)-1].to = s
			}
			open = on(i) && !hole
		}
		if !open && on(i) {
			out = append(out, stretch{s, s})
			open = true
		}
	}
	return out
}

// bar draws stretches in a row of the field. Its filling is a tint with an
// outline in the pen's dash, so that it reads without colour.
func (p *plot) bar(top, height float64, list []stretch, look pen) {
	for _, s := range list {
		from, to := math.Max(s.from, p.x.low), math.Min(s.to, p.x.high)
		if to < from {
			continue
		}
		x := p.x.px(from)
		w := math.Max(1, p.x.px(to)-x)
		p.c.rect(x, top, w, height, "#c8c8c8")
		p.c.frame(x, top, w, height, pen{look.colour, 1.2, look.dash})
	}
}
