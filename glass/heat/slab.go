package heat

import "math"

// Slab is the temperature across a plate of glass between two faces: nodes from
// its lower face to its upper one, implicit, heat kept exactly for a constant
// capacity. It serves what is thin against its width: a pressed disc, a wall.
type Slab struct {
	glass        *Material
	thick        float64 // m
	celsius      []float64
	pull, link   []float64 // of the tridiagonal system
	lower, upper float64   // heat flux into the glass of the last step, W/m2
}

// NewSlab is an even plate of a thickness in m with that many nodes.
func NewSlab(glass *Material, thickM, celsius float64, nodes int) (*Slab, error) {
	if err := glass.check(); err != nil {
		return nil, err
	}
	if err := within(ofLength("thickness in m", thickM), ofCelsius("start in C", celsius),
		span{"number of nodes", float64(nodes), 3, 1000}); err != nil {
		return nil, err
	}
	s := &Slab{glass: glass, thick: thickM, celsius: make([]float64, nodes),
		pull: make([]float64, nodes), link: make([]float64, nodes)}
	for i := range s.celsius {
		s.celsius[i] = celsius
	}
	return s, nil
}

// Nodes is the temperature of each node, from the lower face to the upper; the
// caller only reads it.
func (s *Slab) Nodes() []float64 { return s.celsius }

// Thickness in m.
func (s *Slab) Thickness() float64 { return s.thick }

// Weight is the share of the thickness that belongs to a node: the faces' nodes
// have half of what the others have.
func (s *Slab) Weight(node int) float64 {
	w := 1 / float64(len(s.celsius)-1)
	if node == 0 || node == len(s.celsius)-1 {
		w /= 2
	}
	return w
}

// MeanC is the mean over the thickness.
func (s *Slab) MeanC() float64 {
	sum := 0.0
	for i, c := range s.celsius {
		sum += c * s.Weight(i)
	}
	return sum
}

// Into is the heat flux into each face in the last step, W/m2.
func (s *Slab) Into() (lower, upper float64) { return s.lower, s.upper }

// Squeeze makes the slab thinner or thicker: every layer of glass keeps its
// temperature and its share of the thickness, as glass does that flows out
// sideways. A thickness that is not positive changes nothing.
func (s *Slab) Squeeze(thickM float64) {
	if thickM > 0 && !math.IsInf(thickM, 1) {
		s.thick = thickM
	}
}

// Step goes on by dtS seconds, which must be positive; it allocates nothing.
func (s *Slab) Step(dtS float64, lower, upper *Face) {
	if !(dtS > 0) {
		return
	}
	n := len(s.celsius)
	gap := s.thick / float64(n-1)
	for i := range n - 1 {
		s.link[i] = (s.glass.Conductivity.At(s.celsius[i]) + s.glass.Conductivity.At(s.celsius[i+1])) / 2 / gap
	}
	lowA, lowB := lower.line(s.celsius[0])
	upA, upB := upper.line(s.celsius[n-1])
	before := 0.0
	for i := range n {
		heat := s.glass.Density * s.glass.Capacity.At(s.celsius[i]) * s.thick * s.Weight(i) / dtS
		next, diagonal, right := 0.0, heat+before, heat*s.celsius[i]
		if i < n-1 {
			next = s.link[i]
		}
		diagonal += next
		switch i {
		case 0:
			diagonal, right = diagonal-lowB, right+lowA
		case n - 1:
			diagonal, right = diagonal-upB, right+upA
		}
		if i > 0 {
			diagonal -= before * s.pull[i-1]
			right += before * s.celsius[i-1]
		}
		s.pull[i] = next / diagonal
		s.celsius[i] = right / diagonal
		before = next
	}
	for i := n - 2; i >= 0; i-- {
		s.celsius[i] += s.pull[i] * s.celsius[i+1]
	}
	s.lower, s.upper = lowA+lowB*s.celsius[0], upA+upB*s.celsius[n-1]
}
