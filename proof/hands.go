package proof

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// togetherMs is within which both actuators count as pressed together: 0.5 s
// (ISO 13851).
const togetherMs = 500

// lone is how long one actuator is held to show that it alone moves nothing.
const loneMs = 300

// twoHand proves both actuators by their signals, and by hold-to-run with the
// door open that one alone, or the second too late, moves nothing, and that
// letting go stops the press. Its own stroke needs hot glass and is not tried.
func twoHand(p *rig.Profile) Step {
	const left, right = warden.InTwoHandLeft, warden.InTwoHandRight
	s := Step{
		Title: "Two-hand control",
		Cautions: []string{"Moulds empty and cold, spindle still, burner out, nobody else near: the press moves at hold-to-run " +
			"speed with the door open.", "Keep both hands where the test says, never between the mould halves."},
		Do: []string{"Press and release each actuator alone.", "Turn the key to set-up, open the door; hold CLOSE alone.",
			"Press LEFT, count one second, then hold CLOSE as well.",
			"Let all go, then hold LEFT and CLOSE together, and let LEFT go first."},
		See: "each signal alone; no movement by one hand or by the second hand too late; standstill in the same snapshot " +
			"(10 ms) as the hand goes",
		After: "key back, door closed, press opened by hold-to-run; RESET at the rig if it tripped.",
		Limit: "both within 0.5 s (ISO 13851)",
		stages: []stage{
			reads(left, false, 200, "nothing touched first", "the left actuator reads pressed before anything was done"),
			reads(right, false, 200, "nothing touched first", "the right actuator reads pressed before anything was done"),
			turns(ActHandLeft, left, true, "press LEFT alone", "LEFT was to be pressed and reads released"),
			turns(ActHandsOff, left, false, "let LEFT go", "LEFT was let go and still reads pressed"),
			turns(ActHandRight, right, true, "press RIGHT alone", "RIGHT was to be pressed and reads released"),
			turns(ActHandsOff, right, false, "let RIGHT go", "RIGHT was let go and still reads pressed"),
		}}
	if p.Fits("hold_close") && p.Fits("set_up") {
		s.stages = append(s.stages, handMoves()...)
	}
	return s.weekly()
}

// handMoves are the stages in which the press could move.
func handMoves() []stage {
	handsOff := ready(ActHandsOff, "let everything go", "an actuator still reads pressed", handS, func(j *Judge) bool {
		return j.snap.In&(warden.InTwoHandLeft|warden.InTwoHandRight|warden.InHoldClose) == 0
	})
	return []stage{unlocked(),
		ready(ActSetUp, "turn the key switch to set-up", "the key switch does not read set-up", handS,
			func(j *Judge) bool { return j.snap.Has(warden.InSetUp) }),
		ready(ActDoorOpen, "open the safety door, press open", "the door does not read open, or the press does not", handS,
			func(j *Judge) bool { return !j.snap.Has(warden.InDoorClosed) && j.snap.Has(warden.InPressOpen) }),
		mayNotMove(ActCloseAlone, "hold CLOSE alone", "one hand alone moved the press", func(j *Judge) bool {
			return j.snap.Has(warden.InHoldClose) && !j.snap.Has(warden.InTwoHandLeft)
		}),
		handsOff,
		tooLate(),
		handsOff,
		ready(ActHandsTogether, "hold LEFT and CLOSE together", "the press did not move under both hands", handS,
			func(j *Judge) bool { return j.snap.Press == warden.PressHandClose }),
		{act: ActLeftGoes, says: "let LEFT go, keep CLOSE", proves: true, longestS: handS, bit: warden.InTwoHandLeft, ai: none,
			late: "LEFT was to be let go and still reads pressed", look: func(j *Judge) verdict {
				switch {
				case j.snap.Has(warden.InTwoHandLeft):
					return stay
				case j.snap.Drives(warden.OutPressClose) || !j.snap.Drives(warden.OutBrake):
					return failed("one hand was let go and the press is still driven in the same snapshot")
				}
				return next
			}},
	}
}

// mayNotMove holds a hand for loneMs and fails when the press moves.
func mayNotMove(act Act, says, why string, held func(*Judge) bool) stage {
	return stage{act: act, says: says, longestS: handS, late: "it was not held alone for a third of a second", ai: none,
		look: func(j *Judge) verdict {
			switch {
			case j.snap.Press == warden.PressHandClose:
				return failed(why)
			case !held(j):
				j.fromMs = j.snap.StampMs
			case j.lookedMs() >= loneMs:
				return next
			}
			return stay
		}}
}

// tooLate: the second hand comes more than togetherMs after the first. seen
// says that LEFT has been held alone for so long.
func tooLate() stage {
	const late = "the second hand came more than 0.5 s after the first and the press moved"
	s := mayNotMove(ActHandsLate, "press LEFT, count one second, then hold CLOSE as well", late, func(j *Judge) bool {
		left, shut := j.snap.Has(warden.InTwoHandLeft), j.snap.Has(warden.InHoldClose)
		switch {
		case !left:
			j.memory.seen, j.memory.leftMs = false, j.snap.StampMs
		case !shut:
			j.memory.seen = j.snap.StampMs-j.memory.leftMs > togetherMs
		}
		return left && shut && j.memory.seen
	})
	look := s.look
	s.look = func(j *Judge) verdict {
		v := look(j)
		if v.result == Failed && !j.memory.seen {
			return undone("both were pressed within half a second: that may move the press; count a whole second")
		}
		return v
	}
	return s
}
