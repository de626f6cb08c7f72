package cool

import (
	"math"
	"slices"

	"pressrig/glass/heat"
	"pressrig/glass/span"
)

// Limit is a stress that somebody allows, and who.
type Limit struct {
	What   string
	Pa     float64
	Source string
}

// Annealed well enough, Pa [from memory].
const (
	fineMost       = 1e6
	commercialMost = 3e6
)

var limits = []Limit{
	{"fine annealing, what stays", fineMost, "below 0.5 to 1 MPa, from memory"},
	{"good commercial annealing, what stays", commercialMost, "below 2 to 3 MPa, from memory"},
	{"borosilicate 3.3, permissible in use", 7e6, "DIN EN 1595 in the DURAN data sheet, found"},
	{"cut edge, warming or cooling", 7e6, "7 to 19 MPa, common practice, no source"},
	{"float glass, design at 0.8 % breakage", 19e6, "Pilkington ATS-129, found"},
	{"float glass, mean at 60 s", 41e6, "Pilkington ATS-129, found"},
}

// Limits are the allowed tensions that are known, lowest first. None is for a
// chipped edge.
func Limits() []Limit { return slices.Clone(limits) }

// ShockK is the sudden step of temperature at which a surface in perfect
// contact reaches a strength: s (1-nu)/(E alpha).
func (g Glass) ShockK(strengthPa float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	if err := span.Check(ofTension("strength", strengthPa)); err != nil {
		return 0, err
	}
	return strengthPa / g.perKelvin(), nil
}

// ShockFilmK is the same for a heat transfer that is not perfect: times 1.5 +
// 3.25/Bi - 0.5 exp(-16/Bi), Bi = h L/k with half the thickness (Kingery, from
// memory).
func (g Glass) ShockFilmK(strengthPa, thicknessM, film float64) (float64, error) {
	sudden, err := g.ShockK(strengthPa)
	if err != nil {
		return 0, err
	}
	if err := span.Check(ofSize(thicknessM), span.Of{What: "heat transfer in W/(m2.K)", Value: film,
		Least: 0.1, Most: 1e7}); err != nil {
		return 0, err
	}
	biot := film * thicknessM / 2 / g.Conductivity
	return sudden * (1.5 + 3.25/biot - 0.5*math.Exp(-16/biot)), nil
}

// Fatigue: glass under load for longer breaks at less. The exponent 10 is that
// of soda glass (Ashby and Jones, found), strengths are quoted at 60 s.
const (
	fatigue  = 10.0
	quotedS  = 60.0
	leastAsS = 0.1
)

// Risk grades a tension that acts for a time: the tension that would be as
// dangerous for 60 s, and its grade. A grade, not yes or no.
func Risk(tensionPa, seconds float64) (heat.Risk, float64, error) {
	if err := span.Check(span.Of{What: "tension in Pa", Value: tensionPa, Least: -1e10, Most: 1e10},
		ofSeconds(seconds)); err != nil {
		return 0, 0, err
	}
	alike := tensionPa * math.Pow(max(seconds, leastAsS)/quotedS, 1/fatigue)
	risk, err := heat.RiskOf(alike)
	return risk, alike, err
}

// Annealing grades what stays in the centre: fine below 1 MPa, commercial below
// 3 MPa [from memory].
func Annealing(centrePa float64) (string, error) {
	if err := span.Check(span.Of{What: "tension in Pa", Value: centrePa, Least: -1e10, Most: 1e10}); err != nil {
		return "", err
	}
	switch {
	case centrePa < fineMost:
		return "fine", nil
	case centrePa < commercialMost:
		return "commercial", nil
	}
	return "poor: anneal it in an oven", nil
}
