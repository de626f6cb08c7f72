package firmware_test

import (
	"math/rand/v2"

	"pressrig/safety/warden"
)

// The rules' own bounds that are no numbers of the configuration.
const (
	falseFlameMs   = 2000
	proveLongestMs = 5000
	blockedMs      = 200
	pulledMs       = 500
	nvMs           = 1000
	valveSpareMs   = 500
	errorTrip      = 179000
	errorMost      = 600000
	unburntStart   = 60000
	slowDrpm       = 500
	fastMs         = 200
	chuckMs        = 100
	handWindowMs   = 100
	sensingMs      = 20
	unfeltMs       = 300
	standMs        = 500
)

// edge is one step from where a walk is, put into phases by chance and with
// timers and readings at the bounds that they are compared with, so that one
// more or one less of any bound is seen.
func edge(w *twin, rnd *rand.Rand, c warden.Config, s warden.State, in warden.Input) {
	if rnd.IntN(4) != 0 {
		jump(rnd, &c, &s, &in)
	}
	for range rnd.IntN(3) {
		c.FittedIn ^= 1 << rnd.IntN(29)
		c.Options ^= 1 << rnd.IntN(13)
		in.Bits ^= 1 << rnd.IntN(29)
	}
	if rnd.IntN(4) == 0 {
		c.FittedAnalog ^= 1 << rnd.IntN(int(warden.NumAnalog))
		in.AnalogOK ^= 1 << rnd.IntN(int(warden.NumAnalog))
	}
	in.Request.Flags ^= uint16(rnd.IntN(2)) << rnd.IntN(9)
	in.Fresh = uint8(rnd.IntN(2))
	if rnd.IntN(4) == 0 {
		in.Bits |= warden.InSetUp | warden.InTwoHandLeft
		c.FittedIn |= in.Bits
	}
	for i := range s.Hands {
		s.Hands[i].Ready, s.Hands[i].Given = uint8(rnd.IntN(2)), uint8(rnd.IntN(2))
	}
	s.HandStroke, s.HoldSeen = uint8(rnd.IntN(2)), uint8(rnd.IntN(8))
	timers(rnd, &c, &s)
	readings(rnd, &c, &s, &in)
	moving(rnd, &c, &s, &in)
	flowing(rnd, &c, &s, &in)
	w.stepFromAnywhere(&c, &s, &in)
}

// edges plays steps at the bounds, aside from a walk.
func edges(w *twin, seed uint64) {
	rnd := rand.New(rand.NewPCG(seed, 19))
	x := quick(seed)
	x.Step = func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		if rnd.IntN(2) == 0 {
			edge(w, rnd, *c, *s, *in)
		}
		warden.Step(c, s, in, out)
	}
	for range 4000 {
		x.Tick()
		x.Follow()
	}
}

// at is a bound, one or two below or one above it.
func at[N uint16 | uint32 | int16](rnd *rand.Rand, bounds ...N) N {
	return bounds[rnd.IntN(len(bounds))] + N(rnd.IntN(4)) - 2
}

func timers(rnd *rand.Rand, c *warden.Config, s *warden.State) {
	for _, timer := range []struct {
		value  *uint16
		bounds []uint16
	}{
		{&s.FlameMs, []uint16{c.FlameOnMs, c.ProveMs, c.ProveDarkMs, c.OxygenAfterMs}},
		{&s.DarkMs, []uint16{c.CheckMs, c.FlameOffMs}}, {&s.TrialMs, []uint16{c.TrialMs}},
		{&s.FuelOffMs, []uint16{falseFlameMs}}, {&s.NoFlowMs, []uint16{c.ExtractionMs, c.ExtractionWaitMs}},
		{&s.SwitchMs[rnd.IntN(4)], []uint16{c.PressureMs}}, {&s.FeedMs, []uint16{c.ValveCloseMs + valveSpareMs}},
		{&s.FeedOxMs, []uint16{c.ValveCloseMs + valveSpareMs}}, {&s.SlideMs, []uint16{c.SlideMs}},
		{&s.ClearMs, []uint16{c.ViewMs}}, {&s.BlockMs, []uint16{blockedMs}}, {&s.NVMs, []uint16{nvMs}},
		{&s.SoftMs, []uint16{c.SoftMs}}, {&s.PressMs, []uint16{c.RetractMs}}, {&s.PullMs, []uint16{pulledMs}},
		{&s.EaseDN, []uint16{c.EaseStepDN}}, {&s.StallMs, []uint16{c.SpindleStallMs / 4}},
		{&s.StillMs, []uint16{c.SpindleStallMs}}, {&s.StartMs, []uint16{c.ButtonMs}}, {&s.ResetMs, []uint16{c.ButtonMs}},
		{&s.LinkMs, []uint16{c.LeaseMs}}, {&s.LeaseMs[rnd.IntN(len(s.LeaseMs))], []uint16{c.LeaseMs}},
		{&s.Hands[rnd.IntN(len(s.Hands))].Ms, []uint16{c.HandsMs}},
		{&s.FastMs, []uint16{fastMs}}, {&s.ChuckMs, []uint16{chuckMs}}, {&s.HandMs, []uint16{handWindowMs, 2}},
		{&s.ForceLostMs, []uint16{sensingMs}}, {&s.TravelLostMs, []uint16{sensingMs}}, {&s.UnfeltMs, []uint16{unfeltMs}},
		{&s.StandMs, []uint16{standMs, 2}}, {&s.PartMs, []uint16{c.PartMs, 2}}, {&s.PressMs, []uint16{c.PartOpenMs}},
		{&s.FlowMs, []uint16{c.FlowSettleMs}}, {&s.RatioMs, []uint16{c.RatioMs}},
		{&s.Flow[rnd.IntN(2)].OffMs, []uint16{c.FlowOffMs}}, {&s.Flow[rnd.IntN(2)].OverMs, []uint16{c.FlowOverMs}},
	} {
		if rnd.IntN(8) == 0 {
			*timer.value = at(rnd, timer.bounds...)
		}
	}
	for _, timer := range []struct {
		value  *uint32
		bounds []uint32
	}{
		{&s.PhaseMs, []uint32{uint32(c.CheckMs), c.PurgeMs, uint32(c.IgniterMs), uint32(c.ProveDarkMs),
			uint32(c.OffMs), c.PostPurgeMs, proveLongestMs}},
		{&s.ParkMs, []uint32{c.ParkMs}}, {&s.RunMs, []uint32{c.RunMs}}, {&s.SharpMs, []uint32{c.SharpMs}}, {&s.ArmMs, []uint32{c.ArmMs}},
		{&s.SpinMs, []uint32{c.CreepMs, uint32(c.RampMs)}},
		{&s.Unburnt, []uint32{2, unburntStart, warden.UnburntLimit(c), warden.UnburntLimit(c) - 120}},
		{&s.ErrorSum, []uint32{2, errorTrip, errorMost}},
	} {
		if rnd.IntN(6) == 0 {
			*timer.value = at(rnd, timer.bounds...)
		}
	}
}

func readings(rnd *rand.Rand, c *warden.Config, s *warden.State, in *warden.Input) {
	pull := int16(c.PullMaxDN - c.PullMaxDN>>3)
	for _, reading := range []struct {
		value  *int16
		bounds []int16
	}{
		{&in.Analog[warden.AiSpindle], []int16{10, slowDrpm, int16(c.SpindleHeatDrpm), int16(c.PressLowDrpm), int16(c.PressHighDrpm)}},
		{&in.Analog[warden.AiForce], []int16{int16(c.ContactDN), int16(c.OverForceDN), -pull}},
		{&in.Analog[warden.AiTravel], []int16{c.HeatCmm, c.EndCmm + 100}},
		{&in.Analog[warden.AiGlass], []int16{s.WindowLow, s.WindowHi}},
		{&in.Request.EstDC, []int16{s.WindowLow + int16(in.Request.EstUncDC), s.WindowHi - int16(in.Request.EstUncDC)}},
		{&in.Request.TravelCmm, []int16{0, c.EndCmm}}, {&s.WindowHi, []int16{s.WindowLow}},
		{&in.Request.GlassLowDC, []int16{c.GlassLowDC}}, {&in.Request.GlassHighDC, []int16{c.GlassHighDC}},
	} {
		if rnd.IntN(6) == 0 {
			*reading.value = at(rnd, reading.bounds...)
		}
	}
	for _, number := range []struct {
		value  *uint16
		bounds []uint16
	}{
		{&in.GlassAgeMs, []uint16{c.SampleMs}}, {&in.Request.EstAgeMs, []uint16{c.EstimateMs}},
		{&s.Out.FuelMl, []uint16{c.SoftMaxMl}}, {&in.Request.FuelMl, []uint16{c.SoftMaxMl, c.FuelMaxMl}},
		{&in.Request.OxygenMl, []uint16{c.OxygenMaxMl}}, {&in.Request.SpindleDrpm, []uint16{2, c.SpindleMaxDrpm}},
		{&in.Request.SpeedCmms, []uint16{c.SpeedMaxCmms}}, {&in.Request.ForceDN, []uint16{c.ForceMaxDN}},
		{&in.Request.ArmID, []uint16{2, s.ArmID, s.UsedArmID}}, {&s.SpinSet, []uint16{c.CreepDrpm}},
	} {
		if rnd.IntN(6) == 0 {
			*number.value = at(rnd, number.bounds...)
		}
	}
	in.Request.EstUncDC %= 300
}

// aimedByHand are the press by hand and its feeling, the door over a driven press, and
// what else one fact alone decides.
func aimedByHand(w *twin, c warden.Config, s warden.State, in warden.Input) {
	step := func(c warden.Config, s warden.State, in warden.Input) { w.stepFromAnywhere(&c, &s, &in) }
	s.Started, s.LitOnce, s.Burner, s.Press, s.HoldSeen = 0, 0, warden.BurnerStandby, warden.PressStay, 7
	in.Request.Flags = 0
	for mask := range uint16(64) { // what is fitted, readable and driven, each way
		c, in := c, in
		put := func(word *uint16, bit uint16, on uint16) {
			*word &^= bit
			if on != 0 {
				*word |= bit
			}
		}
		put(&c.Options, warden.OptPressDriven, mask&1)
		put(&c.Options, warden.OptViewAlways, mask&2)
		put(&c.FittedAnalog, 1<<warden.AiForce, mask&4)
		put(&c.FittedAnalog, 1<<warden.AiTravel, mask&8)
		put(&in.AnalogOK, 1<<warden.AiForce, mask&16)
		put(&in.AnalogOK, 1<<warden.AiTravel, mask&32)
		in.Bits |= warden.InHoldClose
		in.Analog[warden.AiForce], in.Analog[warden.AiTravel] = 0, 100
		step(c, s, in)
		in.Bits &^= warden.InHoldClose | warden.InDoorClosed
		c.Options &^= warden.OptSpindleFitted
		s := s
		s.Out.Bits = warden.OutPressOpen // the door over a press that is driven
		step(c, s, in)
	}
	opening := s
	opening.Started, opening.Press = 1, warden.PressOpening
	opening.LeaseMs[3] = 0xFFFF // the spindle's lease is nobody's for the press
	in.Request.Flags, in.Request.Press, in.Request.Lease = warden.ReqCycle, warden.PressOpen, warden.LeasePress
	in.Request.ArmID, in.Fresh = opening.ArmID, 0
	away := in
	away.Bits &^= warden.InPressOpen
	step(c, opening, away)
	waiting := s
	waiting.Started, waiting.Wait, waiting.StartSeen = 1, 1, 1
	for d := range uint32(4) { // START at the end of its time
		waiting.ArmMs = c.ArmMs - 3 + d
		push := in
		push.Bits |= warden.InStart
		push.Request.Flags = warden.ReqCycle
		step(c, waiting, push)
	}
	slow := c
	slow.HandCmms = 6 // one and a half of it and 200 is 209
	hand := s
	hand.Press = warden.PressHandOpen
	hand.HandMs = 5
	for gone := range int16(4) {
		moved := in
		moved.Bits = moved.Bits&^warden.InPressOpen | warden.InHoldOpen
		moved.Analog[warden.AiTravel], hand.HandFromCmm = 3000+19+gone, 3000
		step(slow, hand, moved)
	}
	for homed := range uint8(2) {
		parts := s
		parts.Trips, parts.First = 1<<warden.CauseFlameLost, warden.CauseFlameLost
		parts.Touching, parts.Homed, parts.PartMs = 1, homed, c.PartMs
		away := away
		away.Analog[warden.AiTravel] = 3000
		step(c, parts, away)
	}
	short := c
	short.ProveMs, short.ProveDarkMs = 120, 100
	prove := s
	prove.Started, prove.Burner, prove.FlameMs, prove.PhaseMs = 1, warden.BurnerProve, 105, 110
	prove.Out.Bits = warden.OutFuel | warden.OutFan | warden.OutIgniter
	prove.NV = warden.NVRunning
	lit := in
	lit.NV, lit.Bits, lit.Request.Flags = warden.NVRunning, lit.Bits&^warden.InFuelShut|warden.InFlame, warden.ReqCycle|warden.ReqFlame
	step(short, prove, lit)
	for _, high := range []uint16{0, 1, 2} { // a window of the ratio, and none
		burns := s
		burns.Started, burns.Burner, burns.FlameMs, burns.Oxygen = 1, warden.BurnerRun, 5000, 1
		burns.Out.Bits = warden.OutFuel | warden.OutFan | warden.OutOxygen
		burns.RatioMs = c.RatioMs - 1
		c := c
		c.RatioLowPC, c.RatioHighPC = 0, high
		for i := range burns.Flow {
			burns.Flow[i] = warden.Flow{Low: 1000, High: 1000, WasLow: 1000, WasHigh: 1000}
		}
		burns.Out.FuelMl, burns.Out.OxygenMl = 1000, 1000
		lit := lit
		lit.Analog[warden.AiFuelFlow], lit.Analog[warden.AiOxygenFlow] = 1000, 1000
		step(c, burns, lit)
	}
	aimedEstimate(w, c, s, in)
}

// aimedEstimate is the extrapolated temperature at each end of the window and of its
// age, all else being ready for the stroke.
func aimedEstimate(w *twin, c warden.Config, s warden.State, in warden.Input) {
	c.Options = c.Options&^(warden.OptSpindleFitted|warden.OptBurnerFixed) | warden.OptPressDriven
	c.FittedAnalog |= 1<<warden.AiGlass | 1<<warden.AiForce | 1<<warden.AiTravel
	s.Started, s.WindowLow, s.WindowHi, s.Homed = 1, 8000, 9500, 1
	in.AnalogOK = (1<<warden.NumAnalog - 1) &^ (1 << warden.AiGlass)
	in.Bits = in.Bits&^warden.InBurnerAtBlank | warden.InBurnerClear | warden.InDoorClosed | warden.InPressOpen | warden.InChuckClamped
	in.Analog[warden.AiForce], in.Analog[warden.AiTravel] = 0, 0
	r := &in.Request
	r.Flags, r.Press, r.Lease, r.EstUncDC = warden.ReqCycle|warden.ReqEstimate, warden.PressForce, 15, 100
	for d := range int16(3) {
		for _, at := range []int16{8100, 9400, 8800} {
			r.EstDC, r.EstAgeMs = at-1+d, 50
			w.stepFromAnywhere(&c, ptr(s), &in)
		}
		r.EstDC, r.EstAgeMs = 8800, c.EstimateMs-1+uint16(d)
		w.stepFromAnywhere(&c, ptr(s), &in)
	}
}

func ptr[T any](v T) *T { return &v }

// moving puts the readings of what moves at the bounds of rows 43 to 48.
func moving(rnd *rand.Rand, c *warden.Config, s *warden.State, in *warden.Input) {
	a := &in.Analog
	fast := func(most uint16) int16 { return int16(most + most>>3 + 50) }
	switch rnd.IntN(8) {
	case 0:
		a[warden.AiSpindle] = at(rnd, fast(c.SpindleMaxDrpm), fast(c.SetUpDrpm), -50)
	case 1: // the window of hold-to-run begins, runs or ends
		gone := int16((uint32(c.HandCmms+c.HandCmms>>1+200) + 9) / 10)
		s.Press = warden.PressHandOpen + uint8(rnd.IntN(2))
		a[warden.AiTravel] = s.HandFromCmm + at(rnd, gone, -gone, 0)
		in.Bits &^= warden.InPressOpen
	case 2: // a driven press stands, or is at its target
		s.Press = []uint8{warden.PressClosing, warden.PressHandClose}[rnd.IntN(2)]
		s.Out.SpeedCmms = at(rnd, uint16(100), 1000)
		s.Out.TravelCmm = 5500
		a[warden.AiTravel] = at(rnd, int16(3000), 5500-50, 5500-5)
		s.StandCmm = a[warden.AiTravel] + at(rnd, int16(10), -10, 0)
		in.Request.Press = uint8(rnd.IntN(4))
		in.Bits &^= warden.InPressOpen
	case 3: // parting
		s.Trips |= 1 << warden.CauseFlameLost
		if rnd.IntN(3) == 0 {
			s.Trips |= 1 << []uint8{warden.CauseStuck, warden.CauseForceLost, warden.CauseTravelLost}[rnd.IntN(3)]
		}
		s.Touching = 1
		s.Press = []uint8{warden.PressStay, warden.PressOpening, warden.PressEasing, warden.PressContact}[rnd.IntN(4)]
		in.Bits &^= warden.InPressOpen
		s.Spindle, s.SpinSet = warden.SpindleCreep, uint16(rnd.IntN(2000))
	}
}

// flowing puts what was asked and what flows at the bounds of rows 49 to 52.
func flowing(rnd *rand.Rand, c *warden.Config, s *warden.State, in *warden.Input) {
	if rnd.IntN(2) == 0 {
		return
	}
	for i, ai := range []uint8{warden.AiFuelFlow, warden.AiOxygenFlow} {
		f := &s.Flow[i]
		base := []uint16{0, 300, 1000, 3000}[rnd.IntN(4)]
		*f = warden.Flow{Low: base, High: base, WasLow: base, WasHigh: base, OffMs: f.OffMs, OverMs: f.OverMs}
		if rnd.IntN(3) == 0 { // a band, just settled or just not
			f.High = base + at(rnd, c.FlowOffMl, uint16(uint32(base)*uint32(c.FlowOffPC)/100))
		}
		if rnd.IntN(6) == 0 {
			f.WasLow, f.WasHigh = f.Low, f.High+uint16(rnd.IntN(40))
		}
		sent := []*uint16{&s.Out.FuelMl, &s.Out.OxygenMl}[i]
		*sent = base + uint16(rnd.IntN(3))
		low, high := min(f.Low, f.WasLow), max(f.High, f.WasHigh, *sent)
		in.Analog[ai] = int16(at(rnd, high, low, high+c.FlowOffMl, low-c.FlowOffMl, high+c.FlowNoneMl,
			uint16(uint32(high)*(100+uint32(c.FlowOffPC))/100), uint16(uint32(low)*(100-uint32(c.FlowOffPC))/100),
			uint16(uint32(high)*uint32(c.FlowOverPC)/100)))
		if rnd.IntN(16) == 0 {
			in.Analog[ai] = -int16(rnd.IntN(3))
		}
	}
	if rnd.IntN(3) == 0 { // the ratio, with both gases settled
		fuel := max(0, in.Analog[warden.AiFuelFlow])
		in.Analog[warden.AiOxygenFlow] = at(rnd, int16(uint32(fuel)*uint32(c.RatioLowPC)/100), int16(min(32000, uint32(fuel)*uint32(c.RatioHighPC)/100)))
		s.Out.Bits |= warden.OutOxygen
	}
	if rnd.IntN(4) == 0 {
		s.Out.Bits |= warden.OutFuel
		s.Burner = warden.BurnerRun
		in.Bits |= warden.InBurnerAtBlank
	}
}

// aimed are steps at what chance meets too rarely: one rule each, all else being
// as that rule wants it.
func aimed(w *twin) {
	c := quick(1).Config
	c.Options |= warden.OptOxygenFitted
	c.FittedIn |= warden.InFuelShut | warden.InOxygenShut | warden.InStart | warden.InTwoHandLeft | warden.InTwoHandRight |
		warden.InHoldOpen | warden.InHoldClose | warden.InHoldTurn | warden.InSetUp
	in := warden.Input{Bits: warden.InEstopOK | warden.InDoorClosed | warden.InExtraction | warden.InPressOpen |
		warden.InBurnerClear | warden.InFuelShut | warden.InOxygenShut | warden.InMainsOK | warden.InIndexed,
		AnalogOK: 1<<warden.NumAnalog - 1, NV: warden.NVClear,
		Request: warden.Request{Lease: 15, Flags: warden.ReqFlame | warden.ReqOxygen | warden.ReqArm | warden.ReqCycle}}
	var s warden.State
	warden.Init(&s, warden.NVClear)
	s.LeaseMs, s.LinkMs, s.Started, s.Homed, s.HoldSeen, s.SawStill = [warden.NumLeases]uint16{}, 0, 1, 1, 7, 1
	step := func(c warden.Config, s warden.State, in warden.Input) { w.stepFromAnywhere(&c, &s, &in) }
	s.DarkMs, s.FlameMs, s.ClearMs, s.PhaseMs, s.FuelOffMs = c.CheckMs, 0, 1000, 5, 5000

	aimedByHand(w, c, s, in)
	check := s
	check.Burner = warden.BurnerCheck
	for d := range uint32(5) { // a light-up begins with room in the budget
		check.Unburnt = unburntStart - 1 + d
		step(c, check, in)
	}
	check.Unburnt = 0
	for mask := range uint32(64) { // each valve's proof of closure, fitted and not, seen and not
		some, seen := c, in
		for i, bit := range []uint32{warden.InFuelShut, warden.InOxygenShut, warden.InStart} {
			if mask>>i&1 == 0 {
				some.FittedIn &^= bit
			}
			if seen.Bits &^= bit; mask>>(3+i)&1 != 0 {
				seen.Bits |= bit
			}
		}
		step(some, check, seen)
	}

	unkept := s // the byte that must survive is not yet what it should be
	unkept.NV = warden.NVRunning
	for d := range uint16(5) {
		unkept.NVMs = nvMs - 3 + d
		step(c, unkept, in)
	}

	lit := s
	lit.DarkMs, lit.LitOnce, lit.NV = 0, 1, warden.NVRunning
	lit.Out.Bits, lit.FuelOffMs = warden.OutFuel1|warden.OutFuel2|warden.OutFan, 0
	burning := in
	burning.Bits = in.Bits&^(warden.InFuelShut|warden.InOxygenShut) | warden.InFlame
	burning.NV = warden.NVRunning
	for _, x := range []struct {
		burner uint8
		bound  uint16
	}{{warden.BurnerProveDark, c.ProveDarkMs}, {warden.BurnerRun, c.OxygenAfterMs}, {warden.BurnerProve, c.ProveMs},
		{warden.BurnerTrial, c.FlameOnMs}} {
		lit.Burner, lit.PhaseMs = x.burner, uint32(x.bound)+10
		for d := range uint16(5) {
			lit.FlameMs = x.bound - 3 + d
			step(c, lit, burning)
		}
	}
	touch := in
	touch.Bits &^= warden.InPressOpen
	touch.Request.Press, touch.Request.TravelCmm, touch.Request.ForceDN, touch.Request.SpeedCmms = warden.PressClose, c.EndCmm, 100, 100
	for ok := range uint16(1 << warden.NumAnalog) { // contact, by the force alone and only where its wire is whole
		if ok&(1<<warden.AiForce|1<<warden.AiSpindle) == ok || ok == 1<<warden.NumAnalog-1 {
			for d := range int16(3) {
				touch.AnalogOK, touch.Analog[warden.AiForce] = ok, int16(c.ContactDN)-1+d
				pressing := s
				pressing.Press = warden.PressClosing
				step(c, pressing, touch)
			}
		}
	}
	guess := in // an estimate whose whole uncertainty lies in the window, to the tenth
	guess.AnalogOK &^= 1 << warden.AiGlass
	guess.Request.Flags |= warden.ReqEstimate
	guess.Request.EstUncDC = 50
	inside := s
	inside.WindowLow, inside.WindowHi = 8600, 9300
	c.FittedAnalog |= 1 << warden.AiGlass
	for _, bound := range []int16{8650, 9250} {
		for d := range int16(5) {
			guess.Request.EstDC = bound - 2 + d
			step(c, inside, guess)
		}
	}
	lit.Burner, lit.FlameMs, lit.PhaseMs = warden.BurnerRun, c.OxygenAfterMs+10, 10
	for i := range 12 { // oxygen with the door open and closed, under each option
		some := c
		some.Options ^= 1 << i
		step(some, lit, burning)
		ajar := burning
		ajar.Bits &^= warden.InDoorClosed
		step(some, lit, ajar)
		step(c, lit, ajar)
	}
	for press := range warden.NumPress { // a reaction that opens, with the position known and unknown
		for homed := range uint8(2) {
			back := s
			back.Press, back.Homed, back.Trips, back.Lock = press, homed, 1<<warden.CausePressState, warden.LockHold
			step(c, back, touch)
			back.Started, back.Touching = 0, 1
			step(c, back, touch)
		}
	}
	for mask := range uint32(1 << 10) { // hold-to-run with nothing started, each button with and without its pair
		held, at := s, in
		held.Started, held.Press = 0, warden.PressStay
		at.Bits &^= warden.InPressOpen
		for i, bit := range []uint32{warden.InDoorClosed, warden.InSetUp, warden.InTwoHandLeft,
			warden.InHoldOpen, warden.InHoldClose, warden.InHoldTurn} {
			if at.Bits &^= bit; mask>>i&1 != 0 {
				at.Bits |= bit
			}
		}
		for i := range held.Hands {
			held.Hands[i].Ready, held.Hands[i].Given = 1, uint8(mask>>(6+i)&1)
		}
		step(c, held, at)
	}
	for mask := range uint32(1 << 9) { // hands at the press, door open and closed, in every state of the press
		for press := range warden.NumPress {
			hands, at := s, in
			hands.Press, hands.HandStroke, hands.Touching = press, uint8(mask&1), uint8(mask>>1&1)
			hands.Hands[0].Given, hands.Hands[1].Given = uint8(mask>>2&1), uint8(mask>>3&1)
			hands.Hands[0].Ready, hands.Hands[1].Ready = 1, 1
			for i, bit := range []uint32{warden.InDoorClosed, warden.InPressOpen, warden.InTwoHandLeft, warden.InTwoHandRight, warden.InSetUp} {
				if at.Bits &^= bit; mask>>(4+i)&1 != 0 {
					at.Bits |= bit
				}
			}
			at.Request.Press = warden.PressClose
			step(c, hands, at)
			at.Bits |= warden.InHoldOpen
			step(c, hands, at)
		}
	}
}
