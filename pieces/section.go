package pieces

import (
	"cmp"
	"math"
	"slices"
)

// section is the cut along the axis as it is drawn.
type section struct {
	*sheet
	p     *Piece
	s     seats
	rings []ring
	axis  float64 // x of the axis
	datum float64 // y of the datum
	px    float64 // a mm
}

// Room of the section on the sheet, px.
const (
	sectionLeft, sectionRight = 30.0, 665.0
	sectionTop, sectionBottom = 70.0, 770.0
)

// drawSection draws the cut and returns its scale.
func (s *sheet) drawSection(p *Piece) float64 {
	v := &section{sheet: s, p: p, s: p.seats, rings: p.rings()}
	low, high := p.extent(p.Figures.HeightMM)
	below, above := v.diameters(false), v.diameters(true)
	const side = 2*sideGap + 20
	top, foot := 20+levelGap*float64(len(above)), 20+levelGap*float64(len(below))
	k := scaleFor(2*p.Figures.WidestMM, high-low, sectionRight-sectionLeft-2*side, sectionBottom-sectionTop-top-foot)
	v.px = k * pxPerMM
	v.axis = (sectionLeft + sectionRight) / 2
	free := sectionBottom - sectionTop - top - foot - (high-low)*v.px
	v.datum = sectionTop + top + free/2 + high*v.px
	v.body()
	v.insets()
	v.line(thin, centre, v.at(0, high+8/v.px), v.at(0, low-8/v.px))
	for i, d := range below {
		v.diameter(d, v.y(low)+20+levelGap*float64(i))
	}
	for i, d := range above {
		v.diameter(d, v.y(high)-20-levelGap*float64(i))
	}
	lowest := v.leftHeights()
	v.rightHeights()
	v.draft(lowest)
	s.heading(point{sectionLeft, 44}, "Section along the axis, "+scaleText(k))
	note := "sizes in mm, cold, each face where it is narrowest"
	if p.Pins.Number > 0 {
		note += "; pins turned into the plane"
	}
	s.text(point{sectionLeft, 60}, left, note)
	return k
}

func (v *section) y(z float64) float64   { return v.datum - z*v.px }
func (v *section) at(r, z float64) point { return point{v.axis + r*v.px, v.y(z)} }
func (v *section) points(in ...point) []point { // of radius and height
	out := make([]point, len(in))
	for i, q := range in {
		out[i] = v.at(q.x, q.y)
	}
	return out
}

// boreAt is the radius of the exhaust bore at a height.
func (v *section) boreAt(z float64) float64 {
	t := v.p.Tubulation
	if t.OutsideMM == 0 {
		return 0
	}
	return t.BoreMM/2 + (v.s.axisTop-z)*math.Tan(v.p.DraftDeg*math.Pi/180)
}

// body draws both halves of the cut: outline, hatch and the edges behind.
func (v *section) body() {
	var outer, inner []point // radius, height
	for _, r := range v.rings {
		in := r.in
		if r.in[0]+r.in[1] == 0 {
			in = [2]float64{v.boreAt(r.z[0]), v.boreAt(r.z[1])}
		}
		outer = append(outer, point{r.out[0], r.z[0]}, point{r.out[1], r.z[1]})
		inner = append(inner, point{in[0], r.z[0]}, point{in[1], r.z[1]})
	}
	slices.Reverse(inner)
	half := slices.Concat(outer, inner)
	v.edgesBehind()
	for _, side := range []float64{-1, 1} {
		var turned []point
		for _, q := range half {
			turned = append(turned, point{side * q.x, q.y})
		}
		v.shape(v.points(turned...), glassFill)
		for i, a := range turned {
			b := turned[(i+1)%len(turned)]
			if a.x != 0 || b.x != 0 {
				v.line(thick, "", v.points(a, b)...)
			}
		}
	}
}

// edgesBehind draws the edges of recesses and of the exhaust bore's mouth that
// lie behind the cut.
func (v *section) edgesBehind() {
	mouth := false
	for _, r := range v.rings {
		switch bore := v.boreAt(r.z[0]); {
		case r.in[0] > 0:
			v.line(thin, "", v.at(-r.in[0], r.z[0]), v.at(r.in[0], r.z[0]))
			v.line(thin, "", v.at(-r.in[1], r.z[1]), v.at(r.in[1], r.z[1]))
		case bore > 0 && !mouth:
			v.line(thin, "", v.at(-bore, r.z[0]), v.at(bore, r.z[0]))
			mouth = true
		}
	}
}

// insets draws beads, pins and the exhaust tube.
func (v *section) insets() {
	p := v.p
	for _, r := range p.cutPins() {
		if p.Beads.Below {
			v.bead(r, v.s.bottom, -1)
		}
		if p.Beads.Above {
			v.bead(r, v.s.top, 1)
		}
		low, high, half := v.s.bottom-p.Pins.BelowMM, v.s.top+p.Pins.AboveMM, p.Pins.DiameterMM/2
		v.box(r-half, r+half, low, high, metalFill)
		v.line(thin, centre, v.at(r, low-6/v.px), v.at(r, high+6/v.px))
	}
	if t := p.Tubulation; t.OutsideMM > 0 {
		low, high := v.s.axisTop, v.s.axisTop+t.HeightMM
		v.box(-t.BoreMM/2, t.BoreMM/2, low, high, blankFill)
		v.box(-t.OutsideMM/2, -t.BoreMM/2, low, high, glassFill)
		v.box(t.BoreMM/2, t.OutsideMM/2, low, high, glassFill)
	}
}

// cutPins are where the section meets pins: right, and left where there is
// another one.
func (p *Piece) cutPins() []float64 {
	r := p.Pins.CircleMM / 2
	switch {
	case p.Pins.Number == 0:
		return nil
	case p.Pins.Number == 1 || r == 0:
		return []float64{r}
	}
	return []float64{-r, r}
}

func (v *section) box(r1, r2, low, high float64, fill string) {
	corners := v.points(point{r1, low}, point{r2, low}, point{r2, high}, point{r1, high})
	v.shape(corners, fill)
	v.line(thick, "", append(corners, corners[0])...)
}

// bead joins the body: no line between them.
func (v *section) bead(r, z, up float64) {
	b := v.p.Beads
	tip, base := b.DiameterMM/2, b.DiameterMM/2+b.DepthMM*math.Tan(v.p.DraftDeg*math.Pi/180)
	end, into := z+up*b.DepthMM, z-up*1.5/v.px
	v.shape(v.points(point{r - base, into}, point{r - base, z}, point{r - tip, end}, point{r + tip, end},
		point{r + base, z}, point{r + base, into}), glassFill)
	v.line(thick, "", v.points(point{r - base, z}, point{r - tip, end}, point{r + tip, end}, point{r + base, z})...)
}

// diameters lists the radii with the height that each is dimensioned from,
// smallest first.
func (v *section) diameters(upper bool) []point {
	var list []point
	add := func(r, z float64) {
		if r > 0 && !slices.ContainsFunc(list, func(q point) bool { return q.x == r }) {
			list = append(list, point{r, z})
		}
	}
	for i, s := range v.p.Steps {
		r := v.rings[i]
		if s.Upper != upper {
			continue
		}
		narrow, floor := r.z[0], r.z[1]
		if upper {
			narrow, floor = floor, narrow
		}
		add(s.RadiusMM, narrow)
		add(s.BoreMM, floor)
	}
	if upper && v.p.Tubulation.OutsideMM > 0 {
		tip := v.s.axisTop + v.p.Tubulation.HeightMM
		add(v.p.Tubulation.OutsideMM/2, tip)
		add(v.p.Tubulation.BoreMM/2, tip)
	}
	if !upper {
		add(v.p.Figures.WidestMM, v.widestZ())
	}
	slices.SortFunc(list, func(a, b point) int { return cmp.Compare(a.x, b.x) })
	return list
}

// widestZ is the height at which the body is widest.
func (v *section) widestZ() float64 {
	for _, r := range v.rings {
		for end := range 2 {
			if r.out[end] == v.p.Figures.WidestMM {
				return r.z[end]
			}
		}
	}
	return 0
}

func (v *section) diameter(d point, y float64) {
	v.across(v.axis-d.x*v.px, v.axis+d.x*v.px, v.y(d.y), y, "\u00d8"+mm(2*d.x))
}

// leftHeights dimensions the steps one above the other, and the body; it
// returns the lowest base of a text.
func (v *section) leftHeights() float64 {
	edge := v.axis - v.p.Figures.WidestMM*v.px
	var steps []height
	for i, r := range v.rings {
		steps = append(steps, height{v.y(r.z[1]), v.y(r.z[0]), v.axis - r.out[1]*v.px, v.axis - r.out[0]*v.px,
			mm(v.p.Steps[i].HeightMM)})
	}
	lowest := v.heights(edge-28, steps)
	if len(steps) > 1 {
		v.heights(edge-28-sideGap, []height{{v.y(v.p.Figures.HeightMM), v.y(0), edge - 28, edge - 28, mm(v.p.Figures.HeightMM)}})
	}
	return lowest
}

// rightHeights dimensions pins and exhaust tube.
func (v *section) rightHeights() {
	edge := v.axis + v.p.Figures.WidestMM*v.px
	pins := v.p.Pins
	pin := v.axis + (pins.CircleMM+pins.DiameterMM)/2*v.px
	var list []height
	if pins.Number > 0 && pins.AboveMM > 0 {
		list = append(list, height{v.y(v.s.top + pins.AboveMM), v.y(v.s.top), pin, edge, mm(pins.AboveMM)})
	}
	if pins.Number > 0 && pins.BelowMM > 0 {
		list = append(list, height{v.y(v.s.bottom), v.y(v.s.bottom - pins.BelowMM), edge, pin, mm(pins.BelowMM)})
	}
	v.heights(edge+28, list)
	if t := v.p.Tubulation; t.OutsideMM > 0 {
		x := edge + 28
		if len(list) > 0 {
			x += sideGap
		}
		v.heights(x, []height{{v.y(v.s.axisTop + t.HeightMM), v.y(v.s.axisTop), v.axis + t.OutsideMM/2*v.px, edge, mm(t.HeightMM)}})
	}
}

// draft points at the outer face from below the texts of the left.
func (v *section) draft(below float64) {
	r := v.rings[0]
	face := v.at(-(r.out[0]+r.out[1])/2, (r.z[0]+r.z[1])/2)
	knee := point{v.axis - v.p.Figures.WidestMM*v.px - 14, max(below+levelGap, v.y(0)+28)}
	v.line(thin, "", face, knee, point{knee.x - 8, knee.y})
	v.arrow(face, knee)
	v.text(point{knee.x - 11, knee.y + 4}, right, mm(v.p.DraftDeg)+"\u00b0 draft")
}
