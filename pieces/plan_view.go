package pieces

import (
	"fmt"
	"math"
	"strconv"
)

// Room of the plan view on the sheet, px.
const (
	planLeft, planRight = 690.0, 1100.0
	planTop, planBottom = 56.0, 430.0
	planRoom            = 46.0 // round the piece, for numbers and leaders
)

// planView is the piece as seen from above.
type planView struct {
	*sheet
	p      *Piece
	centre point
	px     float64
}

// drawPlan draws the view from above and returns its scale.
func (s *sheet) drawPlan(p *Piece) float64 {
	widest := p.Figures.WidestMM
	k := scaleFor(2*widest, 2*widest, planRight-planLeft-2*planRoom, planBottom-planTop-2*planRoom)
	v := &planView{s, p, point{(planLeft + planRight) / 2, (planTop + planBottom) / 2}, k * pxPerMM}
	v.outlines()
	reach := widest*v.px + 6
	c := v.centre
	s.line(thin, centre, point{c.x - reach, c.y}, point{c.x + reach, c.y})
	s.line(thin, centre, point{c.x, c.y - reach}, point{c.x, c.y + reach})
	v.pins()
	s.heading(point{planLeft, 44}, "Seen from above, "+scaleText(k))
	return k
}

func (v *planView) ring(radiusMM, width float64, fill string) {
	v.circle(v.centre, radiusMM*v.px, width, "", fill)
}

// outlines draws what an eye above the piece sees of the body and the tube.
func (v *planView) outlines() {
	v.ring(v.p.Figures.WidestMM, thick, blankFill)
	for _, f := range flats(v.p.rings(), true) {
		if f.to < v.p.Figures.WidestMM {
			v.ring(f.to, thin, "none")
		}
		if f.from > 0 {
			v.ring(f.from, thin, "none")
		}
	}
	if t := v.p.Tubulation; t.OutsideMM > 0 {
		v.ring(t.OutsideMM/2, thick, glassFill)
		v.ring(t.BoreMM/2, thick, blankFill)
	}
}

// place is where the n-th pin stands: the first at twelve o'clock, the others
// clockwise.
func (v *planView) place(n, radiusMM float64) point {
	a := 2 * math.Pi * n / float64(max(v.p.Pins.Places, 1))
	return point{v.centre.x + radiusMM*v.px*math.Sin(a), v.centre.y - radiusMM*v.px*math.Cos(a)}
}

func (v *planView) pins() {
	p := v.p.Pins
	if p.Number == 0 {
		return
	}
	radius := p.CircleMM / 2
	if radius > 0 {
		v.circle(v.centre, radius*v.px, thin, centre, "none")
		v.circleLeader(radius)
	}
	for n := range p.Places {
		c := v.place(float64(n), radius)
		if n >= p.Number {
			v.circle(c, max(p.DiameterMM/2*v.px, 3), thin, "2 2", blankFill)
			continue
		}
		if v.p.Beads.Above {
			v.circle(c, v.p.Figures.BeadBaseMM/2*v.px, thin, "", blankFill)
			v.circle(c, v.p.Beads.DiameterMM/2*v.px, thin, "", blankFill)
		}
		v.circle(c, p.DiameterMM/2*v.px, thick, "", metalFill)
		if radius > 0 {
			q := v.place(float64(n), v.p.Figures.WidestMM+15/v.px)
			v.text(point{q.x, q.y + 4}, middle, strconv.Itoa(n+1))
		}
	}
}

// circleLeader writes the pin circle's diameter below the piece, from where no
// number is in the way.
func (v *planView) circleLeader(radius float64) {
	places, n, clear := float64(v.p.Pins.Places), 0.0, -1.0
	for degrees := 136.0; degrees <= 165; degrees++ {
		at := degrees / 360 * places
		if away := math.Abs(at - math.Round(at)); away > clear {
			n, clear = at, away
		}
	}
	from := v.place(n, radius)
	foot := planBottom - 6
	knee := point{v.centre.x + (from.x-v.centre.x)*(foot-v.centre.y)/(from.y-v.centre.y), foot}
	v.line(thin, "", from, knee)
	v.arrow(from, knee)
	text := fmt.Sprintf("pin circle \u00d8%s", mm(v.p.Pins.CircleMM))
	if knee.x+3+widthOf(text, textSize) > planRight {
		v.text(point{knee.x, foot + 13}, right, text)
		return
	}
	v.text(point{knee.x + 3, foot + 4}, left, text)
}
