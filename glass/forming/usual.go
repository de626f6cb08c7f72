package forming

import (
	"math"

	"pressrig/glass"
)

// MaterialOf is a glass of package glass as the blank needs it. What that
// package does not know is the usual figure of such a glass.
func MaterialOf(g *glass.Glass) Material {
	m := Material{
		LogPaS: g.LogViscosityPaS, CpJkgK: specificHeat, KWmK: conductivity,
		DensityKgM3: 2500, ExpansionPK: 9.3e-6, YoungPa: 70e9, Poisson: 0.22, Emissivity: 0.85,
		TensionNm: 0.315, OpticalPPa: 2.7e-12,
		StrainC: float64(g.StrainC), AnnealingC: float64(g.AnnealingC), SofteningC: float64(g.SofteningC),
	}
	if g.Lead {
		m.DensityKgM3, m.YoungPa = 3050, 61e9
	}
	return m
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
