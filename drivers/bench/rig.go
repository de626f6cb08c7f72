package bench

import (
	"errors"
	"fmt"

	"pressrig/drivers/wire"
	"pressrig/glass"
	"pressrig/glass/forming"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// NV is what the microcontroller keeps without power: the warden's byte and
// how often it has started. The caller keeps it and may store it on disk.
type NV struct {
	Byte  uint8
	Boots uint32
}

// NewNV is the memory of a board that has never run.
func NewNV() *NV { return &NV{Byte: warden.NVClear} }

// Options describe a simulated rig.
type Options struct {
	Profile *rig.Profile  // required
	Config  warden.Config // of the warden, made from the profile
	Seed    uint64        // of every random number
	Scale   uint16        // clock scale announced in hello; 0 counts as 1
	NV      *NV           // nil: a board that has never run

	Job       *forming.Job // what is pressed from what; nil: a plain disc of GlassName
	GlassName string       // a name of package glass; "" for lamp soda-lime

	BlankC float64 // fresh blank; 0 counts as room temperature
	LowerC float64 // mould halves and their heaters' set-points; 0: 450 and 430
	UpperC float64

	StopMM   float64 // travel where the mould halves meet; 0: from the profile
	DiscMM   float64 // height of the closed cavity without a job; 0: DiscMM
	Operator bool    // a person seats blanks, pushes START and moves the lever

	// Warden replaces warden.Step, so that a test can show that a broken
	// warden is caught; nil is the real one.
	Warden func(*warden.Config, *warden.State, *warden.Input, *warden.Output)

	// Board takes the place of the simulated microcontroller; nil is that. It
	// keeps its own non-volatile memory, and Warden and Scale do not reach it.
	Board Board
}

// Rig is one simulated rig. It is not safe for use by several goroutines.
type Rig struct {
	cfg     warden.Config
	signals rig.Signals // as in the block of a board
	plant   plant
	sense   sensors
	hands   panelInputs
	person  operator
	mcu     mcu
	foreign foreign // used instead, where it has a board
	nv      *NV
	toMCU   line
	toHost  line
	faults  faults
	up      upsets
	rnd     chance // line and sensor faults
	startC  float64
	moments moments
	warden  func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
	was     bool // the microcontroller hung or was held in reset the millisecond before
}

// DiscMM is the height of the closed cavity where no job says another.
const DiscMM = 5.0

// Defaults of Options.
const (
	defaultGlass = "soda-lime-lamp"
	lowerC       = 450.0 // first recipe of lamp soda-lime [common practice, no source]
	upperC       = 430.0
	defaultBaud  = 250000
)

// New makes a rig that has just been switched on, press open, moulds warm, a
// fresh blank seated, the microcontroller in its first millisecond.
func New(o Options) (*Rig, error) {
	if o.Profile == nil {
		return nil, errors.New("no profile; a bench is made from the profile of its rig")
	}
	job, err := jobOf(&o)
	if err != nil {
		return nil, err
	}
	r := &Rig{cfg: o.Config, nv: o.NV, rnd: chance(o.Seed ^ 0xB5AD4ECEDA1CE2A9), up: healthy()}
	if r.nv == nil {
		r.nv = NewNV()
	}
	r.startC = or(o.BlankC, roomC)
	r.person.on = o.Operator
	if r.warden = o.Warden; r.warden == nil {
		r.warden = warden.Step
	}
	r.setPlant(&o, forming.New(job))
	r.signals = o.Profile.Signals
	r.setSensors(o.Profile)
	baud := uint32(or(o.Profile.Baud, defaultBaud))
	r.toMCU.baud, r.toHost.baud = baud, baud
	r.mcu.scale = or(o.Scale, 1)
	r.mcu.device = o.Profile.Device
	if r.foreign.board = o.Board; o.Board != nil {
		r.toMCU.baud, r.toHost.baud = unpaced, unpaced
		r.foreign.out.Pins = unpowered()
		return r, nil
	}
	r.boot()
	return r, nil
}

// jobOf is what the rig presses from what.
func jobOf(o *Options) (forming.Job, error) {
	if o.Job != nil {
		return *o.Job, nil
	}
	g, ok := glass.Named(or(o.GlassName, defaultGlass))
	if !ok {
		return forming.Job{}, fmt.Errorf("no glass %q; one of %v", o.GlassName, glass.Names())
	}
	return usualJob(&g, or(o.DiscMM, DiscMM)), nil
}

// Fork is the same rig a second time: both go on from here as one would have.
// A Warden of Options that remembers something of its own is shared by both. A
// rig with a Board has one only, and panics.
func (r *Rig) Fork() *Rig {
	if r.foreign.board != nil {
		panic("bench: a rig with a Board of its own cannot be forked")
	}
	f := *r
	nv := *r.nv
	f.nv = &nv
	f.plant.glass = r.plant.glass.Fork()
	f.mcu.frame = wire.Frame{} // a scratchpad that points into itself
	return &f
}

// or is v, or fallback where v is zero.
func or[T comparable](v, fallback T) T {
	var zero T
	if v == zero {
		return fallback
	}
	return v
}

func (r *Rig) setPlant(o *Options, blank *forming.Blank) {
	p := &r.plant
	p.rnd = chance(o.Seed)
	p.gas.fuelLine = gasLine{share: 1, usualBar: fuelBar}
	p.gas.oxygenLine = gasLine{share: 1, usualBar: oxygenBar}
	p.gas.seats.between = 1
	p.glass = blank
	p.glass.Load(r.startC)
	p.state = p.glass.State()
	p.moulds.lowerSetC, p.moulds.upperSetC = or(o.LowerC, lowerC), or(o.UpperC, upperC)
	p.moulds.lowerC, p.moulds.upperC = p.moulds.lowerSetC, p.moulds.upperSetC
	p.press.stopMM, p.press.discMM = or(o.StopMM, o.Profile.StopMM()), blank.Cavity().DiscMM
	p.press.driven = o.Config.Options&warden.OptPressDriven != 0
	press := &o.Profile.Press
	p.press.reliefBar = float64(press.Relief)
	p.press.weightN = float64(press.Weight) * or(press.Lever, 1) * 9.80665
	p.press.frictionN = float64(press.Friction)
	switch {
	case o.Config.Options&warden.OptBurnerFixed != 0:
		p.slide.kind, p.slide.at = slideFixed, 1
	case o.Config.Options&warden.OptBurnerDriven == 0:
		p.slide.kind = slideHand
	}
}

func (r *Rig) setSensors(p *rig.Profile) {
	r.sense.view = p.Thermometer.View != "always"
	r.sense.lowC = or(float64(p.Thermometer.Low), glassLowC)
	r.sense.highC = or(float64(p.Thermometer.High), glassHighC)
	r.sense.glassC = r.startC
	r.sense.openMM = float64(r.cfg.OpenCmm) / 100
	r.sense.endMM = float64(r.cfg.EndCmm)/100 + endSwitchMM
	r.sense.overN = float64(r.cfg.OverForceDN) / 10
	if r.cfg.OverForceDN == 0 {
		r.sense.overN = float64(r.cfg.ForceMaxDN) / 10 * overForceShare
	}
}

// Exchange puts another cold blank and other moulds into the rig as it stands,
// with other chance from here on: one piece of a series, from a fork.
func (r *Rig) Exchange(job forming.Job, lowerC, upperC float64, seed uint64) {
	r.rnd = chance(seed ^ 0xB5AD4ECEDA1CE2A9)
	p := &r.plant
	p.rnd = chance(seed)
	p.glass = forming.New(job)
	p.load(r.startC)
	p.press.discMM = job.Cavity.DiscMM
	p.moulds.lowerSetC, p.moulds.upperSetC = lowerC, upperC
	p.moulds.lowerC, p.moulds.upperC = lowerC, upperC
}

// Step goes on by one millisecond.
func (r *Rig) Step() {
	if r.faults.n > 0 && r.faults.step(r) {
		r.up = r.faults.together()
	}
	r.up.flipped ^= r.up.bounce
	r.person.step(r, r.driven())
	r.toMCU.step(r.plant.ms, &r.up.line, &r.rnd)
	r.sense.step(&r.plant, &r.hands, &r.up)
	ran := false
	switch {
	case r.foreign.board != nil:
		r.foreign.step(r)
		ran = r.foreign.out.Pulses > 0
	case r.up.reset: // held in reset: outputs off, deaf and dumb
		r.was = true
		r.mcu.out = unpowered()
		r.toMCU.clear()
	case r.up.hang: // outputs stay as they are, deaf and dumb; no watchdog restarts it
		r.was = true
		r.toMCU.clear()
	case r.was:
		r.was = false
		r.Reset()
	default:
		ran = true
		r.mcu.step(r)
	}
	r.plant.chains.step(r.asked(), ran, &r.hands, &r.up)
	r.toHost.step(r.plant.ms, &r.up.line, &r.rnd)
	r.plant.step(r.driven(), &r.up)
	r.moments.step(&r.plant, r.driven().Bits)
	for b := range r.hands.leftMs {
		if r.hands.leftMs[b] > 0 {
			r.hands.leftMs[b]--
		}
	}
}

// Receive takes bytes from the host. They cross at the line's speed; what does
// not fit the queue is lost, as from a serial adapter that is overrun, and the
// number of bytes taken is returned.
func (r *Rig) Receive(p []byte) int {
	n := min(len(p), r.toMCU.from.room())
	r.toMCU.from.put(p[:n])
	return n
}

// Transmit appends to dst all that has crossed to the host so far, always
// whole frames.
func (r *Rig) Transmit(dst []byte) []byte { return r.toHost.to.appendAll(dst) }

// Reset restarts the microcontroller: outputs off, state lost, a new session.
// What has not crossed to the host yet is lost with it.
func (r *Rig) Reset() {
	r.toMCU.clear()
	arrived := r.toHost.to
	r.toHost.clear()
	r.toHost.to = arrived
	if r.foreign.board != nil {
		r.foreign.reset = true
		return
	}
	r.boot()
}

// Ms is the virtual time since New.
func (r *Rig) Ms() uint64 { return r.plant.ms }

// NV is what the microcontroller keeps without power, as it stands now.
func (r *Rig) NV() NV { return *r.nv }

// RequestMs is the virtual time of the newest request that the
// microcontroller accepted; false before the first one of its session.
func (r *Rig) RequestMs() (uint64, bool) { return r.mcu.requestMs, r.mcu.requestMs != 0 }

// Warden is what the warden saw, drove and remembers of the newest millisecond
// in which it ran. clock is its session in the high and its milliseconds in the
// low half: it stands while the microcontroller is held in reset.
func (r *Rig) Warden() (in *warden.Input, out *warden.Output, s *warden.State, clock uint64) {
	m := &r.mcu
	return &m.in, &m.out, &m.state, uint64(m.session)<<32 | uint64(m.ms)
}

// HostMs is the virtual time of the newest request or hello request that the
// microcontroller accepted: since when it has no word of the host.
func (r *Rig) HostMs() (uint64, bool) { return r.mcu.hostMs, r.mcu.hostMs != 0 }

// Receiving reports whether bytes of the host are still crossing the line.
func (r *Rig) Receiving() bool { return r.toMCU.from.n > 0 }

// LineFault reports whether a fault of the line or a restart acts now.
func (r *Rig) LineFault() bool { return r.up.line != lineUpsets{} || r.up.reset }
