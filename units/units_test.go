package units_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pressrig/units"
)

var dimensions = []units.Dimension{
	units.Temperature, units.Difference, units.Length, units.Speed, units.Force, units.Pressure,
	units.Flow, units.Rotation, units.Time, units.Mass, units.Power, units.Volume,
	units.Wavelength, units.Share, units.Viscosity, units.Stress, units.Conductivity, units.Transfer,
	units.Flux, units.HeatCapacity, units.Density, units.Expansion, units.Tension, units.Angle,
	units.Roughness, units.Rate, units.StressOptic,
}

func TestParse(t *testing.T) {
	// Factors: SI prefixes; 1 bar = 100 kPa, 1 h = 3600 s (BIPM SI brochure, 9th edition, table 8).
	for _, c := range []struct {
		text string
		d    units.Dimension
		want float64
	}{
		{"780 C", units.Temperature, 780},
		{"  -20C ", units.Temperature, -20},
		{"5 mm/s", units.Speed, 5},
		{"0.05 m/s", units.Speed, 50},
		{"3.0 L/min", units.Flow, 3},
		{"60 m3/h", units.Flow, 1000},
		{"800 mL/min", units.Flow, 0.8},
		{"1.5e2 kPa", units.Pressure, 1.5},
		{"250 mbar", units.Pressure, 0.25},
		{"+4.5e1 N", units.Force, 45},
		{"0.4 kN", units.Force, 400},
		// P05 nickel-iron of 50.5 % nickel, a seller's sheet per degree Fahrenheit, found.
		{"5.5e-6 /F", units.Expansion, 9.90e-6},
		{"1.7 cm", units.Length, 17},
		{"2 h", units.Time, 7200},
		{"600 g", units.Mass, 0.6},
		{"20 %", units.Share, 20},
		{"2 m3", units.Volume, 2000},
		{"4391 mm3", units.Volume, 0.004391},
		{"0.5 K/s", units.Rate, 30},
		{"55 K/h", units.Rate, 55.0 / 60},
		{"1e5 P", units.Viscosity, 1e4}, // 1 poise = 0.1 Pa.s
		{"72 GPa", units.Stress, 72000},
		{"8.3e-6/K", units.Expansion, 8.3e-6},
		{"9.9 ppm/K", units.Expansion, 9.9e-6},
		{"30000 W/m2", units.Flux, 30},
	} {
		v, err := units.Parse(c.text, c.d)
		if err != nil || math.Abs(v-c.want) > 1e-9*math.Abs(c.want) {
			t.Errorf("Parse(%q, %s) = %v, %v; want %v", c.text, c.d, v, err, c.want)
		}
	}
}

func TestParseSaysWhatWouldBeRight(t *testing.T) {
	for _, c := range []struct {
		text string
		d    units.Dimension
		want string
	}{
		{"780", units.Temperature, `"780" has no unit; write a temperature like "780 C"`},
		{"780 °C", units.Temperature,
			`"780 °C" has the unknown unit "°C"; write the unit as "C", like "780 C"`},
		{"4,5 mm", units.Length,
			`"4,5 mm" has a comma in its number; write a decimal point and no thousands mark, like 4.5 or 1200`},
		{"1,200 C", units.Temperature,
			`"1,200 C" has a comma in its number; write a decimal point and no thousands mark, like 4.5 or 1200`},
		{"45 mm", units.Force, `"45 mm" is a length; a force is wanted, like "45 N"`},
		{"45 n", units.Force,
			`"45 n" has the unknown unit "n"; write the unit as "N", like "45 N"`},
		{"5 µm", units.Wavelength,
			`"5 µm" has the unknown unit "µm"; write the unit as "um", like "5 um"`},
		{"3 gallons", units.Volume,
			`"3 gallons" has the unknown unit "gallons"; write a volume like "50 L"`},
		{"", units.Time, `"" is not a time; write a time like "12 s"`},
		{"NaN C", units.Temperature,
			`"NaN C" is not a temperature; write a temperature like "780 C"`},
		{"Inf N", units.Force, `"Inf N" is not a force; write a force like "45 N"`},
		{"1e999 " +
			"C", units.Temperature,
			`"1e999" is too large a number; write a temperature like "780 C"`},
		{"1e308 kN", units.Force, `"1e308 kN" is too large a number; write a force like "45 N"`},
		{"--5 C", units.Temperature, `"--5" is not a number; write a temperature like "780 C"`},
		{"1.2.3 C", units.Temperature, `"1.2.3" is not a number; write a temperature like "780 C"`},
		{"-300 C", units.Temperature,
			`"-300 C" is below absolute zero; write a temperature like "780 C"`},
		{"0x10 C", units.Temperature,
			`"0x10 C" has the unknown unit "x10 C"; write a temperature like "780 C"`},
		{strings.Repeat("1", 70) + " C", units.Temperature,
			`a text of 72 bytes is no temperature; write a temperature like "780 C"`},
		{"5 C", units.Dimension("colour"), `no dimension "colour"; use one of the table`},
	} {
		_, err := units.Parse(c.text, c.d)
		var u *units.Error
		if !errors.As(err, &u) || err.Error() != c.want {
			t.Errorf("Parse(%q, %s):\n have %v\n want %s", c.text, c.d, err, c.want)
		}
	}
}

func TestParseTime(t *testing.T) {
	for _, c := range []struct {
		text string
		want time.Duration
		bad  bool
	}{
		{"12 s", 12 * time.Second, false},
		{"150 ms", 150 * time.Millisecond, false},
		{"1.5 min", 90 * time.Second, false},
		{"1000 h", 1000 * time.Hour, false},
		{"1000.1 h", 0, true},
		{"-1 s", 0, true},
		{"5", 0, true},
	} {
		have, err := units.ParseTime(c.text)
		if have != c.want || (err != nil) != c.bad {
			t.Errorf("ParseTime(%q) = %v, %v; want %v, error %v", c.text, have, err, c.want, c.bad)
		}
	}
}

func TestEveryDimensionReadsItsExample(t *testing.T) {
	for _, d := range dimensions {
		if _, err := units.Parse(units.Example(d), d); err != nil {
			t.Errorf("%s: %v", d, err)
		}
	}
}

func TestFormatIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(dimensions).Draw(t, "dimension")
		// Format writes no exponent; within a trillion and a trillionth the text stays short.
		v := rapid.Float64Range(-273, 1e12).Draw(t, "v")
		if math.Abs(v) < 1e-12 {
			v = 0
		}
		have, err := units.Parse(units.Format(v, d), d)
		if err != nil || have != v {
			t.Fatalf("%v %s printed as %q is read as %v, %v", v, d, units.Format(v, d), have, err)
		}
	})
}

func TestFormatTimeIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := time.Duration(rapid.Int64Range(0, 1000*3600*1000).Draw(t, "ms")) * time.Millisecond
		if have, err := units.ParseTime(units.FormatTime(want)); err != nil || have != want {
			t.Fatalf("%v printed as %q is read as %v, %v", want, units.FormatTime(want), have, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"780 C", "4,5 mm", "1e999 N", "", "-", "+.e5 s", "5 mm/s",
		"\x00 C"} {
		f.Add(s, uint8(0))
	}
	f.Fuzz(func(t *testing.T, s string, n uint8) {
		d := dimensions[int(n)%len(dimensions)]
		v, err := units.Parse(s, d)
		if err != nil {
			if v != 0 {
				t.Fatalf("%q: value %v beside error %v", s, v, err)
			}
			return
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%q is read as %v", s, v)
		}
	})
}
