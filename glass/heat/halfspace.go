package heat

import "math"

// The formulas here hold while heat has not reached the far side: for a wall of
// thickness d until about d^2/(16 kappa).

// FluxRise is how far the surface of deep glass rises under a constant flux, K:
// (2q/k) sqrt(kappa t/pi) (Carslaw and Jaeger, section 2.9).
func FluxRise(flux, conductivity, diffusivity, seconds float64) (float64, error) {
	if err := within(ofFlux(flux), ofConductivity(conductivity), ofDiffusivity(diffusivity),
		ofTime(seconds)); err != nil {
		return 0, err
	}
	return 2 * flux / conductivity * math.Sqrt(diffusivity*seconds/math.Pi), nil
}

// ConvectionShare is how far a depth has followed a sudden gas temperature,
// (T - Tstart)/(Tgas - Tstart) (Geankoplis, equation 5.3-7).
func ConvectionShare(film, conductivity, diffusivity, depth, seconds float64) (float64, error) {
	if err := within(ofFilm(film), ofConductivity(conductivity), ofDiffusivity(diffusivity),
		span{"depth in m", depth, 0, 1000}, ofTime(seconds)); err != nil {
		return 0, err
	}
	root := math.Sqrt(diffusivity * seconds)
	e := depth / (2 * root)
	g := film * root / conductivity
	// exp(hx/k + g^2) erfc(e+g) = exp(-e^2) erfcx(e+g), which does not overflow.
	return math.Erfc(e) - math.Exp(-e*e)*erfcx(e+g), nil
}

// erfcx is exp(x^2) erfc(x) for x >= 0.
func erfcx(x float64) float64 {
	if x < 20 {
		return math.Exp(x*x) * math.Erfc(x)
	}
	v := 1 / (x * x) // asymptotic series, exact to 1e-9 from 20 on
	return (1 - v/2 + 0.75*v*v) / (x * math.Sqrt(math.Pi))
}

// FixedSurfaceShare is how much of the start is left at a depth after the
// surface took another temperature: (T - Tsurface)/(Tstart - Tsurface).
func FixedSurfaceShare(diffusivity, depth, seconds float64) (float64, error) {
	if err := within(ofDiffusivity(diffusivity), span{"depth in m", depth, 0, 1000},
		ofTime(seconds)); err != nil {
		return 0, err
	}
	return math.Erf(depth / (2 * math.Sqrt(diffusivity*seconds))), nil
}

// FixedSurfaceDepth is the depth at which FixedSurfaceShare is share, m.
func FixedSurfaceDepth(diffusivity, share, seconds float64) (float64, error) {
	if err := within(ofDiffusivity(diffusivity), span{"share", share, 0, 0.999999},
		ofTime(seconds)); err != nil {
		return 0, err
	}
	return 2 * math.Sqrt(diffusivity*seconds) * math.Erfinv(share), nil
}

// Effusivity is sqrt(k rho cp), W.s^0.5/(m2.K).
func Effusivity(conductivity, density, capacity float64) (float64, error) {
	if err := within(ofConductivity(conductivity), ofDensity(density),
		ofCapacity(capacity)); err != nil {
		return 0, err
	}
	return math.Sqrt(conductivity * density * capacity), nil
}

// ContactC is the temperature between two deep bodies in perfect contact.
func ContactC(aC, aEffusivity, bC, bEffusivity float64) (float64, error) {
	if err := within(ofCelsius("first body in C", aC), ofCelsius("second body in C", bC),
		span{"effusivity", aEffusivity, 1, 1e6}, span{"effusivity", bEffusivity, 1, 1e6}); err != nil {
		return 0, err
	}
	return (aEffusivity*aC + bEffusivity*bC) / (aEffusivity + bEffusivity), nil
}
