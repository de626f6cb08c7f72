package chaos

import "pressrig/safety/warden"

// moment says when a cause can be provoked and how the inputs lie then.
type moment struct {
	when func(*Walk) bool
	lie  func(*Walk)
}

func phase(from, to uint8) func(*Walk) bool {
	return func(x *Walk) bool { return x.State.Burner >= from && x.State.Burner <= to }
}

func pressIs(phases ...uint8) func(*Walk) bool {
	return func(x *Walk) bool {
		for _, p := range phases {
			if x.State.Press == p {
				return true
			}
		}
		return false
	}
}

func force(bit uint32, on bool) func(*Walk) {
	return func(x *Walk) {
		x.In.Bits &^= bit
		if on {
			x.In.Bits |= bit
		}
	}
}

func reading(ai uint8, value int16) func(*Walk) {
	return func(x *Walk) { x.In.Analog[ai] = value }
}

func heating(x *Walk) bool {
	return x.State.Burner == warden.BurnerRun && x.In.Bits&warden.InBurnerAtBlank != 0 &&
		x.In.Bits&warden.InPressOpen != 0 && x.State.Oxygen != 0
}

func always(*Walk) bool { return true }

func above(x *Walk) bool {
	return x.State.Press == warden.PressClosing && x.In.Bits&warden.InPressOpen == 0
}

// Aimed reports whether a walk can aim at the cause.
func Aimed(cause uint8) bool {
	_, ok := moments[cause]
	return ok
}

// Aiming reports whether the moment has come and the inputs lie.
func (x *Walk) Aiming() bool { return x.aimMs > 0 }

// moments provoke each cause of the matrix at a time when it can be the first.
var moments = map[uint8]moment{
	warden.CauseEstop:          {always, force(warden.InEstopOK, false)},
	warden.CauseDoor:           {phase(warden.BurnerIgniter, warden.BurnerOff), force(warden.InDoorClosed, false)},
	warden.CauseFlameLost:      {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InFlame, false)},
	warden.CauseNoIgnition:     {phase(warden.BurnerTrial, warden.BurnerTrial), force(warden.InFlame, false)},
	warden.CauseFalseFlame:     {phase(warden.BurnerPurge, warden.BurnerIgniter), force(warden.InFlame, true)},
	warden.CauseFuelLow:        {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InFuelLow, true)},
	warden.CauseFuelHigh:       {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InFuelHigh, true)},
	warden.CauseOxygenLow:      {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InOxygenLow, true)},
	warden.CauseOxygenHigh:     {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InOxygenHigh, true)},
	warden.CauseSpindleStill:   {heating, reading(warden.AiSpindle, 100)},
	warden.CausePressState:     {above, reading(warden.AiSpindle, 200)},
	warden.CauseSpindleStall:   {pressIs(warden.PressContact), reading(warden.AiSpindle, 100)},
	warden.CauseOverForce:      {always, reading(warden.AiForce, 4600)},
	warden.CauseOverTravel:     {always, force(warden.InPressEnd, true)},
	warden.CauseNotOpenForHeat: {above, force(warden.InBurnerClear, false)},
	warden.CauseLeftOpen: {heating, func(x *Walk) {
		x.In.Bits &^= warden.InPressOpen
		x.In.Analog[warden.AiTravel] = 300
	}},
	warden.CauseStuck: {pressIs(warden.PressOpening), func(x *Walk) {
		x.In.Analog[warden.AiForce], x.In.Analog[warden.AiTravel] = -300, 3000
		x.In.Bits &^= warden.InPressOpen
	}},
	warden.CauseLinkLost:   {phase(warden.BurnerCheck, warden.BurnerRun), func(x *Walk) { x.wait[0] = x.Ms + 800 }},
	warden.CauseRestart:    {phase(warden.BurnerTrial, warden.BurnerRun), func(x *Walk) { x.reboot = true }},
	warden.CauseExtraction: {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InExtraction, false)},
	warden.CauseGasAlarm:   {always, force(warden.InGasAlarm, true)},
	warden.CauseFlashback:  {phase(warden.BurnerCheck, warden.BurnerPostPurge), force(warden.InFlashback, true)},
	warden.CauseFeedback:   {phase(warden.BurnerCheck, warden.BurnerPurge), force(warden.InFuelShut, false)},
	warden.CauseTwoHand: {func(x *Walk) bool {
		return above(x) && x.Config.Options&(warden.OptSpindleTurns|warden.OptBurnerFixed) == 0
	}, func(x *Walk) { // take both, open the door, let go
		force(warden.InTwoHandLeft|warden.InTwoHandRight, x.aimMs > 5950)(x)
		force(warden.InDoorClosed, x.aimMs > 5970)(x)
	}},
	warden.CauseSetUp:     {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InSetUp, true)},
	warden.CauseBadFrames: {phase(warden.BurnerCheck, warden.BurnerRun), func(x *Walk) { x.noise = 3 }},
	warden.CauseMains:     {always, force(warden.InMainsOK, false)},
	warden.CauseButton:    {always, force(warden.InStart, true)},
	warden.CauseUnburnt: {phase(warden.BurnerRun, warden.BurnerRun), func(x *Walk) {
		force(warden.InFlame, x.Ms%x.per(600) < x.per(40))(x)
	}},
	warden.CauseSlide:     {phase(warden.BurnerPurge, warden.BurnerPurge), force(warden.InBurnerClear, false)},
	warden.CauseHostAbort: {phase(warden.BurnerCheck, warden.BurnerRun), func(x *Walk) { x.In.Request.Flags |= warden.ReqAbort }},
	warden.CauseNV:        {phase(warden.BurnerPurge, warden.BurnerRun), func(x *Walk) { x.In.NV = 0 }},
	warden.CauseSpindleFast: {always, func(x *Walk) {
		x.In.Analog[warden.AiSpindle] = 3000
		if x.slow {
			x.In.Analog[warden.AiSpindle] = -100
		}
	}},
	warden.CauseSpindleAsked: {func(x *Walk) bool {
		return x.State.Press == warden.PressContact && x.Config.Options&warden.OptSpindleTurns == 0
	}, func(x *Walk) {
		x.In.Request.SpindleDrpm = 600
		x.In.Request.Lease |= warden.LeaseSpindle
	}},
	warden.CauseHandFast: {pressIs(warden.PressHandOpen, warden.PressHandClose), func(x *Walk) {
		x.In.Analog[warden.AiTravel] += 100
		x.In.Bits &^= warden.InPressOpen
	}},
	warden.CauseChuck: {func(x *Walk) bool { return x.State.Spindle == warden.SpindleRun || above(x) },
		force(warden.InChuckClamped, false)},
	warden.CauseFlowOff: {phase(warden.BurnerTrial, warden.BurnerRun), func(x *Walk) {
		x.In.Analog[warden.AiFuelFlow] = int16(x.Out.FuelMl/2 + x.Out.FuelMl/4)
		if x.slow {
			x.In.Analog[warden.AiFuelFlow] = int16(x.Out.FuelMl + x.Out.FuelMl/3)
		}
	}},
	warden.CauseFlowOver: {always, func(x *Walk) {
		if x.slow { // nothing asked, or much more than is
			x.In.Analog[warden.AiOxygenFlow] = int16(300 + 2*x.Out.OxygenMl)
			return
		}
		x.In.Analog[warden.AiFuelFlow] = int16(300 + 2*x.Out.FuelMl)
	}},
	warden.CauseRatio: {heating, func(x *Walk) { // asked for, and flowing as asked
		x.In.Request.FuelMl, x.In.Request.OxygenMl = 3000, 1000
		if x.slow {
			x.In.Request.FuelMl, x.In.Request.OxygenMl = 500, 5000
		}
		x.In.Request.Flags |= warden.ReqBurnerIn | warden.ReqOxygen
		x.In.Request.Press = warden.PressNone
	}},
	warden.CauseSharpLong: {heating, func(x *Walk) {
		x.In.Request.Flags |= warden.ReqBurnerIn | warden.ReqOxygen
		x.In.Request.Press = warden.PressNone
	}},
	warden.CauseForceLost: {above, func(x *Walk) {
		if x.slow { // a cut wire, else one that feels nothing at the stop
			x.In.AnalogOK &^= 1 << warden.AiForce
			return
		}
		x.In.Analog[warden.AiForce], x.In.Analog[warden.AiTravel] = 0, x.Out.TravelCmm
		x.In.Bits &^= warden.InPressOpen
	}},
	warden.CauseTravelLost: {above, func(x *Walk) {
		if x.slow { // a cut wire, else one that stands
			x.In.AnalogOK &^= 1 << warden.AiTravel
			return
		}
		x.In.Analog[warden.AiTravel] = 3000
		x.In.Bits &^= warden.InPressOpen
	}},
}

// provoke lies for 6 s at a time, once the moment has come, then rests.
func (x *Walk) provoke() {
	m, ok := moments[x.Aim]
	if !ok {
		return
	}
	if x.aimMs == 0 && x.State.Lock == warden.LockNone && m.when(x) && x.rnd.IntN(int(x.per(300))) == 0 {
		x.aimMs = 6000
	}
	if x.aimMs == 0 {
		return
	}
	x.aimMs--
	if x.State.Lock == warden.LockNone || x.Aim == warden.CauseButton {
		m.lie(x)
	} else {
		x.aimMs = 0
	}
}
