package glass

import (
	"fmt"
	"math"
	"strings"
)

// Oxide is what a composition is counted in.
type Oxide int

// The oxides that a composition may name.
const (
	SiO2 Oxide = iota
	Al2O3
	B2O3
	Na2O
	K2O
	Li2O
	CaO
	MgO
	BaO
	SrO
	ZnO
	PbO
	Fe2O3
	TiO2
	ZrO2
	P2O5
	SO3
	F // counted as F, not as F2
	Sb2O3
	As2O3
	oxides
)

// oxideTable has molar masses in g/mol, sums of the standard atomic weights
// (IUPAC, abridged, 2021).
var oxideTable = [oxides]struct {
	name  string
	molar float64
}{
	SiO2: {"SiO2", 60.083}, Al2O3: {"Al2O3", 101.961}, B2O3: {"B2O3", 69.617}, Na2O: {"Na2O", 61.979},
	K2O: {"K2O", 94.195}, Li2O: {"Li2O", 29.879}, CaO: {"CaO", 56.077}, MgO: {"MgO", 40.304},
	BaO: {"BaO", 153.326}, SrO: {"SrO", 103.619}, ZnO: {"ZnO", 81.379}, PbO: {"PbO", 223.199},
	Fe2O3: {"Fe2O3", 159.687}, TiO2: {"TiO2", 79.865}, ZrO2: {"ZrO2", 123.222},
	P2O5: {"P2O5", 141.943}, SO3: {"SO3", 80.057}, F: {"F", 18.998}, Sb2O3: {"Sb2O3", 291.517},
	As2O3: {"As2O3", 197.840},
}

func (o Oxide) String() string { return oxideTable[o].name }

// OxideNamed finds an oxide by its formula.
func OxideNamed(name string) (Oxide, bool) {
	for o := range oxides {
		if o.String() == name {
			return o, true
		}
	}
	return 0, false
}

// OxideNames lists the oxides that a composition may name.
func OxideNames() []string {
	out := make([]string, oxides)
	for o := range oxides {
		out[o] = o.String()
	}
	return out
}

// MolPercent is a composition in mol %, WtPercent one in % of mass.
type (
	MolPercent [oxides]float64
	WtPercent  [oxides]float64
)

// Sums between which a composition is taken; sheets round and leave traces out.
const (
	leastSum = 98.0
	mostSum  = 102.0
)

// Mol turns shares of mass into shares of moles that sum to 100.
func (w WtPercent) Mol() MolPercent {
	var m MolPercent
	for o := range oxides {
		m[o] = w[o] / oxideTable[o].molar
	}
	return scaled(m)
}

// Wt turns shares of moles into shares of mass that sum to 100.
func (m MolPercent) Wt() WtPercent {
	var w WtPercent
	for o := range oxides {
		w[o] = m[o] * oxideTable[o].molar
	}
	return scaled(w)
}

// Check refuses what is no composition.
func (w WtPercent) Check() error { return checkShares(w, "wt %") }

// Check refuses what is no composition.
func (m MolPercent) Check() error { return checkShares(m, "mol %") }

func scaled[C ~[oxides]float64](c C) C {
	sum := sumOf(c)
	if sum > 0 {
		for o := range oxides {
			c[o] *= 100 / sum
		}
	}
	return c
}

func sumOf[C ~[oxides]float64](c C) (sum float64) {
	for o := range oxides {
		sum += c[o]
	}
	return sum
}

func checkShares[C ~[oxides]float64](c C, unit string) error {
	for o := range oxides {
		if !(c[o] >= 0 && c[o] <= 100) { // written so that a NaN is refused too
			return fmt.Errorf("%g %s of %s; a share lies between 0 and 100", c[o], unit, o)
		}
	}
	if sum := sumOf(c); !(sum >= leastSum && sum <= mostSum) {
		return fmt.Errorf("the oxides sum to %.2f %s; they must sum to %g to %g, so name all of them",
			sum, unit, leastSum, mostSum)
	}
	return nil
}

// ParseWt reads "SiO2=72.6,Na2O=13.9,..." as % of mass.
func ParseWt(text string) (WtPercent, error) {
	shares, err := parseShares(text)
	if err == nil {
		err = WtPercent(shares).Check()
	}
	return shares, err
}

// ParseMol reads "SiO2=71.3,Na2O=13.2,..." as mol %.
func ParseMol(text string) (MolPercent, error) {
	shares, err := parseShares(text)
	if err == nil {
		err = MolPercent(shares).Check()
	}
	return shares, err
}

func parseShares(text string) (c [oxides]float64, err error) {
	seen := map[Oxide]bool{}
	for part := range strings.SplitSeq(text, ",") {
		name, number, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			return c, fmt.Errorf("%q is no share of an oxide; write oxide=percent, like SiO2=72.6",
				shortened(part))
		}
		o, known := OxideNamed(strings.TrimSpace(name))
		if !known {
			return c, fmt.Errorf("unknown oxide %q; known are %s", shortened(name),
				strings.Join(OxideNames(), ", "))
		}
		if seen[o] {
			return c, fmt.Errorf("%s stands twice; write it once", o)
		}
		seen[o] = true
		if c[o], err = plain(number); err != nil {
			return c, fmt.Errorf("%s: %w", o, err)
		}
		if c[o] < 0 || c[o] > 100 {
			return c, fmt.Errorf("%s is %g; a share lies between 0 and 100", o, c[o])
		}
	}
	return c, nil
}

// finite refuses what is no number of the world.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
