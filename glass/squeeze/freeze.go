package squeeze

import (
	"pressrig/glass/heat"
	"pressrig/glass/span"
)

// Freeze is glass that a cold face chills, in perfect contact: its skin grows
// with the root of time.
type Freeze struct {
	GlassC      float64
	InterfaceC  float64 // between glass and mould; heat.ContactC
	StiffC      float64 // colder glass counts as skin
	Diffusivity float64 // m2/s
}

func (f Freeze) check() error {
	return span.Check(span.Of{What: "glass in C", Value: f.GlassC, Least: 200, Most: 2000},
		span.Of{What: "interface in C, colder than the glass,", Value: f.InterfaceC, Least: -50,
			Most: f.GlassC - 1},
		span.Of{What: "stiff below, in C, between interface and glass,", Value: f.StiffC, Least: f.InterfaceC,
			Most: f.GlassC - 0.5})
}

func (f Freeze) share() float64 { return (f.StiffC - f.InterfaceC) / (f.GlassC - f.InterfaceC) }

// SkinM is the skin after a time: 2 lambda sqrt(kappa t), erf(lambda) = (stiff -
// interface)/(glass - interface).
func (f Freeze) SkinM(seconds float64) (float64, error) {
	if err := f.check(); err != nil {
		return 0, err
	}
	if seconds == 0 {
		return 0, nil
	}
	return heat.FixedSurfaceDepth(f.Diffusivity, f.share(), seconds)
}

// quarter of the gap, from each side: beyond it a press only deforms skin
// [derived, to be tuned].
const quarter = 0.25

// LimitS is how long a gap may take to close before the skin is a quarter of it
// from each side.
func (f Freeze) LimitS(gapM float64) (float64, error) {
	if err := span.Check(ofThickness("gap", gapM)); err != nil {
		return 0, err
	}
	second, err := f.SkinM(1)
	if err != nil {
		return 0, err
	}
	if err := span.Check(span.Of{What: "skin after a second in m, from an interface colder than stiff,",
		Value: second, Least: 1e-7, Most: 1}); err != nil {
		return 0, err
	}
	ratio := quarter * gapM / second
	return ratio * ratio, nil
}

// FreezesS is the same limit with contact that is not perfect: it lets the
// glass stand in a gap that does not close until its skin is a quarter of it. ok
// is false where it does not happen within the time given.
func (c *Chilled) FreezesS(longS float64) (seconds float64, ok bool, err error) {
	if err := span.Check(span.Of{What: "longest time in s", Value: longS, Least: 0.01, Most: mostStroke}); err != nil {
		return 0, false, err
	}
	gap, began := c.slab.Thickness(), c.seconds
	for c.seconds-began < longS {
		if c.SkinM() >= quarter*gap {
			return c.seconds - began, true, nil
		}
		c.Step(mostStepS/4, gap)
	}
	return 0, false, nil
}

// Brinkman tells whether shear heats the glass: eta v^2/(k dT), far below 1 it
// does not.
func Brinkman(viscosityPaS, speedMS, conductivity, differenceK float64) (float64, error) {
	if err := span.Check(ofViscosity(viscosityPaS), ofSpeed(speedMS),
		span.Of{What: "conductivity in W/(m.K)", Value: conductivity, Least: 0.1, Most: 10},
		span.Of{What: "difference of temperature in K", Value: differenceK, Least: 1, Most: 2000}); err != nil {
		return 0, err
	}
	return viscosityPaS * speedMS * speedMS / (conductivity * differenceK), nil
}
