package heat

// scratch is the working store, so that neither a step nor a stress allocates.
type scratch struct {
	k       []float64 // conductivity of each cell
	c       []float64 // heat capacity of each cell over the step, W/K
	change  []float64 // what a step does: first W, then K
	upper   []float64 // conductance to the zone above
	pull    []float64 // of a tridiagonal system: next cell's factor
	outSide []edge    // one a zone
	inSide  []edge
	topSide []edge // one a cell across
	lowSide []edge

	free, bent []float64 // hoop strains of the zones, for cracking
	band       [3][]float64
}

func newScratch(g Grid) scratch {
	n := g.Radial * g.Axial
	return scratch{
		k: make([]float64, n), c: make([]float64, n), change: make([]float64, n),
		upper: make([]float64, n), pull: make([]float64, max(n, 1)),
		outSide: make([]edge, g.Axial), inSide: make([]edge, g.Axial),
		topSide: make([]edge, g.Radial), lowSide: make([]edge, g.Radial),
		free: make([]float64, g.Axial), bent: make([]float64, g.Axial),
		band: [3][]float64{make([]float64, g.Axial), make([]float64, g.Axial), make([]float64, g.Axial)},
	}
}

// edge is a face as its cell feels it, through half a cell of glass: a + b T
// watts into the cell at temperature T; the surface is at c + d T.
type edge struct{ a, b, c, d float64 }

// edgeOf joins a face of an area to a cell over a conductance. The surface
// temperature that was is where radiation is made straight.
func edgeOf(f *Face, surfaceC, area, conductance float64) edge {
	p, q := f.line(surfaceC)
	p, q = p*area, q*area
	under := 1 / (conductance - q)
	return edge{a: conductance * p * under, b: conductance * q * under,
		c: p * under, d: conductance * under}
}

// Step goes on by dtS seconds, which must be positive; it allocates nothing.
func (r *Ring) Step(dtS float64, s *Surroundings) {
	if !(dtS > 0) {
		return
	}
	r.prepare(dtS)
	r.edges(s)
	r.flows()
	r.solveAcross()
	r.into = Watts{}
	r.countSides()
	r.solveAlong()
	perSecond := 1 / dtS
	for n, d := range r.scratch.change {
		r.celsius[n] += d
		r.rate[n] = d * perSecond
	}
	r.countEnds()
}

// prepare evaluates the properties: conductivity as things stand, capacity at
// the temperature half a step on, so that the heat is counted right.
func (r *Ring) prepare(dtS float64) {
	nr := r.grid.Radial
	w := &r.scratch
	perStep := r.glass.Density / dtS
	for n := 0; n < len(r.celsius); n += nr {
		for i := range nr {
			t := r.celsius[n+i]
			w.k[n+i] = r.glass.Conductivity.At(t)
			w.c[n+i] = perStep * r.volume[i] * r.glass.Capacity.At(t+r.rate[n+i]*dtS/2)
		}
	}
}

// edges finds what acts on the outer cells.
func (r *Ring) edges(s *Surroundings) {
	nr, nz := r.grid.Radial, r.grid.Axial
	w := &r.scratch
	zone := r.shape.Height / float64(nz)
	out, in := r.shape.outside()/float64(nz), r.shape.bore()/float64(nz)
	for j := range nz {
		w.outSide[j] = edgeOf(&s.Outside, r.outside[j], out, r.outLink*w.k[j*nr+nr-1])
		w.inSide[j] = edge{d: 1}
		if r.inLink > 0 {
			w.inSide[j] = edgeOf(&s.Bore, r.bore[j], in, r.inLink*w.k[j*nr])
		}
	}
	last := (nz - 1) * nr
	for i := range nr {
		half := 2 * r.area[i] / zone
		w.topSide[i] = edgeOf(&s.Top, r.top[i], r.area[i], half*w.k[last+i])
		w.lowSide[i] = edgeOf(&s.Foot, r.foot[i], r.area[i], half*w.k[i])
	}
}

// flows sums the watts into every cell as things stand.
func (r *Ring) flows() {
	nr, nz := r.grid.Radial, r.grid.Axial
	w := &r.scratch
	t := r.celsius
	for n := range w.change {
		w.change[n] = 0
	}
	for j := range nz {
		row := j * nr
		w.change[row] += w.inSide[j].a + w.inSide[j].b*t[row]
		w.change[row+nr-1] += w.outSide[j].a + w.outSide[j].b*t[row+nr-1]
		for i := range nr - 1 {
			n := row + i
			q := r.across[i] * (w.k[n] + w.k[n+1]) / 2 * (t[n] - t[n+1])
			w.change[n] -= q
			w.change[n+1] += q
		}
	}
	perZone := float64(nz) / r.shape.Height / 2
	for n := range len(t) - nr {
		w.upper[n] = r.area[n%nr] * perZone * (w.k[n] + w.k[n+nr])
		q := w.upper[n] * (t[n] - t[n+nr])
		w.change[n] -= q
		w.change[n+nr] += q
	}
	last := len(t) - nr
	for i := range nr {
		w.change[i] += w.lowSide[i].a + w.lowSide[i].b*t[i]
		w.change[last+i] += w.topSide[i].a + w.topSide[i].b*t[last+i]
	}
}

// solveAcross turns watts into kelvins as conduction across the wall shares
// them: a tridiagonal system a zone.
func (r *Ring) solveAcross() {
	nr := r.grid.Radial
	w := &r.scratch
	for j := range r.grid.Axial {
		row := j * nr
		lower := 0.0
		for i := range nr {
			n := row + i
			next := 0.0
			if i < nr-1 {
				next = r.across[i] * (w.k[n] + w.k[n+1]) / 2
			}
			diagonal := w.c[n] + lower + next
			if i == 0 {
				diagonal -= w.inSide[j].b
			} else {
				diagonal -= lower * w.pull[n-1]
				w.change[n] += lower * w.change[n-1]
			}
			if i == nr-1 {
				diagonal -= w.outSide[j].b
			}
			inverse := 1 / diagonal
			w.pull[n] = next * inverse
			w.change[n] *= inverse
			lower = next
		}
		for n := row + nr - 2; n >= row; n-- {
			w.change[n] += w.pull[n] * w.change[n+1]
		}
	}
}

// solveAlong shares the same along the height: a system for each cell across.
func (r *Ring) solveAlong() {
	nr, nz := r.grid.Radial, r.grid.Axial
	w := &r.scratch
	last := (nz - 1) * nr
	for i := range nr {
		lower := 0.0
		for n := i; n <= last+i; n += nr {
			next := 0.0
			if n < last {
				next = w.upper[n]
			}
			diagonal := w.c[n] + lower + next
			w.change[n] *= w.c[n]
			if n == i {
				diagonal -= w.lowSide[i].b
			} else {
				diagonal -= lower * w.pull[n-nr]
				w.change[n] += lower * w.change[n-nr]
			}
			if n >= last {
				diagonal -= w.topSide[i].b
			}
			inverse := 1 / diagonal
			w.pull[n] = next * inverse
			w.change[n] *= inverse
			lower = next
		}
		for n := last - nr + i; n >= 0; n -= nr {
			w.change[n] += w.pull[n] * w.change[n+nr]
		}
	}
}

// countSides books the heat through outside and bore, which the step across
// saw. It comes before the step along the height.
func (r *Ring) countSides() {
	nr := r.grid.Radial
	w := &r.scratch
	for j := range r.grid.Axial {
		first, last := j*nr, j*nr+nr-1
		r.into.Bore += w.inSide[j].a + w.inSide[j].b*(r.celsius[first]+w.change[first])
		r.into.Outside += w.outSide[j].a + w.outSide[j].b*(r.celsius[last]+w.change[last])
	}
}

// countEnds books the heat through top and foot, which the step along saw, and
// takes all surface temperatures anew.
func (r *Ring) countEnds() {
	nr := r.grid.Radial
	w := &r.scratch
	last := len(r.celsius) - nr
	for i := range nr {
		low, high := r.celsius[i], r.celsius[last+i]
		r.into.Foot += w.lowSide[i].a + w.lowSide[i].b*low
		r.into.Top += w.topSide[i].a + w.topSide[i].b*high
		r.foot[i] = w.lowSide[i].c + w.lowSide[i].d*low
		r.top[i] = w.topSide[i].c + w.topSide[i].d*high
	}
	for j := range r.grid.Axial {
		r.bore[j] = w.inSide[j].c + w.inSide[j].d*r.celsius[j*nr]
		r.outside[j] = w.outSide[j].c + w.outSide[j].d*r.celsius[j*nr+nr-1]
	}
}
