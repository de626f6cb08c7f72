package heat

import (
	"fmt"
	"math"
)

// Shape is a ring that stands upright; with an inner radius of 0 it is a disc or
// rod. Metres.
type Shape struct {
	Inner, Outer, Height float64
}

const (
	leastWall = 1e-5
	mostReach = 1.0
)

func (s Shape) check() error {
	return within(span{"inner radius in m", s.Inner, 0, mostReach},
		span{"outer radius in m", s.Outer, leastWall, mostReach},
		span{"height in m", s.Height, leastWall, mostReach},
		span{"wall in m", s.Outer - s.Inner, leastWall, mostReach})
}

// Volume is in m3.
func (s Shape) Volume() float64 { return s.end() * s.Height }

func (s Shape) end() float64     { return math.Pi * (s.Outer*s.Outer - s.Inner*s.Inner) }
func (s Shape) outside() float64 { return 2 * math.Pi * s.Outer * s.Height }
func (s Shape) bore() float64    { return 2 * math.Pi * s.Inner * s.Height }

// Grid is how many cells lie across the wall and along the height. One along the
// height is the plain radial model.
type Grid struct {
	Radial, Axial int
}

const mostCells = 1000 // a side

// Ring is the temperature field of a ring, axially symmetric: finite volumes,
// one implicit step across the wall and one along the height for each step in
// time (Douglas and Gunn's splitting, which keeps the heat exactly). It is
// stable at any step; its error grows with the square of the cell and with the
// step. With curves for properties a flame's heat is counted to 0.01 % at steps
// up to 0.1 s.
type Ring struct {
	grid  Grid
	shape Shape
	glass *Material

	part    []float64 // of the volume, from the bore to each radial face
	radius  []float64 // of the cells' middles
	across  []float64 // 2 pi dz / ln(r2/r1) between neighbours
	outLink float64   // the same from the last middle to the outside
	inLink  float64   // and from the bore to the first, 0 for a disc
	area    []float64 // of a cell's upper face
	volume  []float64

	celsius []float64 // cell i of zone j at j*Radial+i, zone 0 at the foot
	rate    []float64 // K/s of each cell in the last step
	outside []float64 // surface temperatures, one a zone
	bore    []float64
	top     []float64 // one a cell across
	foot    []float64

	scratch scratch
	into    Watts
}

// Watts is the heat into the glass through each face in the last step, W.
type Watts struct {
	Outside, Bore, Top, Foot float64
}

// Total is the sum of all faces.
func (w Watts) Total() float64 { return w.Outside + w.Bore + w.Top + w.Foot }

// NewRing makes a ring that is even in temperature.
func NewRing(s Shape, g Grid, m *Material, startC float64) (*Ring, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	if err := within(span{"cells across", float64(g.Radial), 1, mostCells},
		span{"zones along the height", float64(g.Axial), 1, mostCells},
		span{"start in C", startC, -zeroK, 3000}); err != nil {
		return nil, err
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	return newRing(s, g, m, startC), nil
}

func newRing(s Shape, g Grid, m *Material, startC float64) *Ring {
	n := g.Radial * g.Axial
	r := &Ring{grid: g, glass: m,
		part: make([]float64, g.Radial+1), radius: make([]float64, g.Radial),
		across: make([]float64, g.Radial), area: make([]float64, g.Radial),
		volume: make([]float64, g.Radial), celsius: make([]float64, n),
		rate: make([]float64, n), outside: make([]float64, g.Axial), bore: make([]float64, g.Axial),
		top: make([]float64, g.Radial), foot: make([]float64, g.Radial),
		scratch: newScratch(g),
	}
	wall := s.Outer - s.Inner
	for i := range r.part { // cells of one thickness
		x := wall * float64(i) / float64(g.Radial)
		r.part[i] = x * (2*s.Inner + x) / (wall * (s.Outer + s.Inner))
	}
	r.place(s)
	r.Even(startC)
	return r
}

// place computes what follows from the shape. Each cell keeps its part of the
// volume.
func (r *Ring) place(s Shape) {
	r.shape = s
	nr := r.grid.Radial
	zone := s.Height / float64(r.grid.Axial)
	square := (s.Outer - s.Inner) * (s.Outer + s.Inner)
	face := func(i int) float64 { // distance from the bore, exact for thin walls
		x := r.part[i] * square
		return x / (s.Inner + math.Sqrt(s.Inner*s.Inner+x))
	}
	before := 0.0
	for i := range nr {
		after := face(i + 1)
		middle := (before + after) / 2
		r.radius[i] = s.Inner + middle
		r.area[i] = math.Pi * square * (r.part[i+1] - r.part[i])
		r.volume[i] = r.area[i] * zone
		if i > 0 {
			r.across[i-1] = link(r.radius[i-1], r.radius[i], zone)
		}
		before = after
	}
	r.outLink = link(r.radius[nr-1], s.Outer, zone)
	r.inLink = 0
	if s.Inner > 0 {
		r.inLink = link(s.Inner, r.radius[0], zone)
	}
}

// link is the conductance between two radii for a conductivity of 1.
func link(from, to, zone float64) float64 {
	return 2 * math.Pi * zone / math.Log1p((to-from)/from)
}

// Even makes the ring even in temperature, as a blank that was just loaded.
func (r *Ring) Even(celsius float64) {
	for _, list := range [][]float64{r.celsius, r.outside, r.bore, r.top, r.foot} {
		for i := range list {
			list[i] = celsius
		}
	}
	clear(r.rate)
	r.into = Watts{}
}

// Reshape gives the glass another height and bore, at the same volume: the wall
// gathers, or the press flattens it. Each cell keeps its glass and its
// temperature.
func (r *Ring) Reshape(inner, height float64) error {
	s := Shape{Inner: inner, Height: height}
	s.Outer = math.Sqrt(inner*inner + r.shape.Volume()/(math.Pi*height))
	if err := s.check(); err != nil {
		return fmt.Errorf("shape: %w", err)
	}
	r.place(s)
	return nil
}

// Clone is the same ring a second time, each going its own way from here.
func (r *Ring) Clone() *Ring {
	c := newRing(r.shape, r.grid, r.glass, 0)
	copy(c.part, r.part)
	c.place(r.shape)
	copy(c.celsius, r.celsius)
	copy(c.rate, r.rate)
	copy(c.outside, r.outside)
	copy(c.bore, r.bore)
	copy(c.top, r.top)
	copy(c.foot, r.foot)
	c.into = r.into
	return c
}

// Shape and Grid are what the ring has now.
func (r *Ring) Shape() Shape { return r.shape }
func (r *Ring) Grid() Grid   { return r.grid }

// Into is the heat through each face in the last step.
func (r *Ring) Into() Watts { return r.into }

// Cell is a cell's temperature: i across from the bore, j up from the foot.
func (r *Ring) Cell(i, j int) float64 { return r.celsius[j*r.grid.Radial+i] }

// OutsideC is the surface temperature of a zone, which a radiation thermometer
// sees; BoreC that of the bore.
func (r *Ring) OutsideC(j int) float64 { return r.outside[j] }
func (r *Ring) BoreC(j int) float64    { return r.bore[j] }

// TopC and FootC are the mean surface temperatures of both ends.
func (r *Ring) TopC() float64  { return r.meanEnd(r.top) }
func (r *Ring) FootC() float64 { return r.meanEnd(r.foot) }

func (r *Ring) meanEnd(list []float64) float64 {
	sum := 0.0
	for i, c := range list {
		sum += c * (r.part[i+1] - r.part[i])
	}
	return sum
}

// SkinC is the mean temperature of the outside.
func (r *Ring) SkinC() float64 {
	sum := 0.0
	for _, c := range r.outside {
		sum += c
	}
	return sum / float64(len(r.outside))
}

// MeanC is the mean temperature by volume, ZoneC that of a zone.
func (r *Ring) MeanC() float64 {
	sum := 0.0
	for j := range r.grid.Axial {
		sum += r.ZoneC(j)
	}
	return sum / float64(r.grid.Axial)
}

// ZoneC is the mean temperature of a zone by volume.
func (r *Ring) ZoneC(j int) float64 {
	return r.meanEnd(r.celsius[j*r.grid.Radial : (j+1)*r.grid.Radial])
}

// Enthalpy is the heat in the glass above that at -100 C, J.
func (r *Ring) Enthalpy() float64 {
	sum := 0.0
	for n, c := range r.celsius {
		sum += r.volume[n%r.grid.Radial] * r.glass.Capacity.integral(c)
	}
	return sum * r.glass.Density
}
