package warden

import "testing"

// world is a rig with perfect physics, just enough to walk the warden through
// its phases. The real plant is drivers/bench; invariants are tested there too.
type world struct {
	t   *testing.T
	cfg Config
	s   State
	in  Input
	out Output
	ms  uint32

	flame     bool
	noIgnite  bool   // the igniter is dead
	flowStuck bool   // the extraction switch sticks on
	reqEvery  uint32 // a request arrives each this many ms; 0 never
	igniteMs  uint32
	fanMs     uint32
	slideMs   uint32
	armID     uint16
}

const allIn = InEstopOK | InDoorClosed | InFlame | InExtraction | InFuelLow | InFuelHigh |
	InOxygenLow | InOxygenHigh | InPressOpen | InPressEnd | InBurnerAtBlank | InBurnerClear |
	InFuelShut | InOxygenShut | InStart | InReset | InSoft | InHoldOpen | InHoldClose |
	InChuckClamped | InGasAlarm | InFlashback | InOverForce | InMainsOK | InTwoHandLeft | InTwoHandRight | InSetUp |
	InHoldTurn

// testConfig is a driven rig with the constants of docs/assessor.md.
func testConfig() Config {
	return Config{
		FittedIn: allIn, FittedAnalog: 1<<NumAnalog - 1,
		Options: OptSpindleTurns | OptSpindleFitted | OptBurnerDriven | OptPressDriven |
			OptViewAlways | OptStrokeFlameClear | OptOxygenFitted,
		CheckMs: 5000, PurgeMs: 30000, IgniterMs: 1000, TrialMs: 3000, FlameOnMs: 100,
		ProveMs: 1000, ProveDarkMs: 1000, FlameOffMs: 600, OxygenAfterMs: 1000, OffMs: 500,
		PostPurgeMs: 30000, ValveCloseMs: 500, ParkMs: 600000, LeaseMs: 500, ArmMs: 60000,
		CreepMs: 120000, RampMs: 1000, EaseMs: 1000, RetractMs: 15000, SoftMs: 60000,
		FuelMaxMl: 3500, SoftMaxMl: 1500, OxygenMaxMl: 6000, SpindleMaxDrpm: 2000,
		SpindleHeatDrpm: 300, CreepDrpm: 200, PressLowDrpm: 300, PressHighDrpm: 700,
		OpenCmm: 50, HeatCmm: 100, EndCmm: 6000, SpeedMaxCmms: 6000, HandCmms: 1000,
		ForceMaxDN: 4000, OverForceDN: 4500, EaseStepDN: 4, PullMaxDN: 300, ContactDN: 50,
		GlassLowDC: 6000, GlassHighDC: 11000, ViewMs: 300, SampleMs: 200, EstimateMs: 2000,
		SpindleStallMs: 2000, ExtractionMs: 500, ExtractionWaitMs: 10000, PressureMs: 200,
		SlideMs: 2000, ButtonMs: 3000, HandsMs: 500, SetUpDrpm: 300,
		PartMs: 3000, PartCmms: 200, PartOpenMs: 30000,
		FlowSettleMs: 1000, FlowOffMs: 2000, FlowOffPC: 20, FlowOffMl: 100, FlowOverMs: 500, FlowOverPC: 150,
		FlowNoneMl: 200, RatioMs: 2000, RatioLowPC: 50, RatioHighPC: 600, RunMs: 8 * 3600000, SharpMs: 600000,
	}
}

func newWorld(t *testing.T) *world {
	w := &world{t: t, cfg: testConfig(), reqEvery: 50}
	w.boot(NVClear)
	return w
}

func (w *world) boot(nv uint8) {
	Init(&w.s, nv)
	w.in = Input{
		Bits:     InChuckClamped | InEstopOK | InDoorClosed | InPressOpen | InBurnerClear | InFuelShut | InOxygenShut | InMainsOK,
		AnalogOK: 1<<NumAnalog - 1, NV: nv,
	}
	w.in.Analog[AiGlass] = 8800
	w.flame, w.ms, w.fanMs, w.slideMs, w.igniteMs = false, 0, 0, 0, 0
}

func (w *world) set(bits uint32, on bool) {
	w.in.Bits &^= bits
	if on {
		w.in.Bits |= bits
	}
}

// tick advances one millisecond.
func (w *world) tick() {
	w.ms++
	w.in.Fresh = 0
	if w.reqEvery != 0 && w.ms%w.reqEvery == 0 {
		w.in.Fresh = 1
	}
	Step(&w.cfg, &w.s, &w.in, &w.out)
	w.in.NV = w.out.NV
	w.plant()
}

func (w *world) plant() {
	fuel := w.out.Bits&OutFuel == OutFuel
	w.igniteMs = (w.igniteMs + 1) * one(fuel && w.out.Bits&OutIgniter != 0 && !w.noIgnite)
	w.flame = fuel && (w.flame || w.igniteMs >= 300)
	w.set(InFlame, w.flame)
	w.set(InFuelShut, !fuel)
	w.set(InOxygenShut, w.out.Bits&OutOxygen == 0)
	w.fanMs = (w.fanMs + 1) * one(w.out.Bits&OutFan != 0)
	w.set(InExtraction, w.fanMs >= 1500 || w.flowStuck)
	in := w.out.Bits&OutBurnerIn != 0
	if in && w.slideMs < 400 {
		w.slideMs++
	} else if !in && w.slideMs > 0 {
		w.slideMs--
	}
	w.set(InBurnerClear, w.slideMs == 0)
	w.set(InBurnerAtBlank, w.slideMs == 400)
	w.in.Analog[AiSpindle] = int16(w.out.SpindleDrpm)
	w.in.Analog[AiFuelFlow], w.in.Analog[AiOxygenFlow] = int16(w.out.FuelMl), int16(w.out.OxygenMl)
	w.plantPress()
}

func (w *world) plantPress() {
	travel := w.in.Analog[AiTravel]
	force := int16(0)
	step := max(1, int16(w.out.SpeedCmms/1000))
	switch {
	case w.out.Bits&OutPressClose != 0 && w.out.ForceDN > 0 && travel < 5000:
		travel += step
	case w.out.Bits&OutPressClose != 0:
		force = int16(w.out.ForceDN)
	case w.out.Bits&OutPressOpen != 0 && travel > 0:
		travel = max(0, travel-step)
	}
	w.in.Analog[AiTravel], w.in.Analog[AiForce] = travel, force
	w.set(InPressOpen, travel <= 20)
}

func one(b bool) uint32 {
	if b {
		return 1
	}
	return 0
}

func (w *world) run(ms uint32) {
	for range ms {
		w.tick()
	}
}

// until ticks until on is true and fails the test after most milliseconds.
func (w *world) until(what string, most uint32, on func() bool) uint32 {
	w.t.Helper()
	for n := uint32(0); n <= most; n++ {
		if on() {
			return n
		}
		w.tick()
	}
	w.t.Fatalf("no %s within %d ms; burner %d press %d lock %d first %d trips %x",
		what, most, w.s.Burner, w.s.Press, w.s.Lock, w.s.First, w.s.Trips)
	return 0
}

// start arms and pushes START.
func (w *world) start() {
	w.t.Helper()
	w.armID++
	w.in.Request.Lease = LeaseFuel | LeaseOxygen | LeasePress | LeaseSpindle
	w.in.Request.Flags = ReqArm
	w.in.Request.ArmID = w.armID
	w.in.Request.GlassLowDC, w.in.Request.GlassHighDC = 8500, 9300
	w.until("armed", 1000, func() bool { return w.s.Armed == 1 })
	w.run(20)
	w.set(InStart, true)
	w.run(100)
	w.set(InStart, false)
	if w.s.Started != 1 {
		w.t.Fatal("START did not start")
	}
	w.in.Request.Flags = ReqCycle
}

// pushStart pushes START at the rig in a cycle that waits for it.
func (w *world) pushStart() {
	w.t.Helper()
	w.run(20)
	w.set(InStart, true)
	w.run(100)
	w.set(InStart, false)
	if w.s.Link != LinkStarted {
		w.t.Fatalf("START is not taken: link %d", w.s.Link)
	}
}

// light brings the burner to run.
func (w *world) light() {
	w.t.Helper()
	w.start()
	w.in.Request.Flags |= ReqFlame
	w.in.Request.FuelMl = 1000
	w.until("run", 60000, func() bool { return w.s.Burner == BurnerRun })
}

// heat is light plus spindle, burner at the blank and oxygen.
func (w *world) heat() {
	w.t.Helper()
	w.light()
	w.in.Request.SpindleDrpm = 600
	w.run(100)
	w.in.Request.Flags |= ReqBurnerIn | ReqOxygen
	w.in.Request.FuelMl, w.in.Request.OxygenMl = 2800, 4200
	w.until("burner at blank with oxygen", 3000, func() bool {
		return w.in.Bits&InBurnerAtBlank != 0 && w.s.Oxygen == 1
	})
	w.run(200)
}

// press is heat plus burner clear and the stroke to contact.
func (w *world) press() {
	w.t.Helper()
	w.heat()
	w.in.Request.Flags &^= ReqBurnerIn | ReqOxygen
	w.in.Request.FuelMl = 1000
	w.run(600)
	w.in.Request.Press, w.in.Request.ForceDN = PressForce, 2500
	w.in.Request.TravelCmm, w.in.Request.SpeedCmms = 5500, 5000
	w.until("contact", 5000, func() bool { return w.s.Press == PressContact })
	w.run(100)
}

func (w *world) wantOff(when string, bits uint16) {
	w.t.Helper()
	if w.out.Bits&bits != 0 {
		w.t.Errorf("%s: outputs %03x still on", when, w.out.Bits&bits)
	}
}

func (w *world) wantTrip(first, lock uint8) {
	w.t.Helper()
	if w.s.First != first || w.s.Lock != lock {
		w.t.Errorf("first cause %d lock %d; want %d, %d", w.s.First, w.s.Lock, first, lock)
	}
}

const energising = OutFuel | OutOxygen | OutIgniter | OutBurnerIn | OutPressClose
