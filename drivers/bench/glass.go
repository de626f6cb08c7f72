package bench

import "math"

// Glass is the blank as the rest of the plant sees it: the seam behind which a
// finer model goes. A Glass never looks at the clock and keeps all its state.
type Glass interface {
	// Load puts a fresh blank of that temperature on the lower mould half.
	Load(startC float64)
	// Step goes on by dtS seconds.
	Step(dtS float64, around *Around)
	// Squash says that the press holds the glass at this height or less.
	Squash(heightMM float64)
	// State is the glass now.
	State() GlassState
	// Fork is the same glass a second time, each going its own way from here.
	Fork() Glass
	// Drag is the squeeze-flow resistance at a height: N per mm/s.
	Drag(heightMM float64) float64
}

// Around is what acts on the blank.
type Around struct {
	FlameWPerK float64 // conductance from the flame, 0 without one at the blank
	FlameC     float64 // effective flame temperature
	LowerC     float64 // mould halves
	UpperC     float64
	Pressed    bool // the upper half touches
	Turning    bool
}

// GlassState is the blank as a perfect observer would see it.
type GlassState struct {
	SkinC, CoreC, MeanC float64
	HeightMM            float64
	Gathered            float64 // 0 an open ring, 1 a puddle
	LogPaS              float64 // log10 viscosity in Pa.s at the mean temperature
	ToLowerW, ToUpperW  float64 // heat into the mould halves
}

// Numbers of the blank: a ring 29/24 x 17 mm of lamp-type soda-lime glass.
const (
	ringOuterM   = 0.029
	ringInnerM   = 0.024
	ringHeightM  = 0.017
	density      = 2500.0 // kg/m3 (float glass data sheets: 2,500 to 2,530)
	stefan       = 5.670374e-8
	emissivity   = 0.85 // total, long wave (0.84 to 0.89 published for soda-lime)
	airWM2K      = 8.0  // natural convection [common practice, no source]
	roomC        = 20.0
	puddleMM     = 8.5     // height of the gathered ring
	skinShare    = 0.4     // of the mass
	acrossWPerK  = 1.6     // skin to core: k 1.3 W/(m.K), 1.25 mm, 1,550 mm2
	openM2       = 2.00e-3 // radiating: outside, top and the bore's mouth
	puddleM2     = 0.80e-3 // gathered: 6 to 9 K/s instead of 15 to 18
	footWPerK    = 0.045   // standing on the lower half: 210 mm2 at about 215 W/(m2.K)
	footWetWPerK = 0.12    // pressed flat it touches better
	pressWPerK   = 0.75    // each half under pressure: 707 mm2 at about 1,100 W/(m2.K)
	stiffLog     = 14.0    // log10 Pa.s beyond which glass counts as solid
	gatherPa     = 416.0   // what pulls the ring in: density x g x height
)

// ring is the first-order model: a skin that sees flame, moulds and room, a
// core behind it, and one number for how far the ring has gathered.
type ring struct {
	skinC, coreC float64
	gathered     float64
	pressedMM    float64 // height once pressed, 0 before
	log          func(celsius float64) float64
	lower, upper float64
}

// NewRing makes the first-order blank. logPaS gives log10 viscosity in Pa.s.
func NewRing(logPaS func(celsius float64) float64) Glass {
	r := &ring{log: logPaS}
	r.Load(roomC)
	return r
}

// Fork copies the ring.
func (r *ring) Fork() Glass {
	f := *r
	return &f
}

// Load puts a fresh ring in place.
func (r *ring) Load(startC float64) {
	*r = ring{log: r.log, skinC: startC, coreC: startC}
}

func ringVolumeM3() float64 {
	return math.Pi / 4 * (ringOuterM*ringOuterM - ringInnerM*ringInnerM) * ringHeightM
}

// specificHeat is the true specific heat, J/(kg.K): a curve through the means
// of Sharp and Ginther, J. Am. Ceram. Soc. 34 (1951) 260 (coefficients from
// memory), within 3 % from 60 to 900 C.
func specificHeat(celsius float64) float64 {
	return 1360 - 590*math.Exp(-celsius/350)
}

func radiation(fromC, toC float64) float64 {
	a, b := fromC+273.15, toC+273.15
	return emissivity * stefan * (a*a*a*a - b*b*b*b)
}

// Step is one explicit step; 10 ms is far below the skin's time constant.
func (r *ring) Step(dtS float64, around *Around) {
	area := openM2 + (puddleM2-openM2)*r.gathered
	if r.pressedMM > 0 {
		area = puddleM2
	}
	heat := around.FlameWPerK * (around.FlameC - r.skinC)
	foot := footWPerK
	switch {
	case around.Pressed:
		area, foot = 0.4e-3, pressWPerK
		r.upper = pressWPerK * (r.skinC - around.UpperC)
		heat -= r.upper
	default:
		r.upper = 0
		if r.pressedMM > 0 {
			foot = footWetWPerK
		}
	}
	r.lower = foot * (r.skinC - around.LowerC)
	heat -= r.lower
	heat -= area * (radiation(r.skinC, roomC) + airWM2K*(r.skinC-roomC))
	r.share(dtS, heat)
	r.gather(dtS)
}

// share spreads heat over skin and core.
func (r *ring) share(dtS, heat float64) {
	mass := ringVolumeM3() * density
	across := acrossWPerK * (r.skinC - r.coreC)
	r.skinC += dtS * (heat - across) / (skinShare * mass * specificHeat(r.skinC))
	r.coreC += dtS * across / ((1 - skinShare) * mass * specificHeat(r.coreC))
}

// gather lets the soft ring fall in on itself under its own weight.
func (r *ring) gather(dtS float64) {
	if r.pressedMM > 0 {
		return
	}
	rate := gatherPa / math.Pow(10, r.logPaS())
	r.gathered += (1 - r.gathered) * (1 - math.Exp(-rate*dtS))
}

// Squash flattens the ring; it never grows again.
func (r *ring) Squash(heightMM float64) {
	if heightMM < r.height() {
		r.pressedMM = max(heightMM, 0.5)
	}
}

// logPaS stops at stiffLog: colder glass is solid for every purpose here.
func (r *ring) logPaS() float64 { return min(r.log(r.meanC()), stiffLog) }

func (r *ring) meanC() float64 { return skinShare*r.skinC + (1-skinShare)*r.coreC }

func (r *ring) height() float64 {
	if r.pressedMM > 0 {
		return r.pressedMM
	}
	return ringHeightM*1000 + (puddleMM-ringHeightM*1000)*r.gathered
}

// State is skin, core and shape now.
func (r *ring) State() GlassState {
	return GlassState{
		SkinC: r.skinC, CoreC: r.coreC, MeanC: r.meanC(), HeightMM: r.height(),
		Gathered: r.gathered, LogPaS: r.logPaS(), ToLowerW: r.lower, ToUpperW: r.upper,
	}
}

// Drag follows Stefan 1874 and Reynolds for a disc of constant volume that
// does not slip: F = 3 eta V^2 v / (2 pi h^5).
func (r *ring) Drag(heightMM float64) float64 {
	h := heightMM / 1000
	eta := math.Pow(10, r.logPaS())
	v := ringVolumeM3()
	return 3 * eta * v * v / (2 * math.Pi * h * h * h * h * h) / 1000
}
