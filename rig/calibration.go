package rig

import (
	"fmt"
	"math"
)

// Calibrated is the value in the base unit of analog channel ai for one count,
// put right by the channel's two-point calibration where the profile has one.
// Counts travel and are stored as the microcontroller sent them; the warden
// sees uncorrected counts. An ai past the table is NaN.
func (p *Profile) Calibrated(ai uint8, count int16) float64 {
	if int(ai) >= len(Analogs) {
		return math.NaN()
	}
	v := float64(count) * Analogs[ai].Scale
	if c := p.calibrationOf(ai); c != nil {
		v = c.True[0] + (v-c.Read[0])*c.gain()
	}
	return v
}

// CountFor is the inverse of Calibrated: the count that the channel shows when
// the true value is v. Limits sent to the warden go through it. It is an error
// when the count does not fit into 16 bits, never a wrapped number.
func (p *Profile) CountFor(ai uint8, v float64) (int16, error) {
	if int(ai) >= len(Analogs) {
		return 0, fmt.Errorf("no analog channel %d; there are %d", ai, len(Analogs))
	}
	c := &Analogs[ai]
	if k := p.calibrationOf(ai); k != nil {
		v = k.Read[0] + (v-k.True[0])/k.gain()
	}
	n := math.Round(v / c.Scale)
	if !(n >= math.MinInt16 && n <= math.MaxInt16) {
		return 0, fmt.Errorf("%g %s does not fit channel %s; it carries %g to %g %s", v, c.Unit,
			c.Name,
			math.MinInt16*c.Scale, math.MaxInt16*c.Scale, c.Unit)
	}
	return int16(n), nil
}

func (p *Profile) calibrationOf(ai uint8) *Calibration {
	for i := range p.Calibration {
		if p.Calibration[i].Channel == Analogs[ai].Name {
			return &p.Calibration[i]
		}
	}
	return nil
}

// gain is how many true units one shown unit is. ParseProfile has checked that
// it lies between leastGain and mostGain.
func (c *Calibration) gain() float64 {
	return (c.True[1] - c.True[0]) / (c.Read[1] - c.Read[0])
}
