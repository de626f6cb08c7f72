package campaign

import (
	"pressrig/safety/oracle"
	"pressrig/safety/warden"
)

// condition says, from the published words of a row and not from the program,
// when that row may act and when it must have acted. Between the two lies what
// the words leave open: a debounce, a noisy reading.
type condition struct {
	row uint8
	may func(*look) bool
	// must is nil where it is the same as may.
	must func(*look) bool
	// withinMs is the longest time for which must may hold without the row; 0
	// is the tick itself. -1 stands for the oracle's own.
	withinMs int32
}

const asOracle = -1

// slackMs are the ticks that a published time leaves open: the one in which the
// condition begins and the one in which it is answered. "Next tick" is the tick
// that sees it.
const slackMs = 2

var conditions = [...]condition{
	{1, func(l *look) bool { return !l.has(warden.InEstopOK) }, nil, 0},
	{2, doorOpen, doorMatters, 0},
	{3, func(l *look) bool { return l.darkMs > 0 && l.burner(warden.BurnerRun, warden.BurnerOff) },
		func(l *look) bool { return l.darkMs > 0 && l.prev.Burner == warden.BurnerRun }, asOracle},
	{4, func(l *look) bool { return l.burner(warden.BurnerTrial, warden.BurnerProveDark) },
		func(l *look) bool { return l.trialMs > uint32(l.c.TrialMs) }, asOracle},
	{4, func(l *look) bool { return l.burner(warden.BurnerProve, warden.BurnerProveDark) },
		func(l *look) bool { return l.burner(warden.BurnerProve, warden.BurnerProveDark) && l.darkMs > 0 }, 1000},
	{5, func(l *look) bool { return l.has(warden.InFlame) && !l.was(warden.OutFuel) },
		func(l *look) bool {
			before := l.burner(warden.BurnerPurge, warden.BurnerIgniter)
			return l.has(warden.InFlame) && !l.was(warden.OutFuel) && (before || l.fuelOffMs >= 2000)
		}, asOracle},
	{6, func(l *look) bool { return l.gas() && l.has(warden.InFuelLow) }, nil, asOracle},
	{7, func(l *look) bool { return l.gas() && l.has(warden.InFuelHigh) }, nil, asOracle},
	{8, func(l *look) bool { return l.gas() && l.has(warden.InOxygenLow) }, nil, asOracle},
	{9, func(l *look) bool { return l.gas() && l.has(warden.InOxygenHigh) }, nil, asOracle},
	{10, func(l *look) bool { return l.heating() && !l.turning() }, nil, asOracle},
	{11, func(l *look) bool { return l.above() && !l.pressState() }, nil, 0},
	{12, func(l *look) bool {
		return l.prev.Press == warden.PressContact && l.option(warden.OptSpindleTurns) && !l.turning()
	}, nil, asOracle},
	{13, overForce, nil, 0},
	{14, overTravel, nil, 0},
	{15, inTheWay, heatWhileShut, asOracle},
	{16, func(l *look) bool { return l.heating() && !l.open() }, leftOpen, 0},
	{17, func(l *look) bool { return l.prev.Press == warden.PressOpening && !l.has(warden.InPressOpen) },
		func(l *look) bool {
			force, ok := l.value(warden.AiForce)
			return l.prev.Press == warden.PressOpening && ok && force <= 10-int16(l.c.PullMaxDN)
		}, asOracle},
	{21, func(l *look) bool { return l.begun() && (l.silentMs >= uint32(l.c.LeaseMs)-1 || l.newHost) },
		func(l *look) bool { return l.driven() && l.silentMs > uint32(l.c.LeaseMs) }, 0},
	{23, func(l *look) bool { return l.boot && l.in.NV != warden.NVClear }, nil, 0},
	{30, func(l *look) bool {
		return l.burner(warden.BurnerPurge, warden.BurnerPostPurge) && !l.has(warden.InExtraction)
	}, func(l *look) bool { return l.was(warden.OutFuel|warden.OutIgniter) && !l.has(warden.InExtraction) }, asOracle},
	{30, func(*look) bool { return false }, func(l *look) bool {
		waits := l.prev.Burner == warden.BurnerPurge || l.prev.Burner == warden.BurnerPostPurge
		return waits && !l.has(warden.InExtraction)
	}, 10_000},
	{30, func(l *look) bool { return l.unstilled() }, nil, 10_000},
	{31, func(l *look) bool { return l.fitted(warden.InGasAlarm) && l.has(warden.InGasAlarm) }, nil, 0},
	{32, func(l *look) bool { return l.gas() && l.fitted(warden.InFlashback) && l.has(warden.InFlashback) }, nil, 0},
	{33, feedbackWrong, nil, asOracle},
	{34, func(l *look) bool { return l.handStroke && !l.hands() }, func(l *look) bool {
		pushes := l.prev.Press == warden.PressClosing || l.prev.Press == warden.PressContact
		return l.handStroke && !l.hands() && pushes && !l.has(warden.InDoorClosed)
	}, 0},
	{35, func(l *look) bool { return l.begun() && l.badWithin(360_000) >= 3 },
		func(l *look) bool { return l.driven() && (l.badWithin(990) >= 3 || l.badWithin(359_000) >= 10) }, 1},
	{36, func(l *look) bool { return l.fitted(warden.InMainsOK) && !l.has(warden.InMainsOK) }, nil, 0},
	{37, func(l *look) bool { return max(l.startMs, l.resetMs) >= 3000 }, nil, 1},
	{38, func(l *look) bool { return l.was(warden.OutFuel) && l.leaky+240 >= 120*(3750-uint32(l.c.ValveCloseMs)) },
		func(l *look) bool { return l.was(warden.OutFuel) && l.sum+uint32(l.c.ValveCloseMs) > 4000 }, 0},
	{39, func(l *look) bool { return l.begun() && l.slideMs > 0 },
		func(l *look) bool { return l.driven() && l.slideMs > uint32(l.c.SlideMs)+slackMs }, 0},
	{40, func(l *look) bool { return l.in.Fresh != 0 && l.in.Request.Flags&warden.ReqAbort != 0 && l.begun() },
		func(l *look) bool { return l.in.Fresh != 0 && l.in.Request.Flags&warden.ReqAbort != 0 && l.driven() }, 0},
	{40, openedInStroke, nil, 0},
	{41, func(l *look) bool { return l.nvMs > 0 }, nil, asOracle},
	{42, func(l *look) bool { return l.fitted(warden.InSetUp) && l.has(warden.InSetUp) && l.begun() },
		func(l *look) bool { return l.fitted(warden.InSetUp) && l.has(warden.InSetUp) && l.driven() }, 0},
	{43, func(l *look) bool { return l.pressWorks() && l.broken(warden.AiForce) }, nil, 20},
	{43, (*look).unfelt, nil, asOracle},
	{44, func(l *look) bool { return l.pressWorks() && l.broken(warden.AiTravel) }, nil, 20},
	{45, spindleFast, nil, asOracle},
	{46, func(l *look) bool {
		still := !l.option(warden.OptSpindleTurns) && l.prev.Touching != 0
		return still && l.in.Request.SpindleDrpm > 0 && l.prev.Press == warden.PressContact
	}, func(*look) bool { return false }, 0},
	{47, func(l *look) bool {
		return l.prev.Press == warden.PressHandOpen || l.prev.Press == warden.PressHandClose
	},
		func(*look) bool { return false }, 0},
	{48, func(l *look) bool { return chuckLoose(l) },
		func(l *look) bool { return chuckLoose(l) && l.was(warden.OutSpindle) }, asOracle},
	{49, func(l *look) bool { return l.flowWrong(recent, flowOff, true) },
		func(l *look) bool { return l.flowWrong(everAsked, flowOff, true) }, asOracle},
	{50, func(l *look) bool { return l.flowWrong(recent, flowFar, false) },
		func(l *look) bool { return l.flowWrong(everAsked, flowFar, false) }, asOracle},
	{51, ratioWrong, func(l *look) bool { return ratioWrong(l) && l.unchanged() }, asOracle},
	{52, func(l *look) bool { return l.sharpMs >= l.c.SharpMs-1 }, func(l *look) bool { return l.sharpMs > l.c.SharpMs }, 0},
	{44, (*look).closesDriven, func(l *look) bool { return l.standMs > 0 }, asOracle},
}

// flowOff and flowFar: a fifth and 0.1 L/min off, half as much again and 0.2 L/min above.
func flowOff(ml, asked int) bool {
	return max(ml-asked, asked-ml) > 100 && (ml*5 > asked*6 || ml*5 < asked*4)
}

func flowFar(ml, asked int) bool { return ml > asked+200 && ml*2 > asked*3 }

// ratioWrong: oxygen is open and what is measured lies outside the profile's window.
func ratioWrong(l *look) bool {
	oxygen, haveOxygen := l.value(warden.AiOxygenFlow)
	fuel, haveFuel := l.value(warden.AiFuelFlow)
	share := 100 * int(max(oxygen, 0))
	outside := share < int(l.c.RatioLowPC)*int(max(fuel, 0)) || share > int(l.c.RatioHighPC)*int(max(fuel, 0))
	return l.was(warden.OutOxygen) && haveOxygen && haveFuel && l.c.RatioHighPC != 0 && outside
}

// spindleFast: an eighth and 5 rpm above what it may do, or 5 rpm backwards.
func spindleFast(l *look) bool {
	rpm, ok := l.value(warden.AiSpindle)
	most := int32(l.c.SpindleMaxDrpm)
	if l.prev.Spindle == warden.SpindleHand {
		most = int32(l.c.SetUpDrpm)
	}
	return ok && l.option(warden.OptSpindleFitted) && (int32(rpm) > most+most/8+50 || rpm < -50)
}

// chuckLoose: the chuck is seen open while something turns or presses.
func chuckLoose(l *look) bool {
	works := l.was(warden.OutSpindle) || l.prev.Press == warden.PressClosing || l.prev.Press == warden.PressContact
	return works && l.fitted(warden.InChuckClamped) && !l.has(warden.InChuckClamped)
}

// openedInStroke: a person pushes the open button while the host moves the press.
func openedInStroke(l *look) bool {
	host := l.prev.Press == warden.PressClosing || l.prev.Press == warden.PressContact ||
		l.prev.Press == warden.PressOpening && l.prev.Lock == warden.LockNone
	button := l.fitted(warden.InHoldOpen) && l.has(warden.InHoldOpen) && l.prev.HoldSeen&1 != 0
	power := l.has(warden.InEstopOK) && (!l.fitted(warden.InMainsOK) || l.has(warden.InMainsOK))
	return host && button && power && !l.has(warden.InPressOpen) && l.after.Started|l.prev.Started != 0 && !l.boot
}

// doorOpen: a person may be near something that moves or burns.
func doorOpen(l *look) bool {
	return !l.has(warden.InDoorClosed) && (l.was(warden.OutFuel) || l.busy() || !l.standing() || !l.has(warden.InPressOpen))
}

// busy: something that moves or sparks is driven.
func (l *look) busy() bool {
	return l.was(warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn | warden.OutSpindle |
		warden.OutPressClose | warden.OutPressOpen)
}

// doorMatters leaves out what the published words let run with the door open:
// a parked flame where the profile says so, a stroke under two hands, and what
// a person does by hold-to-run in set-up.
func doorMatters(l *look) bool {
	parked := l.option(warden.OptParkedDoorOpen) && (l.prev.Burner == warden.BurnerRun || l.prev.Burner == warden.BurnerOff) &&
		l.has(warden.InBurnerClear)
	setUp := l.fitted(warden.InSetUp) && l.has(warden.InSetUp)
	flame := l.was(warden.OutOxygen|warden.OutIgniter|warden.OutBurnerIn) || l.was(warden.OutFuel) && !parked
	turns := !setUp && (l.was(warden.OutSpindle) || !l.standing())
	hands := setUp || l.handStroke || l.hands()
	moves := !hands && (l.was(warden.OutPressClose|warden.OutPressOpen) || !l.has(warden.InPressOpen))
	return !l.has(warden.InDoorClosed) && (flame || turns || moves)
}

func overForce(l *look) bool {
	force, ok := l.value(warden.AiForce)
	return l.fitted(warden.InOverForce) && l.has(warden.InOverForce) || ok && force > int16(l.c.OverForceDN)
}

// overTravel: 1 mm past the last position asked for, or its end switch.
func overTravel(l *look) bool {
	travel, ok := l.value(warden.AiTravel)
	return l.fitted(warden.InPressEnd) && l.has(warden.InPressEnd) || ok && travel > l.c.EndCmm+100
}

// heatWhileShut: a flame at the blank, or on its way, with the press not open;
// or the burner stands in the way of the stroke.
func heatWhileShut(l *look) bool {
	wanted := l.in.Request.Flags&warden.ReqBurnerIn != 0 && l.silentMs < uint32(l.c.LeaseMs) &&
		l.prev.Started != 0 && l.after.Started != 0
	if l.was(warden.OutFuel) && !l.open() && (wanted || l.has(warden.InBurnerAtBlank)) {
		return true
	}
	return l.above() && (!l.has(warden.InBurnerClear) || l.was(warden.OutOxygen))
}

func inTheWay(l *look) bool {
	wanted := l.in.Request.Flags&warden.ReqBurnerIn != 0
	if l.was(warden.OutFuel) && !l.open() && (wanted || l.has(warden.InBurnerAtBlank)) {
		return true
	}
	return l.above() && (!l.has(warden.InBurnerClear) || l.has(warden.InBurnerAtBlank) || l.was(warden.OutFuel))
}

// leftOpen: the press was open while heating and is not any more.
func leftOpen(l *look) bool {
	return !l.boot && l.heatedOpen && l.heating() && !l.open()
}

// feedbackWrong: a fitted proof of closure says other than the valve's output.
func feedbackWrong(l *look) bool {
	fuel := l.fitted(warden.InFuelShut) && l.has(warden.InFuelShut) == l.was(warden.OutFuel)
	oxygen := l.fitted(warden.InOxygenShut) && l.has(warden.InOxygenShut) == l.was(warden.OutOxygen)
	return fuel || oxygen
}

// rows are the oracle's, by number.
var rows = func() (r [64]oracle.Row) {
	for _, row := range oracle.Rows {
		r[row.Number] = row
	}
	return r
}()

// detection holds every row to its conditions.
type detection struct {
	heldMs [len(conditions)]uint32
	missed [64]bool
}

// overdue is a row that should have acted by now, 0 without one. Each is told
// once.
func (d *detection) overdue(l *look) uint8 {
	acts := l.after.Trips | l.after.Present
	found := uint8(0)
	if l.boot {
		d.heldMs = [len(conditions)]uint32{} // nothing is remembered, so all times begin anew
	}
	for i := range conditions {
		c := &conditions[i]
		must := c.must
		if must == nil {
			must = c.may
		}
		if !must(l) {
			d.heldMs[i] = 0
			continue
		}
		d.heldMs[i]++
		within := uint32(c.withinMs)
		if c.withinMs == asOracle {
			within = rows[c.row].WithinMs
		}
		if within > 0 {
			within += slackMs
		}
		if d.heldMs[i] > within && acts&(1<<c.row) == 0 && !d.missed[c.row] {
			d.missed[c.row], found = true, c.row
		}
	}
	return found
}

// mayAct reports whether row may act in this tick.
func mayAct(row uint8, l *look) bool {
	for i := range conditions {
		if conditions[i].row == row && conditions[i].may(l) {
			return true
		}
	}
	return false
}

// held is how long the conditions of a row have held, ms.
func (d *detection) held(row uint8) uint32 {
	longest := uint32(0)
	for i := range conditions {
		if conditions[i].row == row {
			longest = max(longest, d.heldMs[i])
		}
	}
	return longest
}
