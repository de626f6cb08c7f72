package proof

import (
	"fmt"
	"strings"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// dangerous are the outputs that must be off after a trip that shuts
// everything; a turning spindle may ramp down.
const dangerous = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn |
	warden.OutPressClose

func estop(*rig.Profile) Step {
	push := turns(ActEstopPush, warden.InEstopOK, false, "push the emergency stop and leave it in",
		"the emergency stop was to be pushed and its loop still reads closed; the loop must open: "+
			"look for a bridge, a welded contact or a stuck input")
	push.look = func(j *Judge) verdict {
		switch {
		case j.snap.Has(warden.InEstopOK):
			return stay
		case !j.tripped(warden.CauseEstop):
			return failed("the loop reads open and the warden did not trip in the same snapshot")
		case j.snap.Out&dangerous != 0:
			return failed("the loop reads open and an output is still driven in the same snapshot")
		}
		return next
	}
	back := reads(warden.InEstopOK, true, 1000, "nothing may start by itself for one second",
		"the loop opened again by itself")
	back.look = func(j *Judge) verdict {
		switch {
		case j.snap.Out&dangerous != 0:
			return failed("an output rose when the emergency stop was released; only RESET and a new " +
				"START may do that")
		case j.lookedMs() >= 1000:
			return next
		}
		return stay
	}
	return Step{
		Title: "Emergency stop",
		Cautions: []string{"Nobody reaches into the rig while it is tried.",
			"Prove every emergency stop button of the rig in turn: one proof for one button, named in the note."},
		Do: []string{"Push the button in.", "Look at the contactor or its lamp: the supply of drives " +
			"and valves must be off.", "Release the button."},
		See:   "loop open and warden tripped in the same snapshot (10 ms); supply off; nothing starts at release",
		After: "button out, RESET at the rig.",
		Limit: "stop category 0 or 1, no start by release (ISO 13850)",
		stages: []stage{
			turns(ActEstopRelease, warden.InEstopOK, true, "the emergency stop must be released to begin",
				"the emergency stop was to be released and its loop still reads open"),
			push,
			question(ActLook, "is the supply of drives and valves off (contactor or its lamp)?",
				"the emergency stop did not take the supply away: the hardware chain is what protects"),
			turns(ActEstopRelease, warden.InEstopOK, true, "release the emergency stop",
				"the loop did not close again"),
			back,
		}}.daily()
}

// question is a stage that a person's eye decides.
func question(act Act, says, no string) stage {
	return stage{act: act, says: says, longestS: workS, late: "nobody answered",
		ask: AskYesNo, ai: none, answer: func(_ *Judge, a Answer) verdict {
			if a.Yes {
				return next
			}
			return failed(no)
		}}
}

func door(p *rig.Profile) Step {
	s := Step{
		Title: "Safety door takes the power (guard switch)",
		Cautions: []string{"Burner out, spindle still, moulds empty: the press moves by hold-to-run and is stopped by the door. " +
			"Hands out."},
		Do: []string{"Hold CLOSE until the press moves (where the rig has that button and a travel channel).",
			"Open the safety door, CLOSE still held.",
			"Look at the door relay's lamp: what it feeds (oxygen, slide, closing) must be off.", "Close the door again."},
		See:   "the switch opens with the door, the press is no longer driven and stands, the door relay has dropped",
		After: "door closed, press opened by hold-to-run; RESET at the rig if it tripped.",
		Limit: fmt.Sprintf("output off within %d ms, standstill within %d ms", doorOffMs, doorStandsMs),
	}
	const closed = warden.InDoorClosed
	open := turns(ActDoorOpen, closed, false, "open the safety door",
		"the door was to be opened and still reads closed; look for a defeated or stuck switch")
	s.stages = []stage{turns(ActDoorClose, closed, true, "the safety door must be closed to begin",
		"the door was to be closed and reads open")}
	if p.Fits("hold_close") && p.Fits("travel") { // without travel or force the warden lets nobody close it
		s.stages = append(s.stages, unlocked(), pressIsOpen(), closes(underMM))
		open.says = "open the safety door, CLOSE still held"
		open.look = doorVerdict
	}
	s.stages = append(s.stages, open,
		question(ActDoorPower, "is what the door relay feeds off (its lamp, the oxygen relay)?",
			"the door is open and its relay has not dropped: the hardware chain is what protects; look for a welded contact"),
		turns(ActDoorClose, closed, true, "close the safety door", "the door was to be closed and still reads open"))
	return s.daily()
}

// How soon after the door's contact the press has lost its output, and stands.
const (
	doorOffMs    = 50 // five snapshots: filter and reaction
	doorStandsMs = 1000
)

// doorVerdict: power gone, by the output and by the press, not by the input alone.
func doorVerdict(j *Judge) verdict {
	m := &j.memory
	if j.snap.Has(warden.InDoorClosed) {
		j.fromMs, m.placed = j.snap.StampMs, false
		m.seen = j.snap.Drives(warden.OutPressClose)
		return stay
	}
	m.seen = m.seen || j.before.Has(warden.InDoorClosed) && j.before.Drives(warden.OutPressClose)
	standing := j.stands()
	switch driven := j.snap.Out&dangerous != 0; {
	case !m.seen:
		return undone("CLOSE was let go before the door opened: nothing was there to be stopped")
	case driven && j.lookedMs() > doorOffMs:
		return failed("the door is open and an output is still driven")
	case driven:
		return stay
	case standing:
		return next
	case j.lookedMs() > doorStandsMs:
		return failed("the door is open and the press still moves")
	}
	return stay
}

// pressure is the proof of one pressure switch.
func pressure(p *rig.Profile, gas string, bit uint32, ai uint8, high bool, acts [2]Act) Step {
	way, how := "low", "Shut the cock at the supply and let the line down to the air, outdoors or under the hood, until the switch acts."
	if high {
		way, how = "high", "Raise the regulator slowly until the switch acts: no further than the line is rated for."
	}
	name := gas + " pressure " + way
	act := turns(acts[0], bit, true, "bring the "+gas+" pressure "+way,
		"the "+gas+" pressure was to be brought "+way+" and the switch did not act")
	act.longestS = workS
	back := turns(acts[1], bit, false, "bring the "+gas+" pressure back to the usual",
		"the switch still reads "+way+" at the usual pressure")
	back.longestS = workS
	s := Step{
		Title: strings.ToUpper(gas[:1]) + name[1:] + " switch", Cautions: []string{"Burner out. No flame, no spark, extraction running by hand where it can."},
		Do:    []string{how, "Set the usual pressure again."},
		See:   "the switch acts, and lets go again",
		After: "usual pressure, cock open; RESET at the rig if it tripped.",
	}
	if p.Fits(rig.Analogs[ai].Name) {
		s.Unit, act.ai, back.ai = "bar", int8(ai), int8(ai)
		act.look = func(j *Judge) verdict {
			if !j.snap.Has(bit) {
				j.fromMs = j.snap.StampMs
				return stay
			}
			if j.lookedMs() < settleMs {
				return stay
			}
			if bar, ok := j.bar(ai); ok {
				j.measured(bar)
			}
			return next
		}
	}
	s.stages = []stage{
		reads(bit, false, 200, "the usual pressure first", "the switch reads "+way+" at the usual pressure"),
		act, back}
	return s.yearly()
}

// settleMs lets the pressure channel catch up with its switch.
const settleMs = 100

func fuelLow(p *rig.Profile) Step {
	return pressure(p, "fuel", warden.InFuelLow, warden.AiFuelPressure, false, [2]Act{ActFuelLow, ActFuelUsual})
}

func fuelHigh(p *rig.Profile) Step {
	return pressure(p, "fuel", warden.InFuelHigh, warden.AiFuelPressure, true, [2]Act{ActFuelHigh, ActFuelUsual})
}

func oxygenLow(p *rig.Profile) Step {
	return pressure(p, "oxygen", warden.InOxygenLow, warden.AiOxygenPressure, false, [2]Act{ActOxygenLow, ActOxygenUsual})
}

func oxygenHigh(p *rig.Profile) Step {
	return pressure(p, "oxygen", warden.InOxygenHigh, warden.AiOxygenPressure, true, [2]Act{ActOxygenHigh, ActOxygenUsual})
}

// freeLeast is how many snapshots the press must have been let go for, so that
// a switch that stayed made is to blame and not a press that stood.
const freeLeast = 20

func pressOpen(p *rig.Profile) Step {
	away := turns(ActPressAway, warden.InPressOpen, false, "let the press leave its open end",
		"the press was to leave its open end and the switch still reads open")
	if p.Fits("hold_close") {
		look := away.look
		away.look = func(j *Judge) verdict {
			if !j.snap.Drives(warden.OutBrake) {
				j.memory.n++
			}
			return look(j)
		}
		away.lateIs = func(j *Judge) verdict {
			if j.memory.n < freeLeast {
				return undone("the press was never let go: CLOSE needs the door closed and no lock")
			}
			return failed(away.late)
		}
	}
	return Step{
		Title:    "Press open end switch",
		Cautions: []string{"Moulds empty, door closed, hands out: the press moves while a hold-to-run button is held."},
		Do: []string{"Hold CLOSE for about half a second, so that the press leaves its open end; without " +
			"that button, lift the switch off its cam by hand.", "Hold OPEN until it is open again."},
		See:   "the switch opens when the press leaves, and closes when it is open again",
		After: "press open.",
		stages: []stage{
			turns(ActPressHome, warden.InPressOpen, true, "the press must stand open to begin",
				"the press was to be opened and does not read open"),
			away,
			turns(ActPressHome, warden.InPressOpen, true, "open the press again",
				"the press was to be opened and the switch does not read open"),
		}}.weekly()
}

// byFinger is the proof of a switch that trips at any time: worked by hand, it
// must be seen and the guard must trip.
func byFinger(bit uint32, cause uint8, acts [2]Act, do, what string) []stage {
	push := turns(acts[0], bit, true, do, what+" was to act and reads off")
	push.longestS = workS
	push.look = func(j *Judge) verdict {
		switch {
		case !j.snap.Has(bit):
			return stay
		case cause != warden.CauseNone && !j.tripped(cause):
			return failed(what + " reads on and the warden did not trip in the same snapshot")
		}
		return next
	}
	return []stage{
		reads(bit, false, 200, "nothing touched first", what+" reads on before anything was done"),
		push,
		turns(acts[1], bit, false, "let it go again", what+" still reads on"),
	}
}

func pressEnd(*rig.Profile) Step {
	return Step{
		Title:    "Press over-travel switch",
		Cautions: []string{"Press open, nothing moving: work the switch with a rod, never with a hand between the mould halves."},
		Do:       []string{"Push the over-travel switch.", "Let it go."},
		See:      "the switch acts and the warden trips in the same snapshot",
		After:    "switch free, RESET at the rig.",
		stages: byFinger(warden.InPressEnd, warden.CauseOverTravel, [2]Act{ActEndPush, ActEndRelease},
			"push the over-travel switch", "the over-travel switch"),
	}.weekly()
}

func overForce(*rig.Profile) Step {
	return Step{
		Title:    "Over-force switch",
		Cautions: []string{"Press open, nothing moving, hands out of the moulds."},
		Do:       []string{"Work the over-force switch by hand or with its test device.", "Let it go."},
		See:      "the switch acts and the warden trips in the same snapshot",
		After:    "switch free, RESET at the rig.",
		stages: byFinger(warden.InOverForce, warden.CauseOverForce, [2]Act{ActForcePush, ActForceRelease},
			"work the over-force switch", "the over-force switch"),
	}.weekly()
}

func gasAlarm(*rig.Profile) Step {
	return Step{
		Title:    "Gas or oxygen detector",
		Cautions: []string{"Use the maker's test gas and cap. No free gas, no flame."},
		Do:       []string{"Give the detector its test gas until it alarms.", "Take it away."},
		See:      "the alarm is seen and the warden trips in the same snapshot",
		After:    "cap off, RESET at the rig.",
		Limit:    "as the detector's maker says; oxygen at 23.5 % (common practice for enrichment alarms)",
		stages: byFinger(warden.InGasAlarm, warden.CauseGasAlarm, [2]Act{ActGasGive, ActGasEnd},
			"give the detector its test gas", "the detector"),
	}.yearly()
}

func flashback(*rig.Profile) Step {
	return Step{
		Title:    "Flashback trip",
		Cautions: []string{"Gas shut at the supply. Never provoke a flashback: use the arrestor's test lever."},
		Do:       []string{"Work the arrestor's indicator by its test lever.", "Set it back."},
		See:      "the switch acts, and lets go again",
		After:    "arrestor set back.",
		stages: byFinger(warden.InFlashback, warden.CauseNone, [2]Act{ActFlashbackPush, ActFlashbackEnd},
			"work the flashback indicator", "the flashback switch"),
	}.yearly()
}
