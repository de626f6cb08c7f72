// Package units has the quantities of the project as types and reads and
// prints them with their unit in the text: "780 C", "5 mm/s", "45 N". A bare
// number or a wrong dimension is an error that says what was expected.
//
// It never converts silently between dimensions and never guesses a unit.
// Start reading at Parse; the table of units is in table.go.
package units

import (
	"errors"
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

	Viscosity    Dimension = "viscosity"
	Stress       Dimension = "stress"
	Conductivity Dimension = "heat conductivity"
	Transfer     Dimension = "heat transfer coefficient"
	Flux         Dimension = "heat flux"
	HeatCapacity Dimension = "heat capacity"
	Density      Dimension = "density"
	Expansion    Dimension = "expansion coefficient"
	Tension      Dimension = "surface tension"
	Rate         Dimension = "rate of cooling"

	Angle     Dimension = "angle"
	Roughness Dimension = "roughness"

	StressOptic Dimension = "stress-optical constant"
)

// Quantity is the set of number types above.
type Quantity interface {
	~float64
}

// Error is what Parse finds wrong, in two parts so that a reader of files can
// put the place before them.
type Error struct {
	What  string
	Right string // what would be right
}

// Error prints both parts.
func (e *Error) Error() string { return e.What + "; " + e.Right }

// mostText bounds the text of one quantity; the longest sensible one has 20.
const mostText = 64

// absoluteZeroC is the least temperature there is, in degrees Celsius.
const absoluteZeroC = -273.15

// Parse reads text as a quantity of dimension d and returns it in d's base
// unit (the first of its row in the table: C, K, mm, mm/s, N, bar, L/min, rpm,
// s, kg, kW, L, um, %, and so on). The number is decimal with a point, finite, and may
// carry a sign and an exponent. A fault is an *Error. Whether the value makes
// sense is the caller's to say, save that nothing is below absolute zero.
func Parse(text string, d Dimension) (float64, error) {
	row, ok := table[d]
	if !ok {
		return 0, &Error{fmt.Sprintf("no dimension %q", string(d)), "use one of the table"}
	}
	like := fmt.Sprintf("write %s like %q", a(d), row.example)
	if len(text) > mostText {
		return 0, &Error{fmt.Sprintf("a text of %d bytes is no %s", len(text), d), like}
	}
	number, unit := split(strings.TrimSpace(text))
	switch {
	case number == "":
		return 0, &Error{fmt.Sprintf("%q is not %s", text, a(d)), like}
	case strings.HasPrefix(unit, ","):
		return 0, &Error{fmt.Sprintf("%q has a comma in its number", text),
			"write a decimal point and no thousands mark, like 4.5 or 1200"}
	}
	v, err := parseNumber(number, like)
	if err != nil {
		return 0, err
	}
	factor, err := factorOf(text, unit, d)
	if err != nil {
		return 0, err
	}
	return finish(text, v*factor, d)
}

func parseNumber(number, like string) (float64, error) {
	v, err := strconv.ParseFloat(number, 64)
	if errors.Is(err, strconv.ErrRange) || math.IsInf(v, 0) {
		return 0, &Error{fmt.Sprintf("%q is too large a number", number), like}
	}
	if err != nil {
		return 0, &Error{fmt.Sprintf("%q is not a number", number), like}
	}
	return v, nil
}

// factorOf finds how many base units one unit is, or says what the unit is
// instead of one of d.
func factorOf(text, unit string, d Dimension) (float64, error) {
	row := table[d]
	like := fmt.Sprintf("write %s like %q", a(d), row.example)
	if unit == "" {
		return 0, &Error{fmt.Sprintf("%q has no unit", text), like}
	}
	for _, u := range row.units {
		if u.name == unit {
			return u.factor, nil
		}
	}
	if other := dimensionOf(unit); other != "" {
		return 0, &Error{fmt.Sprintf("%q is %s", text, a(other)),
			fmt.Sprintf("%s is wanted, like %q", a(d), row.example)}
	}
	plain := strings.NewReplacer("\u00b0", "", "\u00b5", "u", "\u03bc", "u", "\u00b3",
		"3").Replace(unit)
	for _, u := range row.units {
		if strings.EqualFold(u.name, plain) {
			return 0, &Error{fmt.Sprintf("%q has the unknown unit %q", text, unit),
				fmt.Sprintf("write the unit as %q, like %q", u.name, row.example)}
		}
	}
	return 0, &Error{fmt.Sprintf("%q has the unknown unit %q", text, unit), like}
}

func finish(text string, v float64, d Dimension) (float64, error) {
	if math.IsInf(v, 0) {
		return 0, &Error{fmt.Sprintf("%q is too large a number", text),
			fmt.Sprintf("write %s like %q", a(d), table[d].example)}
	}
	if d == Temperature && v < absoluteZeroC {
		return 0, &Error{fmt.Sprintf("%q is below absolute zero", text),
			fmt.Sprintf("write a temperature like %q", table[d].example)}
	}
	return v, nil
}

// Example is a text that Parse reads as a quantity of dimension d, for
// messages; "" for an unknown dimension.
func Example(d Dimension) string { return table[d].example }

// Base is the name of d's base unit, in which Parse answers; "" for an unknown
// dimension.
func Base(d Dimension) string {
	if row, ok := table[d]; ok {
		return row.units[0].name
	}
	return ""
}

// ParseTime reads text ("12 s", "150 ms", "3 min") as a duration, which may
// not be negative or longer than 1,000 hours.
func ParseTime(text string) (time.Duration, error) {
	s, err := Parse(text, Time)
	if err != nil {
		return 0, err
	}
	if s < 0 || s > 3600*1000 {
		return 0, &Error{fmt.Sprintf("%q is out of range", text),
			"a time lies between 0 s and 1,000 h"}
	}
	return time.Duration(math.Round(s * float64(time.Second))), nil
}

// Format prints v, in d's base unit, so that Parse reads it back to the same
// number.
func Format(v float64, d Dimension) string {
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + table[d].units[0].name
}

// FormatTime prints a duration that is not negative in s, below a second with a
// remainder in ms; ParseTime reads it back to the same duration.
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

// a is the dimension with its article.
func a(d Dimension) string {
	if strings.ContainsAny(string(d[:1]), "aeiou") {
		return "an " + string(d)
	}
	return "a " + string(d)
}
