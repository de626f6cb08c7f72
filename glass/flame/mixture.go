package flame

import (
	"fmt"
	"math"
)

// Mixture is what burns: oxygen and nitrogen to one mole of fuel, all fed at
// 25 C.
type Mixture struct {
	Fuel     Fuel
	Oxygen   float64 // mol to a mol of fuel
	Nitrogen float64
}

// Feed is a mixture as a burner is set, in L/min of any one state. Air is what
// the burner gets, and what a surface-mix burner draws from the room: that
// part nobody meters, so judge it by eye.
type Feed struct {
	Fuel, Oxygen, Air float64
}

// Mixed is the mixture of a feed.
func Mixed(f Fuel, feed Feed) (Mixture, error) {
	if !(feed.Fuel > 0 && feed.Oxygen >= 0 && feed.Air >= 0) ||
		math.IsInf(feed.Fuel+feed.Oxygen+feed.Air, 0) {
		return Mixture{}, fmt.Errorf("flows %g fuel, %g oxygen, %g air; fuel must flow and none "+
			"be negative", feed.Fuel, feed.Oxygen, feed.Air)
	}
	return Mixture{Fuel: f,
		Oxygen:   (feed.Oxygen + AirOxygen*feed.Air) / feed.Fuel,
		Nitrogen: (1 - AirOxygen) * feed.Air / feed.Fuel}, nil
}

// Ratio is the oxygen supplied over the stoichiometric.
func (m Mixture) Ratio() float64 { return m.Oxygen / m.Fuel.OxygenPerFuel() }

// Limits of Burn. Below the least a hydrocarbon soots, which a gas without
// solid carbon cannot tell; above the most nothing burns steadily.
const (
	leastRatio = 0.4
	mostRatio  = 4.0
	coldestK   = 1000.0
	standardK  = 298.15
)

// Flame is burnt gas that lost no heat.
type Flame struct {
	Celsius float64
	shares  moles // mole fractions
}

// Share is the mole fraction of a gas: CO2, CO, H2O, H2, O2, OH, H, O, N2, NO.
func (f Flame) Share(gas string) (float64, error) {
	for k := range products {
		if products[k].name == gas {
			return f.shares[k], nil
		}
	}
	return 0, fmt.Errorf("no gas %q in a flame; one of CO2, CO, H2O, H2, O2, OH, H, O, N2, NO", gas)
}

// Burn is the adiabatic flame at one atmosphere, in equilibrium with its
// dissociated gases. The heat in them is set free where they meet the cold
// glass, so a flame of oxygen heats more than its temperature suggests.
func (m Mixture) Burn() (Flame, error) {
	return m.burn(func(kelvin float64) (moles, error) { return equilibrium(kelvin, m.atoms()) })
}

// BurnComplete is the flame as if nothing dissociated, for comparison with
// textbooks. It needs all the oxygen of complete combustion.
func (m Mixture) BurnComplete() (Flame, error) {
	if !(m.Ratio() >= 1) {
		return Flame{}, fmt.Errorf("oxygen ratio %.3g; complete combustion needs at least 1",
			m.Ratio())
	}
	var n moles
	n[gasCO2] = float64(m.Fuel.Carbon)
	n[gasH2O] = float64(m.Fuel.Hydrogen) / 2
	n[gasO2] = m.Oxygen - m.Fuel.OxygenPerFuel()
	n[gasN2] = m.Nitrogen
	return m.burn(func(float64) (moles, error) { return n, nil })
}

// burn finds where the products hold the enthalpy of what was fed.
func (m Mixture) burn(at func(kelvin float64) (moles, error)) (Flame, error) {
	if r := m.Ratio(); !(r >= leastRatio && r <= mostRatio) {
		return Flame{}, fmt.Errorf("oxygen ratio %.3g; the flame is computed from %g (it soots "+
			"below) to %g", r, leastRatio, mostRatio)
	}
	if !(m.Nitrogen >= 0 && m.Nitrogen <= 1000) {
		return Flame{}, fmt.Errorf("%g mol of nitrogen to a mol of fuel; give 0 to 1000", m.Nitrogen)
	}
	fed := m.Fuel.FormationKJ // oxygen and nitrogen have none at 25 C
	low, high := coldestK, polyMostK
	for high-low > 1e-4 {
		middle := (low + high) / 2
		n, err := at(middle)
		if err != nil {
			return Flame{}, err
		}
		if n.enthalpyKJ(middle) < fed {
			low = middle
		} else {
			high = middle
		}
	}
	if high >= polyMostK-1e-3 || low <= coldestK+1e-3 {
		return Flame{}, fmt.Errorf("no flame between %g and %g K; the mixture is too lean or not "+
			"of this trade", coldestK, polyMostK)
	}
	n, err := at(low)
	if err != nil {
		return Flame{}, err
	}
	total := n.total()
	for k := range n {
		n[k] /= total
	}
	return Flame{Celsius: low - zeroK, shares: n}, nil
}

func (m Mixture) atoms() [elements]float64 {
	return [elements]float64{
		atomC: float64(m.Fuel.Carbon), atomH: float64(m.Fuel.Hydrogen),
		atomO: 2 * m.Oxygen, atomN: 2 * m.Nitrogen,
	}
}
