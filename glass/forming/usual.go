package forming

import (
	"math"

	"pressrig/glass"
)

// MaterialOf is a glass of package glass as the blank needs it. How its heat
// capacity and conductivity rise with temperature is that of soda-lime.
func MaterialOf(g *glass.Glass) Material {
	return Material{
		LogPaS: g.LogViscosityPaS, CpJkgK: specificHeat, KWmK: conductivity,
		DensityKgM3: g.DensityKgM3, ExpansionPK: g.ExpansionPK, YoungPa: g.YoungMPa * 1e6,
		Poisson: g.Poisson, Emissivity: g.Emissivity, TensionNm: g.TensionNm, OpticalPPa: g.OpticalPPa,
		StrainC: float64(g.StrainC), AnnealingC: float64(g.AnnealingC), SofteningC: float64(g.SofteningC),
	}
}

// specificHeat is the true specific heat, J/(kg.K): a curve through the means
// of Sharp and Ginther, J. Am. Ceram. Soc. 34 (1951) 260 (coefficients from
// memory), within 3 % from 60 to 900 C.
func specificHeat(celsius float64) float64 { return 1360 - 590*math.Exp(-celsius/350) }

// conductivity is 0.94 W/(m.K) when cold (float glass data sheets), rising to
// about 1.7 at 900 C [common practice, no source].
func conductivity(celsius float64) float64 { return 0.94 + 0.0008*celsius }

// PlainDisc is a blank that just fills a plain disc of that height, without
// beads: what a rig presses before a piece is drawn.
func PlainDisc(m Material, ring Ring, discMM float64) Job {
	return Job{Material: m, Ring: ring, Contact: Usual(), Cavity: Cavity{
		RadiusMM: math.Sqrt(ring.VolumeMM3() / (math.Pi * discMM)), DiscMM: discMM, GapMM: usualGapMM}}
}

// usualGapMM is the clearance between mould halves [common practice, no source].
const usualGapMM = 0.08
