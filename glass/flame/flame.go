// Package flame computes what burns at the glass: heating values, oxygen
// demand, the temperature of the flame with dissociation, whether it reduces or
// oxidises, and what gas a piece uses.
//
// It never opens a valve and never says that a flame is safe: purge, ignition
// and flame failure belong to the burner control and the warden. A computed
// flame temperature is that of well mixed gas which loses no heat; how much of
// it reaches the glass only a heating test on the rig tells. Acetylene is no
// fuel here, because the rig refuses it.
//
// Start reading at Fuel; the temperature of a flame is Mixture.Burn in
// mixture.go, the chemistry behind it is in equilibrium.go, its data in
// species.go.
package flame

import (
	"fmt"
	"math"
)

// Fuel is one gas.
type Fuel struct {
	Name        string
	Carbon      int     // atoms
	Hydrogen    int     // atoms
	FormationKJ float64 // kJ/mol at 25 C, as a gas
	Source      string  // of FormationKJ
}

// The fuels of the trade.
var (
	Hydrogen = Fuel{"hydrogen", 0, 2, 0, "an element, by definition"}
	Methane  = Fuel{"methane", 1, 4, -74.6, "GRI-Mech 3.0 polynomial, evaluated"}
	Propane  = Fuel{"propane", 3, 8, -104.68,
		"from memory; gives the published 2,219.17 kJ/mol higher heating value"}
	Butane = Fuel{"butane", 4, 10, -125.79, "from memory (n-butane)"}
)

var fuels = []Fuel{Hydrogen, Methane, Propane, Butane}

// Named finds a fuel by its name. natural_gas, as rig profiles name it, is
// taken as methane.
func Named(name string) (Fuel, error) {
	if name == "natural_gas" {
		return Methane, nil
	}
	for _, f := range fuels {
		if f.Name == name {
			return f, nil
		}
	}
	return Fuel{}, fmt.Errorf("no fuel %q; one of hydrogen, methane, natural_gas, propane, butane", name)
}

// Heats of formation at 25 C, kJ/mol, as published in engineering tables.
const (
	carbonDioxideKJ = -393.51
	waterGasKJ      = -241.826
	waterLiquidKJ   = -285.83
)

// Molar masses in g/mol (IUPAC abridged) and constants of the ideal gas.
const (
	carbonG      = 12.011
	hydrogenG    = 1.008
	oxygenG      = 15.999
	gasConstant  = 8.314462618 // J/(mol.K)
	atmospherePa = 101325.0
	zeroK        = 273.15
	// NormalLitre is the volume of one mole at 0 C, 1.013 bar, in litres: the
	// litre in which flows are given.
	NormalLitre = gasConstant * zeroK / atmospherePa * 1000
	// AirOxygen is the volume share of oxygen in dry air.
	AirOxygen = 0.2095
)

// MolarMassG is the mass of a mole in grams.
func (f Fuel) MolarMassG() float64 {
	return float64(f.Carbon)*carbonG + float64(f.Hydrogen)*hydrogenG
}

// OxygenPerFuel is the stoichiometric oxygen by volume, O2 to fuel.
func (f Fuel) OxygenPerFuel() float64 {
	return float64(f.Carbon) + float64(f.Hydrogen)/4
}

// AirPerFuel is the stoichiometric air by volume.
func (f Fuel) AirPerFuel() float64 { return f.OxygenPerFuel() / AirOxygen }

// OxygenKgPerKg is the stoichiometric oxygen by mass.
func (f Fuel) OxygenKgPerKg() float64 {
	return f.OxygenPerFuel() * 2 * oxygenG / f.MolarMassG()
}

// LowerKJ is the lower heating value, kJ/mol: the water leaves as a gas, as it
// does at the glass.
func (f Fuel) LowerKJ() float64 { return f.heatKJ(carbonDioxideKJ, waterGasKJ) }

// HigherKJ is the higher heating value, kJ/mol: the water condenses.
func (f Fuel) HigherKJ() float64 { return f.heatKJ(carbonDioxideKJ, waterLiquidKJ) }

// heatKJ is Hess's law for complete combustion.
func (f Fuel) heatKJ(carbonDioxide, water float64) float64 {
	return f.FormationKJ - float64(f.Carbon)*carbonDioxide - float64(f.Hydrogen)/2*water
}

// LowerMJPerKg and HigherMJPerKg are the heating values by mass.
func (f Fuel) LowerMJPerKg() float64  { return f.LowerKJ() / f.MolarMassG() }
func (f Fuel) HigherMJPerKg() float64 { return f.HigherKJ() / f.MolarMassG() }

// LowerMJPerM3 is the lower heating value of a cubic metre at 0 C, 1.013 bar, as an
// ideal gas. Real propane has about 2 % more, butane about 4 %.
func (f Fuel) LowerMJPerM3() float64 { return f.LowerKJ() / NormalLitre }

// PowerKW is the heat that a flow sets free when it burns completely. The flow
// is in litres a minute of gas at atC, 1.013 bar.
func (f Fuel) PowerKW(litrePerMinute, atC float64) (float64, error) {
	if !(litrePerMinute >= 0 && litrePerMinute <= 1e4) {
		return 0, fmt.Errorf("fuel flow %g L/min; give one from 0 to 10,000", litrePerMinute)
	}
	if !(atC >= -50 && atC <= 200) {
		return 0, fmt.Errorf("fuel at %g C; a gas meter stands between -50 and 200 C", atC)
	}
	molPerSecond := litrePerMinute / 60 / (NormalLitre * (atC + zeroK) / zeroK)
	return molPerSecond * f.LowerKJ(), nil
}

// Use is what a time of burning takes.
type Use struct {
	FuelG, OxygenG float64
	FuelL, OxygenL float64 // at 0 C, 1.013 bar
	EnergyKJ       float64 // lower heating value
}

// Burnt is the use of constant flows (L/min at 0 C, 1.013 bar) over seconds.
func (f Fuel) Burnt(fuelLmin, oxygenLmin, seconds float64) (Use, error) {
	for _, q := range []struct {
		what        string
		value, most float64
	}{
		{"fuel flow in L/min", fuelLmin, 1e4}, {"oxygen flow in L/min", oxygenLmin, 1e5},
		{"time in s", seconds, 1e7},
	} {
		if !(q.value >= 0 && q.value <= q.most) {
			return Use{}, fmt.Errorf("%s is %g; give one from 0 to %g", q.what, q.value, q.most)
		}
	}
	u := Use{FuelL: fuelLmin * seconds / 60, OxygenL: oxygenLmin * seconds / 60}
	u.FuelG = u.FuelL / NormalLitre * f.MolarMassG()
	u.OxygenG = u.OxygenL / NormalLitre * 2 * oxygenG
	u.EnergyKJ = u.FuelL / NormalLitre * f.LowerKJ()
	return u, nil
}

// Plus adds two uses, for a recipe of several flames.
func (u Use) Plus(v Use) Use {
	return Use{u.FuelG + v.FuelG, u.OxygenG + v.OxygenG, u.FuelL + v.FuelL, u.OxygenL + v.OxygenL,
		u.EnergyKJ + v.EnergyKJ}
}

// Cost is the price of a use, in the currency of its arguments: fuel by the
// kilogram, oxygen by the cubic metre at 0 C.
func (u Use) Cost(fuelPerKg, oxygenPerM3 float64) (float64, error) {
	if !(fuelPerKg >= 0 && oxygenPerM3 >= 0) || math.IsInf(fuelPerKg+oxygenPerM3, 0) {
		return 0, fmt.Errorf("prices %g a kg and %g a m3; give two that are not negative",
			fuelPerKg, oxygenPerM3)
	}
	return u.FuelG/1000*fuelPerKg + u.OxygenL/1000*oxygenPerM3, nil
}
