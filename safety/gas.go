package safety

import (
	"math"

	"pressrig/units"
)

// Lower heating values of the fuels a profile may name, MJ/m3 at 0 C and
// 1.013 bar. Propane and methane: reference computation in docs/assessor.md;
// hydrogen 10.8 from memory. Acetylene is left out on purpose.
var heatingMJ = map[string]float64{"propane": 91.2, "natural_gas": 35.8, "hydrogen": 10.8}

// FuelFlow is the flow that gives a power: 10 kW of propane need 0.110 L/s.
// ok is false for a fuel that is not allowed.
func FuelFlow(fuel string, power units.Kilowatt) (flow units.LitrePerMinute, ok bool) {
	mj, ok := heatingMJ[fuel]
	if !ok {
		return 0, false
	}
	return units.LitrePerMinute(float64(power) / mj * 60), true
}

// ResidualShare is the share of a gas left after so many air changes of a well
// mixed volume: e^-n.
func ResidualShare(airChanges float64) float64 { return math.Exp(-airChanges) }

// OxygenAlarmPercent is where an oxygen detector must alarm: enriched air
// above 23.5 % (29 CFR 1910.146, as quoted by secondary texts).
const OxygenAlarmPercent = 23.5

// LowerFlammable are the lower flammable limits in air, share by volume:
// IEC 60079-20-1, from memory (natural gas as methane). Hydrogen stands here
// although a profile may not name it yet.
var LowerFlammable = map[string]float64{"propane": 0.021, "natural_gas": 0.044, "hydrogen": 0.040}

const (
	flammablePart = 0.25  // of the lower flammable limit: EN 746-2 and NFPA 86, from memory
	airOxygen     = 0.209 // share of oxygen in air
)

// FuelShare is the share of unburnt fuel in what the hood draws, well mixed.
func FuelShare(fuel, hood units.LitrePerMinute) float64 { return float64(fuel) / float64(hood) }

// OxygenShare is the share of oxygen in what the hood draws when all of the
// burner's oxygen goes there unburnt and the rest is air, well mixed.
func OxygenShare(oxygen, hood units.LitrePerMinute) float64 {
	pure := min(float64(oxygen)/float64(hood), 1)
	return pure + airOxygen*(1-pure)
}
