package heat

import "math"

// The limits of spindle speed here are derived; none was found published.

func omega(rpm float64) float64 { return rpm * math.Pi / 30 }

// Ripple is how far the surface swings each turn under a fixed flame that meets
// a part of the way round, K: (2q/k) sqrt(kappa t/pi) for the time t in the
// flame.
func Ripple(flux, arc, rpm, conductivity, diffusivity float64) (float64, error) {
	if err := within(span{"part of a turn in the flame", arc, 1e-4, 1}, ofTurning(rpm)); err != nil {
		return 0, err
	}
	return FluxRise(flux, conductivity, diffusivity, arc*60/rpm)
}

// RippleSpeed is the least speed that keeps the ripple below a limit in K, rpm.
func RippleSpeed(limit, flux, arc, conductivity, diffusivity float64) (float64, error) {
	if err := within(span{"limit of the ripple in K", limit, 0.1, 2000}); err != nil {
		return 0, err
	}
	at, err := Ripple(flux, arc, 1, conductivity, diffusivity)
	if err != nil {
		return 0, err
	}
	return at * at / (limit * limit), nil
}

// Growth is the rate at which a thin soft ring widens as it turns, 1/s:
// rho w^2 r^2/(3 eta) (Trouton).
func Growth(density, radius, viscosity, rpm float64) (float64, error) {
	hoop, err := HoopStress(density, radius, rpm)
	if err != nil {
		return 0, err
	}
	if err := within(ofViscosity(viscosity)); err != nil {
		return 0, err
	}
	return hoop / (3 * viscosity), nil
}

// HoopStress is the tension in a thin turning ring, Pa.
func HoopStress(density, radius, rpm float64) (float64, error) {
	if err := within(ofDensity(density), ofLength("radius in m", radius), ofTurning(rpm)); err != nil {
		return 0, err
	}
	v := omega(rpm) * radius
	return density * v * v, nil
}

// GrowthSpeed is the most speed at which a soft ring widens by no more than a
// share in a time, rpm.
func GrowthSpeed(density, radius, viscosity, share, seconds float64) (float64, error) {
	if err := within(span{"share of the radius", share, 1e-6, 1}, ofTime(seconds)); err != nil {
		return 0, err
	}
	one, err := Growth(density, radius, viscosity, 1)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(share / seconds / one), nil
}

// GravitySpeed is the speed at which a ring's rim is thrown out as hard as it
// is pulled down, rpm: above it a soft ring on a level spindle no longer hangs.
func GravitySpeed(radius float64) (float64, error) {
	if err := within(ofLength("radius in m", radius)); err != nil {
		return 0, err
	}
	return 30 / math.Pi * math.Sqrt(gravity/radius), nil
}

// TensionSpeed is the speed at which a ring is thrown out as hard as surface
// tension pulls it in, rpm.
func TensionSpeed(tension, density, radius float64) (float64, error) {
	if err := within(ofTension(tension), ofDensity(density), ofLength("radius in m", radius)); err != nil {
		return 0, err
	}
	return 30 / math.Pi * math.Sqrt(tension/(density*radius*radius*radius)), nil
}

func ofTension(n float64) span { return span{"surface tension in N/m", n, 1e-3, 2} }

// Sag is the strain by which a soft ring on a level spindle sags in a turn:
// rho g D/eta times the time of a turn times a factor of its geometry.
func Sag(density, diameter, viscosity, rpm, geometry float64) (float64, error) {
	if err := within(ofDensity(density), ofLength("diameter in m", diameter), ofViscosity(viscosity),
		ofTurning(rpm), span{"factor of geometry", geometry, 1e-4, 100}); err != nil {
		return 0, err
	}
	return density * gravity * diameter / viscosity * 60 / rpm * geometry, nil
}

// SagSpeed is the least speed that keeps the sag in a turn below a limit, rpm.
func SagSpeed(limit, density, diameter, viscosity, geometry float64) (float64, error) {
	if err := within(span{"limit of the sag", limit, 1e-6, 1}); err != nil {
		return 0, err
	}
	one, err := Sag(density, diameter, viscosity, 1, geometry)
	if err != nil {
		return 0, err
	}
	return one / limit, nil
}

// Window is the range of spindle speeds, rpm, with what sets each end.
type Window struct {
	Least, Most     float64
	LeastBy, MostBy string
}

// Open tells whether any speed lies in the window.
func (w Window) Open() bool { return w.Least <= w.Most }

// Turning is what a spindle's window follows from.
type Turning struct {
	Density, Radius, Viscosity float64 // of the soft ring
	Conductivity, Diffusivity  float64
	Flux, Arc                  float64 // W/m2 in the flame; part of a turn
	Ripple                     float64 // K, limit
	Sag, Geometry              float64 // limit of the strain in a turn; 0 for an upright spindle
	Growth, Seconds            float64 // limit of the widening, and how long it is soft
}

// Speeds is the window: fast enough that neither surface temperature nor shape
// ripples, slow enough that the ring does not widen. An upright spindle, whose
// ring does not sag sideways, gives a Sag of 0. The window may be shut: then
// heat with less flux, or keep the glass stiffer while it turns.
func (t Turning) Speeds() (Window, error) {
	ripple, err := RippleSpeed(t.Ripple, t.Flux, t.Arc, t.Conductivity, t.Diffusivity)
	if err != nil {
		return Window{}, err
	}
	most, err := GrowthSpeed(t.Density, t.Radius, t.Viscosity, t.Growth, t.Seconds)
	if err != nil {
		return Window{}, err
	}
	w := Window{Least: ripple, LeastBy: "ripple", Most: most, MostBy: "growth"}
	if t.Sag == 0 {
		return w, nil
	}
	sag, err := SagSpeed(t.Sag, t.Density, 2*t.Radius, t.Viscosity, t.Geometry)
	if err != nil {
		return Window{}, err
	}
	if sag > w.Least {
		w.Least, w.LeastBy = sag, "sag"
	}
	return w, nil
}

// RoundingTime is how long surface tension takes to round an edge to a radius,
// s: eta r/gamma. An edge that was long enough in the fire is round before the
// press meets it.
func RoundingTime(viscosity, radius, tension float64) (float64, error) {
	if err := within(ofViscosity(viscosity), ofLength("radius in m", radius), ofTension(tension)); err != nil {
		return 0, err
	}
	return viscosity * radius / tension, nil
}

// Rounding is the radius to which an edge grows at a constant viscosity in a
// time, m; over a recipe the radii of its steps add up.
func Rounding(viscosity, tension, seconds float64) (float64, error) {
	if err := within(ofViscosity(viscosity), ofTension(tension), ofTime(seconds)); err != nil {
		return 0, err
	}
	return tension * seconds / viscosity, nil
}
