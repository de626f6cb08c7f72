package pieces

// Room of the bead on the sheet, px.
const (
	detailLeft, detailTop = 690.0, 452.0
	detailAxis            = 880.0
	detailBase            = 120.0 // width of a bead as drawn, at most
	detailDeep            = 62.0  // and its height
	detailSlab            = 34.0  // of the body over it
)

// drawBead draws one bead with its pin, downwards whatever its face.
func (s *sheet) drawBead(p *Piece) {
	b := p.Beads
	if p.Pins.Number == 0 || b.Sides() == 0 {
		return
	}
	k := scaleFor(p.Figures.BeadBaseMM, b.DepthMM, detailBase, detailDeep)
	px := k * pxPerMM
	face := detailTop + 38 + detailSlab
	top, tip := face-detailSlab, face+b.DepthMM*px
	base, end, pin := p.Figures.BeadBaseMM/2*px, b.DiameterMM/2*px, p.Pins.DiameterMM/2*px
	slab := base + 55
	at := func(x, y float64) point { return point{detailAxis + x, y} }
	outline := []point{at(-slab, face), at(-base, face), at(-end, tip), at(end, tip), at(base, face), at(slab, face)}
	s.shape(append([]point{at(slab, top), at(-slab, top)}, outline...), glassFill)
	s.line(thick, "", outline...)
	foot := tip + 16
	wire := []point{at(-pin, top), at(pin, top), at(pin, foot), at(-pin, foot)}
	s.shape(wire, metalFill)
	s.line(thick, "", wire[0], wire[3])
	s.line(thick, "", wire[1], wire[2])
	s.line(thin, centre, at(0, top-8), at(0, foot+8))
	s.across(detailAxis-pin, detailAxis+pin, top, top-16, "\u00d8"+mm(p.Pins.DiameterMM)+" pin")
	s.across(detailAxis-end, detailAxis+end, tip, foot+18, "\u00d8"+mm(b.DiameterMM)+" hole")
	s.heights(detailAxis-base-40, []height{{face, tip, detailAxis - slab, detailAxis - end, mm(b.DepthMM)}})
	flank, knee := at((base+end)/2, (face+tip)/2), at(base+34, (face+tip)/2)
	s.line(thin, "", flank, knee)
	s.arrow(flank, knee)
	s.text(point{knee.x + 3, knee.y + 4}, left, mm(p.DraftDeg)+"\u00b0 draft")
	s.text(point{knee.x + 3, knee.y + 4 + lineGap}, left, "gap "+mm(p.GapMM()))
	s.heading(point{detailLeft, detailTop}, "Bead on "+sides(b)+", "+scaleText(k))
}

func sides(b Beads) string {
	switch {
	case b.Below && b.Above:
		return "both faces"
	case b.Above:
		return "the upper face (drawn downwards)"
	}
	return "the lower face"
}
