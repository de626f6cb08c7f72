package glass

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// molarMass of each oxide that a composition may name, g/mol, from the IUPAC
// atomic weights.
var molarMass = map[string]float64{
	"SiO2": 60.084, "Al2O3": 101.961, "Na2O": 61.979, "K2O": 94.196, "Li2O": 29.881,
	"CaO": 56.077, "MgO": 40.304, "BaO": 153.326, "ZnO": 81.379, "PbO": 223.199,
	"B2O3": 69.617, "Fe2O3": 159.687, "TiO2": 79.866, "SO3": 80.057, "SrO": 103.619,
	"ZrO2": 123.222, "P2O5": 141.943, "Sb2O3": 291.517,
}

// sumSlack is how far from 100 % a composition may sum, percentage points:
// analyses are rounded oxide by oxide.
const sumSlack = 1.0

// mostCompositionText bounds what ParseComposition reads.
const mostCompositionText = 1000

// Composition is parts of oxides in percent, by mass or by moles as the name
// of what holds it says.
type Composition map[string]float64

// ParseComposition reads "SiO2=72.6,Na2O=13.9,..."; percentages sum to 100.
func ParseComposition(text string) (Composition, error) {
	if len(text) > mostCompositionText {
		return nil, fmt.Errorf("composition is longer than %d characters", mostCompositionText)
	}
	c := Composition{}
	for _, part := range strings.Split(text, ",") {
		name, figure, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			return nil, fmt.Errorf("%q is no part of a composition; write OXIDE=PERCENT, "+
				"for example SiO2=72.6", part)
		}
		v, err := strconv.ParseFloat(figure, 64)
		if err != nil {
			return nil, fmt.Errorf("%s: %q is no number of percent", name, figure)
		}
		if _, twice := c[name]; twice {
			return nil, fmt.Errorf("%s is written twice", name)
		}
		c[name] = v
	}
	return c, c.check()
}

// oxides are the names in c in a fixed order, so that sums do not depend on
// the order of a map.
func (c Composition) oxides() []string {
	names := make([]string, 0, len(c))
	for name := range c {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

func (c Composition) check() error {
	sum := 0.0
	for _, name := range c.oxides() {
		if _, known := molarMass[name]; !known {
			return fmt.Errorf("oxide %q is not known; known are %s", name,
				strings.Join(Composition(molarMass).oxides(), ", "))
		}
		if v := c[name]; !(v >= 0 && v <= 100) {
			return fmt.Errorf("%s is %g %%; a part lies between 0 and 100 %%", name, v)
		}
		sum += c[name]
	}
	if !(math.Abs(sum-100) <= sumSlack) {
		return fmt.Errorf("percentages sum to %.2f; they must sum to 100 within %g", sum, sumSlack)
	}
	if c["SiO2"] == 0 {
		return fmt.Errorf("no SiO2; only silicate glasses are known here")
	}
	return nil
}

// MolFromMass turns percent by mass into percent by moles, summing to 100.
func MolFromMass(mass Composition) Composition {
	return mass.scaled(func(name string) float64 { return 1 / molarMass[name] })
}

// MassFromMol turns percent by moles into percent by mass, summing to 100.
func MassFromMol(mol Composition) Composition {
	return mol.scaled(func(name string) float64 { return molarMass[name] })
}

func (c Composition) scaled(factor func(string) float64) Composition {
	sum := 0.0
	for _, name := range c.oxides() {
		sum += c[name] * factor(name)
	}
	out := Composition{}
	for name, v := range c {
		out[name] = 100 * v * factor(name) / sum
	}
	return out
}

// Part is one oxide of a composition.
type Part struct {
	Oxide   string
	Percent float64
}

// Parts lists the oxides by name.
func (c Composition) Parts() []Part {
	var parts []Part
	for _, name := range c.oxides() {
		parts = append(parts, Part{name, c[name]})
	}
	return parts
}
