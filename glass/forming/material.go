package forming

import "math"

// Material is the glass, with its properties as functions of temperature in C.
type Material struct {
	LogPaS      func(c float64) float64 // log10 viscosity, Pa.s
	CpJkgK      func(c float64) float64
	KWmK        func(c float64) float64
	DensityKgM3 float64
	ExpansionPK float64 // linear, 1/K, below the strain point
	YoungPa     float64
	Poisson     float64
	Emissivity  float64 // total, long wave
	TensionNm   float64 // surface tension
	OpticalPPa  float64 // stress-optical constant, 1/Pa
	StrainC     float64
	AnnealingC  float64
	SofteningC  float64
}

// stressPerK is what a difference of 1 K means in a plate that cannot bend, Pa.
func (m *Material) stressPerK() float64 {
	return m.YoungPa * m.ExpansionPK / (1 - m.Poisson)
}

// stiffLog is the log10 viscosity, Pa.s, beyond which glass counts as solid.
const stiffLog = 14.0

// curves are the functions of temperature as tables, so that a step is cheap.
// They are never written after tabulate and shared by forks.
type curves struct {
	log, cp, k [tableSize]float64
}

const (
	tableStepC = 4.0
	tableSize  = 501 // 0 to 2,000 C
)

func tabulate(m *Material, logShift float64) *curves {
	c := &curves{}
	for i := range tableSize {
		t := tableStepC * float64(i)
		c.log[i] = math.Min(stiffLog, m.LogPaS(t)+logShift)
		c.cp[i], c.k[i] = m.CpJkgK(t), m.KWmK(t)
	}
	return c
}

func lookUp(table *[tableSize]float64, celsius float64) float64 {
	x := min(max(celsius/tableStepC, 0), tableSize-1.001)
	i := int(x)
	return table[i] + (table[i+1]-table[i])*(x-float64(i))
}

func (c *curves) logAt(celsius float64) float64 { return lookUp(&c.log, celsius) }
func (c *curves) cpAt(celsius float64) float64  { return lookUp(&c.cp, celsius) }
func (c *curves) kAt(celsius float64) float64   { return lookUp(&c.k, celsius) }

// etaPaS is the viscosity.
func (c *curves) etaPaS(celsius float64) float64 { return math.Exp(math.Ln10 * c.logAt(celsius)) }

// radiationWM2 is what a surface at fromC radiates to surroundings at toC.
func (j *Job) radiationWM2(fromC, toC float64) float64 {
	a, b := fromC+kelvin, toC+kelvin
	return factor(j.Tune.Loss) * j.Material.Emissivity * stefan * (a*a*a*a - b*b*b*b)
}
