package proof

import (
	"fmt"
	"math"

	"pressrig/rig"
	"pressrig/safety/warden"
)

var turnCautions = []string{"Chuck empty or its glass clamped, door closed, sleeves and hair away: the spindle turns slowly.",
	"Key at set-up: no gas, no cycle."}

// keyAtSetUp begins the steps in which a person turns the spindle.
func keyAtSetUp() stage {
	return ready(ActSetUp, "turn the key switch to set-up", "the key switch does not read set-up", handS,
		func(j *Judge) bool { return j.snap.Has(warden.InSetUp) })
}

// turnedMs is how long the speed must have stood before it counts.
const turnedMs = 2000

// turns waits until the spindle is seen to turn by hold-to-run.
func spins(p *rig.Profile, act Act, says string) stage {
	least := float64(p.Spindle.SetUp) / 2
	s := ready(act, says, "the spindle was not seen to turn: it needs the key at set-up, no lock, the chuck clamped", handS,
		func(j *Judge) bool {
			rpm, ok := j.rpm()
			if !ok || rpm < least || !j.snap.Has(warden.InHoldTurn) {
				j.fromMs = j.snap.StampMs
			}
			return j.lookedMs() >= turnedMs
		})
	s.ai = int8(warden.AiSpindle)
	return s
}

func spinsAlone(p *rig.Profile) stage {
	return spins(p, ActTurn, "hold TURN and keep holding it")
}

// blindMs is how long a drive may be asked for with nothing shown.
const blindMs = 5000

// shownTurning is spinsAlone for the sensor's own step: a drive that is asked for
// and a channel that shows nothing is a failed proof.
func shownTurning(p *rig.Profile) stage {
	s := spinsAlone(p)
	look := s.look
	s.look = func(j *Judge) verdict {
		m := &j.memory
		if m.leftMs == 0 || !j.snap.Has(warden.InHoldTurn) || !j.snap.Drives(warden.OutSpindle) {
			m.leftMs = j.snap.StampMs
		}
		v := look(j)
		if v == stay && j.lookedMs() == 0 && j.snap.StampMs-m.leftMs > blindMs {
			return failed("the spindle is asked for and its sensor shows no turning: look whether it turns")
		}
		return v
	}
	return s
}

// Tolerance of the spindle's sensor against a hand tachometer, the larger of
// both: common practice, no source.
const (
	sensorShare = 0.05
	sensorRPM   = 1.0
)

func spindleSensor(p *rig.Profile) Step {
	return Step{
		Title:    "Spindle sensor shows the true speed",
		Cautions: turnCautions,
		Do: []string{"Turn the key to set-up, hold TURN.", "Measure the speed at the chuck with a hand tachometer and give it.",
			"Let TURN go, and see that the spindle stands."},
		See:   "the channel shows what the tachometer shows, and standstill at standstill",
		After: "key back.",
		Limit: fmt.Sprintf("5 %% or %.0f rpm, the larger (common practice, no source)", sensorRPM),
		Unit:  "rpm",
		stages: []stage{unlocked(), keyAtSetUp(), shownTurning(p), tachometer(), handsAway(),
			question(ActStands, "does the spindle stand still?", "the spindle turns and its sensor says that it stands"),
		}}.monthly()
}

// tachometer compares a reading with the mean of the channel while it was taken.
func tachometer() stage {
	s := reading(ActTachometer, "keep TURN held: what does the tachometer show, in rpm?", func(j *Judge, rpm float64) verdict {
		m := &j.memory
		j.measured(rpm)
		if m.n == 0 {
			return undone("the spindle was not turning while it was measured")
		}
		if shown := m.sum / float64(m.n); math.Abs(shown-rpm) > max(sensorShare*rpm, sensorRPM) {
			return failed(fmt.Sprintf("the channel shows %.1f rpm and the tachometer %.1f rpm", shown, rpm))
		}
		return next
	})
	s.ai = int8(warden.AiSpindle)
	s.look = func(j *Judge) verdict {
		if !j.memory.placed {
			j.memory.placed, j.memory.sum, j.memory.n = true, 0, 0
		}
		if rpm, ok := j.rpm(); ok && j.snap.Has(warden.InHoldTurn) {
			j.memory.sum, j.memory.n = j.memory.sum+rpm, j.memory.n+1
		}
		return stay
	}
	return s
}

// handsAway waits until TURN is let go and the sensor says that all stands.
func handsAway() stage {
	s := ready(ActHandsOff, "let TURN go", "TURN was to be let go and the sensor still shows turning: look whether it turns", handS, func(j *Judge) bool {
		rpm, ok := j.rpm()
		return ok && rpm <= standRPM && !j.snap.Has(warden.InHoldTurn)
	})
	s.proves = true
	s.ai = int8(warden.AiSpindle)
	return s
}

func spindleRunDown(p *rig.Profile) Step {
	limit := p.Spindle.RunDown
	return Step{
		Title:    "Run-down time of the spindle",
		Cautions: turnCautions,
		Do: []string{"Turn the key to set-up, hold TURN until the spindle turns steadily.", "Let TURN go.",
			"From its largest speed it takes longer: that time is measured at commissioning, the worst of ten."},
		See:   "the spindle stands within the time of the profile",
		After: "key back.",
		Limit: fmt.Sprintf("at most %v from the newest snapshot with TURN held to %.1f rpm (spindle.run_down of the profile)",
			limit, standRPM),
		Most: limit.Seconds(), Unit: "s",
		stages: []stage{unlocked(), keyAtSetUp(), spinsAlone(p),
			{act: ActTurnGoes, says: "let TURN go", longestS: handS, late: "TURN was not let go, or the spindle did not stop",
				proves: true, ai: int8(warden.AiSpindle), look: func(j *Judge) verdict {
					rpm, ok := j.rpm()
					switch {
					case !ok:
						return undone("the spindle channel carries no value")
					case j.snap.Has(warden.InHoldTurn):
						j.memory.leftMs = j.snap.StampMs
						return stay
					case j.memory.leftMs == 0:
						return undone("TURN was let go before the spindle turned")
					case rpm > standRPM:
						return stay
					}
					s := float64(j.snap.StampMs-j.memory.leftMs) / 1000
					j.measured(s)
					if s > limit.Seconds() {
						return failed("the spindle ran down later than door and distance are worth: look at drive, ramp and " +
							"brake resistor, and measure anew as at commissioning")
					}
					return next
				}},
		}}.monthly()
}

// torqueS is how long a person has to open the terminal while TURN is held.
const torqueS = 30

func safeTorqueOff(p *rig.Profile) Step {
	return Step{
		Title: "Safe torque off of the spindle drive",
		Cautions: append(append([]string{}, turnCautions...),
			"The terminal in the drive's safe torque off circuit is opened by who may open the cabinet: two people, one at TURN."),
		Do: []string{"Turn the key to set-up, hold TURN.",
			fmt.Sprintf("Within %d s open the disconnect terminal of safe torque off at the drive, TURN still held.", torqueS),
			"Let TURN go, close the terminal again."},
		See:   "the spindle runs out while the board still asks for it",
		After: "terminal closed, key back.",
		Limit: fmt.Sprintf("standstill within %d s", torqueS),
		stages: []stage{unlocked(), keyAtSetUp(), spinsAlone(p),
			{act: ActTorqueOff, says: "keep TURN held; open the terminal of safe torque off at the drive", proves: true,
				longestS: torqueS, late: "safe torque off was to be opened and the drive still turns the spindle",
				ai: int8(warden.AiSpindle), look: func(j *Judge) verdict {
					rpm, ok := j.rpm()
					switch {
					case !ok:
						return undone("the spindle channel carries no value")
					case !j.snap.Drives(warden.OutSpindle):
						return undone("the board no longer asks for the spindle: TURN was let go, or something tripped")
					case rpm <= standRPM:
						return next
					}
					return stay
				}},
			confirm(ActTorqueOn, "let TURN go, close the terminal; is it closed again?", "the terminal of safe torque off is still open"),
		}}.monthly()
}

// confirm is a question about what a person did; no is no verdict.
func confirm(act Act, says, no string) stage {
	s := question(act, says, "")
	s.answer = func(_ *Judge, a Answer) verdict {
		if a.Yes {
			return next
		}
		return undone(no)
	}
	return s
}
