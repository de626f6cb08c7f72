package proof

import (
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// togetherMs is within which both actuators count as pressed together: 0.5 s
// (ISO 13851).
const togetherMs = 500

// lone is how long one actuator is held to show that it alone moves nothing.
const loneMs = 300

// twoHand proves both actuators by their signals, and by hold-to-run with the
// door open, seen at the press and at the spindle, that one hand alone, the wrong
// pair, or the second hand too late moves nothing, and that letting either go
// stops what moved. The stroke's own pair needs hot glass and is not tried.
func twoHand(p *rig.Profile) Step {
	const left, right = warden.InTwoHandLeft, warden.InTwoHandRight
	s := Step{
		Title: "Two-hand control",
		Cautions: []string{"Moulds empty and cold, spindle still, burner out, nobody else near: the press moves at hold-to-run " +
			"speed with the door open, and the spindle turns slowly.",
			"Keep both hands where the test says, never between the mould halves. Whatever moves where nothing may: let all go."},
		Do: []string{"Press and release each actuator alone.",
			"Turn the key to set-up, open the door. Hold TURN alone; then LEFT and TURN together, and let LEFT go first.",
			"Hold CLOSE alone, LEFT alone, RIGHT with CLOSE.",
			"Press LEFT, count one second, then hold CLOSE as well.",
			"Let all go, then hold LEFT and CLOSE together, and let LEFT go first; once more, and let CLOSE go first."},
		See: "each signal alone; press and spindle stand under one hand, the wrong pair or the second hand too late; they " +
			"move under both and stand again as either goes",
		After: "key back, door closed, press opened by hold-to-run; RESET at the rig if it tripped.",
		Limit: "both within 0.5 s (ISO 13851); the press stands within a second",
		stages: []stage{
			reads(left, false, 200, "nothing touched first", "the left actuator reads pressed before anything was done"),
			reads(right, false, 200, "nothing touched first", "the right actuator reads pressed before anything was done"),
			turns(ActHandLeft, left, true, "press LEFT alone", "LEFT was to be pressed and reads released"),
			turns(ActHandsOff, left, false, "let LEFT go", "LEFT was let go and still reads pressed"),
			turns(ActHandRight, right, true, "press RIGHT alone", "RIGHT was to be pressed and reads released"),
			turns(ActHandsOff, right, false, "let RIGHT go", "RIGHT was let go and still reads pressed"),
		}}
	if !p.Fits("set_up") {
		return s.weekly()
	}
	s.stages = append(s.stages, unlocked(), keyAtSetUp(),
		ready(ActDoorOpen, "open the safety door, press open", "the door does not read open, or the press does not", handS,
			func(j *Judge) bool { return !j.snap.Has(warden.InDoorClosed) && j.snap.Has(warden.InPressOpen) }))
	if p.Fits("hold_turn") && p.Fits("spindle") {
		s.stages = append(s.stages, handTurns(p)...)
	}
	if p.Fits("hold_close") {
		s.stages = append(s.stages, handMoves()...)
	}
	return s.weekly()
}

// allOff waits until a person touches nothing.
func allOff() stage {
	return ready(ActHandsOff, "let everything go", "an actuator still reads pressed", handS, func(j *Judge) bool {
		return j.snap.In&(warden.InTwoHandLeft|warden.InTwoHandRight|warden.InHoldClose|warden.InHoldTurn) == 0
	})
}

// handTurns are the stages in which the spindle could turn.
func handTurns(p *rig.Profile) []stage {
	turned := func(j *Judge) bool { rpm, ok := j.rpm(); return ok && rpm > 2*standRPM }
	both := spins(p, ActTurnTogether, "hold LEFT and TURN together")
	return []stage{
		mayNot(ActTurnAlone, "hold TURN alone", "one hand alone turned the spindle", turned, held(warden.InHoldTurn)),
		allOff(), both,
		goes(ActTurnLeftGoes, "let LEFT go, keep TURN", warden.InTwoHandLeft, func(j *Judge) bool { return !turned(j) },
			runsOutMs, "one hand was let go and the spindle goes on"),
		allOff(),
	}
}

// handMoves are the stages in which the press could move.
func handMoves() []stage {
	both := func() stage {
		return ready(ActHandsTogether, "hold LEFT and CLOSE together", "the press was not seen to move under both hands", handS,
			func(j *Judge) bool {
				if j.snap.In&(warden.InTwoHandLeft|warden.InHoldClose) == 0 {
					j.memory.placed = false
				}
				return j.moved(underMM)
			})
	}
	stands := func(act Act, says string, bit uint32) stage {
		return goes(act, says, bit, (*Judge).stands, standsMs, "one hand was let go and the press moves on")
	}
	return []stage{
		mayNotMove(ActCloseAlone, "hold CLOSE alone", "one hand alone moved the press", held(warden.InHoldClose)), allOff(),
		mayNotMove(ActLeftAlone, "hold LEFT alone", "one hand alone moved the press", held(warden.InTwoHandLeft)), allOff(),
		mayNotMove(ActWrongPair, "hold RIGHT and CLOSE together", "RIGHT and CLOSE, which one hand can reach, moved the press",
			held(warden.InTwoHandRight|warden.InHoldClose)), allOff(),
		tooLate(), allOff(),
		both(), stands(ActLeftGoes, "let LEFT go, keep CLOSE", warden.InTwoHandLeft), allOff(),
		both(), stands(ActOtherGoes, "let CLOSE go, keep LEFT", warden.InHoldClose), allOff(),
	}
}

// How soon what moved must be seen to stand. The stopping times have steps of
// their own.
const (
	standsMs  = 1000
	runsOutMs = 5000
)

// held: these actuators of the hold-to-run pairs are pressed, and no other.
func held(bits uint32) func(*Judge) bool {
	const all = warden.InTwoHandLeft | warden.InTwoHandRight | warden.InHoldClose | warden.InHoldTurn
	return func(j *Judge) bool { return j.snap.In&all == bits }
}

// goes waits for a hand to be let go, and then for what moved to stand.
func goes(act Act, says string, bit uint32, stands func(*Judge) bool, withinMs uint32, why string) stage {
	return stage{act: act, says: says, proves: true, longestS: handS, bit: bit, ai: none,
		late: "the hand was to be let go and its actuator still reads pressed", look: func(j *Judge) verdict {
			switch {
			case j.snap.Has(bit):
				j.fromMs, j.memory.placed = j.snap.StampMs, false
			case j.snap.Lock != warden.LockNone: // it did not end with the hand: something else ended it
				return failed(why + ", until " + safety.Sentence(j.snap.First))
			case stands(j):
				return next
			case j.lookedMs() > withinMs:
				return failed(why)
			}
			return stay
		}}
}

// mayNotMove holds a hand for loneMs and fails when the press is seen to move.
func mayNotMove(act Act, says, why string, held func(*Judge) bool) stage {
	return mayNot(act, says, why, func(j *Judge) bool { return j.moved(movedMM) }, held)
}

// mayNot holds a hand for loneMs and fails when anything is seen to move.
func mayNot(act Act, says, why string, moves, held func(*Judge) bool) stage {
	return stage{act: act, says: says, longestS: handS, late: "it was not held so for two thirds of a second", ai: none,
		look: func(j *Judge) verdict {
			switch {
			case moves(j):
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
