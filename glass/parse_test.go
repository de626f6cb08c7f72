package glass_test

import (
	"math"
	"strings"
	"testing"

	"pressrig/glass"
)

func text(t testing.TB, name string) string {
	t.Helper()
	b, err := glass.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// Every number of every built-in glass tells where it comes from.
func TestEveryFigureHasItsOrigin(t *testing.T) {
	for _, name := range glass.Names() {
		g := named(t, name)
		if g.Name != name {
			t.Errorf("file %s has the glass %s", name, g.Name)
		}
		figures := g.Figures()
		if len(figures) < 12 {
			t.Errorf("%s: only %d figures", name, len(figures))
		}
		for _, f := range figures {
			if f.Source == "" || f.Confidence == "" || f.Value == 0 {
				t.Errorf("%s: %+v", name, f)
			}
		}
		if o, known := g.Origin("curve"); !known || o.Source == "" {
			t.Errorf("%s: no origin of the curve", name)
		}
	}
}

// A file of one's own may leave out what the curve or the density gives.
func TestParseFillsWhatIsLeftOut(t *testing.T) {
	short := without(without(without(text(t, "float"), "softening"), "working"), "conductivity")
	g, err := glass.Parse("own.yaml", []byte(short))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "softening", float64(g.SofteningC), g.AtLogViscosity(6.6), 1e-9)
	near(t, "working", float64(g.WorkingC), g.AtLogViscosity(3), 1e-9)
	// van der Tempel 2002 for 800 J/(kg.K) and 2500 kg/m3, derived
	near(t, "conductivity", g.ConductivityWmK, 1.090, 0.002)
	if o, _ := g.Origin("softening"); o.Confidence != glass.Derived {
		t.Errorf("softening is %+v", o)
	}
}

// without removes a key with the lines that belong to it.
func without(file, key string) string {
	var out []string
	inside := false
	for _, line := range strings.Split(file, "\n") {
		if !strings.HasPrefix(line, " ") {
			inside = strings.HasPrefix(line, key+":")
		}
		if !inside {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

func TestParseRefuses(t *testing.T) {
	float, lamp := text(t, "float"), text(t, "soda-lime-lamp")
	for _, c := range []struct{ name, file, old, new, want string }{
		{"unknown key", float, "label:", "colour: red\nlabel:", `unknown key "colour"`},
		{"no unit", float, "value: 2500 kg/m3", "value: 2500", "no unit"},
		{"negative", float, "value: 2500 kg/m3", "value: -2500 kg/m3", "density.yaml"},
		{"absurd", float, "value: 0.23", "value: 0.7", "0.05 to 0.45"},
		{"not a number", float, "value: 0.23", "value: NaN", "plain number"},
		{"no confidence", float, "confidence: found\nyoung", "confidence: certain\nyoung", "from memory"},
		{"strain above annealing", float, "value: 511 C", "value: 611 C", "do not rise"},
		{"constants for poise", float, "A: -2.585", "A: -1.585", "constants for poise"},
		{"strain point in a fit", lamp, "{log: 12, at: 514 C}", "{log: 13.5, at: 473 C}", "strain point"},
		{"two points", lamp, "    - {log: 12, at: 514 C}\n", "", "2 points"},
		{"constant beside points", lamp, "  points:", "  A: -2\n  points:", "either A, B and T0, or points"},
		{"sum", float, "SiO2: 72.6", "SiO2: 52.6", "sum to 80.81"},
		{"unknown oxide", float, "Fe2O3: 0.11", "FeO: 0.11", "FeO"},
		{"negative oxide", float, "K2O: 0.6", "K2O: -0.6", "from 0 to 100"},
	} {
		changed := strings.Replace(c.file, c.old, c.new, 1)
		if changed == c.file {
			t.Errorf("%s: nothing changed", c.name)
		}
		g, err := glass.Parse("density.yaml", []byte(changed))
		if err == nil || g != nil || !strings.Contains(err.Error(), c.want) ||
			!strings.HasPrefix(err.Error(), "density.yaml:") {
			t.Errorf("%s: %v, want one with %q", c.name, err, c.want)
		}
	}
}

func TestParsePoints(t *testing.T) {
	p, err := glass.ParsePoints("annealing=539C, 1.5=1301C, softening=721C")
	if want := [3]glass.Point{{Log: 1.5, C: 1301}, {Log: 6.6, C: 721}, {Log: 12, C: 539}}; err != nil || p != want {
		t.Errorf("%v, %v", p, err)
	}
	for text, want := range map[string]string{
		"":                                    "1 points",
		"softening=715C,annealing=548C":       "2 points",
		"working,softening=1C,annealing=548C": "no point",
		// ISO 7884-7, scope
		"softening=715C,annealing=548C,strain=511C":  "strain point",
		"working=1005,softening=715C,annealing=548C": "no unit",
		"working=-5C,softening=715C,annealing=548C":  "no temperature of a melt",
		"melting=1005C,softening=715C,strain=548C":   "no fixed point",
		"NaN=1005C,softening=715C,annealing=548C":    "no fixed point",
	} {
		if p, err := glass.ParsePoints(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v; want an error with %q", text, p, err, want)
		}
	}
}

// Whatever the file says, a glass that is accepted has a curve that falls and
// a figure for everything a model needs.
func FuzzParse(f *testing.F) {
	for _, name := range glass.Names() {
		f.Add([]byte(text(f, name)))
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		g, err := glass.Parse("fuzz.yaml", file)
		if err != nil {
			return
		}
		for _, p := range g.Figures() {
			if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) || p.Source == "" || p.Confidence == "" {
				t.Fatalf("%+v", p)
			}
		}
		if !(g.AtLogViscosity(12) < g.AtLogViscosity(6.6) && g.AtLogViscosity(6.6) < g.AtLogViscosity(3)) ||
			!(g.DensityKgM3 > 0 && g.YoungMPa > 0 && g.ConductivityWmK > 0) {
			t.Fatalf("%+v", g)
		}
	})
}

func FuzzParsePoints(f *testing.F) {
	f.Add("working=1005C,softening=695C,annealing=514C")
	f.Add("1.5=NaN C,=,")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := glass.ParsePoints(text)
		if err != nil {
			return
		}
		if v, err := glass.Fit(p[0], p[1], p[2]); err == nil && !(v.B > 0 && v.At(3) > v.At(6.6)) {
			t.Fatalf("%q gave %+v", text, v)
		}
	})
}
