package glass

import "math"

// ShearMPa is the shear modulus of an isotropic solid.
func (g *Glass) ShearMPa() float64 { return g.YoungMPa / (2 * (1 + g.Poisson)) }

// StressPerKelvinMPa is Young's modulus times expansion, which makers' sheets
// call the coefficient of thermal stress.
func (g *Glass) StressPerKelvinMPa() float64 { return g.YoungMPa * g.ExpansionPK }

// ModelConductivityWmK is the conductivity of a cold glass of that heat capacity
// and density, within 12 % (van der Tempel, Glass Phys. Chem. 28 (2002) 147).
func ModelConductivityWmK(capacityJkgK, densityKgM3 float64) float64 {
	return 1.68 * math.Pow(capacityJkgK/densityKgM3, 0.38)
}

// usualCapacityJkgK is the heat capacity of cold soda-lime, of which sources
// have 720 to 880.
const usualCapacityJkgK = 800
