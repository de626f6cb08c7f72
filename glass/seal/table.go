package seal

import (
	"fmt"
	"strings"
)

// Alloy is what a pin is made of. A clad wire differs along and across itself;
// for an even metal both curves are the same.
type Alloy struct {
	Name, Label   string
	Radial, Axial Curve
	Expansion     string // source of the curves
	Elastic       Elastic
	Elasticity    string  // source of the moduli
	WarnMM        float64 // wire above it is warned of, 0 for none
	MostMM        float64 // wire above it is refused, 0 for none
}

const memory = "from memory"

// alone is a curve of one coefficient.
func alone(toC, perK float64) Curve { return Curve{[]Mean{{toC, perK}}, true} }

// Coefficients in 1/F of the maker's sheet are times 1.8 here.
var alloys = []Alloy{
	even("kovar", "iron-nickel-cobalt, ASTM F15",
		Curve{[]Mean{{200, 5.2e-6}, {300, 5.1e-6}, {400, 4.9e-6}, {450, 5.3e-6}, {500, 6.2e-6}}, false},
		"encyclopaedia, found; ASTM F15 limits 5.10 to 5.50 at 450 C from memory",
		Elastic{159e9, 0.3}, "159 GPa found, another source 138; ratio from memory"),
	even("alloy-42", "42 % nickel-iron", alone(399, 6.12e-6),
		"Michlin Metals, found; Boyness Springs gives 4.5 to 6.5 to 300 C",
		Elastic{148e9, 0.29}, memory),
	even("alloy-46", "46 % nickel-iron", alone(399, 7.74e-6), "Michlin Metals, found",
		Elastic{159e9, 0.29}, memory),
	even("alloy-52", "50.5 % nickel-iron, ASTM F30", alone(399, 9.90e-6),
		"Michlin Metals, found; ASTM F30: meant for lead sealing glasses",
		Elastic{165e9, 0.29}, memory),
	{"dumet", "alloy-42 core in copper, ASTM F29", alone(400, 9.0e-6), alone(400, 6.25e-6),
		"from memory: radial 8 to 10, axial 6 to 6.5", Elastic{148e9, 0.3}, memory, 0.5, 0.8},
	even("tungsten", "tungsten", alone(400, 4.5e-6), "Callister, found", Elastic{400e9, 0.28}, memory),
	even("molybdenum", "molybdenum", alone(400, 4.9e-6),
		"Callister, found; 5.1 to 5.5 from 20 to 400 C from memory", Elastic{320e9, 0.31}, memory),
}

func even(name, label string, c Curve, expansion string, e Elastic, elasticity string) Alloy {
	return Alloy{Name: name, Label: label, Radial: c, Axial: c, Expansion: expansion, Elastic: e,
		Elasticity: elasticity}
}

// Names lists the alloys.
func Names() []string {
	names := make([]string, len(alloys))
	for i, a := range alloys {
		names[i] = a.Name
	}
	return names
}

// Named finds an alloy by its name.
func Named(name string) (Alloy, error) {
	for _, a := range alloys {
		if a.Name == name {
			return a, nil
		}
	}
	return Alloy{}, fmt.Errorf("no pin alloy %q; one of %s", name, strings.Join(Names(), ", "))
}
