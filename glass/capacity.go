package glass

import "fmt"

// sharpGinther are the coefficients of Sharp and Ginther, J. Am. Ceram. Soc. 34
// (1951) 260: per part of mass, cal/(g.K2) and cal/(g.K). All from memory.
var sharpGinther = map[string][2]float64{
	"SiO2": {468e-6, .1657}, "Na2O": {829e-6, .2229}, "CaO": {410e-6, .1709},
	"MgO": {514e-6, .2142}, "K2O": {335e-6, .2019}, "Al2O3": {453e-6, .1765},
	"B2O3": {635e-6, .1980}, "PbO": {13e-6, .0490},
}

const (
	sharpGintherBend = 0.00146
	joulePerKgCal    = 4184.0
	sharpGintherMost = 1300.0 // degrees Celsius
)

// SharpGinther computes the mean heat capacity from 0 C and the true one at a
// temperature, J/(kg.K), from percent by mass. Its coefficients are from
// memory. Oxides without one may be 1 % together.
func SharpGinther(mass Composition, celsius float64) (mean, local float64, err error) {
	if err := mass.check(); err != nil {
		return 0, 0, err
	}
	if !(celsius >= 0 && celsius <= sharpGintherMost) {
		return 0, 0, fmt.Errorf("%g C is outside the range of Sharp and Ginther, 0 to %g C",
			celsius, sharpGintherMost)
	}
	var a, c, covered, all float64
	for _, name := range mass.oxides() {
		all += mass[name]
		if x, known := sharpGinther[name]; known {
			covered += mass[name]
			a, c = a+mass[name]*x[0], c+mass[name]*x[1]
		}
	}
	if all-covered > mostMinor {
		return 0, 0, fmt.Errorf("%.2f %% of the mass are oxides that Sharp and Ginther do not have; "+
			"at most %g %% may be", all-covered, mostMinor)
	}
	a, c = a/covered, c/covered
	bend := sharpGintherBend*celsius + 1
	mean = joulePerKgCal * (a*celsius + c) / bend
	local = joulePerKgCal * (sharpGintherBend*a*celsius*celsius + 2*a*celsius + c) / (bend * bend)
	return mean, local, nil
}
