package seal

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Limits of a mismatch, m/m, and of a tension, Pa.
const (
	matchMost    = 100e-6    // a good match [from memory]
	F14Most      = 300e-6    // practical limit of a bead seal test; above it the glass is likely to fracture: ASTM F14, scope, found
	bearableMost = 500e-6    // most for compression or a thin wire [from memory]
	HullBurgerPa = 9.80665e6 // 1 kg/mm2, often exceeded safely: Hull and Burger, by later abstracts, found
)

// Fit grades a mismatch.
type Fit int

// The grades.
const (
	Match    Fit = iota // below 100 ppm
	Usable              // up to 300 ppm
	Doubtful            // up to 500 ppm: compression or thin wire only
	Unfit               // above
)

// String is the grade in words.
func (f Fit) String() string {
	return [...]string{"match", "usable", "doubtful", "unfit"}[f]
}

func fitOf(mismatch float64) Fit {
	switch m := math.Abs(mismatch); {
	case m < matchMost:
		return Match
	case m <= F14Most:
		return Usable
	case m <= bearableMost:
		return Doubtful
	}
	return Unfit
}

// Glass is what a glass means to a seal.
type Glass struct {
	Expansion           Curve
	Elastic             Elastic
	StrainC, AnnealingC float64
}

// Seal is a pin of an alloy in a bead of a glass. Long is a seal many diameters
// long; otherwise it is a bead.
type Seal struct {
	Glass Glass
	Alloy Alloy
	Shape Shape
	Long  bool
}

// Judgement is what is known for and against a seal.
type Judgement struct {
	SetC          float64 // strain point + 5 K
	Mismatch      float64 // across the pin, at that set point
	OtherMismatch float64 // the same at the mean of annealing and strain point
	Axial         float64 // along the pin
	Stress        Stress
	Fit           Fit // of the worse of both set points
	Warnings      []string
}

// Judge computes mismatch and stress of a seal. It refuses only what the data
// do not reach and a clad wire that is too thick; all else it warns of.
func (s Seal) Judge() (Judgement, error) {
	if a := s.Alloy; a.MostMM > 0 && s.Shape.PinMM > a.MostMM {
		return Judgement{}, fmt.Errorf("a %s pin of %g mm is too thick: its copper strains the glass above "+
			"%g mm; take %g mm at most, or a solid alloy", a.Name, s.Shape.PinMM, a.MostMM, a.WarnMM)
	}
	j, err := s.mismatches()
	if err != nil {
		return Judgement{}, err
	}
	if s.Long {
		j.Stress, err = Long(s.Shape, s.Glass.Elastic, s.Alloy.Elastic, j.Mismatch, j.Axial)
	} else {
		j.Stress, err = Bead(s.Shape, s.Glass.Elastic, s.Alloy.Elastic, j.Mismatch)
	}
	if err != nil {
		return Judgement{}, err
	}
	j.warn(s)
	return j, nil
}

func (s Seal) mismatches() (Judgement, error) {
	g, a := s.Glass, s.Alloy
	set, err := StrainPlus5.C(g.StrainC, g.AnnealingC)
	if err != nil {
		return Judgement{}, err
	}
	other, err := MeanOfBoth.C(g.StrainC, g.AnnealingC)
	if err != nil {
		return Judgement{}, err
	}
	j := Judgement{SetC: set}
	if j.Mismatch, err = Mismatch(g.Expansion, a.Radial, set); err != nil {
		return Judgement{}, err
	}
	if j.OtherMismatch, err = Mismatch(g.Expansion, a.Radial, other); err != nil {
		return Judgement{}, err
	}
	if j.Axial, err = Mismatch(g.Expansion, a.Axial, set); err != nil {
		return Judgement{}, err
	}
	j.Fit = max(fitOf(j.Mismatch), fitOf(j.OtherMismatch))
	return j, nil
}

// thickRatio: a bead of 3 pin diameters has half the strength of one of 9
// (Milner, J. Soc. Glass Technol. 1939, abstract found).
const thickRatio = 3.0

func (j *Judgement) warn(s Seal) {
	say := func(format string, args ...any) { j.Warnings = append(j.Warnings, fmt.Sprintf(format, args...)) }
	const ppm = 1e-6
	worst := max(math.Abs(j.Mismatch), math.Abs(j.OtherMismatch))
	if worst > F14Most {
		say("mismatch of %.0f ppm: above about 300 ppm the glass of a bead seal is likely to fracture "+
			"(ASTM F14)", worst/ppm)
	}
	if t := j.Stress.Tension(); t > HullBurgerPa {
		say("tension of %.1f MPa in the glass at the pin is above 1 kg/mm2 = 9.81 MPa (Hull and Burger; "+
			"often exceeded safely)", t/1e6)
	}
	if fitOf(j.Mismatch) != fitOf(j.OtherMismatch) {
		say("the grade depends on the set point taken: %.0f ppm at strain point + 5 K, %.0f ppm at the mean of "+
			"annealing and strain point", j.Mismatch/ppm, j.OtherMismatch/ppm)
	}
	if s.Glass.Expansion.Constant() {
		say("the glass's expansion is one coefficient up to %.0f C; glass expands more near its strain point: "+
			"ask for its curve", j.SetC)
	}
	if s.Alloy.Radial.Constant() {
		say("the expansion of %s is one coefficient up to %.0f C; ask for its curve", s.Alloy.Name, j.SetC)
	}
	if w := s.Alloy.WarnMM; w > 0 && s.Shape.PinMM > w {
		say("a %s pin of %g mm is thicker than the usual %g mm", s.Alloy.Name, s.Shape.PinMM, w)
	}
	if along := math.Abs(j.Axial); along > worst && along > F14Most {
		say("along the wire the mismatch is %.0f ppm: its copper yields and takes much of it, so a computed axial "+
			"stress is an upper bound", j.Axial/ppm)
	}
	if j.Mismatch < -matchMost {
		say("the pin shrinks away from the glass: its bond carries a radial tension")
	}
	if r := s.Shape.Ratio(); r <= thickRatio {
		say("a bead of %.1f pin diameters: one of 3 has half the strength of one of 9 (Milner 1939)", r)
	}
}

// Candidate is an alloy against a glass.
type Candidate struct {
	Alloy    string
	Mismatch float64 // at strain point + 5 K
	Fit      Fit
}

// Pins lists the alloys that a glass bears, best first, or tells why it is
// better left pinless: then none of them is below 500 ppm.
func Pins(g Glass) (fitting []Candidate, pinless string, err error) {
	set, err := MeanOfBoth.C(g.StrainC, g.AnnealingC)
	if err == nil {
		_, err = g.Expansion.From20(set)
	}
	if err != nil {
		return nil, "", err
	}
	nearest := Candidate{Mismatch: math.Inf(1)}
	for _, a := range alloys {
		j, err := Seal{Glass: g, Alloy: a}.mismatches()
		if err != nil {
			continue // not known up to this glass's set point: nothing to judge it by
		}
		c := Candidate{a.Name, j.Mismatch, j.Fit}
		if math.Abs(c.Mismatch) < math.Abs(nearest.Mismatch) {
			nearest = c
		}
		if c.Fit < Unfit {
			fitting = append(fitting, c)
		}
	}
	if len(fitting) > 0 {
		slices.SortStableFunc(fitting, func(a, b Candidate) int {
			return cmp.Compare(math.Abs(a.Mismatch), math.Abs(b.Mismatch))
		})
		return fitting, "", nil
	}
	return nil, fmt.Sprintf("no pin alloy fits: the nearest, %s, differs by %.0f ppm, and beyond 500 ppm "+
		"not even compression or a thin wire holds (ASTM F14 warns from about 300); make the piece pinless, or "+
		"take a glass nearer to a metal, such as a sealing borosilicate of about 5e-6 /K", nearest.Alloy,
		nearest.Mismatch*1e6), nil
}
