package glass

import (
	"fmt"
	"strings"
)

// term is a coefficient with the oxides it multiplies, "" for the constant.
type term struct {
	coefficient float64
	of          string
}

// fluegelLevels are the three viscosities of the model, log10 of Pa.s.
var fluegelLevels = [3]float64{1.5, LogSoftening, LogAnnealing}

// fluegelMost is the largest part of each oxide that the model saw, mol% at
// the three levels (Fluegel 2007); SiO2 has a least part too.
var fluegelMost = map[string][3]float64{
	"SiO2": {89.2, 87.1, 91.97}, "Al2O3": {11.3, 12.7, 10}, "B2O3": {18.15, 16.97, 16.97},
	"CaO": {33.5, 33.1, 50}, "K2O": {41.7, 30, 34}, "Li2O": {35.9, 33.3, 45},
	"MgO": {16.9, 20, 16.6}, "Na2O": {44, 42, 42}, "PbO": {50, 50, 56},
	"ZnO": {5.2, 8, 2.8}, "BaO": {10, 8, 19.2},
}

var fluegelLeastSiO2 = [3]float64{42.6, 42.6, 41.4}

// mostMinor bounds the oxides whose range is not known to us, mol%. Our own
// choice: as much as fining agents and traces come to.
const mostMinor = 1.0

// rangeSlack is half the last digit that bounds are printed to: the paper itself
// computes SRM 710a with 2.81 mol% ZnO against its bound of 2.8.
const rangeSlack = 0.05

// Fluegel computes the points at 10^1.5, 10^6.6 and 10^12 Pa.s from percent by
// moles. Standard error 9 to 17 C; glasses that separate into phases (some
// borosilicates) and lead stem glasses lie farther off: measured points stand
// above it.
func Fluegel(mol Composition) ([3]Point, error) {
	var points [3]Point
	if err := mol.check(); err != nil {
		return points, err
	}
	for i, terms := range [3][]term{fluegel15, fluegel66, fluegel12} {
		if err := fluegelRange(mol, i); err != nil {
			return points, err
		}
		points[i] = Point{Log: fluegelLevels[i], C: sum(terms, mol)}
	}
	return points, nil
}

func fluegelRange(mol Composition, level int) error {
	for _, name := range mol.oxides() {
		most := mostMinor
		if m, known := fluegelMost[name]; known {
			most = m[level]
		}
		if mol[name] > most+rangeSlack {
			return fmt.Errorf("%s is %.2f mol%%; Fluegel's model holds to %g mol%% at 10^%g Pa.s: "+
				"give measured points instead", name, mol[name], most, fluegelLevels[level])
		}
	}
	if least := fluegelLeastSiO2[level]; mol["SiO2"] < least {
		return fmt.Errorf("SiO2 is %.2f mol%%; Fluegel's model holds from %g mol%% at 10^%g Pa.s: "+
			"give measured points instead", mol["SiO2"], least, fluegelLevels[level])
	}
	return nil
}

func sum(terms []term, mol Composition) float64 {
	total := 0.0
	for _, t := range terms {
		product := t.coefficient
		if t.of != "" {
			for _, oxide := range strings.Split(t.of, "*") {
				product *= mol[oxide]
			}
		}
		total += product
	}
	return total
}
