package proof

import (
	"fmt"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// cabinet: whoever opens it.
const cabinet = "The cabinet is opened by who may open it: mains stands behind the covers (IEC 60204-1)."

// With the pulse gone the unit drops within 100 ms (docs/wiring.md): the contact
// must be open so long after the person's word, and stay so.
const (
	pulledMs = 1000
	openMs   = 1000
	madeMs   = 1000 // and made so long after a power-up
)

// watchdog proves the unit outside by its own contact. The board runs on while
// its pulse wire is pulled, so it can tell; a board held in reset could not, and
// one that restarts proves its own watchdog, which is another.
func watchdog(*rig.Profile) Step {
	const made = warden.InWatchdogOK
	return Step{
		Title: "Outside watchdog opens its chain",
		Cautions: []string{"Burner out, spindle still, press open, gas shut at the supply. With the pulse gone bus A drops, " +
			"and all that hangs on it.", cabinet},
		Do: []string{"Pull the wire of the pulse at the disconnect terminal in front of the outside watchdog (PULSE, pin 9). Not the " +
			"board's reset button: a board in reset is silent and reads nothing.",
			"Read a meter from XA to X0, then put the wire back."},
		See:   "the watchdog's contact opens while the board runs on, bus A drops, and the contact makes again with the pulse",
		After: "wire back, meter off; stop relay and rig reset if they are locked.",
		Limit: fmt.Sprintf("at most %.0f V from XA to X0 (ours)", busOffV),
		Most:  busOffV, Unit: "V",
		stages: []stage{
			ready(ActWait, "burner out and nothing driven first", "the rig did not come to rest", restingS,
				func(j *Judge) bool { j.memory.session = j.session; return still(j) }),
			{act: ActWait, says: "the pulse runs: the watchdog's contact must be made", proves: true, longestS: handS, bit: made, ai: none,
				late: "no word from the rig", look: func(j *Judge) verdict {
					switch {
					case j.snap.Has(made):
						return next
					case j.lookedMs() > madeMs:
						return failed("the board pulses and the outside watchdog's contact reads open: look at pulse, unit and wire")
					}
					return stay
				}},
			confirm(ActPulseOut, "pull the pulse wire at its terminal; is it out?", "the pulse wire was not pulled"),
			{act: ActWait, says: "the watchdog's contact must open", proves: true, longestS: handS, bit: made, ai: none,
				late: "the outside watchdog's contact did not stay open", look: func(j *Judge) verdict {
					m := &j.memory
					if !m.placed {
						m.placed, m.leftMs = true, j.snap.StampMs
					}
					switch {
					case j.session != j.memory.session:
						return undone("the board restarted: that says nothing of the outside watchdog; pull its pulse wire alone")
					case j.snap.Has(made) && j.snap.StampMs-m.leftMs > pulledMs:
						return failed("the pulse is gone and the outside watchdog's contact is made: the outside watchdog is dead")
					case j.snap.Has(made):
						j.fromMs = j.snap.StampMs
					case j.lookedMs() >= openMs:
						return next
					}
					return stay
				}},
			busOff("with the pulse pulled"),
			turns(ActPulseBack, made, true, "put the pulse wire back",
				"the pulse wire was to be put back and the watchdog's contact stays open"),
		}}.weekly()
}

// What a meter from XA to X0 may show, in volts: off, and on, from a 24 V supply
// with the usual tolerance of control circuits (IEC 61131-2, 19.2 to 30 V, from
// memory).
const (
	busOffV   = 1.0
	busLeastV = 19.2
	busMostV  = 30.0
)

func busA(*rig.Profile) Step {
	return Step{
		Title: "Bus A drops: no short to 24 V behind the stops",
		Cautions: []string{"Burner out, spindle still, press open. A person measures at live 24 V terminals, nothing else of the " +
			"cabinet is touched.", cabinet},
		Do: []string{"Put a meter from XA to X0.", "Push the emergency stop, read; release it, reset the stop relay, read.",
			"The other contact in the chain, the outside watchdog's, is read in its own test."},
		See:   "24 V while all is made, nothing with the emergency stop pushed, 24 V again after its reset",
		After: "meter off; stop relay and rig reset.",
		Limit: fmt.Sprintf("at most %.0f V off (ours); %.1f to %.0f V on (IEC 61131-2, from memory)", busOffV, busLeastV, busMostV),
		Most:  busOffV, Unit: "V",
		stages: []stage{
			ready(ActWait, "burner out and nothing driven first", "the rig did not come to rest", restingS, still),
			busOn(),
			ready(ActEstopPush, "push the emergency stop", "the emergency stop does not read pushed: prove estop first", handS,
				func(j *Judge) bool { return !j.snap.Has(warden.InEstopOK) }),
			busOff("with the emergency stop pushed"),
			ready(ActEstopRelease, "release the emergency stop, reset the stop relay", "the emergency stop does not read released",
				handS, func(j *Judge) bool { return j.snap.Has(warden.InEstopOK) }),
			busOn(),
		}}.weekly()
}

func busOn() stage {
	return reading(ActBusV, "all made: how many volts from XA to X0?", func(_ *Judge, v float64) verdict {
		if v < busLeastV || v > busMostV {
			return undone("no 24 V where bus A should be on: the meter is not at XA and X0, or something of the chain is open")
		}
		return next
	})
}

func busOff(where string) stage {
	return reading(ActBusV, where+": how many volts from XA to X0?", func(j *Judge, v float64) verdict {
		j.measured(v)
		if v > busOffV {
			return failed("bus A has voltage " + where + ": it is shorted to 24 V, or a relay is welded; no stop reaches what hangs on it")
		}
		return next
	})
}

// gasMl is fuel that must not flow, above what a channel shows at rest.
const gasMl = 100

func setUpKey(p *rig.Profile) Step {
	const key = warden.InSetUp
	return Step{
		Title: "Set-up key shuts the gas in hardware",
		Cautions: []string{"A light-up is tried that must not succeed, but may: eye protection, extraction, burner clear, nobody in " +
			"front of it.", cabinet},
		Do: []string{"Turn the key to set-up and back.", "Turn it to set-up again and pull its wire to the board (IN_SET_UP): " +
			"the program does not know now.", "Light up with the recipe that is armed for you: push START at the rig.",
			"After the lockout put the wire back, turn the key back."},
		See:   "the key is read; with its wire pulled no gas comes and no flame, because its other contact is open in bus G",
		After: "wire back, key at run; RESET at the rig.",
		stages: []stage{
			reads(key, false, 200, "key at run first", "the key stands at run and reads set-up"),
			turns(ActSetUp, key, true, "turn the key to set-up", "the key was turned to set-up and reads run"),
			turns(ActKeyRun, key, false, "turn the key back to run", "the key was turned to run and reads set-up"),
			unlocked(),
			{act: ActKeyWire, says: "turn the key to set-up and pull its wire to the board; done?", longestS: workS,
				late: "nobody answered", ask: AskYesNo, bit: key, ai: none, answer: func(j *Judge, a Answer) verdict {
					if !a.Yes || j.snap.Has(key) {
						return undone("the key's wire to the board is not pulled")
					}
					return next
				}},
			light("arm "+lightOnly+" and push START at the rig: fuel is asked for after the purge",
				func(j *Judge) bool { return j.snap.Drives(warden.OutFuel) }),
			{act: ActWait, says: "no gas and no flame may come", proves: true, longestS: 20, late: "the trial did not end",
				bit: warden.InFlame, ai: none, look: func(j *Judge) verdict { return noGas(j, p) }},
			turns(ActKeyWireBack, key, true, "put the wire back, the key still at set-up", "the key's wire was to be put back and reads run"),
			turns(ActKeyRun, key, false, "turn the key back to run", "the key was turned to run and reads set-up"),
		}}.weekly()
}

// noGas watches a trial for ignition that the key's contact has to keep without
// gas: at its end nothing must have been seen.
func noGas(j *Judge, p *rig.Profile) verdict {
	s := &j.snap
	const why = " came with the key at set-up: its contact in the gas limits is welded or bridged"
	flow := p.Fits("fuel_flow") && s.OK(warden.AiFuelFlow) && s.Analog[warden.AiFuelFlow] > gasMl
	open := p.Fits("fuel_shut") && !s.Has(warden.InFuelShut)
	switch {
	case s.Has(warden.InFlame):
		return failed("a flame" + why)
	case open || flow:
		return failed("gas" + why)
	case s.Drives(warden.OutFuel):
		return stay
	case j.tripped(warden.CauseNoIgnition) || j.tripped(warden.CauseFeedback):
		return next
	}
	return undone("the trial ended early")
}

// What a fan has to run on, in seconds: its minute, less five for the board's
// way off and on.
const runOnS = 55

func fanRunOn(*rig.Profile) Step {
	return Step{
		Title: "Fan runs on when the board goes",
		Cautions: []string{"The purge runs and then the burner would light: switch the board off during the purge, and leave it if you " +
			"came too late.", "Keep hands out of the fan."},
		Do: []string{"Push START at the rig: the purge begins.",
			"With the fan running, switch the board off and on again within five seconds: its pulse goes, bus A opens.",
			"Listen: the fan must run on."},
		See:   "flow is still proven while the board no longer asks for the fan",
		After: "acknowledge and reset; RESET at the rig if it is locked.",
		Limit: fmt.Sprintf("at least %d s after the board is back (60 s from its relay, docs/wiring.md)", runOnS),
		Unit:  "s",
		stages: []stage{unlocked(),
			light("arm "+lightOnly+" and push START at the rig: the purge begins",
				func(j *Judge) bool { return j.snap.Drives(warden.OutFan) && j.snap.Burner == warden.BurnerPurge }),
			ready(ActWait, "flow must be proven", "no flow was proven: prove extraction first", handS, func(j *Judge) bool {
				j.memory.session = j.session
				return j.snap.Has(warden.InExtraction)
			}),
			{act: ActPowerCycle, says: "switch the board off and on again", longestS: handS, late: "the board was not restarted",
				ai: none, look: func(j *Judge) verdict {
					if j.session == j.memory.session {
						return stay
					}
					return next
				}},
			{act: ActWait, says: "the fan must run on for a minute", proves: true, longestS: workS,
				lateIs: func(*Judge) verdict { return undone("the fan did not stop: is its switch by hand on?") },
				bit:    warden.InExtraction, ai: none, look: func(j *Judge) verdict {
					switch {
					case j.snap.Drives(warden.OutFan):
						return undone("the board asks for the fan again: nothing is known of its relay")
					case j.snap.Has(warden.InExtraction):
						return stay
					}
					s := float64(j.lookedMs()) / 1000
					j.measured(s)
					if s < runOnS {
						return failed("the fan stopped with the board: gas and fumes stay in the hood; look at its timer relay")
					}
					return next
				}},
		}}.monthly()
}

// alarmSignals proves what tells people: they are the board's own at a leak, so
// that is what is given.
func alarmSignals(*rig.Profile) Step {
	return Step{
		Title:    "Horn and lockout lamp",
		Cautions: []string{"Burner out, gas shut at the supply. Warn whoever hears the horn."},
		Do: []string{"Give the rig a leak: the detector's test button, or without one a flame at the sensor with the burner out " +
			"(a lighter), until horn and lamp come.", "Hear the horn, see the lamp.", "Take it away."},
		See:   "the board asks for horn and lockout lamp, and both come",
		After: "RESET at the rig.",
		stages: []stage{
			ready(ActWait, "burner out and nothing driven first", "the rig did not come to rest", restingS, still),
			ready(ActLeakGive, "give the rig a leak until it locks out", "the board did not ask for horn and lockout lamp: prove "+
				"gas_alarm or flame_seen first", workS, func(j *Judge) bool {
				return j.snap.Drives(warden.OutHorn) && j.snap.Drives(warden.OutLockLamp)
			}),
			question(ActHear, "do you hear the horn?", "the board asks for the horn and it is silent"),
			question(ActSeeLamp, "is the lockout lamp on?", "the board asks for the lockout lamp and it is dark"),
			ready(ActLeakEnd, "take it away", "the leak still reads", handS, func(j *Judge) bool {
				return !j.snap.Has(warden.InGasAlarm) && !j.snap.Has(warden.InFlame)
			}),
		}}.weekly()
}
