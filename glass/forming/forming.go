// Package forming is the blank from ring to stem as physics: a ring that stands
// on the lower mould half and is heated by a flame, gathers when soft, is
// squeezed between cold faces, fills edges and bead holes until its skin
// freezes, lets go of the mould and cools with stress left in it. It serves the
// simulated rig and the planner.
//
// It never reads a clock or a file and has no chance in it: the same steps give
// the same piece. Its coefficients of contact and flame are guesses until they
// are fitted to cycles of a real rig; it ranks recipes, it promises no piece.
//
// Start reading at Blank; ring.go is the glass before contact, disc.go after
// it, fill.go is what the force does, stress.go what cracks it, outcome.go what
// comes out.
package forming

import "math"

// Around is what acts on the blank during one step.
type Around struct {
	FlameWPerK float64 // conductance from the flame, 0 without one at the blank
	FlameC     float64 // effective flame temperature
	LowerC     float64 // mould halves, bulk
	UpperC     float64
	Pressed    bool    // the upper half touches
	ForceN     float64 // of the press, positive pressing, negative pulling
	AirWM2K    float64 // moving air at the glass; 0 counts as still
	Turning    bool
	OvenC      float64 // what it radiates to, in an oven; 0 counts as the room
}

// State is the blank as a perfect observer would see it.
type State struct {
	SkinC, CoreC, MeanC float64
	HeightMM            float64
	Gathered            float64 // 0 an open ring, 1 a puddle
	LogPaS              float64 // log10 viscosity in Pa.s at the mean temperature
	ToLowerW, ToUpperW  float64 // heat into the mould halves
	FaceC               float64 // upper mould face where it touches, 0 before contact
	StickC              float64 // face temperature above which this glass sticks
}

// Blank is one piece of glass on the rig. It is not safe for several
// goroutines.
type Blank struct {
	job        Job
	glass      *curves
	ring       ring
	disc       disc
	fill       fill
	worst      stress
	state      State
	airWM2K    float64 // of this step, as is aroundC
	aroundC    float64
	flameWPerK float64
}

// Job is what is pressed from what.
type Job struct {
	Material Material
	Ring     Ring
	Cavity   Cavity
	Contact  Contact
	Tune     Tune
}

// Tune is what a fit to real cycles changes of the guesses: factors, 0 counts
// as 1, and a shift.
type Tune struct {
	Flame   float64 // of the heat from the burner
	Loss    float64 // of radiation and air
	Contact float64 // of the conductance into the moulds
	LogPaS  float64 // added to log10 of the viscosity
}

func factor(f float64) float64 {
	if f == 0 {
		return 1
	}
	return f
}

// Ring is the blank cut from tubing, cold, in mm.
type Ring struct{ OuterMM, InnerMM, LengthMM float64 }

// VolumeMM3 is its volume.
func (r Ring) VolumeMM3() float64 {
	return math.Pi / 4 * (r.OuterMM*r.OuterMM - r.InnerMM*r.InnerMM) * r.LengthMM
}

// Cavity is the closed mould.
type Cavity struct {
	RadiusMM    float64
	DiscMM      float64 // height of the closed cavity
	Beads       int     // bead holes, each an annular pocket round a pin
	BeadGapMM   float64 // between pin and hole
	BeadDepthMM float64
	BeadVolMM3  float64 // of one filled bead
	GapMM       float64 // clearance between the halves, where flash begins
	RoughUM     float64 // Ra of the faces; 0: polished or not known
}

// Contact is how glass and mould meet: guesses to be fitted.
type Contact struct {
	FirstWM2K  float64 // at first touch
	LastWM2K   float64 // once the glass has shrunk off
	FallS      float64 // time between the two
	FootWM2K   float64 // standing ring
	Effusivity float64 // of the mould, W.s^0.5/(m2.K)
}

// Usual has the numbers where nothing was measured. Contact from 10,000 falling
// to about 1,500 W/(m2.K) (oxide gap of 40 micrometres, computed), foot 200 to
// 1,000 W/(m2.K) and effusivity of cast iron about 13,000 W.s^0.5/(m2.K): common
// practice, no source.
func Usual() Contact {
	return Contact{FirstWM2K: 6000, LastWM2K: 1800, FallS: 0.5, FootWM2K: 215, Effusivity: 13000}
}

const (
	roomC     = 20.0
	kelvin    = 273.15
	stefan    = 5.670374e-8 // W/(m2.K4), CODATA
	stillWM2K = 8.0         // natural convection [common practice, no source]
)

// New makes a blank of the job, not loaded yet.
func New(job Job) *Blank {
	b := &Blank{job: job, glass: tabulate(&job.Material, job.Tune.LogPaS)}
	b.Load(roomC)
	return b
}

// Fork is the same blank a second time, each going its own way from here.
func (b *Blank) Fork() *Blank {
	f := *b
	return &f
}

// Resize changes ring, cavity or contact and puts a fresh ring in place.
func (b *Blank) Resize(ring Ring, cavity Cavity, contact Contact) {
	b.job.Ring, b.job.Cavity, b.job.Contact = ring, cavity, contact
	b.Load(roomC)
}

// Load puts a fresh ring of that temperature on the lower mould half.
func (b *Blank) Load(startC float64) {
	b.ring = newRing(&b.job, startC)
	b.disc = disc{}
	b.fill = newFill(&b.job)
	b.worst = stress{}
	b.state = State{StickC: b.job.Material.AnnealingC + stickAboveK}
	b.look()
}

// stickAboveK: an interface hotter than the annealing point by this sticks,
// uncoated [common practice, no source].
const stickAboveK = 20.0

// Step goes on by dtS seconds, at most about 20 ms.
func (b *Blank) Step(dtS float64, a *Around) {
	b.airWM2K = factor(b.job.Tune.Loss) * max(a.AirWM2K, stillWM2K)
	b.flameWPerK = factor(b.job.Tune.Flame) * a.FlameWPerK
	if b.aroundC = a.OvenC; a.OvenC == 0 {
		b.aroundC = roomC
	}
	if b.disc.made {
		b.disc.step(dtS, a, b)
		b.fill.step(dtS, a, b)
	} else {
		b.ring.step(dtS, a, b)
	}
	b.worst.step(b)
	b.look()
}

// Squash says that the press holds the glass at this height or less.
func (b *Blank) Squash(heightMM float64) {
	if !b.disc.made {
		if heightMM >= b.ring.heightMM() {
			return
		}
		b.disc = newDisc(&b.ring, b.volumeM3())
		b.state.HeightMM = b.disc.heightMM
	}
	b.disc.squash(heightMM, b)
	b.state.HeightMM = b.disc.heightMM
}

// State is the blank now.
func (b *Blank) State() State { return b.state }

func (b *Blank) volumeM3() float64 { return b.job.Ring.VolumeMM3() * 1e-9 }

func (b *Blank) look() {
	s := &b.state
	if b.disc.made {
		b.disc.look(s)
	} else {
		b.ring.look(s)
	}
	s.LogPaS = b.glass.logAt(s.MeanC)
}

// Ring is the blank as it was cut.
func (b *Blank) Ring() Ring { return b.job.Ring }

// Cavity is the closed mould.
func (b *Blank) Cavity() Cavity { return b.job.Cavity }
