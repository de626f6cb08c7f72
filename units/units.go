// Package units has the quantities of the project as types and reads and
// prints them with their unit in the text: "780 C", "5 mm/s", "45 N". A bare
// number or a wrong dimension is an error that says what was expected.
//
// It never converts silently between dimensions and never guesses a unit.
// Start reading at Parse; the table of units is in table.go.
package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Quantities, each in the unit that its name says.
type (
	Celsius             float64 // temperature, degrees Celsius
	Kelvin              float64 // difference of two temperatures, kelvin
	Millimetre          float64 // length
	MillimetrePerSecond float64 // speed
	Newton              float64 // force
	Bar                 float64 // gauge pressure
	LitrePerMinute      float64 // gas flow at 0 C, 1.013 bar
	RPM                 float64 // turns a minute
	Kilogram            float64 // mass
	Kilowatt            float64 // power
	Litre               float64 // volume
	Micrometre          float64 // wavelength
	Percent             float64 // share
)

// Dimension is a kind of quantity, named as a person would ask for it.
type Dimension string

// The dimensions that Parse knows.
const (
	Temperature Dimension = "temperature"
	Difference  Dimension = "temperature difference"
	Length      Dimension = "length"
	Speed       Dimension = "speed"
	Force       Dimension = "force"
	Pressure    Dimension = "pressure"
	Flow        Dimension = "gas flow"
	Rotation    Dimension = "rotation speed"
	Time        Dimension = "time"
	Mass        Dimension = "mass"
	Power       Dimension = "power"
	Volume      Dimension = "volume"
	Wavelength  Dimension = "wavelength"
	Share       Dimension = "share"
)

// Quantity is the set of number types above.
type Quantity interface {
	~float64
}

// Parse reads text as a quantity of dimension d and returns it in d's base
// unit (the first of its row in the table: C, K, mm, mm/s, N, bar, L/min, rpm,
// s, kg, kW, L, um, %). The number is decimal, finite, and may carry a sign
// and an exponent.
func Parse(text string, d Dimension) (float64, error) {
	row, ok := table[d]
	if !ok {
		return 0, fmt.Errorf("no dimension %q", string(d))
	}
	number, unit := split(strings.TrimSpace(text))
	if number == "" {
		return 0, fmt.Errorf("%q is not a %s; write it like %q", text, d, row.example)
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, fmt.Errorf("%q is not a number; write a %s like %q", number, d, row.example)
	}
	if unit == "" {
		return 0, fmt.Errorf("%q has no unit; write a %s like %q", text, d, row.example)
	}
	for _, u := range row.units {
		if u.name == unit {
			return v * u.factor, nil
		}
	}
	if other := dimensionOf(unit); other != "" {
		return 0, fmt.Errorf("%q is a %s; a %s is wanted, like %q", text, other, d, row.example)
	}
	return 0, fmt.Errorf("%q has the unknown unit %q; write a %s like %q", text, unit, d, row.example)
}

// ParseTime reads text ("12 s", "150 ms", "3 min") as a duration, which may
// not be negative or longer than 1,000 hours.
func ParseTime(text string) (time.Duration, error) {
	s, err := Parse(text, Time)
	if err != nil {
		return 0, err
	}
	if s < 0 || s > 3600*1000 {
		return 0, fmt.Errorf("%q is out of range; a time lies between 0 s and 1,000 h", text)
	}
	return time.Duration(math.Round(s * float64(time.Second))), nil
}

// Format prints v, in d's base unit, so that Parse reads it back to the same
// number.
func Format(v float64, d Dimension) string {
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + table[d].units[0].name
}

// FormatTime prints a duration in the largest of s and ms that needs no more
// than millisecond digits; ParseTime reads it back.
func FormatTime(t time.Duration) string {
	if t%time.Second != 0 && t < time.Second {
		return strconv.FormatFloat(float64(t)/float64(time.Millisecond), 'f', -1, 64) + " ms"
	}
	return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + " s"
}

// split parts "3.0 L/min" into number and unit. A space between them is usual
// but not needed.
func split(text string) (number, unit string) {
	end := 0
	for end < len(text) && strings.IndexByte("+-.0123456789", text[end]) >= 0 {
		end++
	}
	if end > 0 && end < len(text) && (text[end] == 'e' || text[end] == 'E') {
		rest := end + 1
		if rest < len(text) && (text[rest] == '+' || text[rest] == '-') {
			rest++
		}
		digits := rest
		for rest < len(text) && text[rest] >= '0' && text[rest] <= '9' {
			rest++
		}
		if rest > digits {
			end = rest
		}
	}
	return text[:end], strings.TrimSpace(text[end:])
}

func dimensionOf(unit string) Dimension {
	for _, d := range order {
		for _, u := range table[d].units {
			if u.name == unit {
				return d
			}
		}
	}
	return ""
}
