package safety

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Contradiction is something that no sound warden ever shows for longer than
// its own rule lets it: outputs against inputs, phases against outputs, the latch
// against its causes, the rig against what was asked.
type Contradiction struct {
	Number  uint8  // written out, never renumbered
	Promise uint8  // invariant of docs/assessor.md that it breaks
	What    string // what was seen, in a person's words
	Holds   func(*Seen) bool
	Within  func(*warden.Config) uint32 // ms for which a sound warden may show it; nil: never
	// HostOnly marks what only the supervisor judges by: it holds a flow to the newest
	// request, the warden's row 50 to the band of what it drove.
	HostOnly bool
}

// Longest is for how long a sound warden may show it, ms.
func (k *Contradiction) Longest(c *warden.Config) uint32 {
	if k.Within == nil {
		return 0
	}
	return k.Within(c)
}

// Seen is a warden at one moment: what it takes in, drives and says of itself,
// and what was asked of it. The Watch fills it from a tick, from its own timers;
// the supervisor from a snapshot.
type Seen struct {
	Config   *warden.Config
	In       uint32
	Analog   [warden.NumAnalog]int16
	AnalogOK uint16 // of the channels that are fitted
	Out      warden.Output

	Burner, Press, Spindle, Link uint8
	Lock, First                  uint8
	Trips, Present               uint64
	Calls                        warden.Reaction // for what all that has tripped or holds, by the matrix typed by hand
	Started, Armed               bool
	Spent                        bool // the board's own count of unburnt fuel has reached its limit

	Asked   warden.Request         // what no lease carries is left out
	Dead    [warden.NumLeases]bool // leases
	Taken   bool                   // a request was taken since the moment before
	LitOnce bool                   // a flame was seen since fuel opened
	Purged  bool                   // this light-up had its whole purge, extraction proven
	Hands   [warden.NumHands]bool  // both of the pair held
}

func (s *Seen) has(bit uint32) bool    { return s.In&bit != 0 }
func (s *Seen) fitted(bit uint32) bool { return s.Config.FittedIn&bit != 0 }
func (s *Seen) made(bit uint32) bool   { return s.fitted(bit) && s.has(bit) }
func (s *Seen) drives(bit uint16) bool { return s.Out.Bits&bit != 0 }
func (s *Seen) option(bit uint16) bool { return s.Config.Options&bit != 0 }
func (s *Seen) valid(ai uint8) bool    { return s.AnalogOK&(1<<ai) != 0 }

// unheeded: the row neither holds nor has tripped.
func (s *Seen) unheeded(cause uint8) bool { return (s.Trips|s.Present)&(1<<cause) == 0 }

func (s *Seen) flame() bool { return s.has(warden.InFlame) }

// lights: a light-up or a flame, by the phase; arms: check to post-purge.
func (s *Seen) opens() bool { return s.Burner >= warden.BurnerTrial && s.Burner <= warden.BurnerOff }
func (s *Seen) arms() bool {
	return s.Burner >= warden.BurnerCheck && s.Burner <= warden.BurnerPostPurge
}

// pushes: the press pushes, before or in contact.
func (s *Seen) pushes() bool {
	return s.Press == warden.PressClosing || s.Press == warden.PressContact
}

// shielded: the safety door is closed, or a pair of hands is held.
func (s *Seen) shielded(pair uint8) bool { return s.has(warden.InDoorClosed) || s.Hands[pair] }

// open: the press is open, or where the profile says that heating is safe.
func (s *Seen) open() bool {
	return s.has(warden.InPressOpen) ||
		s.valid(warden.AiTravel) && s.Analog[warden.AiTravel] <= s.Config.HeatCmm
}

// flameAtBlank: a sharp or soft flame that can reach the blank.
func (s *Seen) flameAtBlank() bool {
	if !s.drives(warden.OutFuel) {
		return false
	}
	if s.option(warden.OptBurnerFixed) { // fixed and soft may stand beside the stroke
		return s.drives(warden.OutOxygen) || s.Out.FuelMl > s.Config.SoftMaxMl
	}
	return s.has(warden.InBurnerAtBlank)
}

func (s *Seen) spindleStill() bool {
	turns := s.valid(warden.AiSpindle) && s.Analog[warden.AiSpindle] >= int16(s.Config.SpindleHeatDrpm)
	return s.flameAtBlank() && s.option(warden.OptSpindleFitted) && !turns
}

// doorUnheeded: the safety door is open over something that could hurt, and its
// row says nothing. A parked soft flame may burn where the profile lets it, set-up
// turns slowly, and two hands stand in for the door in their stroke.
func (s *Seen) doorUnheeded() bool {
	if s.has(warden.InDoorClosed) || !s.unheeded(warden.CauseDoor) {
		return false
	}
	parked := s.option(warden.OptParkedDoorOpen) && s.has(warden.InBurnerClear) &&
		(s.Burner == warden.BurnerRun || s.Burner == warden.BurnerOff)
	slowly := s.made(warden.InSetUp) &&
		(s.Spindle == warden.SpindleHand || s.Spindle == warden.SpindleRamp)
	byHand := s.Hands[warden.HandsStroke] || s.made(warden.InSetUp)
	return s.drives(warden.OutIgniter|warden.OutBurnerIn|warden.OutOxygen) ||
		s.drives(warden.OutFuel) && !parked ||
		s.drives(warden.OutSpindle) && !slowly ||
		s.drives(warden.OutPressClose) && !byHand
}

// asks reports whether the host asks for something under its lease.
func (s *Seen) asks(lease uint8, on bool) bool { return s.Asked.Lease&lease != 0 && on }

func (s *Seen) asksFlame() bool { return s.asks(warden.LeaseFuel, s.Asked.Flags&warden.ReqFlame != 0) }
func (s *Seen) asksOxygen() bool {
	return s.asks(warden.LeaseOxygen, s.Asked.Flags&warden.ReqOxygen != 0)
}
func (s *Seen) asksPress() bool {
	return s.asks(warden.LeasePress, s.Asked.Press == warden.PressClose || s.Asked.Press == warden.PressForce)
}

// farAbove: above what was asked for by the share and the flow of row 50.
func (s *Seen) farAbove(ml int32, asked uint16) bool {
	most := int32(asked)
	return ml*100 > most*int32(s.Config.FlowOverPC) && ml > most+int32(s.Config.FlowNoneMl)
}

// pressForces: what the press phase drives.
func (s *Seen) pressForces() uint16 {
	switch s.Press {
	case warden.PressOff, warden.PressStay:
		return warden.OutBrake
	case warden.PressOpening, warden.PressHandOpen:
		return warden.OutPressOpen
	}
	return warden.OutPressClose
}

// unheededPressure: a fitted pressure switch says wrong, from check to post-purge.
func (s *Seen) unheededPressure(bit uint32, cause uint8) bool {
	oxygen := bit == warden.InOxygenLow || bit == warden.InOxygenHigh
	return s.arms() && (!oxygen || s.option(warden.OptOxygenFitted)) && s.made(bit) && s.unheeded(cause)
}

// Times of the warden that no field of its configuration holds, ms, and the
// figures of its rows 45 and 48.
const (
	oneTick       uint32 = 1
	setUpEndsMs   uint32 = 1001 // sequenced, at most 1 s
	chuckOpenMs   uint32 = 100
	spindleFastMs uint32 = 200
	backwardsDrpm int16  = -50
)

func (s *Seen) spindleFast() bool {
	if !s.option(warden.OptSpindleFitted) || !s.valid(warden.AiSpindle) {
		return false
	}
	most := int32(s.Config.SpindleMaxDrpm)
	speed := s.Analog[warden.AiSpindle]
	return int32(speed) > most+most/8+50 || speed < backwardsDrpm
}

func tick(*warden.Config) uint32           { return oneTick }
func pressure(c *warden.Config) uint32     { return uint32(c.PressureMs) }
func flameOff(c *warden.Config) uint32     { return uint32(c.FlameOffMs) }
func lease(c *warden.Config) uint32        { return uint32(c.LeaseMs) + oneTick }
func shutUnasked(c *warden.Config) uint32  { return uint32(c.LeaseMs) + uint32(c.OffMs) + oneTick }
func setUpEnds(*warden.Config) uint32      { return setUpEndsMs }
func settles(c *warden.Config) uint32      { return 2*uint32(c.FlowSettleMs) + uint32(c.FlowOverMs) } // row 50
func extraction(c *warden.Config) uint32   { return uint32(c.ExtractionMs) + uint32(c.OffMs) + 2 }
func blockedFlame(c *warden.Config) uint32 { return 202 + uint32(c.OffMs) }

// Contradictions are the one table: package safety's Watch judges every tick of a
// warden by it in the tests, the supervisor every snapshot of the board at the rig.
// The order is that of the numbers.
var Contradictions = [...]Contradiction{
	{1, 1, "one fuel valve open, the other not", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && s.Out.Bits&warden.OutFuel != warden.OutFuel
	}, nil, false},
	{2, 1, "fuel open unlit for longer than the trial (at most 3 s)", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && (!s.LitOnce || s.Burner == warden.BurnerTrial)
	}, func(c *warden.Config) uint32 { return uint32(c.TrialMs) }, false},
	{3, 1, "fuel open for longer after the flame was lost than the response (at most 1 s)", func(s *Seen) bool {
		// a flash in the trial proves nothing
		return s.drives(warden.OutFuel) && s.LitOnce && !s.flame() && s.Burner != warden.BurnerTrial
	}, flameOff, false},
	{4, 1, "igniter on in run", func(s *Seen) bool {
		return s.Burner == warden.BurnerRun && s.drives(warden.OutIgniter)
	}, nil, false},
	{5, 2, "oxygen open without fuel", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && !s.drives(warden.OutFuel)
	}, nil, false},
	{6, 2, "oxygen outlived the flame by more than the response (at most 1 s)", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && !s.flame()
	}, flameOff, false},
	{7, 4, "an energising output is on with the emergency stop open", func(s *Seen) bool {
		return !s.has(warden.InEstopOK) && s.drives(energising|warden.OutPressOpen)
	}, nil, false},
	{8, 5, "an energising output is on in lockout", func(s *Seen) bool {
		return s.Lock == warden.LockLockout && s.drives(energising&^warden.OutPressClose)
	}, nil, false},
	{9, 5, "closing force after START was voided, for longer than easing takes (at most 1 s)", func(s *Seen) bool {
		return s.drives(warden.OutPressClose) && !s.Started && s.Press != warden.PressHandClose
	}, func(c *warden.Config) uint32 { return uint32(c.EaseMs) }, false},
	{10, 8, "fuel, igniter or burner outlived the fuel lease", func(s *Seen) bool {
		return s.drives(warden.OutFuel|warden.OutIgniter|warden.OutBurnerIn) && s.Dead[0]
	}, nil, false},
	{11, 8, "oxygen outlived its lease", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && s.Dead[1]
	}, nil, false},
	{12, 8, "closing force outlived its lease", func(s *Seen) bool {
		return s.pushes() && s.drives(warden.OutPressClose) && s.Dead[2]
	}, nil, false},
	{13, 8, "the spindle outlived its lease", func(s *Seen) bool {
		return s.Spindle == warden.SpindleRun && s.Dead[3]
	}, nil, false},
	{14, 8, "no request is taken any more, and the board still calls the link alive", func(s *Seen) bool {
		return s.Link != warden.LinkDown && !s.Taken
	}, lease, false},
	{15, 9, "closing with the door open and without two hands", func(s *Seen) bool {
		return s.drives(warden.OutPressClose) && s.Press == warden.PressClosing && !s.shielded(warden.HandsStroke)
	}, nil, false},
	{16, 10, "flame at the blank with the press not open", func(s *Seen) bool {
		return s.flameAtBlank() && !s.open()
	}, blockedFlame, false},
	{17, 10, "flame at the blank over a still spindle", (*Seen).spindleStill,
		func(c *warden.Config) uint32 { return uint32(c.SpindleStallMs) + oneTick }, false},
	{18, 10, "fuel open without extraction", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && !s.has(warden.InExtraction)
	}, extraction, false},
	{19, 11, "gas not shut in the tick of a shut reaction", func(s *Seen) bool {
		return s.drives(warden.OutFuel|warden.OutOxygen) && s.Calls.Gas == warden.GasShut
	}, nil, false},
	{20, 11, "oxygen not shut at once by a sequenced reaction", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && s.Calls.Gas == warden.GasSequenced
	}, nil, false},
	{21, 11, "fuel open longer into a sequenced reaction than configured (at most 1 s)", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && s.Calls.Gas == warden.GasSequenced
	}, func(c *warden.Config) uint32 { return uint32(c.OffMs) }, false},
	{22, 12, "the latch is not the one that the causes call for", func(s *Seen) bool {
		return s.Lock != s.Calls.Lock
	}, nil, false},
	{23, 15, "a first cause without a trip", func(s *Seen) bool {
		return s.Trips == 0 && s.First != warden.CauseNone
	}, nil, false},
	{24, 15, "a trip without a first cause of its own", func(s *Seen) bool {
		return s.Trips != 0 && (s.First == warden.CauseNone || s.Trips&(1<<s.First) == 0)
	}, nil, false},
	{25, 18, "hold-to-run without its button, or with the door open and a hand free", func(s *Seen) bool {
		return s.Press == warden.PressHandOpen && !s.made(warden.InHoldOpen) ||
			s.Press == warden.PressHandClose && !(s.made(warden.InHoldClose) && s.shielded(warden.HandsClose)) ||
			s.Spindle == warden.SpindleHand && !(s.made(warden.InHoldTurn) && s.shielded(warden.HandsTurn))
	}, nil, false},
	{26, 18, "the spindle turns by hand outside set-up or faster than 50 rpm", func(s *Seen) bool {
		return s.Spindle == warden.SpindleHand && (!s.made(warden.InSetUp) || s.Out.SpindleDrpm > setUpDrpm)
	}, nil, false},
	{27, 18, "hold-to-run faster than 10 mm/s", func(s *Seen) bool {
		return (s.Press == warden.PressHandOpen || s.Press == warden.PressHandClose) && s.Out.SpeedCmms > setUpCmms
	}, nil, false},
	{28, 18, "a cycle goes on in set-up", func(s *Seen) bool {
		return s.made(warden.InSetUp) && (s.Started || s.Armed || s.Spindle == warden.SpindleRun ||
			s.drives(warden.OutOxygen|warden.OutIgniter|warden.OutBurnerIn))
	}, nil, false},
	{29, 18, "fuel open in set-up", func(s *Seen) bool {
		return s.made(warden.InSetUp) && s.drives(warden.OutFuel)
	}, setUpEnds, false},
	{30, 18, "closing force in set-up", func(s *Seen) bool {
		return s.made(warden.InSetUp) && s.drives(warden.OutPressClose) && s.Press != warden.PressHandClose
	}, setUpEnds, false},
	{31, 20, "the burner is lit or the gas open without a whole purge before", func(s *Seen) bool {
		after := s.Burner >= warden.BurnerIgniter && s.Burner <= warden.BurnerRun
		return after && !s.Purged
	}, nil, false},

	// 21: what the board says of itself agrees.
	{32, 21, "the fuel valves are not as the burner's phase says", func(s *Seen) bool {
		return s.opens() != s.drives(warden.OutFuel)
	}, nil, false},
	{33, 21, "the igniter is not as the burner's phase says", func(s *Seen) bool {
		sparks := s.Burner == warden.BurnerIgniter || s.Burner == warden.BurnerTrial || s.Burner == warden.BurnerProve
		return sparks != s.drives(warden.OutIgniter)
	}, nil, false},
	{34, 21, "oxygen open outside run", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && s.Burner != warden.BurnerRun
	}, nil, false},
	{35, 21, "the extraction fan stands in a light-up or over a flame", func(s *Seen) bool {
		return s.Burner != warden.BurnerCheck && s.arms() && !s.drives(warden.OutFan) // in check the flow switch shows its rest
	}, nil, false},
	{36, 21, "the spindle drive is not as its phase says", func(s *Seen) bool {
		return (s.Spindle != warden.SpindleOff) != s.drives(warden.OutSpindle)
	}, nil, false},
	{37, 21, "press force or brake are not as the press's phase says", func(s *Seen) bool {
		return s.Out.Bits&(warden.OutBrake|warden.OutPressOpen|warden.OutPressClose) != s.pressForces()
	}, nil, false},
	{38, 21, "a set-point stands for an output that is off", func(s *Seen) bool {
		return s.Out.FuelMl != 0 && !s.drives(warden.OutFuel) || s.Out.OxygenMl != 0 && !s.drives(warden.OutOxygen) ||
			s.Out.SpindleDrpm != 0 && !s.drives(warden.OutSpindle)
	}, nil, false},

	// 21: what comes in has its row.
	{40, 4, "the emergency stop is open and nothing trips", func(s *Seen) bool {
		return !s.has(warden.InEstopOK) && s.unheeded(warden.CauseEstop)
	}, nil, false},
	{41, 21, "the mains are gone and nothing trips", func(s *Seen) bool {
		return s.fitted(warden.InMainsOK) && !s.has(warden.InMainsOK) && s.unheeded(warden.CauseMains)
	}, nil, false},
	{42, 21, "the gas detector alarms and nothing trips", func(s *Seen) bool {
		return s.made(warden.InGasAlarm) && s.unheeded(warden.CauseGasAlarm)
	}, nil, false},
	{43, 21, "the safety door is open over something energised and nothing trips", (*Seen).doorUnheeded, tick, false},
	{44, 21, "the burner says run and there is no flame", func(s *Seen) bool {
		return s.Burner == warden.BurnerRun && !s.flame()
	}, flameOff, false},
	{45, 21, "a flame burns with the fuel shut and nothing trips", func(s *Seen) bool {
		return s.flame() && !s.drives(warden.OutFuel) && s.unheeded(warden.CauseFalseFlame)
	}, func(c *warden.Config) uint32 { return 2000 + uint32(c.FlameOnMs) }, false},
	{46, 21, "fuel pressure is too low and nothing trips", func(s *Seen) bool {
		return s.unheededPressure(warden.InFuelLow, warden.CauseFuelLow)
	}, pressure, false},
	{47, 21, "fuel pressure is too high and nothing trips", func(s *Seen) bool {
		return s.unheededPressure(warden.InFuelHigh, warden.CauseFuelHigh)
	}, pressure, false},
	{48, 21, "oxygen pressure is too low and nothing trips", func(s *Seen) bool {
		return s.unheededPressure(warden.InOxygenLow, warden.CauseOxygenLow)
	}, pressure, false},
	{49, 21, "oxygen pressure is too high and nothing trips", func(s *Seen) bool {
		return s.unheededPressure(warden.InOxygenHigh, warden.CauseOxygenHigh)
	}, pressure, false},
	{50, 21, "the flashback arrestor tripped and the board does not", func(s *Seen) bool {
		return s.arms() && s.made(warden.InFlashback) && s.unheeded(warden.CauseFlashback)
	}, tick, false},
	{51, 21, "extraction is not proven and nothing trips", func(s *Seen) bool {
		return s.Burner >= warden.BurnerPurge && s.arms() && !s.has(warden.InExtraction) &&
			s.unheeded(warden.CauseExtraction)
	}, func(c *warden.Config) uint32 { return uint32(c.ExtractionWaitMs) }, false},
	{52, 21, "the press force is too high and nothing trips", func(s *Seen) bool {
		over := s.made(warden.InOverForce) ||
			s.valid(warden.AiForce) && s.Analog[warden.AiForce] > int16(s.Config.OverForceDN)
		return over && s.unheeded(warden.CauseOverForce)
	}, nil, false},
	{53, 21, "the press is past its end and nothing trips", func(s *Seen) bool {
		over := s.made(warden.InPressEnd) ||
			s.valid(warden.AiTravel) && s.Analog[warden.AiTravel] > s.Config.EndCmm+100
		return over && s.unheeded(warden.CauseOverTravel)
	}, nil, false},
	{54, 21, "the chuck is not clamped and nothing trips", func(s *Seen) bool {
		loose := s.fitted(warden.InChuckClamped) && !s.has(warden.InChuckClamped)
		return loose && (s.Spindle != warden.SpindleOff || s.pushes()) && s.unheeded(warden.CauseChuck)
	}, func(*warden.Config) uint32 { return chuckOpenMs }, false},
	{55, 21, "the spindle turns too fast or backwards and nothing trips", func(s *Seen) bool {
		return s.spindleFast() && s.unheeded(warden.CauseSpindleFast)
	}, func(*warden.Config) uint32 { return spindleFastMs }, false},
	{56, 21, "too much unburnt fuel, by the board's own count, and nothing trips", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && s.Spent && s.unheeded(warden.CauseUnburnt)
	}, tick, false},
	{57, 21, "START or RESET has been held too long and the board does not say so", func(s *Seen) bool {
		return (s.has(warden.InStart) && !s.has(warden.InReset) || s.has(warden.InReset) && !s.has(warden.InStart)) &&
			s.unheeded(warden.CauseButton)
	}, func(c *warden.Config) uint32 { return uint32(c.ButtonMs) }, false},

	// 21: nothing runs that nobody asked for.
	{60, 21, "the fuel is open though nobody asks for a flame", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && !s.asksFlame()
	}, shutUnasked, false},
	{61, 21, "the burner is being lit though nobody asks for a flame", func(s *Seen) bool {
		lights := s.Burner >= warden.BurnerCheck && s.Burner <= warden.BurnerRun
		return lights && !s.asksFlame()
	}, lease, false},
	{62, 21, "oxygen is open though nobody asks for it", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && !s.asksOxygen()
	}, lease, false},
	{63, 21, "the spindle runs though nobody asks for it", func(s *Seen) bool {
		return s.Spindle == warden.SpindleRun && !s.asks(warden.LeaseSpindle, s.Asked.SpindleDrpm > 0)
	}, lease, false},
	{64, 21, "the press closes though nobody asks for it", func(s *Seen) bool {
		return s.pushes() && !s.asksPress()
	}, lease, false},
	{65, 21, "the burner is sent to the blank though nobody asks for it", func(s *Seen) bool {
		return s.drives(warden.OutBurnerIn) && !s.asks(warden.LeaseFuel, s.Asked.Flags&warden.ReqBurnerIn != 0)
	}, lease, false},
	{66, 21, "START is armed or in force though nobody holds it", func(s *Seen) bool {
		return (s.Started || s.Armed) && s.Asked.Flags&(warden.ReqArm|warden.ReqCycle) == 0
	}, lease, false},
	{67, 21, "the fuel flow is set far above what is asked", func(s *Seen) bool {
		return s.farAbove(int32(s.Out.FuelMl), s.Asked.FuelMl)
	}, shutUnasked, false},
	{68, 21, "the oxygen flow is set far above what is asked", func(s *Seen) bool {
		return s.farAbove(int32(s.Out.OxygenMl), s.Asked.OxygenMl)
	}, lease, false},
	{69, 21, "the fuel flow is far above what is asked", func(s *Seen) bool {
		return s.drives(warden.OutFuel) && s.Lock == warden.LockNone && s.valid(warden.AiFuelFlow) &&
			s.farAbove(int32(s.Analog[warden.AiFuelFlow]), s.Asked.FuelMl)
	}, settles, true},
	{70, 21, "the oxygen flow is far above what is asked", func(s *Seen) bool {
		return s.drives(warden.OutOxygen) && s.Lock == warden.LockNone && s.valid(warden.AiOxygenFlow) &&
			s.farAbove(int32(s.Analog[warden.AiOxygenFlow]), s.Asked.OxygenMl)
	}, settles, true},
}

// ContradictionOf finds a contradiction by its number; nil for one that is none.
func ContradictionOf(number uint8) *Contradiction {
	for i := range Contradictions {
		if Contradictions[i].Number == number {
			return &Contradictions[i]
		}
	}
	return nil
}

// asked leaves of a request what its leases carry: the rest energises nothing.
func asked(r *rig.Request, leases uint8) warden.Request {
	a := *r
	a.Lease = leases
	if leases&warden.LeaseFuel == 0 {
		a.FuelMl = 0
	}
	if leases&warden.LeaseOxygen == 0 {
		a.OxygenMl = 0
	}
	return a
}
