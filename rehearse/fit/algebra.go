package fit

import "math"

func rms(v []float64) float64 {
	sum := 0.0
	for _, e := range v {
		sum += e * e
	}
	return math.Sqrt(sum / float64(max(1, len(v))))
}

func add(a, b [count]float64) [count]float64 {
	for i := range a {
		a[i] += b[i]
	}
	return a
}

// clip keeps the numbers where a plant means something.
func clip(x [count]float64) [count]float64 {
	for i := range x {
		x[i] = min(largest[i], max(least[i], x[i]))
	}
	return x
}

// damped is Levenberg's and Marquardt's: a larger diagonal for a smaller step.
// A number that is not free gets a one and does not move.
func damped(a [count][count]float64, lambda float64, free [count]bool) [count][count]float64 {
	for i := range a {
		a[i][i] *= 1 + lambda
		if !free[i] {
			a[i] = [count]float64{}
			a[i][i] = 1
		}
	}
	return a
}

// solve is Gauss's elimination with pivots; false where it cannot be solved.
func solve(a [count][count]float64, b [count]float64) ([count]float64, bool) {
	for i := range count {
		p := i
		for k := i + 1; k < count; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[p][i]) {
				p = k
			}
		}
		a[i], a[p] = a[p], a[i]
		b[i], b[p] = b[p], b[i]
		if math.Abs(a[i][i]) < 1e-12 {
			return b, false
		}
		for k := i + 1; k < count; k++ {
			f := a[k][i] / a[i][i]
			for j := i; j < count; j++ {
				a[k][j] -= f * a[i][j]
			}
			b[k] -= f * b[i]
		}
	}
	for i := count - 1; i >= 0; i-- {
		for j := i + 1; j < count; j++ {
			b[i] -= a[i][j] * b[j]
		}
		b[i] /= a[i][i]
	}
	return b, true
}

// variance of number i, from the inverse of the normal matrix.
func variance(a [count][count]float64, i int, free [count]bool) (float64, bool) {
	var unit [count]float64
	unit[i] = 1
	x, ok := solve(damped(a, 0, free), unit)
	return x[i], ok && x[i] > 0
}

// correlation is how many times fewer samples the residuals are worth than they
// count, because neighbours err alike: (1 + r) / (1 - r) for a first-order chain.
func correlation(r *residuals) float64 {
	sum, square := 0.0, 0.0
	for i, e := range r.temperature {
		square += e * e
		if i > 0 {
			sum += e * r.temperature[i-1]
		}
	}
	rho := min(0.98, max(0, sum/max(1e-12, square)))
	return (1 + rho) / (1 - rho)
}
