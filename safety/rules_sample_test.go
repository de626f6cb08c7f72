package safety

import (
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"pressrig/safety/chaos"
	w "pressrig/safety/warden"
)

// sample is one tick from any memory: a configuration, what the warden
// remembers, and what it sees. Most of it is as it should be; the rest lies at
// and around the bounds, where rules break.
type sample struct {
	c  w.Config
	s  w.State
	in w.Input
}

// bound is a number that a rule compares, with what it is compared to. usual is
// a value that stands in no way.
type bound struct {
	at    func(*sample) any // pointer to the number
	to    func(*w.Config) int64
	usual int64
}

var bounds = []bound{
	{func(x *sample) any { return &x.s.FlameMs }, func(c *w.Config) int64 { return int64(c.FlameOnMs) }, 2000},
	{func(x *sample) any { return &x.s.FlameMs }, func(c *w.Config) int64 { return int64(c.ProveMs) }, 2000},
	{func(x *sample) any { return &x.s.FlameMs }, func(c *w.Config) int64 { return int64(c.ProveDarkMs) }, 2000},
	{func(x *sample) any { return &x.s.FlameMs }, func(c *w.Config) int64 { return int64(c.OxygenAfterMs) }, 2000},
	{func(x *sample) any { return &x.s.DarkMs }, func(c *w.Config) int64 { return int64(c.CheckMs) }, 0},
	{func(x *sample) any { return &x.s.DarkMs }, func(c *w.Config) int64 { return int64(c.FlameOffMs) }, 0},
	{func(x *sample) any { return &x.s.FuelOffMs }, func(*w.Config) int64 { return 2000 }, 0},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.CheckMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.PurgeMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.IgniterMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.ProveDarkMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.OffMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(c *w.Config) int64 { return int64(c.PostPurgeMs) }, 100},
	{func(x *sample) any { return &x.s.PhaseMs }, func(*w.Config) int64 { return 5000 }, 100},
	{func(x *sample) any { return &x.s.TrialMs }, func(c *w.Config) int64 { return int64(c.TrialMs) }, 10},
	{func(x *sample) any { return &x.s.ParkMs }, func(c *w.Config) int64 { return int64(c.ParkMs) }, 10},
	{func(x *sample) any { return &x.s.RunMs }, func(c *w.Config) int64 { return int64(c.RunMs) }, 10},
	{func(x *sample) any { return &x.s.SharpMs }, func(c *w.Config) int64 { return int64(c.SharpMs) }, 10},
	{func(x *sample) any { return &x.s.PartMs }, func(c *w.Config) int64 { return int64(c.PartMs) }, 10},
	{func(x *sample) any { return &x.s.PressMs }, func(c *w.Config) int64 { return int64(c.PartOpenMs) }, 0},
	{func(x *sample) any { return &x.s.FlowMs }, func(c *w.Config) int64 { return int64(c.FlowSettleMs) }, 10},
	{func(x *sample) any { return &x.s.RatioMs }, func(c *w.Config) int64 { return int64(c.RatioMs) }, 0},
	{func(x *sample) any { return &x.s.Flow[0].OffMs }, func(c *w.Config) int64 { return int64(c.FlowOffMs) }, 0},
	{func(x *sample) any { return &x.s.Flow[1].OffMs }, func(c *w.Config) int64 { return int64(c.FlowOffMs) }, 0},
	{func(x *sample) any { return &x.s.Flow[0].OverMs }, func(c *w.Config) int64 { return int64(c.FlowOverMs) }, 0},
	{func(x *sample) any { return &x.s.Flow[1].OverMs }, func(c *w.Config) int64 { return int64(c.FlowOverMs) }, 0},
	{func(x *sample) any { return &x.s.Unburnt }, func(*w.Config) int64 { return 60000 }, 0},
	{func(x *sample) any { return &x.s.Unburnt },
		func(c *w.Config) int64 { return 120 * (3750 - int64(c.ValveCloseMs)) }, 0},
	{func(x *sample) any { return &x.s.NoFlowMs }, func(c *w.Config) int64 { return int64(c.ExtractionMs) }, 0},
	{func(x *sample) any { return &x.s.NoFlowMs }, func(c *w.Config) int64 { return int64(c.ExtractionWaitMs) }, 0},
	{func(x *sample) any { return &x.s.SwitchMs[0] }, func(c *w.Config) int64 { return int64(c.PressureMs) }, 0},
	{func(x *sample) any { return &x.s.SwitchMs[1] }, func(c *w.Config) int64 { return int64(c.PressureMs) }, 0},
	{func(x *sample) any { return &x.s.SwitchMs[2] }, func(c *w.Config) int64 { return int64(c.PressureMs) }, 0},
	{func(x *sample) any { return &x.s.SwitchMs[3] }, func(c *w.Config) int64 { return int64(c.PressureMs) }, 0},
	{func(x *sample) any { return &x.s.FeedMs }, func(c *w.Config) int64 { return int64(c.ValveCloseMs) + 500 }, 0},
	{func(x *sample) any { return &x.s.FeedOxMs }, func(c *w.Config) int64 { return int64(c.ValveCloseMs) + 500 }, 0},
	{func(x *sample) any { return &x.s.FeedMs }, func(c *w.Config) int64 { return int64(c.ValveCloseMs) }, 0},
	{func(x *sample) any { return &x.s.SlideMs }, func(c *w.Config) int64 { return int64(c.SlideMs) }, 0},
	{func(x *sample) any { return &x.s.ClearMs }, func(c *w.Config) int64 { return int64(c.ViewMs) }, 1000},
	{func(x *sample) any { return &x.s.BlockMs }, func(*w.Config) int64 { return 200 }, 0},
	{func(x *sample) any { return &x.s.NVMs }, func(*w.Config) int64 { return 1000 }, 0},
	{func(x *sample) any { return &x.s.StartMs }, func(c *w.Config) int64 { return int64(c.ButtonMs) }, 0},
	{func(x *sample) any { return &x.s.ResetMs }, func(c *w.Config) int64 { return int64(c.ButtonMs) }, 0},
	{func(x *sample) any { return &x.s.SoftMs }, func(c *w.Config) int64 { return int64(c.SoftMs) }, 100},
	{func(x *sample) any { return &x.s.PressMs }, func(c *w.Config) int64 { return int64(c.RetractMs) }, 0},
	{func(x *sample) any { return &x.s.PullMs }, func(*w.Config) int64 { return 500 }, 0},
	{func(x *sample) any { return &x.s.EaseDN }, func(c *w.Config) int64 { return int64(c.EaseStepDN) }, 100},
	{func(x *sample) any { return &x.s.StallMs }, func(c *w.Config) int64 { return int64(c.SpindleStallMs >> 2) }, 0},
	{func(x *sample) any { return &x.s.StallMs }, func(c *w.Config) int64 { return int64(c.SpindleStallMs) }, 0},
	{func(x *sample) any { return &x.s.Hands[0].Ms }, func(c *w.Config) int64 { return int64(c.HandsMs) }, 10},
	{func(x *sample) any { return &x.s.Hands[1].Ms }, func(c *w.Config) int64 { return int64(c.HandsMs) }, 10},
	{func(x *sample) any { return &x.s.Hands[2].Ms }, func(c *w.Config) int64 { return int64(c.HandsMs) }, 10},
	{func(x *sample) any { return &x.s.FastMs }, func(*w.Config) int64 { return 200 }, 0},
	{func(x *sample) any { return &x.s.ChuckMs }, func(*w.Config) int64 { return 100 }, 0},
	{func(x *sample) any { return &x.s.HandMs }, func(*w.Config) int64 { return 100 }, 0},
	{func(x *sample) any { return &x.s.ForceLostMs }, func(*w.Config) int64 { return 20 }, 0},
	{func(x *sample) any { return &x.s.TravelLostMs }, func(*w.Config) int64 { return 20 }, 0},
	{func(x *sample) any { return &x.s.UnfeltMs }, func(*w.Config) int64 { return 300 }, 0},
	{func(x *sample) any { return &x.s.StandMs }, func(*w.Config) int64 { return 500 }, 0},
	{func(x *sample) any { return &x.in.Analog[w.AiSpindle] }, func(*w.Config) int64 { return 500 }, 600},
	{func(x *sample) any { return &x.s.StillMs }, func(c *w.Config) int64 { return int64(c.SpindleStallMs) }, 0},
	{func(x *sample) any { return &x.s.SpinMs }, func(c *w.Config) int64 { return int64(c.CreepMs) }, 10},
	{func(x *sample) any { return &x.s.SpinMs }, func(c *w.Config) int64 { return int64(c.RampMs) }, 10},
	{func(x *sample) any { return &x.s.SpinSet }, func(c *w.Config) int64 { return int64(c.CreepDrpm) }, 600},
	{func(x *sample) any { return &x.s.LeaseMs[0] }, func(c *w.Config) int64 { return int64(c.LeaseMs) }, 40},
	{func(x *sample) any { return &x.s.LeaseMs[1] }, func(c *w.Config) int64 { return int64(c.LeaseMs) }, 40},
	{func(x *sample) any { return &x.s.LeaseMs[2] }, func(c *w.Config) int64 { return int64(c.LeaseMs) }, 40},
	{func(x *sample) any { return &x.s.LeaseMs[3] }, func(c *w.Config) int64 { return int64(c.LeaseMs) }, 40},
	{func(x *sample) any { return &x.s.LinkMs }, func(c *w.Config) int64 { return int64(c.LeaseMs) }, 40},
	{func(x *sample) any { return &x.s.ArmMs }, func(c *w.Config) int64 { return int64(c.ArmMs) }, 100},
	{func(x *sample) any { return &x.s.ErrorSum }, func(*w.Config) int64 { return 179000 }, 0},
	{func(x *sample) any { return &x.s.ErrorSum }, func(*w.Config) int64 { return 119000 }, 0},
	{func(x *sample) any { return &x.s.ErrorSum }, func(*w.Config) int64 { return 540000 }, 0},
	{func(x *sample) any { return &x.s.Out.FuelMl }, func(c *w.Config) int64 { return int64(c.SoftMaxMl) }, 1000},
	{func(x *sample) any { return &x.s.Out.ForceDN }, func(c *w.Config) int64 { return int64(c.ForceMaxDN) }, 1000},
	{func(x *sample) any { return &x.s.WindowLow }, func(*w.Config) int64 { return 8800 }, 8000},
	{func(x *sample) any { return &x.s.WindowHi }, func(*w.Config) int64 { return 8800 }, 9500},
	{func(x *sample) any { return &x.s.WindowHi }, func(*w.Config) int64 { return 8000 }, 9500},
	{func(x *sample) any { return &x.in.GlassAgeMs }, func(c *w.Config) int64 { return int64(c.SampleMs) }, 50},
	{func(x *sample) any { return &x.in.Request.EstAgeMs }, func(c *w.Config) int64 { return int64(c.EstimateMs) }, 50},
	{func(x *sample) any { return &x.in.Request.EstDC }, func(*w.Config) int64 { return 8000 + 100 }, 8800},
	{func(x *sample) any { return &x.in.Request.EstDC }, func(*w.Config) int64 { return 9500 - 100 }, 8800},
	{func(x *sample) any { return &x.in.Request.GlassLowDC }, func(c *w.Config) int64 { return int64(c.GlassLowDC) }, 8000},
	{func(x *sample) any { return &x.in.Request.GlassHighDC }, func(c *w.Config) int64 { return int64(c.GlassHighDC) }, 9500},
	{func(x *sample) any { return &x.in.Request.FuelMl }, func(c *w.Config) int64 { return int64(c.SoftMaxMl) }, 1000},
	{func(x *sample) any { return &x.in.Request.FuelMl }, func(c *w.Config) int64 { return int64(c.FuelMaxMl) }, 1000},
	{func(x *sample) any { return &x.in.Request.OxygenMl }, func(c *w.Config) int64 { return int64(c.OxygenMaxMl) }, 1000},
	{func(x *sample) any { return &x.in.Request.SpindleDrpm }, func(c *w.Config) int64 { return int64(c.SpindleMaxDrpm) }, 600},
	{func(x *sample) any { return &x.in.Request.SpindleDrpm }, func(*w.Config) int64 { return 0 }, 600},
	{func(x *sample) any { return &x.in.Request.TravelCmm }, func(c *w.Config) int64 { return int64(c.EndCmm) }, 5000},
	{func(x *sample) any { return &x.in.Request.TravelCmm }, func(c *w.Config) int64 { return 0 }, 5000},
	{func(x *sample) any { return &x.in.Request.SpeedCmms }, func(c *w.Config) int64 { return int64(c.SpeedMaxCmms) }, 500},
	{func(x *sample) any { return &x.in.Request.ForceDN }, func(c *w.Config) int64 { return int64(c.ForceMaxDN) }, 1000},
	{func(x *sample) any { return &x.in.Analog[w.AiGlass] }, func(*w.Config) int64 { return 8000 }, 8800},
	{func(x *sample) any { return &x.in.Analog[w.AiGlass] }, func(*w.Config) int64 { return 9500 }, 8800},
	{func(x *sample) any { return &x.in.Analog[w.AiTravel] }, func(c *w.Config) int64 { return int64(c.HeatCmm) }, 20},
	{func(x *sample) any { return &x.in.Analog[w.AiTravel] }, func(c *w.Config) int64 { return int64(c.EndCmm) + 100 }, 3000},
	{func(x *sample) any { return &x.in.Analog[w.AiTravel] }, func(c *w.Config) int64 { return int64(c.EndCmm) }, 3000},
	{func(x *sample) any { return &x.in.Analog[w.AiForce] }, func(c *w.Config) int64 { return int64(c.OverForceDN) }, 0},
	{func(x *sample) any { return &x.in.Analog[w.AiForce] }, func(c *w.Config) int64 { return int64(c.ContactDN) }, 0},
	{func(x *sample) any { return &x.in.Analog[w.AiForce] }, func(c *w.Config) int64 { return -int64(c.PullMaxDN - c.PullMaxDN/8) }, 0},
	{func(x *sample) any { return &x.in.Analog[w.AiSpindle] }, func(c *w.Config) int64 { return int64(c.SpindleHeatDrpm) }, 600},
	{func(x *sample) any { return &x.in.Analog[w.AiSpindle] }, func(c *w.Config) int64 { return int64(c.PressLowDrpm) }, 600},
	{func(x *sample) any { return &x.in.Analog[w.AiSpindle] }, func(c *w.Config) int64 { return int64(c.PressHighDrpm) }, 600},
	{func(x *sample) any { return &x.in.Analog[w.AiSpindle] }, func(*w.Config) int64 { return 10 }, 600},
}

// put stores v where it fits and leaves the number alone where it does not.
func put(at any, v int64) {
	switch p := at.(type) {
	case *uint16:
		if v >= 0 && v <= 65535 {
			*p = uint16(v)
		}
	case *uint32:
		if v >= 0 && v <= 1<<32-1 {
			*p = uint32(v)
		}
	case *int16:
		if v >= -32768 && v <= 32767 {
			*p = int16(v)
		}
	}
}

// near is a value at or around a bound, its double, or the end of the range.
func near(rnd *rand.Rand, b int64) int64 {
	switch rnd.IntN(12) {
	case 0:
		return 0
	case 1:
		return b * 2
	case 2:
		return 2*b - 1 - rnd.Int64N(2)
	case 3:
		return 65535 - rnd.Int64N(2)
	case 4:
		return 1<<32 - 1 - rnd.Int64N(2)
	case 5:
		return b/2 + rnd.Int64N(3)
	}
	return b - 2 + rnd.Int64N(4)
}

// newSample draws a tick. lies is how many of 1000 facts are not as they should be.
func newSample(rnd *rand.Rand, lies int) *sample {
	lie := func() bool { return rnd.IntN(1000) < lies }
	x := &sample{c: chaos.Config(rnd)}
	for i := range 16 {
		if lie() {
			x.c.Options ^= 1 << i
			x.c.FittedAnalog ^= 1 << i
		}
	}
	x.in.Bits = w.InEstopOK | w.InDoorClosed | w.InExtraction | w.InMainsOK | w.InChuckClamped
	for _, often := range []uint32{w.InFlame, w.InPressOpen, w.InBurnerClear, w.InIndexed, w.InFuelShut, w.InOxygenShut} {
		if rnd.IntN(3) != 0 {
			x.in.Bits |= often
		}
	}
	if x.in.Bits&w.InBurnerClear == 0 {
		x.in.Bits |= w.InBurnerAtBlank
	}
	for _, button := range []uint32{w.InStart, w.InReset, w.InHoldOpen, w.InHoldClose, w.InSoft} {
		if rnd.IntN(5) == 0 {
			x.in.Bits |= button
		}
	}
	for _, button := range []uint32{w.InTwoHandLeft, w.InTwoHandRight, w.InSetUp, w.InHoldTurn} {
		if rnd.IntN(6) == 0 {
			x.in.Bits |= button
		}
	}
	for i := range 29 {
		if lie() {
			x.in.Bits ^= 1 << i
		}
		if lie() {
			x.c.FittedIn ^= 1 << i
		}
	}
	x.in.AnalogOK = 1<<w.NumAnalog - 1
	for i := range w.NumAnalog {
		if lie() {
			x.in.AnalogOK ^= 1 << i
		}
	}
	x.phases(rnd, lie)
	x.request(rnd, lie)
	for _, b := range bounds {
		put(b.at(x), b.usual)
	}
	if x.c.Options&w.OptSpindleTurns == 0 && rnd.IntN(3) != 0 {
		x.in.Analog[w.AiSpindle] = 0
	}
	x.doorstep(rnd)
	x.flows(rnd)
	for _, b := range bounds {
		if lie() || rnd.IntN(len(bounds)) == 0 {
			put(b.at(x), near(rnd, b.to(&x.c)))
		}
	}
	return x
}

// flows draws what was asked of each gas, and a flow at and around the bounds that
// follow from it.
func (x *sample) flows(rnd *rand.Rand) {
	s := &x.s
	for i, gas := range gases {
		ml := uint16(rnd.IntN(3) * 1000)
		f := &s.Flow[i]
		f.Low, f.High, f.WasLow, f.WasHigh = ml, ml, ml, ml
		if rnd.IntN(3) == 0 {
			f.WasLow, f.High = ml*4/5+uint16(rnd.IntN(3)), ml+uint16(rnd.IntN(400))
		}
		if i == int(w.FlowFuel) {
			s.Out.FuelMl = ml
		} else {
			s.Out.OxygenMl = ml
		}
		if rnd.IntN(8) == 0 {
			s.Out.FuelMl, s.Out.OxygenMl = uint16(rnd.IntN(4000)), uint16(rnd.IntN(4000))
		}
		least, most := min(f.Low, f.WasLow), max(f.High, f.WasHigh)
		edges := []int{int(ml), int(least) - int(x.c.FlowOffMl), int(most) + int(x.c.FlowOffMl), int(most) + int(x.c.FlowNoneMl),
			int(least) * 8 / 10, int(most) * 12 / 10, int(most) * 15 / 10, int(s.Out.FuelMl) * int(x.c.RatioLowPC) / 100,
			int(s.Out.FuelMl) * int(x.c.RatioHighPC) / 100, -1, 0, 32767}
		v := int64(ml)
		if rnd.IntN(2) == 0 {
			v = int64(edges[rnd.IntN(len(edges))] - 1 + rnd.IntN(3))
		}
		put(&x.in.Analog[gas.ai], v)
	}
}

// doorstep puts some samples where many facts have to hold together: they would
// seldom be drawn.
func (x *sample) doorstep(rnd *rand.Rand) {
	s := &x.s
	if rnd.IntN(4) == 0 {
		x.in.GlassAgeMs = x.c.SampleMs + 1 // the estimate decides
	}
	if rnd.IntN(3) == 0 {
		return
	}
	switch s.Burner {
	case w.BurnerCheck:
		s.DarkMs = x.c.CheckMs
		x.in.Bits = x.in.Bits&^w.InFlame | w.InPressOpen
	case w.BurnerIgniter:
		s.PhaseMs, s.Out.Bits = uint32(x.c.IgniterMs), w.OutFan
		s.NV, x.in.NV = w.NVRunning, w.NVRunning
		x.in.Bits |= w.InPressOpen | w.InBurnerClear
		if rnd.IntN(4) == 0 { // nothing moves: the open door is no cause
			s.Spindle, x.in.Analog[w.AiSpindle] = w.SpindleOff, 0
			x.in.Bits &^= w.InDoorClosed
		}
	}
}

// phases draws where the machines stand and what has tripped.
func (x *sample) phases(rnd *rand.Rand, lie func() bool) {
	s := &x.s
	s.Burner, s.Press = uint8(rnd.IntN(int(w.NumBurner))), uint8(rnd.IntN(int(w.NumPress)))
	s.Spindle, s.Link = uint8(rnd.IntN(int(w.NumSpindle))), uint8(rnd.IntN(int(w.NumLink)))
	if s.Burner >= w.BurnerTrial && s.Burner <= w.BurnerOff && !lie() {
		s.Out.Bits |= w.OutFuel
	}
	if s.Burner == w.BurnerRun {
		s.Oxygen = uint8(rnd.IntN(2))
	}
	if s.Press == w.PressContact || s.Press == w.PressEasing || rnd.IntN(4) == 0 {
		s.Touching = 1
	}
	s.Started, s.Wait = bit01(rnd.IntN(3) != 0), bit01(rnd.IntN(4) == 0)
	if s.Started == 0 {
		s.Armed = uint8(rnd.IntN(2))
	}
	s.ArmID, s.UsedArmID = uint16(1+rnd.IntN(2)), uint16(rnd.IntN(3))
	s.LitOnce = bit01(rnd.IntN(3) == 0)
	s.SawStill, s.Homed, s.HoldSeen = bit01(!lie()), bit01(!lie()), uint8(7)
	if lie() {
		s.HoldSeen = uint8(rnd.IntN(8))
	}
	for i := range s.Hands {
		s.Hands[i] = w.Hands{Ready: uint8(rnd.IntN(2)), Given: uint8(rnd.IntN(2))}
	}
	s.HandStroke = bit01(rnd.IntN(4) == 0)
	s.StartSeen, s.ResetSeen = uint8(rnd.IntN(2)), uint8(rnd.IntN(2))
	s.BurnerWasOpen = uint8(rnd.IntN(2))
	for i := range 12 {
		if rnd.IntN(8) == 0 {
			s.Out.Bits ^= 1 << i
		}
	}
	if !lie() {
		s.SlideSent = s.Out.Bits & w.OutBurnerIn
	} else {
		s.SlideSent = w.OutBurnerIn &^ s.Out.Bits
	}
	s.NV = []uint8{w.NVClear, w.NVRunning, w.NVLockout}[rnd.IntN(3)]
	x.in.NV = s.NV
	if lie() {
		x.in.NV = uint8(rnd.IntN(256))
	}
	x.trips(rnd, lie)
	for _, p := range []*uint8{&s.Started, &s.Wait, &s.Armed, &s.Oxygen, &s.Touching} {
		if rnd.IntN(300) == 0 { // decayed
			*p = uint8(rnd.IntN(4))
		}
	}
	for _, p := range []*uint8{&s.Burner, &s.Press, &s.Spindle, &s.Link, &s.Lock, &s.First} {
		if rnd.IntN(300) == 0 {
			*p += uint8(rnd.IntN(50))
		}
	}
}

// trips draws a set of causes, often none, and their reaction.
func (x *sample) trips(rnd *rand.Rand, lie func() bool) {
	s := &x.s
	cause := func() uint64 {
		for {
			if c := rnd.IntN(int(w.NumCauses)); w.Matrix[c].Priority != 0 {
				return 1 << c
			}
		}
	}
	if rnd.IntN(3) == 0 || lie() {
		c := cause()
		s.Trips |= c
		if rnd.IntN(2) == 0 {
			s.Present |= c
		}
		for s.First = 0; c>>s.First != 1; s.First++ {
		}
	}
	for lie() {
		s.Trips |= cause()
	}
	for lie() {
		s.Present |= cause()
	}
	setReactions(s)
	for _, p := range []*uint8{&s.Gas, &s.Spin, &s.Above, &s.Touch, &s.Lock} {
		if lie() {
			*p = uint8(rnd.IntN(4))
		}
	}
	if lie() {
		s.First = uint8(rnd.IntN(int(w.NumCauses)))
	}
}

func (x *sample) request(rnd *rand.Rand, lie func() bool) {
	q := &x.in.Request
	x.in.Fresh = bit01(rnd.IntN(3) == 0)
	x.in.NewSession = bit01(lie())
	if lie() {
		x.in.BadFrames = uint8(rnd.IntN(12))
	}
	q.ArmID = x.s.ArmID
	if rnd.IntN(4) == 0 {
		q.ArmID = uint16(rnd.IntN(4))
	}
	q.Lease = uint8(rnd.IntN(16))
	q.Press = uint8(rnd.IntN(4))
	q.Flags = uint16(rnd.IntN(1<<8)) | w.ReqFlame
	for i := range 10 {
		if lie() {
			q.Flags ^= 1 << i
		}
	}
	q.EstUncDC = 100
}

// samples is how many ticks are drawn for each share of lies.
const samples = 150000

// Every rule holds in one tick from any memory, decayed memory included.
func TestRulesFromAnyMemory(t *testing.T) {
	for _, lies := range []int{3, 15, 40, 120} {
		rnd := rand.New(rand.NewPCG(uint64(lies), 41))
		for n := range samples {
			x := newSample(rnd, lies)
			want := after(&x.c, &x.s, &x.in)
			got, out := x.s, w.Output{}
			w.Step(&x.c, &got, &x.in, &out)
			if got != want || out != want.Out {
				t.Fatalf("tick %d with %d lies in 1000: burner %d press %d spindle %d started %d lock %d (-want +got)\n%s",
					n, lies, x.s.Burner, x.s.Press, x.s.Spindle, x.s.Started, x.s.Lock, cmp.Diff(want, got))
			}
		}
	}
}

// What the warden reports is what it acts on: view, permits of a stroke, budget.
func TestRulesOfReports(t *testing.T) {
	for _, lies := range []int{3, 15, 40, 120} {
		rnd := rand.New(rand.NewPCG(uint64(lies), 43))
		for n := range samples / 2 {
			x := newSample(rnd, lies)
			var out w.Output
			w.Step(&x.c, &x.s, &x.in, &out)
			r := rules{c: &x.c, in: &x.in, was: x.s, now: x.s}
			if got := w.ViewFree(&x.c, &x.s, &x.in); got != r.viewFree() {
				t.Fatalf("tick %d with %d lies: view free reported %v", n, lies, got)
			}
			if got := w.MayStroke(&x.c, &x.s, &x.in); got != r.mayLeaveOpen() {
				t.Fatalf("tick %d with %d lies: may stroke reported %v; state %+v", n, lies, got, x.s)
			}
			if got := w.UnburntLimit(&x.c); got != 120*(3750-uint32(x.c.ValveCloseMs)) {
				t.Fatalf("unburnt limit reported %d", got)
			}
		}
	}
}

// A byte of non-volatile memory other than clear locks out at boot; nothing
// else of an old life remains. SV-029
func TestRulesAtBoot(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 1))
	for nv := range 256 {
		s := newSample(rnd, 40).s
		w.Init(&s, uint8(nv))
		if want := booted(uint8(nv)); s != want {
			t.Fatalf("byte %#x (-want +got)\n%s", nv, cmp.Diff(want, s))
		}
	}
}
