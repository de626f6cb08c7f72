package forming

import "math"

// Numbers of the flame at the blank, chosen so that the first recipes of the
// trade work out: soft flame to 450 C in 30 to 40 s, sharp flame to 900 C in
// 35 to 50 s [common practice, no source].
const (
	flameCoefW  = 0.105  // W/K into the ring at 1 L/min of fuel
	flamePower  = 0.90   // growth with fuel flow
	airFlameC   = 1250.0 // effective, fuel alone with room air
	oxyGainC    = 950.0  // more with oxygen
	oxyRise     = 3.2    // how fast it comes with oxygen over stoichiometric
	stoichiomet = 5.0    // oxygen to propane by volume: C3H8 + 5 O2
)

// FlameAt is the propane flame as the blank feels it, from the flows in L/min:
// conductance in W/K and effective temperature in C.
func FlameAt(fuelLmin, oxygenLmin float64) (wPerK, celsius float64) {
	if fuelLmin <= 0 {
		return 0, 0
	}
	rich := oxygenLmin / (stoichiomet * fuelLmin)
	return flameCoefW * math.Pow(fuelLmin, flamePower),
		airFlameC + oxyGainC*(1-math.Exp(-oxyRise*rich))
}
