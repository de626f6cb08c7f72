package heat

// A ring whose zones are unlike in temperature would widen unlike, but hangs
// together. It is a thin shell with free ends (Timoshenko and Woinowsky-Krieger,
// section 114): the wall bends towards what each zone wants, and what is left
// between is hoop stress. Where the temperature changes over much more than
// sqrt(radius x wall) the wall follows and there is none; a straight fall along
// the height is free of stress altogether.

// shell finds the hoop strain of every zone, scratch.bent, for the strain that
// each would have alone, scratch.free. It minimises the sum of stretch and
// bending: (1 + c D'D) bent = free with D the second difference.
func (r *Ring) shell(e Elastic) {
	nr, nz := r.grid.Radial, r.grid.Axial
	w := &r.scratch
	for j := range nz {
		mean := 0.0
		for i := range nr {
			mean += e.capped(r.Cell(i, j)) * (r.part[i+1] - r.part[i])
		}
		w.free[j] = e.Expansion * mean
		w.bent[j] = w.free[j]
		w.band[0][j], w.band[1][j], w.band[2][j] = 1, 0, 0
	}
	wall := r.shape.Outer - r.shape.Inner
	radius := (r.shape.Outer + r.shape.Inner) / 2
	zone := r.shape.Height / float64(nz)
	stiff := wall * radius / (zone * zone)
	c := stiff * stiff / (12 * (1 - e.Poisson*e.Poisson))
	for j := 0; j+2 < nz; j++ { // each second difference, 1 -2 1
		w.band[0][j] += c
		w.band[0][j+1] += 4 * c
		w.band[0][j+2] += c
		w.band[1][j] -= 2 * c
		w.band[1][j+1] -= 2 * c
		w.band[2][j] += c
	}
	solveBand(&w.band, w.bent)
}

// solveBand solves a symmetric positive system of two bands beside its diagonal
// in place: band[k][j] is the entry of row j and column j+k.
func solveBand(band *[3][]float64, x []float64) {
	n := len(x)
	for j := range n {
		for k := 1; k <= 2 && j+k < n; k++ {
			f := band[k][j] / band[0][j]
			for m := k; m <= 2; m++ {
				band[m-k][j+k] -= f * band[m][j]
			}
			x[j+k] -= f * x[j]
		}
	}
	for j := n - 1; j >= 0; j-- {
		for k := 1; k <= 2 && j+k < n; k++ {
			x[j] -= band[k][j] * x[j+k]
		}
		x[j] /= band[0][j]
	}
}

// bending is the axial stress on the bore that the bent wall has there, Pa; on
// the outside it is as much the other way.
func (r *Ring) bending(e Elastic, j int) float64 {
	nz := r.grid.Axial
	if j == 0 || j == nz-1 {
		return 0 // the ends are free
	}
	u := r.scratch.bent
	zone := r.shape.Height / float64(nz)
	curve := (u[j-1] - 2*u[j] + u[j+1]) * (r.shape.Outer + r.shape.Inner) / 2 / (zone * zone)
	return e.Young * (r.shape.Outer - r.shape.Inner) * curve / (2 * (1 - e.Poisson*e.Poisson))
}
