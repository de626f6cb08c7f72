package flame

import (
	"errors"
	"math"
)

// moles are amounts of the products, in the order of their table.
type moles [gases]float64

func (m *moles) total() float64 {
	sum := 0.0
	for _, n := range m {
		sum += n
	}
	return sum
}

func (m *moles) enthalpyKJ(kelvin float64) float64 {
	sum := 0.0
	for k := range m {
		sum += m[k] * products[k].enthalpyKJ(kelvin)
	}
	return sum
}

const (
	mostSteps  = 200
	settled    = 1e-10 // relative change that ends the iteration
	mostChange = 2.0   // of a logarithm in one step
	traceShare = 1e-8  // mole fraction below which a gas may change freely
)

// equilibrium finds the amounts of least Gibbs energy at a temperature and one
// atmosphere that hold the given atoms. It is the descent by Newton steps in
// the logarithms of the amounts of Gordon and McBride (NASA RP-1311, chapter
// 2): unknowns are one potential per element and the total, so the system has
// at most five rows.
func equilibrium(kelvin float64, atoms [elements]float64) (moles, error) {
	var n moles
	var standard [gases]float64
	sum := 0.0
	for _, b := range atoms {
		sum += b
	}
	for k := range products {
		if possible(&products[k], &atoms) {
			n[k] = sum / gases
			standard[k] = products[k].potential(kelvin)
		}
	}
	total := n.total()
	for range mostSteps {
		change, err := improve(&n, &total, &standard, &atoms)
		if err != nil {
			return n, err
		}
		if change < settled {
			return n, nil
		}
	}
	return n, errors.New("no equilibrium found; the mixture is outside what was tried")
}

// possible tells whether all elements of a gas are present.
func possible(s *species, atoms *[elements]float64) bool {
	for e, a := range s.atoms {
		if a > 0 && atoms[e] <= 0 {
			return false
		}
	}
	return true
}

// improve is one damped Newton step. It returns the largest relative change.
func improve(n *moles, total *float64, standard *[gases]float64,
	atoms *[elements]float64) (float64, error) {
	var m [elements + 1][elements + 2]float64
	var potential [gases]float64
	m[elements][elements] = -*total
	m[elements][elements+1] = *total
	for e := range atoms {
		m[e][elements+1] = atoms[e]
	}
	for k := range n {
		if n[k] <= 0 {
			continue
		}
		potential[k] = standard[k] + math.Log(n[k] / *total)
		a := &products[k].atoms
		for e := range a {
			for f := range a {
				m[e][f] += a[e] * a[f] * n[k]
			}
			m[e][elements] += a[e] * n[k]
			m[elements][e] += a[e] * n[k]
			m[e][elements+1] += a[e] * n[k] * (potential[k] - 1)
		}
		m[elements][elements] += n[k]
		m[elements][elements+1] += n[k] * (potential[k] - 1)
	}
	for e := range atoms {
		if atoms[e] <= 0 { // an element that is not there keeps its potential
			m[e] = [elements + 2]float64{}
			m[e][e] = 1
		}
	}
	x, ok := solve(&m)
	if !ok {
		return 0, errors.New("no equilibrium found; the equations have no solution")
	}
	return apply(n, total, &potential, &x), nil
}

// apply takes the step as far as the logarithms of the amounts that matter
// change by mostChange at most.
func apply(n *moles, total *float64, potential *[gases]float64, x *[elements + 1]float64) float64 {
	var step [gases]float64
	largest := 5 * math.Abs(x[elements])
	for k := range n {
		if n[k] <= 0 {
			continue
		}
		step[k] = x[elements] - potential[k]
		for e, a := range products[k].atoms {
			step[k] += a * x[e]
		}
		if n[k] > traceShare**total || step[k] < 0 {
			largest = max(largest, math.Abs(step[k]))
		}
	}
	damp := min(1, mostChange/max(largest, 1e-300))
	change := math.Abs(x[elements])
	for k := range n {
		if n[k] > 0 {
			change = max(change, math.Abs(step[k])*n[k] / *total)
			n[k] *= math.Exp(damp * min(step[k], 5*mostChange))
		}
	}
	*total *= math.Exp(damp * x[elements])
	return change
}

// solve is Gaussian elimination with partial pivoting.
func solve(m *[elements + 1][elements + 2]float64) (x [elements + 1]float64, ok bool) {
	const rows = elements + 1
	for c := range rows {
		best := c
		for r := c + 1; r < rows; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if !(math.Abs(m[c][c]) > 1e-300) {
			return x, false
		}
		for r := c + 1; r < rows; r++ {
			f := m[r][c] / m[c][c]
			for j := c; j <= rows; j++ {
				m[r][j] -= f * m[c][j]
			}
		}
	}
	for r := rows - 1; r >= 0; r-- {
		x[r] = m[r][rows]
		for j := r + 1; j < rows; j++ {
			x[r] -= m[r][j] * x[j]
		}
		x[r] /= m[r][r]
	}
	return x, true
}
