package safety

import (
	"math/rand/v2"

	"pressrig/safety/warden"
)

// chaos drives a warden with inputs that follow its outputs most of the time
// and lie the rest, so that every phase is reached and every cause is tried.
type chaos struct {
	rnd    *rand.Rand
	c      warden.Config
	s      warden.State
	in     warden.Input
	out    warden.Output
	ms     uint32
	wait   map[uint32]uint32 // input bit: until when it lies
	nv     uint8
	arm    uint16
	aim    uint8 // the cause that this walk provokes when the moment comes
	aimMs  uint32
	reboot bool
	slow   bool
	pace   uint32 // how many times faster than real time this rig and its people are
	watch  *Watch
	step   func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
}

func chaosConfig(rnd *rand.Rand) warden.Config {
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

func newChaos(seed uint64) *chaos {
	rnd := rand.New(rand.NewPCG(seed, 7))
	x := &chaos{slow: seed/uint64(warden.NumCauses)%2 == 1, aim: uint8(seed % uint64(warden.NumCauses)), rnd: rnd, c: chaosConfig(rnd), pace: 1, wait: map[uint32]uint32{}, nv: warden.NVClear, step: warden.Step}
	x.in.AnalogOK = 1<<warden.NumAnalog - 1
	warden.Init(&x.s, x.nv)
	return x
}

func (x *chaos) set(bit uint32, on bool) {
	if until := x.wait[bit]; until > x.ms {
		return
	}
	x.in.Bits &^= bit
	if on {
		x.in.Bits |= bit
	}
}

// per is a period at this rig's pace.
func (x *chaos) per(ms uint32) uint32 { return ms / x.pace }

func (x *chaos) lie() {
	rate := 8000
	if _, aimed := moments[x.aim]; aimed {
		rate = 200000 // little noise, so that the aim is reached
	}
	if x.rnd.IntN(rate) != 0 {
		return
	}
	bit := uint32(1) << x.rnd.IntN(29)
	x.in.Bits ^= bit
	x.wait[bit] = x.ms + uint32(1)<<x.rnd.IntN(13)
}

// host plays a cycle of its own, changing its mind now and then.
func (x *chaos) host() {
	x.in.Fresh, x.in.BadFrames, x.in.NewSession = 0, 0, 0
	r := &x.in.Request
	if x.rnd.IntN(100000) == 0 {
		x.in.BadFrames = uint8(x.rnd.IntN(4))
		x.in.NewSession = uint8(x.rnd.IntN(2))
	}
	if x.ms%x.per(50) == 0 && x.wait[0] <= x.ms {
		x.in.Fresh = 1
	}
	if x.rnd.IntN(120000) == 0 {
		x.wait[0] = x.ms + uint32(x.rnd.IntN(1500)) // silence
	}
	if x.ms%x.per(1000) != 0 {
		return
	}
	r.Lease = 15
	r.Flags = warden.ReqFlame | warden.ReqCycle
	if x.s.Started == 0 {
		if x.s.Armed == 0 {
			x.arm++
		}
		r.ArmID, r.Flags = x.arm, warden.ReqArm|warden.ReqFlame
		r.GlassLowDC, r.GlassHighDC = 8000, 9500
		if x.s.Lock != warden.LockNone && x.rnd.IntN(3) == 0 {
			r.Flags = warden.ReqReset
		}
	}
	x.change(r)
}

func (x *chaos) change(r *warden.Request) {
	r.SpindleDrpm = 600
	if x.c.Options&warden.OptSpindleTurns == 0 && x.rnd.IntN(2) == 0 {
		r.SpindleDrpm = 0
	}
	starting := x.s.Burner >= warden.BurnerCheck && x.s.Burner < warden.BurnerRun
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

// plant follows the outputs.
func (x *chaos) plant() {
	bits := x.out.Bits
	fuel := bits&warden.OutFuel == warden.OutFuel
	burning := x.in.Bits&warden.InFlame != 0
	x.set(warden.InFlame, fuel && (burning || bits&warden.OutIgniter != 0 && x.rnd.IntN(int(x.per(300))) == 0))
	x.set(warden.InEstopOK|warden.InMainsOK, true)
	x.set(warden.InDoorClosed, true)
	x.set(warden.InExtraction, bits&warden.OutFan != 0)
	x.set(warden.InFuelShut, !fuel)
	x.set(warden.InOxygenShut, bits&warden.OutOxygen == 0)
	for _, bit := range []uint32{warden.InFuelLow, warden.InFuelHigh, warden.InOxygenLow, warden.InOxygenHigh,
		warden.InPressEnd, warden.InGasAlarm, warden.InFlashback, warden.InOverForce, warden.InHoldClose} {
		x.set(bit, false)
	}
	x.set(warden.InHoldOpen, x.s.Lock != warden.LockNone && x.ms%x.per(7000) < x.per(2000))
	in := bits&warden.OutBurnerIn != 0
	if x.c.Options&warden.OptBurnerDriven == 0 {
		in = x.in.Request.Flags&warden.ReqBurnerIn != 0
	}
	x.set(warden.InBurnerAtBlank, in)
	x.set(warden.InBurnerClear, !in)
	every := x.per(400)
	if x.aim == warden.CauseNone && x.slow {
		every = 64000 // an operator who comes late
	}
	x.set(warden.InStart, x.out.Bits&warden.OutArmedLamp != 0 && x.ms%every < x.per(100))
	x.set(warden.InReset, x.s.Lock != warden.LockNone && x.ms%x.per(5000) < x.per(100))
	x.set(warden.InSoft, x.ms%x.per(9000) < x.per(50))
	x.set(warden.InIndexed, x.in.Analog[warden.AiSpindle] == 0)
	x.in.Analog[warden.AiSpindle] = int16(x.out.SpindleDrpm)
	if x.rnd.IntN(3000) == 0 {
		x.in.Analog[warden.AiGlass] = int16(7500 + x.rnd.IntN(2500))
	}
	travel := &x.in.Analog[warden.AiTravel]
	x.in.Analog[warden.AiForce] = 0
	switch {
	case bits&warden.OutPressClose != 0 && *travel < 5000:
		*travel += 10
	case bits&warden.OutPressClose != 0:
		x.in.Analog[warden.AiForce] = int16(x.out.ForceDN)
	case bits&warden.OutPressOpen != 0:
		*travel = max(0, *travel-10)
	}
	x.set(warden.InPressOpen, *travel <= 50)
	x.in.NV = x.out.NV
}

// run advances and reports the first broken invariant.
func (x *chaos) run(ms uint32, count func(*warden.State)) Broken {
	x.watch = &Watch{Config: x.c}
	boot := true
	for range ms {
		x.ms++
		x.host()
		x.lie()
		if x.reboot || x.rnd.IntN(400000) == 0 {
			x.reboot = false
			if x.c.PurgeMs < 30000 { // a short purge stands for one that outlasts the window
				x.watch.unburnt, x.watch.sum = [30000]bool{}, 0
			}
			warden.Init(&x.s, x.in.NV)
			x.out, boot = warden.Output{}, true
		}
		x.step(&x.c, &x.s, &x.in, &x.out)
		if b := x.watch.Step(&Tick{In: &x.in, Out: &x.out, After: &x.s, Boot: boot}); b.Number != 0 {
			return b
		}
		boot = false
		count(&x.s)
		x.plant()
		x.provoke()
	}
	return Broken{}
}
