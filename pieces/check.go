package pieces

import (
	"fmt"
	"math"
	"strings"

	"pressrig/glass/blank"
	"pressrig/glass/seal"
)

// Habits of the trade, common practice, no source. Time to fill a bead hole
// grows with the square of depth over gap.
const (
	mostSlender = 2.5 // depth over gap
	leastGapMM  = 0.3 // between pin and hole
	leastLandMM = 0.3 // of mould between two holes
)

// seats is where pins and tube stand in the body.
type seats struct {
	bottom, top       float64 // faces at the pin circle
	axisTop           float64 // face that the tube stands on
	atAxis            float64 // glass under it
	apart, edge, tube float64 // clear glass round a bead, or a pin without one
}

// finding is what is wrong with a key of a file, told by its path, or doubtful.
type finding struct {
	at, what, right string
	doubt           bool
}

// checker collects the faults of a piece.
type checker struct {
	p     *Piece
	rings []ring
	seats seats
	list  []finding
	wrong bool // a finding is more than a doubt
}

func (c *checker) fault(at, right, format string, args ...any) {
	c.list = append(c.list, finding{at, fmt.Sprintf(format, args...), right, false})
	c.wrong = true
}

func (c *checker) warn(at, right, format string, args ...any) {
	c.list = append(c.list, finding{at, fmt.Sprintf(format, args...), right, true})
}

// check finds what cannot be pressed. Pins and tube are looked at only in a
// body that stands.
func (p *Piece) check() []finding {
	c := &checker{p: p}
	c.leaves()
	c.rings = p.rings()
	if !c.wrong {
		c.body()
	}
	if !c.wrong {
		c.tubulation()
		c.pins()
	}
	if !c.wrong {
		if thin, _ := p.sections(c.rings); 2*p.EdgeMM > thin {
			c.fault("edge", fmt.Sprintf("give at most %.4g mm", thin/2),
				"an edge radius of %g mm does not go twice into the thinnest section of %.4g mm", p.EdgeMM, thin)
		}
	}
	p.seats = c.seats
	return c.list
}

func (c *checker) leaves() {
	height := 0.0
	for _, s := range c.p.Steps {
		height += s.HeightMM
	}
	warning, err := blank.Leaves("piece", c.p.DraftDeg, height)
	if err != nil {
		what, right, _ := strings.Cut(err.Error(), "; ")
		c.fault("draft", right, "%s", what)
	}
	if what, right, doubt := strings.Cut(warning, "; "); doubt {
		c.warn("draft", right, "%s", what)
	}
}

// body checks that halves part, that steps hang together and are no undercut.
func (c *checker) body() {
	for i, s := range c.p.Steps {
		at, r := fmt.Sprintf("steps.%d", i), c.rings[i]
		if wall := min(r.out[0]-r.in[0], r.out[1]-r.in[1]); s.BoreMM > 0 && wall <= 0 {
			c.fault(at, "give a smaller bore or a larger radius",
				"this step has no glass: its bore reaches its outside, %.4g mm at the narrowest", wall)
			return
		}
		if i == 0 {
			continue
		}
		before := c.p.Steps[i-1]
		if before.Upper && !s.Upper {
			c.fault(at, "list the steps of the lower half first", "a step of the lower half lies over one of the upper half")
			return
		}
		c.undercut(at, before, s, c.rings[i-1], r)
		if width, _ := neckOf(c.rings[i-1], r); width <= 0 {
			c.fault(at, "let the two share some width of glass", "this step does not touch the one below it")
		}
	}
}

func (c *checker) undercut(at string, before, s Step, low, high ring) {
	const locks = "the piece cannot leave the mould: "
	switch {
	case before.Upper != s.Upper:
		return
	case !s.Upper && high.out[0] < low.out[1]:
		c.fault(at, fmt.Sprintf("give a radius of at least %.4g mm, or let the upper half form it", low.out[1]),
			locks+"a step of %.4g mm over one that has widened to %.4g mm is undercut in the lower half",
			high.out[0], low.out[1])
	case s.Upper && high.out[0] > low.out[1]:
		c.fault(at, fmt.Sprintf("give a radius of at most %.4g mm, or let the lower half form it",
			s.RadiusMM-(high.out[0]-low.out[1])),
			locks+"a step that widens to %.4g mm over one of %.4g mm is undercut in the upper half",
			high.out[0], low.out[1])
	}
	switch {
	case !s.Upper && high.in[0] > low.in[1]:
		c.fault(at, "give recesses of the lower half that narrow upwards",
			locks+"a recess of %.4g mm over one of %.4g mm is undercut in the lower half", high.in[0], low.in[1])
	case s.Upper && high.in[0] < low.in[1]:
		c.fault(at, fmt.Sprintf("give a bore of at least %.4g mm", low.in[1]),
			locks+"a recess of %.4g mm over one of %.4g mm is undercut in the upper half", high.in[0], low.in[1])
	}
}

func (c *checker) tubulation() {
	t, s := c.p.Tubulation, &c.seats
	if t.OutsideMM == 0 {
		return
	}
	top, stands := flatUnder(c.rings, true, 0, t.OutsideMM/2)
	if !stands {
		c.fault("tubulation.outside", "give a tube that stands wholly on one level face on the axis",
			"a tube of %g mm outside does not stand on a level face", t.OutsideMM)
		return
	}
	s.axisTop, s.atAxis = top.z, c.p.sectionAt(0)
	wide := t.BoreMM/2 + s.atAxis*math.Tan(c.p.DraftDeg*math.Pi/180)
	if _, level := flatUnder(c.rings, false, 0, wide); !level {
		c.fault("tubulation.bore", "give a smaller bore or a wider face under it",
			"the bore leaves the body %.4g mm wide, which is no level face", 2*wide)
	}
}

// pins checks pins and beads, and finds where they stand.
func (c *checker) pins() {
	p, s := c.p, &c.seats
	if p.Pins.Number == 0 {
		return
	}
	c.wire()
	around := p.Pins.DiameterMM / 2
	name := "pin"
	if p.Beads.Sides() > 0 {
		c.pocket()
		around = p.Beads.DiameterMM/2 + p.Beads.DepthMM*math.Tan(p.DraftDeg*math.Pi/180)
		name = "bead"
	}
	onAxis := p.Pins.CircleMM == 0
	from, to := p.Pins.CircleMM/2-around, p.Pins.CircleMM/2+around
	if onAxis {
		from = 0
	}
	if !onAxis && from <= 0 {
		c.fault("pins.circle", fmt.Sprintf("give a circle over %.4g mm", 2*around),
			"a %s of %.4g mm on a circle of %g mm reaches the axis", name, 2*around, p.Pins.CircleMM)
		return
	}
	low, lowOK := flatUnder(c.rings, false, from, to)
	top, topOK := flatUnder(c.rings, true, from, to)
	if !lowOK || !topOK {
		face := "lower"
		if lowOK {
			face = "upper"
		}
		c.fault("pins.circle", "move the circle, or make pin and bead smaller",
			"a %s of %.4g mm on a circle of %g mm does not stand on a level part of the %s face: it crosses an edge "+
				"or lies outside", name, 2*around, p.Pins.CircleMM, face)
		return
	}
	s.bottom, s.top = low.z, top.z
	s.edge = math.Min(low.to, top.to) - to
	if inner := max(low.from, top.from); inner > 0 {
		s.edge = min(s.edge, from-inner)
	}
	c.neighbours(name, around, from)
	if d := p.Beads.DepthMM; p.Beads.Sides() > 0 && d > s.top-s.bottom {
		c.fault("beads.depth", fmt.Sprintf("give at most %.4g mm", s.top-s.bottom),
			"a bead hole of %g mm is deeper than the glass over it, %.4g mm", d, s.top-s.bottom)
	}
}

// neighbours checks what stands beside a pin.
func (c *checker) neighbours(name string, around, from float64) {
	p, s := c.p, &c.seats
	if p.Pins.Number > 1 {
		pitch := p.Pins.CircleMM * math.Sin(math.Pi/float64(p.Pins.Places))
		s.apart = pitch - 2*around
		larger := fmt.Sprintf("give a circle over %.4g mm, fewer places or a smaller %s",
			2*around/math.Sin(math.Pi/float64(p.Pins.Places)), name)
		switch {
		case pitch <= p.Pins.DiameterMM:
			c.fault("pins.circle", larger, "pins of %g mm overlap: they stand %.4g mm apart", p.Pins.DiameterMM, pitch)
		case s.apart <= 0:
			c.fault("beads.diameter", larger, "beads touch: they are %.4g mm wide and stand %.4g mm apart", 2*around, pitch)
		case s.apart < leastLandMM:
			c.warn("pins.circle", larger, "the mould has only %.2g mm between two %s holes", s.apart, name)
		}
	}
	t := p.Tubulation
	if t.OutsideMM == 0 {
		return
	}
	if p.Pins.CircleMM == 0 {
		c.fault("pins.circle", "give a circle round the tube", "a pin on the axis stands in the exhaust tube")
		return
	}
	wide := max(t.OutsideMM/2, t.BoreMM/2+s.atAxis*math.Tan(p.DraftDeg*math.Pi/180))
	if s.tube = from - wide; s.tube <= 0 {
		c.fault("pins.circle", fmt.Sprintf("give a circle over %.4g mm or a thinner tube", 2*(wide+around)),
			"a %s of %.4g mm on a circle of %g mm runs into the exhaust tube, whose tube or bore is %.4g mm wide",
			name, 2*around, p.Pins.CircleMM, 2*wide)
	}
}

// wire checks the pin itself.
func (c *checker) wire() {
	a, err := seal.Named(c.p.Pins.Alloy)
	if err != nil {
		return // the reader has told
	}
	d := c.p.Pins.DiameterMM
	right := fmt.Sprintf("give a thinner pin, usual is up to %g mm, or another alloy", a.WarnMM)
	switch {
	case a.MostMM > 0 && d > a.MostMM:
		c.fault("pins.diameter", right, "%s of %g mm does not hold in glass: %g mm is the thickest", a.Name, d, a.MostMM)
	case a.WarnMM > 0 && d > a.WarnMM:
		c.warn("pins.diameter", right, "%s of %g mm is thick for it", a.Name, d)
	}
}

// pocket checks the hole that glass has to fill.
func (c *checker) pocket() {
	b, gap := c.p.Beads, c.p.GapMM()
	switch {
	case gap <= 0:
		c.fault("beads.diameter", fmt.Sprintf("give a hole over %g mm", c.p.Pins.DiameterMM),
			"a bead hole of %g mm leaves no gap round a pin of %g mm", b.DiameterMM, c.p.Pins.DiameterMM)
		return
	case gap < leastGapMM:
		c.warn("beads.diameter", fmt.Sprintf("give a hole of %.4g mm or more", c.p.Pins.DiameterMM+2*leastGapMM),
			"the gap round a pin is %.2g mm, and glass freezes in it before it fills", gap)
	}
	if b.DepthMM > mostSlender*gap {
		c.warn("beads.depth", fmt.Sprintf("give a depth of at most %.2g mm or a wider hole", mostSlender*gap),
			"bead holes are %.2g times as deep as their gap is wide, and the time to fill them grows with the square of it",
			b.DepthMM/gap)
	}
	if b.Below && b.DepthMM > c.p.Pins.BelowMM || b.Above && b.DepthMM > c.p.Pins.AboveMM {
		c.fault("beads.depth", "give longer pins or shallower beads",
			"a bead of %g mm is longer than the pin that it stands round", b.DepthMM)
	}
}
