package main

import (
	"errors"
	"fmt"
	"slices"

	"pressrig/panel/api"
)

// A cycle that is not the last of its run leaves its flame lit for the next
// piece. Whoever follows the cycle is not let go before the flame is out or a
// person has said what becomes of it: nobody walks away from a flame unasked.

// afterCycle is what is known of the flame since the cycle was over.
type afterCycle struct {
	parked bool   // the daemon has asked what becomes of the flame
	prompt uint16 // newest number of that question
	told   bool   // and here it was said what burns
	heard  bool   // a person has answered, here or elsewhere
	stays  bool   // with no: it burns on for the next piece
	burns  string // what burns, "" nothing
	silent bool   // it burned when the rig was last heard
}

// howToShut is said wherever a flame burns on.
const howToShut = "Shut it with: pressrig answer y. In danger push the emergency stop at the rig."

func (a *afterCycle) hear(yes bool) { a.heard, a.stays = true, !yes }

// burning says what burns at the rig, "" for nothing. A lockout whose valves
// are shut has done what it can, whatever the flame's signal says.
func burning(frame *api.Frame) string {
	v := frame.Snapshot
	if v == nil {
		return ""
	}
	fuel := slices.Contains(v.Outputs, "fuel_1") || slices.Contains(v.Outputs, "fuel_2")
	if !fuel && (!v.Flame || frame.Status.Lock == "lockout") {
		return ""
	}
	return "fuel " + amount(v.FuelLMin, 2, "L/min") + ", oxygen " + amount(v.OxygenLMin, 2, "L/min")
}

// lookAfter keeps what a frame of a cycle that is over says of its flame.
func (f *follower) lookAfter(frame *api.Frame) {
	s, a := &frame.Status, &f.after
	// A no opens the question anew, under another number.
	for i := range frame.Records {
		if r := &frame.Records[i]; r.Kind == "answer" && a.parked && r.Prompt == a.prompt && r.Reason == "" {
			a.hear(r.Value != 0)
		}
	}
	if s.Prompt != nil && s.Cycle == f.cycle {
		a.parked, a.prompt = true, s.Prompt.Number
	}
	a.silent = frame.Snapshot == nil && a.burns != ""
	a.burns = burning(frame)
	if a.parked && !a.told && a.burns != "" {
		a.told = true
		text := fmt.Sprintf("cycle %d is %s, and its flame still burns: %s.", f.cycle, f.end, a.burns)
		if f.deaf {
			f.say(text + " " + nobodyHere)
		} else {
			f.say(text + " y shuts it, n keeps it for the next piece.")
		}
	}
}

// mayEnd: nothing burns any more, or a person has said that it shall, or the
// next cycle has the flame, and its own person.
func (f *follower) mayEnd(frame *api.Frame) bool {
	return f.after.burns == "" || f.after.stays || frame.Status.Cycle != f.cycle
}

// nobodyHere is said where the question meets no input.
const nobodyHere = "Nobody can answer here. " + howToShut + " Waiting until the flame is out."

// endUnseen: the cycle is over, and only the journal knows how.
const endUnseen = "over"

// leftBurning is what there is to say of the flame once nobody looks here any
// more, and whether that is a failure.
func (f *follower) leftBurning(interrupted bool) (said string, err error) {
	a := &f.after
	switch {
	case a.burns != "" && a.stays:
		return "the flame stays lit for the next piece: " + a.burns + ". " + howToShut, nil
	case a.burns != "" && interrupted:
		return "THE FLAME STILL BURNS: " + a.burns + ". " + howToShut, nil
	case a.silent:
		return "", errors.New("the flame burned when the rig was last heard; look whether it is out, " +
			"and shut the cocks if not")
	case a.parked && !a.heard && f.deaf:
		return "", errors.New("the flame burned on after the cycle and nobody could be asked; it is out now. " +
			"Give the last piece of a run --last, or let a person answer")
	}
	return "", nil
}
