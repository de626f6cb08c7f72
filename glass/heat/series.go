package heat

import (
	"math"
)

// Body is a shape with an exact series for sudden convection at its surface.
type Body int

// The bodies: a wall cooled from both faces, a long cylinder, a sphere.
const (
	Wall Body = iota
	Cylinder
	Sphere
)

const (
	mostTerms = 60
	leastFo   = 1e-3 // below it more terms than mostTerms matter
)

// Term is the n-th root and coefficient of the series at a Biot number
// (Incropera, equations 5.39 to 5.52): n counts from 1.
func Term(b Body, biot float64, n int) (root, coefficient float64, err error) {
	if err := within(span{"Biot number", biot, 1e-6, 1e6},
		span{"number of the term", float64(n), 1, mostTerms}); err != nil {
		return 0, 0, err
	}
	if err := b.thermal(); err != nil {
		return 0, 0, err
	}
	root, coefficient = term(b, biot, n)
	return root, coefficient, nil
}

func term(b Body, biot float64, n int) (z, c float64) {
	m := float64(n)
	switch b {
	case Wall:
		z = halve((m-1)*math.Pi, (m-0.5)*math.Pi,
			func(z float64) float64 { return z*math.Sin(z)*even(n) - biot*math.Cos(z)*even(n) })
		return z, 4 * math.Sin(z) / (2*z + math.Sin(2*z))
	case Cylinder:
		low := 0.0
		if n > 1 { // between the zeros of J1 and J0 on both sides of the root
			low = halve((m-1)*math.Pi, (m-0.5)*math.Pi,
				func(z float64) float64 { return math.J1(z) * even(n) })
		}
		high := halve((m-0.5)*math.Pi, m*math.Pi, func(z float64) float64 { return -math.J0(z) * even(n) })
		z = halve(low, high,
			func(z float64) float64 { return (z*math.J1(z) - biot*math.J0(z)) * even(n) })
		j0, j1 := math.J0(z), math.J1(z)
		return z, 2 * j1 / (z * (j0*j0 + j1*j1))
	}
	z = halve((m-1)*math.Pi, m*math.Pi,
		func(z float64) float64 { return ((1-biot)*math.Sin(z) - z*math.Cos(z)) * even(n) })
	return z, 4 * (math.Sin(z) - z*math.Cos(z)) / (2*z - math.Sin(2*z))
}

// even is 1 for odd n and -1 for even n: the functions whose roots are sought
// change their direction from one root to the next.
func even(n int) float64 {
	if n%2 == 0 {
		return -1
	}
	return 1
}

// mode is how a term is spread over the body, x from 0 in the middle to 1 at the
// surface.
func (b Body) mode(z, x float64) float64 {
	switch b {
	case Wall:
		return math.Cos(z * x)
	case Cylinder:
		return math.J0(z * x)
	}
	return sinc(z * x)
}

// meanMode is a term's mean over the volume.
func (b Body) meanMode(z float64) float64 {
	switch b {
	case Wall:
		return sinc(z)
	case Cylinder:
		return 2 * math.J1(z) / z
	}
	return 3 * (math.Sin(z) - z*math.Cos(z)) / (z * z * z)
}

// Left is the share of the temperature step that is left at x, from 0 in the
// middle to 1 at the surface: (T - Tgas)/(Tstart - Tgas). Biot is h L/k, fourier
// kappa t/L^2, with L half the thickness of a wall or the radius.
func Left(b Body, biot, fourier, x float64) (float64, error) {
	return sum(b, biot, fourier, x, func(z float64) float64 { return b.mode(z, x) })
}

// HeatGone is the share of the heat that has left, 0 to 1.
func HeatGone(b Body, biot, fourier float64) (float64, error) {
	left, err := sum(b, biot, fourier, 0, b.meanMode)
	return 1 - left, err
}

func sum(b Body, biot, fourier, x float64, mode func(z float64) float64) (float64, error) {
	if err := within(span{"Biot number", biot, 1e-6, 1e6},
		span{"Fourier number", fourier, leastFo, 1e9}, span{"place", x, 0, 1}); err != nil {
		return 0, err
	}
	if err := b.thermal(); err != nil {
		return 0, err
	}
	total := 0.0
	for n := 1; n <= mostTerms; n++ {
		z, c := term(b, biot, n)
		fade := math.Exp(-z * z * fourier)
		total += c * fade * mode(z)
		if fade < 1e-14 {
			break
		}
	}
	return total, nil
}

// FluxSpread is how far surface and middle of a wall lie above its mean under a
// constant flux on both faces, after about half a Fourier number, and how fast
// the mean rises, K/s (Carslaw and Jaeger, section 3.8). The wall is 2 half
// thick.
func FluxSpread(flux, half, conductivity, density, capacity float64) (surfaceK, middleK,
	ratePerS float64, err error) {
	if err := within(ofFlux(flux), ofLength("half thickness in m", half), ofConductivity(conductivity),
		ofDensity(density), ofCapacity(capacity)); err != nil {
		return 0, 0, 0, err
	}
	k := flux * half / conductivity
	return k / 3, -k / 6, flux / (density * capacity * half), nil
}

// RadiationTime is how long a body that is even in temperature takes to cool
// from one temperature to another by radiation alone, s (Bejan, Heat Transfer
// Handbook, equation 3.283). Depth is its volume over its radiating surface, m.
func RadiationTime(fromC, toC, roomC, emissivity, density, capacity, depth float64) (float64,
	error) {
	if err := within(ofCelsius("start in C", fromC), ofCelsius("end in C", toC), ofCelsius("room in C", roomC),
		span{"emissivity", emissivity, 0.01, 1}, ofDensity(density), ofCapacity(capacity),
		ofLength("volume over surface in m", depth),
		span{"end in C, which lies between room and start,", toC, roomC + 0.01, fromC},
	); err != nil {
		return 0, err
	}
	room := roomC + zeroK
	if err := within(span{"room in K", room, 1, 5000}); err != nil {
		return 0, err
	}
	at := func(c float64) float64 {
		t := c + zeroK
		return math.Log((t+room)/(t-room)) + 2*math.Atan(t/room)
	}
	return (at(toC) - at(fromC)) * density * capacity * depth /
		(4 * Stefan * emissivity * room * room * room), nil
}

// RadiationFilm is the heat transfer coefficient that equals radiation between
// two temperatures, W/(m2.K).
func RadiationFilm(surfaceC, roomC, emissivity float64) (float64, error) {
	if err := within(ofCelsius("surface in C", surfaceC), ofCelsius("room in C", roomC),
		span{"emissivity", emissivity, 0, 1}); err != nil {
		return 0, err
	}
	a, b := surfaceC+zeroK, roomC+zeroK
	return emissivity * Stefan * (a*a + b*b) * (a + b), nil
}
