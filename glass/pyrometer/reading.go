package pyrometer

import "fmt"

// Channel is an instrument: the wavelengths it sees, and the emissivity that
// it is set to. Low and High are equal for a narrow filter.
type Channel struct {
	Low, High  float64 // um
	Emissivity float64 // set, 0 to 1
	Ambient    float64 // temperature of the surroundings that it takes off, C
}

func (c Channel) check() error {
	return within(ofWavelength(c.Low), ofWavelength(c.High),
		span{"upper end of the band in um", c.High, c.Low, 50},
		ofEmissivity("set emissivity", c.Emissivity), ofCelsius("ambient in C", c.Ambient))
}

// signal is what a black body at a temperature makes the channel see. Its unit
// cancels.
func (c Channel) signal(celsius float64) float64 {
	if c.High-c.Low > narrow*c.Low {
		return bandPower(c.Low, c.High, celsius+zeroK)
	}
	return spectral(c.Middle(), celsius+zeroK)
}

// narrow is the part of its wavelength up to which a band counts as one
// wavelength; the difference of two fractions would lose its digits.
const narrow = 1e-3

// Middle is the wavelength by which a channel is judged, um.
func (c Channel) Middle() float64 { return (c.Low + c.High) / 2 }

const (
	coldestC = -200.0
	hottestC = 4000.0
)

// shown is the temperature that the instrument makes of a signal.
func (c Channel) shown(signal float64) (float64, error) {
	of := (signal - (1-c.Emissivity)*c.signal(c.Ambient)) / c.Emissivity
	low, high := coldestC, hottestC
	if !(of > c.signal(low) && of < c.signal(high)) {
		return 0, fmt.Errorf("a signal of no temperature between %g and %g C; the set emissivity "+
			"%g or the ambient %g C cannot be right", low, high, c.Emissivity, c.Ambient)
	}
	for high-low > 1e-9*hottestC {
		middle := (low + high) / 2
		if c.signal(middle) < of {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, nil
}

// Reads is what the channel shows of an opaque surface with a true emissivity,
// which throws back surroundings of a temperature.
func (c Channel) Reads(surface, emissivity, surroundings float64) (float64, error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	if err := within(ofCelsius("surface in C", surface), ofEmissivity("emissivity", emissivity),
		ofCelsius("surroundings in C", surroundings)); err != nil {
		return 0, err
	}
	return c.shown(emissivity*c.signal(surface) + (1-emissivity)*c.signal(surroundings))
}

// True is the surface temperature behind a reading, where emissivity and
// surroundings are known: Reads backwards.
func (c Channel) True(reading, emissivity, surroundings float64) (float64, error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	if err := within(ofCelsius("reading in C", reading), ofEmissivity("emissivity", emissivity),
		ofCelsius("surroundings in C", surroundings)); err != nil {
		return 0, err
	}
	seen := c.Emissivity*c.signal(reading) + (1-c.Emissivity)*c.signal(c.Ambient)
	back := c
	back.Emissivity, back.Ambient = emissivity, surroundings
	return back.shown(seen)
}
