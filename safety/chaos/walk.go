// Package chaos is for tests: it drives a warden through hostile walks that
// reach every phase and provoke every cause, so that the invariants and the C
// firmware are tried on the same inputs. It judges nothing and is in no
// program. Start reading at Walk.Tick.
package chaos

import (
	"maps"
	"math/rand/v2"

	"pressrig/safety/warden"
)

// Walk drives a warden with inputs that follow its outputs most of the time
// and lie the rest, so that every phase is reached and every cause is tried.
type Walk struct {
	Config warden.Config
	State  warden.State
	In     warden.Input
	Out    warden.Output
	Ms     uint32
	Aim    uint8 // the cause that this walk provokes when the moment comes
	Boot   bool  // the microcontroller started in the tick just played
	Step   Step  // warden.Step, or a broken one

	rnd    *rand.Rand
	wait   map[uint32]uint32 // input bit: until when it lies
	arm    uint16
	noise  uint8 // bad frames that the line brings next
	aimMs  uint32
	reboot bool
	slow   bool
	pace   uint32 // how many times faster than real time this rig and its people are
}

// Step is warden.Step or a twin of it.
type Step func(*warden.Config, *warden.State, *warden.Input, *warden.Output)

// New makes the walk of a seed, which says the cause to aim at too: seed modulo
// warden.NumCauses.
func New(seed uint64) *Walk {
	rnd := rand.New(rand.NewPCG(seed, 7))
	x := &Walk{
		slow: seed/uint64(warden.NumCauses)%2 == 1, Aim: uint8(seed % uint64(warden.NumCauses)),
		rnd: rnd, Config: Config(rnd), pace: 1, wait: map[uint32]uint32{}, Step: warden.Step,
	}
	x.In.AnalogOK = 1<<warden.NumAnalog - 1
	warden.Init(&x.State, warden.NVClear)
	return x
}

// quickPace is how many times faster than real time the quick rig is: whole
// cycles in a second, so that every cause is tried in little time.
const quickPace = 10

// NewQuick is a hostile rig with all times short, in the same order.
func NewQuick(seed uint64) *Walk {
	x := New(seed)
	x.pace = quickPace
	c := &x.Config
	c.CheckMs, c.PurgeMs, c.IgniterMs, c.TrialMs, c.FlameOnMs = 50, 300, 100, 300, 10
	c.ProveMs, c.ProveDarkMs, c.FlameOffMs, c.OxygenAfterMs, c.OffMs = 100, 110, 60, 120, 50
	c.PostPurgeMs, c.ParkMs, c.LeaseMs, c.ArmMs, c.CreepMs = 310, 3000, 50, 1900, 400
	c.RampMs, c.EaseMs, c.EaseStepDN, c.RetractMs, c.SoftMs = 90, 100, 40, 1500, 6000
	c.ViewMs, c.SampleMs, c.EstimateMs, c.SpindleStallMs = 30, 20, 200, 200
	c.ExtractionMs, c.ExtractionWaitMs, c.PressureMs, c.SlideMs = 55, 1000, 25, 210
	c.ButtonMs, c.HandsMs = 350, 45
	c.PartMs, c.PartOpenMs, c.FlowSettleMs, c.FlowOffMs, c.FlowOverMs, c.RatioMs = 300, 3000, 100, 200, 52, 205
	c.RunMs, c.SharpMs = 30000, 900
	return x
}

// Config is a sound configuration of one of several kinds of rig.
func Config(rnd *rand.Rand) warden.Config {
	c := warden.Config{
		FittedIn: 1<<29 - 1, FittedAnalog: 1<<warden.NumAnalog - 1,
		CheckMs: 5000, PurgeMs: 30000, IgniterMs: 1000, TrialMs: 3000, FlameOnMs: 100,
		ProveMs: 1000, ProveDarkMs: 1000, FlameOffMs: 600, OxygenAfterMs: 1000, OffMs: 500,
		PostPurgeMs: 30000, ValveCloseMs: 500, ParkMs: 60000, LeaseMs: 500, ArmMs: 60000,
		CreepMs: 20000, RampMs: 1000, EaseMs: 1000, RetractMs: 8000, SoftMs: 60000,
		FuelMaxMl: 3500, SoftMaxMl: 1500, OxygenMaxMl: 6000, SpindleMaxDrpm: 2000,
		SpindleHeatDrpm: 300, CreepDrpm: 200, PressLowDrpm: 300, PressHighDrpm: 700,
		OpenCmm: 50, HeatCmm: 100, EndCmm: 6000, SpeedMaxCmms: 6000, HandCmms: 1000,
		ForceMaxDN: 4000, OverForceDN: 4500, EaseStepDN: 4, PullMaxDN: 300, ContactDN: 50,
		GlassLowDC: 6000, GlassHighDC: 11000, ViewMs: 300, SampleMs: 200, EstimateMs: 2000,
		SpindleStallMs: 2000, ExtractionMs: 500, ExtractionWaitMs: 10000, PressureMs: 200,
		SlideMs: 2000, ButtonMs: 3000, HandsMs: 500, SetUpDrpm: 300,
		PartMs: 3000, PartCmms: 300, PartOpenMs: 25000,
		FlowSettleMs: 1000, FlowOffMs: 2000, FlowOffPC: 20, FlowOffMl: 100, FlowOverMs: 500, FlowOverPC: 150,
		FlowNoneMl: 200, RatioMs: 2000, RatioLowPC: 50, RatioHighPC: 600, RunMs: 600000, SharpMs: 5500,
	}
	kinds := []uint16{
		warden.OptSpindleTurns | warden.OptSpindleFitted | warden.OptBurnerDriven | warden.OptPressDriven | warden.OptViewAlways | warden.OptStrokeFlameClear | warden.OptOxygenFitted,
		warden.OptSpindleFitted | warden.OptPressDriven | warden.OptBurnerFixed | warden.OptStrokeFlameSoft | warden.OptOxygenFitted,
		warden.OptSpindleFitted | warden.OptSpindleIndexed | warden.OptStrokeFlameClear | warden.OptParkedDoorOpen | warden.OptOxygenFitted,
		warden.OptBurnerDriven | warden.OptPressDriven | warden.OptViewAlways,
	}
	if rnd.IntN(8) != 0 { // shorter, in the same order; some walks keep the real ones
		c.CheckMs, c.PurgeMs, c.PostPurgeMs, c.CreepMs, c.ParkMs = 500, 3000, 3000, 4000, 6000
	}
	c.Options = kinds[rnd.IntN(len(kinds))]
	if rnd.IntN(4) == 0 {
		c.FittedAnalog &^= 1 << warden.AiGlass
	}
	return c
}

// Fork is the same walk with other chances from here on.
func (x *Walk) Fork(seed uint64) *Walk {
	y := *x
	y.rnd = rand.New(rand.NewPCG(seed, 7))
	y.wait = maps.Clone(x.wait)
	return &y
}

// Tick plays one millisecond up to the warden's step. Look at the walk then,
// and go on with Follow.
func (x *Walk) Tick() {
	x.Ms++
	x.host()
	x.lie()
	x.Boot = x.Ms == 1
	if x.reboot || x.rnd.IntN(400000) == 0 {
		x.reboot = false
		warden.Init(&x.State, x.In.NV)
		x.Out, x.Boot = warden.Output{}, true
	}
	x.Step(&x.Config, &x.State, &x.In, &x.Out)
}

// Follow lets the plant answer what the warden drives, or lie about it.
func (x *Walk) Follow() {
	x.plant()
	x.provoke()
}

func (x *Walk) set(bit uint32, on bool) {
	if until := x.wait[bit]; until > x.Ms {
		return
	}
	x.In.Bits &^= bit
	if on {
		x.In.Bits |= bit
	}
}

// per is a period at this rig's pace.
func (x *Walk) per(ms uint32) uint32 { return ms / x.pace }

func (x *Walk) lie() {
	rate := 8000
	if Aimed(x.Aim) {
		rate = 200000 // little noise, so that the aim is reached
	}
	if x.rnd.IntN(rate) != 0 {
		return
	}
	bit := uint32(1) << x.rnd.IntN(29)
	x.In.Bits ^= bit
	x.wait[bit] = x.Ms + uint32(1)<<x.rnd.IntN(13)
}

// host plays a cycle of its own, changing its mind now and then.
func (x *Walk) host() {
	x.In.Fresh, x.In.BadFrames, x.In.NewSession = 0, x.noise, 0
	x.noise = 0
	r := &x.In.Request
	if x.rnd.IntN(100000) == 0 {
		x.In.BadFrames = uint8(x.rnd.IntN(4))
		x.In.NewSession = uint8(x.rnd.IntN(2))
	}
	if x.Ms%x.per(50) == 0 && x.wait[0] <= x.Ms {
		x.In.Fresh = 1
	}
	if x.rnd.IntN(120000) == 0 {
		x.wait[0] = x.Ms + uint32(x.rnd.IntN(1500)) // silence
	}
	steady := x.Aim == warden.CauseRatio || x.Aim == warden.CauseSharpLong
	if x.Ms%x.per(1000) != 0 || steady && x.Aiming() { // what these aim at takes a host that asks the same on and on
		return
	}
	r.Lease = 15
	r.Flags = warden.ReqFlame | warden.ReqCycle
	if x.State.Started == 0 {
		if x.State.Armed == 0 {
			x.arm++
		}
		r.ArmID, r.Flags = x.arm, warden.ReqArm|warden.ReqFlame
		r.GlassLowDC, r.GlassHighDC = 8000, 9500
		if x.State.Lock != warden.LockNone && x.rnd.IntN(3) == 0 {
			r.Flags = warden.ReqReset
		}
	}
	x.change(r)
}

func (x *Walk) change(r *warden.Request) {
	r.SpindleDrpm = 600
	if x.Config.Options&warden.OptSpindleTurns == 0 && x.rnd.IntN(2) == 0 {
		r.SpindleDrpm = 0
	}
	starting := x.State.Burner >= warden.BurnerCheck && x.State.Burner < warden.BurnerRun
	if starting && x.rnd.IntN(50) != 0 {
		return
	}
	r.FuelMl, r.OxygenMl = uint16(x.rnd.IntN(4000)), uint16(x.rnd.IntN(6000))
	r.TravelCmm, r.SpeedCmms, r.ForceDN = 5500, 2000, uint16(x.rnd.IntN(5000))
	switch x.rnd.IntN(8) {
	case 0, 1, 2:
		r.Flags |= warden.ReqBurnerIn | warden.ReqOxygen
		r.Press = warden.PressNone
	case 3, 4:
		r.FuelMl, r.Press = 1000, warden.PressForce
	case 5:
		r.Press = warden.PressOpen
	case 6:
		r.Flags &^= warden.ReqFlame
		if x.rnd.IntN(2) == 0 {
			r.Flags |= warden.ReqHands | warden.ReqFlame
		}
	case 7:
		r.Lease = uint8(x.rnd.IntN(16))
		if x.rnd.IntN(20) == 0 {
			r.Flags |= warden.ReqAbort
		}
	}
	r.EstDC, r.EstUncDC, r.EstAgeMs = int16(7000+x.rnd.IntN(3000)), 100, uint16(x.rnd.IntN(3000))
	if x.rnd.IntN(4) == 0 {
		r.Flags |= warden.ReqEstimate
	}
}

// contactCmm is where the press of a walk meets the glass.
const contactCmm = 1500

// plant follows the outputs.
func (x *Walk) plant() {
	bits := x.Out.Bits
	fuel := bits&warden.OutFuel == warden.OutFuel
	burning := x.In.Bits&warden.InFlame != 0
	x.set(warden.InFlame, fuel && (burning || bits&warden.OutIgniter != 0 && x.rnd.IntN(int(x.per(300))) == 0))
	x.set(warden.InEstopOK|warden.InMainsOK, true)
	x.set(warden.InChuckClamped, true)
	x.set(warden.InDoorClosed, true)
	x.set(warden.InExtraction, bits&warden.OutFan != 0)
	x.set(warden.InFuelShut, !fuel)
	x.set(warden.InOxygenShut, bits&warden.OutOxygen == 0)
	late := x.Aim == warden.CauseHandFast // a person who moves the press by hand first
	for _, bit := range []uint32{warden.InFuelLow, warden.InFuelHigh, warden.InOxygenLow, warden.InOxygenHigh,
		warden.InPressEnd, warden.InGasAlarm, warden.InFlashback, warden.InOverForce, warden.InHoldClose} {
		x.set(bit, false)
	}
	x.set(warden.InHoldClose, late && x.Ms%x.per(4000) < x.per(1500))
	x.set(warden.InHoldOpen, x.State.Lock != warden.LockNone && x.Ms%x.per(7000) < x.per(2000))
	in := bits&warden.OutBurnerIn != 0
	if x.Config.Options&warden.OptBurnerDriven == 0 {
		in = x.In.Request.Flags&warden.ReqBurnerIn != 0
	}
	x.set(warden.InBurnerAtBlank, in)
	x.set(warden.InBurnerClear, !in)
	every := x.per(400)
	if x.Aim == warden.CauseNone && x.slow {
		every = 64000 // an operator who comes late
	}
	if late {
		every *= 20
	}
	x.set(warden.InStart, x.Out.Bits&warden.OutArmedLamp != 0 && x.Ms%every < x.per(100))
	x.set(warden.InReset, x.State.Lock != warden.LockNone && x.Ms%x.per(5000) < x.per(100))
	x.set(warden.InSoft, x.Ms%x.per(9000) < x.per(50))
	x.set(warden.InIndexed, x.In.Analog[warden.AiSpindle] == 0)
	x.In.AnalogOK = 1<<warden.NumAnalog - 1
	x.In.Analog[warden.AiSpindle] = int16(x.Out.SpindleDrpm)
	x.In.Analog[warden.AiFuelFlow], x.In.Analog[warden.AiOxygenFlow] = int16(x.Out.FuelMl), int16(x.Out.OxygenMl)
	if x.rnd.IntN(3000) == 0 {
		x.In.Analog[warden.AiGlass] = int16(7500 + x.rnd.IntN(2500))
	}
	travel := &x.In.Analog[warden.AiTravel]
	x.In.Analog[warden.AiForce] = 0
	step := int16(10)
	if x.State.Press >= warden.PressHandOpen { // by hand no faster than configured
		step = 1
	}
	switch {
	case bits&warden.OutPressClose != 0 && *travel < contactCmm:
		*travel += step
	case bits&warden.OutPressClose != 0:
		x.In.Analog[warden.AiForce] = int16(x.Out.ForceDN)
	case bits&warden.OutPressOpen != 0:
		*travel = max(0, *travel-step)
	}
	x.set(warden.InPressOpen, *travel <= 50)
	x.In.NV = x.Out.NV
}
