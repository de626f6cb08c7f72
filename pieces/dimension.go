package pieces

import (
	"cmp"
	"math"
	"slices"
	"strconv"
)

// Distances of dimension lines, px.
const (
	levelGap = 24.0 // between horizontal dimension lines
	sideGap  = 52.0 // between vertical ones, with their text
	overrun  = 4.0  // of an extension line beyond the dimension line
	standOff = 3.0  // of an extension line from the body
	lineGap  = 15.0 // least between the bases of two texts
)

// mm writes a size with two decimals at most.
func mm(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}

// across dimensions a width: a horizontal line at y between two x, with
// extension lines from fromY.
func (s *sheet) across(x1, x2, fromY, y float64, text string) {
	off, over := standOff, overrun
	if y < fromY {
		off, over = -off, -over
	}
	for _, x := range []float64{x1, x2} {
		s.line(thin, "", point{x, fromY + off}, point{x, y + over})
	}
	s.span(point{x1, y}, point{x2, y})
	if x2-x1 > widthOf(text, textSize)+24 {
		s.text(point{(x1 + x2) / 2, y + 4}, middle, text)
		return
	}
	s.line(thin, "", point{x2, y}, point{x2 + 16, y})
	s.text(point{x2 + 19, y + 4}, left, text)
}

// span draws the dimension line itself; a short one has strokes in the place of
// arrows, so that a chain of them stays readable.
func (s *sheet) span(a, b point) {
	s.line(thin, "", a, b)
	if math.Hypot(b.x-a.x, b.y-a.y) > 20 {
		s.arrow(a, b)
		s.arrow(b, a)
		return
	}
	for _, end := range []point{a, b} {
		s.line(thick, "", point{end.x - 4, end.y + 4}, point{end.x + 4, end.y - 4})
	}
}

// height is one vertical dimension: from y1 down to y2, with extension lines
// from those x.
type height struct {
	y1, y2         float64
	fromX1, fromX2 float64
	text           string
}

// heights dimensions along one vertical line at x. Texts stand on the far side
// of it and are pushed apart where they would meet; it returns the lowest base.
func (s *sheet) heights(x float64, list []height) float64 {
	slices.SortStableFunc(list, func(a, b height) int { return cmp.Compare(a.y1, b.y1) })
	bases := make([]float64, len(list))
	for i, h := range list {
		bases[i] = (h.y1+h.y2)/2 + 4
	}
	bases = apart(bases, lineGap)
	lowest := math.Inf(-1)
	for i, h := range list {
		base := bases[i]
		lowest = max(lowest, base)
		s.extend(h.fromX1, x, h.y1)
		s.extend(h.fromX2, x, h.y2)
		s.span(point{x, h.y1}, point{x, h.y2})
		if x < h.fromX1 {
			s.text(point{x - 6, base}, right, h.text)
		} else {
			s.text(point{x + 6, base}, left, h.text)
		}
	}
	return lowest
}

// apart moves rising positions as little as it takes to keep a gap between
// neighbours: those that meet stand together round their mean.
func apart(wanted []float64, gap float64) []float64 {
	type group struct {
		sum float64 // of the positions, the gaps before each taken off
		n   int
	}
	var groups []group
	for i, w := range wanted {
		g := group{w - gap*float64(i), 1}
		for n := len(groups); n > 0 && groups[n-1].sum/float64(groups[n-1].n) >= g.sum/float64(g.n); n-- {
			g.sum, g.n = g.sum+groups[n-1].sum, g.n+groups[n-1].n
			groups = groups[:n-1]
		}
		groups = append(groups, g)
	}
	var out []float64
	for _, g := range groups {
		for range g.n {
			out = append(out, g.sum/float64(g.n)+gap*float64(len(out)))
		}
	}
	return out
}

func (s *sheet) extend(from, to, y float64) {
	off, over := standOff, overrun
	if to < from {
		off, over = -off, -over
	}
	s.line(thin, "", point{from + off, y}, point{to + over, y})
}

// scales that a view may have; the largest that fits is taken.
var scales = []float64{20, 15, 10, 8, 6, 5, 4, 3, 2.5, 2, 1.5, 1, 0.75, 0.5, 0.3, 0.2, 0.1, 0.05}

func scaleFor(widthMM, heightMM, widthPx, heightPx float64) float64 {
	for _, k := range scales {
		if widthMM*k*pxPerMM <= widthPx && heightMM*k*pxPerMM <= heightPx {
			return k
		}
	}
	return scales[len(scales)-1]
}

// scaleText writes a scale as drawings do.
func scaleText(k float64) string {
	if k >= 1 {
		return mm(k) + ":1"
	}
	return "1:" + mm(1/k)
}
