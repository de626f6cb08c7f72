package wiring

import (
	"slices"
	"strings"
	"testing"
)

// wrongWires are what a wire list may not have.
func wrongWires(wires []Wire, pins []Pin) []string {
	var wrong []string
	owners := map[string]int{}
	for _, c := range classes {
		for _, t := range c.tags {
			owners[t]++
		}
	}
	at, numbers, used := map[string]int{}, map[string]bool{}, map[string]bool{}
	for _, w := range wires {
		if numbers[w.Number] {
			wrong = append(wrong, w.Number+" twice")
		}
		numbers[w.Number] = true
		if w.From == w.To {
			wrong = append(wrong, w.Number+" has one end")
		}
		for _, t := range []string{w.From, w.To} {
			part, terminal, _ := strings.Cut(t, ":")
			if terminal == "" || owners[part] != 1 {
				wrong = append(wrong, w.Number+": "+t+" has not one owner")
			}
			used[part] = true
			at[t]++
		}
	}
	for t, n := range at {
		if n > 2 && !strings.HasPrefix(t, "A1:") { // two wires in a terminal at most: IEC 60204-1 13.1.1 wants it made for more, from memory
			wrong = append(wrong, t+" holds too many wires")
		}
	}
	for tag := range owners {
		if !used[tag] {
			wrong = append(wrong, tag+" is a part without a wire")
		}
	}
	for _, p := range pins {
		if at["A1:"+p.Label] == 0 {
			wrong = append(wrong, p.Name+" has no wire")
		}
	}
	return wrong
}

func TestWireListIsWhole(t *testing.T) {
	pins := parsed(t)
	for _, w := range wrongWires(Wires(pins), pins) {
		t.Error(w)
	}
}

// The check finds what it is for.
func TestWrongWiresAreFound(t *testing.T) {
	pins := parsed(t)
	for name, change := range map[string]func([]Wire) []Wire{
		"one end":    func(w []Wire) []Wire { w[3].To = w[3].From; return w },
		"no owner":   func(w []Wire) []Wire { w[3].To = "Q77:1"; return w },
		"no end":     func(w []Wire) []Wire { w[3].To = ""; return w },
		"twice":      func(w []Wire) []Wire { w[3].Number = w[4].Number; return w },
		"no pin":     func(w []Wire) []Wire { return slices.DeleteFunc(w, func(w Wire) bool { return w.From == "A1:9" }) },
		"three ends": func(w []Wire) []Wire { w[3].To, w[4].To, w[5].To = "Q1:1", "Q1:1", "Q1:1"; return w },
	} {
		if len(wrongWires(change(Wires(pins)), pins)) == 0 {
			t.Errorf("%s: not found", name)
		}
	}
}

// through says whether a chain leads through a contact of this part on its own,
// with no branch beside it.
func through(title, part string) bool {
	for _, c := range chains {
		for _, l := range c.links {
			for _, k := range l.branches[0] {
				if c.title == title && len(l.branches) == 1 && k.part == part {
					return true
				}
			}
		}
	}
	return false
}

// What hardware has to open without the board, whatever else is drawn: door on
// oxygen and slide, over-travel and over-force in what closes the press of
// each kind, two relays for the two oxygen valves, each mirror in the loop.
func TestChainsHoldWithoutTheBoard(t *testing.T) {
	for title, parts := range map[string][]string{
		"Oxygen 1": {"K2", "KFR", "KO1"}, "Oxygen 2": {"K2", "KFR", "KO2"}, "Slide": {"K2"},
		"Closing": {"B9", "B10", "A4"}, "Weights": {"B9", "B10", "A4"},
		"Enabled": {"K1", "K4"}, "Stopping": {"K1", "K4"}, "Spindle": {"K2"}, "Door lock": {"K5"},
		"Gas limits": {"S9", "B1", "B2", "B3", "B4", "B5", "B6", "B7"},
		"Reset loop": {"KF1", "KF2", "KO1", "KO2", "KC", "KU", "KR", "KS", "KFR"},
	} {
		for _, p := range parts {
			if !through(title, p) {
				t.Errorf("%s does not pass through %s alone", title, p)
			}
		}
	}
	if through("Gas limits", "K2") || through("Call for heat", "K2") {
		t.Error("the door alone puts a parked flame out")
	}
}
