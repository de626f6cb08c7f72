package pyrometer

import (
	"fmt"
	"math"
)

// Figures of what makes a reading valid [common practice, no source].
const (
	leastInterlockUM = 4.8 // below it a reading is of the inside, or of what is behind
	mostInterlockUM  = 14.0
	asideS           = 0.3 // after the flame has left
	spotShare        = 1.0 / 3
	wholeTurns       = 0.02 // of a turn that averaging may miss a whole number by
)

// RefuseInterlock says why a channel may not guard anything, nil where its
// wavelength does not forbid it. It allows nothing by itself: the view and the
// instrument must be good too.
func RefuseInterlock(c Channel) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.Low < leastInterlockUM {
		return fmt.Errorf("%g um looks into or through glass; an interlock needs at least %g um, "+
			"best about 5 or 7.9", c.Low, leastInterlockUM)
	}
	if c.High > mostInterlockUM {
		return fmt.Errorf("%g um is beyond what is known of glass; use at most %g um", c.High,
			mostInterlockUM)
	}
	return nil
}

// GlassEmissivity is the usual emissivity of glass in a channel: about 0.97 at
// 5 and 7.9 um, 0.85 for 8 to 14 um, where glass throws back more [common
// practice, no source]. Elsewhere there is none to set.
func GlassEmissivity(c Channel) (float64, error) {
	if err := RefuseInterlock(c); err != nil {
		return 0, err
	}
	if c.Middle() <= 8.2 {
		return 0.97, nil
	}
	return 0.85, nil
}

// View is how a reading was taken.
type View struct {
	FlameAside float64 // s since the flame left the blank
	Spot       float64 // m, diameter that the instrument sees
	Target     float64 // m, least extent of the glass there
	Averaged   float64 // s
	RPM        float64 // of the spindle, 0 still
}

// Invalid says why a reading is none, nil for a valid one.
func (v View) Invalid() error {
	if err := within(span{"time since the flame left in s", v.FlameAside, 0, 1e9},
		span{"spot in m", v.Spot, 1e-5, 1}, span{"target in m", v.Target, 1e-5, 1},
		span{"averaging time in s", v.Averaged, 0, 1e4}, span{"spindle speed in rpm", v.RPM, 0, 1e4},
	); err != nil {
		return err
	}
	if v.FlameAside < asideS {
		return fmt.Errorf("the flame left %.2f s ago; wait at least %g s, or the flame is read",
			v.FlameAside, asideS)
	}
	if v.Spot > v.Target*spotShare {
		return fmt.Errorf("the spot of %.1f mm is more than a third of the glass's %.1f mm; go nearer "+
			"or aim better", 1000*v.Spot, 1000*v.Target)
	}
	if turns := v.Averaged * v.RPM / 60; v.RPM > 0 &&
		(turns < 1-wholeTurns || math.Abs(turns-math.Round(turns)) > wholeTurns) {
		return fmt.Errorf("averaged over %.2f turns; average over whole turns, such as %.2f s", turns,
			math.Max(1, math.Ceil(turns-wholeTurns))*60/v.RPM)
	}
	return nil
}

// AveragingTime is the shortest time of whole turns that is at least a given
// one, s.
func AveragingTime(least, rpm float64) (float64, error) {
	if err := within(span{"averaging time in s", least, 0, 1e4},
		span{"spindle speed in rpm", rpm, 0.1, 1e4}); err != nil {
		return 0, err
	}
	return math.Max(1, math.Ceil(least*rpm/60-1e-9)) * 60 / rpm, nil
}
