// Package pyrometer computes what a radiation thermometer shows of hot glass:
// Planck's law, the part of a band, what a wrong emissivity does, and how deep
// a wavelength looks into the wall.
//
// It never reads an instrument and never makes a reading fit for an interlock:
// it only says which wavelengths are not. A reading belongs to its band and its
// emissivity, and to how deep it sees: between about 5 and 8 um glass is opaque
// and the surface is seen, below about 4.5 um the inside of the wall and what
// stands behind it.
//
// Start reading at Channel in reading.go; Planck's law is in planck.go, the
// absorption of glass in depth.go, when a reading is valid in view.go.
// Wavelengths are in micrometres, temperatures in degrees Celsius.
package pyrometer

import "fmt"

const zeroK = 273.15

// span is a quantity that must lie between two values.
type span struct {
	what        string
	value       float64
	least, most float64
}

// within refuses the first quantity that does not lie in its span. NaN lies in
// none.
func within(list ...span) error {
	for _, s := range list {
		if !(s.value >= s.least && s.value <= s.most) {
			return fmt.Errorf("%s is %g; it must lie between %g and %g", s.what, s.value, s.least,
				s.most)
		}
	}
	return nil
}

func ofWavelength(um float64) span { return span{"wavelength in um", um, 0.3, 50} }
func ofCelsius(what string, c float64) span {
	return span{what, c, -200, 4000}
}
func ofEmissivity(what string, e float64) span { return span{what, e, 0.01, 1} }
