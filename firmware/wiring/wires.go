package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// Wire joins two terminals, each told as part:terminal.
type Wire struct{ Number, From, To, Kind string }

// far is what a pin's wire ends at: the contact, the coil, the transmitter.
// Outputs with two entries drive two coils, each by a driver of its own.
var far = map[string][]contact{
	"IN_ESTOP_OK": {{"K1", "23", "24"}}, "IN_DOOR_CLOSED": {{"K2", "103", "104"}}, "IN_FLAME": {{"KFR", "33", "34"}},
	"IN_EXTRACTION": {{"B5", "23", "24"}}, "IN_FUEL_LOW": {{"B1", "21", "22"}}, "IN_FUEL_HIGH": {{"B2", "21", "22"}},
	"IN_OXYGEN_LOW": {{"B3", "21", "22"}}, "IN_OXYGEN_HIGH": {{"B4", "21", "22"}}, "IN_PRESS_OPEN": {{"B11", "13", "14"}},
	"IN_PRESS_END": {{"B9", "31", "32"}}, "IN_BURNER_AT_BLANK": {{"B12", "13", "14"}}, "IN_BURNER_CLEAR": {{"B8", "13", "14"}},
	"IN_FUEL_SHUT": {{"B13", "13", "14"}}, "IN_OXYGEN_SHUT": {{"B14", "13", "14"}},
	"IN_START": {{"S1", "13", "14"}}, "IN_RESET": {{"S2", "13", "14"}}, "IN_SOFT": {{"S3", "13", "14"}},
	"IN_HOLD_OPEN": {{"S5", "13", "14"}}, "IN_HOLD_CLOSE": {{"S6", "13", "14"}}, "IN_HOLD_TURN": {{"S7", "13", "14"}},
	"IN_CHUCK_CLAMPED": {{"B15", "13", "14"}}, "IN_INDEXED": {{"B16", "13", "14"}},
	"IN_GAS_ALARM": {{"B6", "21", "22"}}, "IN_FLASHBACK": {{"B7", "21", "22"}}, "IN_OVER_FORCE": {{"B10", "31", "32"}},
	"IN_MAINS_OK": {{"K6", "11", "14"}}, "IN_TWO_HAND_LEFT": {{"S13", "13", "14"}}, "IN_TWO_HAND_RIGHT": {{"S14", "13", "14"}},
	"IN_SET_UP": {{"S9", "13", "14"}}, "IN_WATCHDOG_OK": {{"K4", "33", "34"}},

	"OUT_FUEL1": {{"KF1", "A1", "A2"}}, "OUT_FUEL2": {{"KF2", "A1", "A2"}}, "OUT_OXYGEN": {{"KO1", "A1", "A2"}, {"KO2", "A1", "A2"}},
	"OUT_IGNITER": {{"KI", "A1", "A2"}}, "OUT_FAN": {{"KX", "A1", "A2"}}, "OUT_BURNER_IN": {{"KB", "A1", "A2"}},
	"OUT_SPINDLE": {{"KS", "A1", "A2"}}, "OUT_PRESS_CLOSE": {{"KC", "A1", "A2"}}, "OUT_PRESS_OPEN": {{"KU", "A1", "A2"}},
	"OUT_BRAKE": {{"KR", "A1", "A2"}}, "OUT_ARMED_LAMP": {{"H1", "1", "2"}}, "OUT_HORN": {{"H2", "1", "2"}}, "OUT_LOCK_LAMP": {{"H3", "1", "2"}},

	"PULSE": {{"K4", "pulse", "0 V"}},

	"AI_GLASS": {{"B20", "+", "-"}}, "AI_MOULD_LOWER": {{"B21", "+", "-"}}, "AI_MOULD_UPPER": {{"B22", "+", "-"}}, "AI_FORCE": {{"B23", "+", "-"}},
	"AI_FUEL_FLOW": {{"A6", "out +", "out -"}}, "AI_OXYGEN_FLOW": {{"A7", "out +", "out -"}},
	"AI_FUEL_PRESSURE": {{"B24", "+", "-"}}, "AI_OXYGEN_PRESSURE": {{"B25", "+", "-"}}, "AI_SPINDLE": {{"B26", "+", "-"}},

	"ENCODER_A": {{"B27", "A", "A inverted"}}, "ENCODER_B": {{"B27", "B", "B inverted"}},

	"SET_FUEL": {{"A6", "in +", "in -"}}, "SET_OXYGEN": {{"A7", "in +", "in -"}}, "SET_SPINDLE": {{"A5", "speed +", "speed -"}},
	"SET_SPEED": {{"A8", "speed +", "speed -"}}, "SET_FORCE": {{"A8", "force +", "force -"}},
}

// classes are the kinds of part, each with the tags that are of it.
var classes = []struct {
	class string
	tags  []string
}{
	{"mains isolator, lockable", []string{"Q1"}},
	{"breaker with residual current device", []string{"Q2"}},
	{"24 V supply, SELV", []string{"G1", "G2"}},
	{"fuse and holder", []string{"F2", "F6"}},
	{"strip of terminals", []string{busA, busD, busG, plus, zero, neutral, "XC", "XL", "XB"}},
	{"chain plug", []string{"X9"}},
	{"board on its carrier", []string{"A1"}},
	{"certified burner control with flame sensor", []string{"A2"}},
	{"relay card, isolated drivers, energises on high", []string{"A3"}},
	{"optocoupler card", []string{"A9"}},
	{"isolated pulse-width converter", []string{"A10"}},
	{"line receiver with fault contacts", []string{"A4"}},
	{"spindle drive with safe torque off", []string{"A5"}},
	{"mass flow controller, each for its gas", []string{"A6", "A7"}},
	{"press drive or proportional valve", []string{"A8"}},
	{"safety relay of the emergency stop, with delayed contacts", []string{"K1"}},
	{"safety relay of the door, with delayed contacts and expansion", []string{"K2"}},
	{"two-hand relay, type III C", []string{"K3"}},
	{"window watchdog unit, three contacts", []string{"K4"}},
	{"standstill monitor", []string{"K5"}},
	{"phase relay", []string{"K6"}},
	{"relay, force-guided contacts", []string{"KF1", "KF2", "KO1", "KO2", "KC", "KU", "KR", "KS", "KFR"}},
	{"relay, ordinary", []string{"KI", "KB"}},
	{"off-delay relay by its own stored energy", []string{"KX"}},
	{"fan contactor", []string{"KV"}},
	{"pressure switch, two contacts", []string{"B1", "B2", "B3", "B4"}},
	{"flow switch in the duct, two contacts", []string{"B5"}},
	{"gas and oxygen detector with alarm relay", []string{"B6"}},
	{"flashback or over-pressure switch, two contacts", []string{"B7"}},
	{"safety position switch, direct opening", []string{"B8", "B9"}},
	{"over-force switch, three contacts", []string{"B10"}},
	{"position switch", []string{"B11", "B12", "B13", "B14", "B15", "B16"}},
	{"radiation thermometer, 4-20 mA", []string{"B20"}},
	{"thermocouple transmitter, 4-20 mA", []string{"B21", "B22"}},
	{"bridge amplifier with force cell, 4-20 mA", []string{"B23"}},
	{"pressure transmitter, 4-20 mA", []string{"B24", "B25"}},
	{"speed transmitter, 4-20 mA", []string{"B26"}},
	{"encoder with line driver", []string{"B27"}},
	{"fuel valve, spring shut", []string{"Y1", "Y2"}},
	{"oxygen valve, spring shut, cleaned for oxygen", []string{"Y3", "Y4"}},
	{"press valve or drive enable", []string{"Y5", "Y6"}},
	{"brake, spring-applied (Y7 on a powered rig, Y8 on a weights rig), with manual release", []string{"Y7", "Y8"}},
	{"door lock, locked without power, with auxiliary release", []string{"Y9"}},
	{"slide valve, clear without power", []string{"Y10"}},
	{"ignition transformer", []string{"T1"}},
	{"push button, momentary", []string{"S1", "S2", "S3", "S6", "S7", "S10", "S12"}},
	{"push button OPEN, momentary, three contacts", []string{"S5"}},
	{"key switch, contacts for both places", []string{"S9"}},
	{"hand switch of the fan", []string{"S11"}},
	{"two-hand actuator", []string{"S13", "S14"}},
	{"lamp", []string{"H1", "H3"}},
	{"horn", []string{"H2"}},
}

// list numbers wires and gives each wire at a strip a terminal of its own.
type list struct {
	wires []Wire
	next  map[string]int
	group string
	n     int
}

// at is a terminal; a strip's is the next free one.
func (l *list) at(part, terminal string) string {
	if terminal == "" {
		l.next[part]++
		terminal = fmt.Sprint(l.next[part])
	}
	return part + ":" + terminal
}

func (l *list) join(from, to, kind string) {
	l.n++
	l.wires = append(l.wires, Wire{fmt.Sprintf("%s.%d", l.group, l.n), from, to, kind})
}

// Wires is the wire list: the chains first, then each pin in the order of pins.h.
func Wires(pins []Pin) []Wire {
	l := &list{next: map[string]int{}}
	for i, c := range chains {
		l.group, l.n = fmt.Sprintf("C%d", i+1), 0
		l.chain(c)
	}
	l.group, l.n = "Z", 0
	l.join("Q2:4", "G1:L", "mains")
	l.join("G2:-", l.at(zero, ""), "1.5 mm2")
	l.join("A2:N", l.at(neutral, ""), "as the control's outputs: electrician")
	l.join("G1:+", l.at("XC", ""), "1.5 mm2, by F3")
	l.join("G1:L+", l.at("XL", ""), "0.75 mm2, by the isolated converter")
	l.join("G1:-", l.at("XB", ""), "1.5 mm2")
	for _, p := range pins {
		l.group, l.n = "P"+p.Label, 0
		l.pin(p)
	}
	return l.wires
}

const chainWire = "0.75 mm2, by the load"

// wireOf says that a wire is at mains, or may be where the burner control's
// outputs are; only a licensed electrician lays it.
func wireOf(c chain) string {
	switch c.title {
	case "Supply":
		return "mains up to G2, 1.5 mm2: electrician"
	case "Fuel", "Ignition":
		return "mains where the control's outputs are: electrician"
	}
	return chainWire
}

func (l *list) chain(c chain) {
	before := ""
	for i, k := range c.links {
		first := k.branches[0][0]
		if first.in == "" { // a bus
			t := l.at(first.part, "")
			if before != "" {
				l.join(before, t, wireOf(c))
			}
			before = t
			continue
		}
		in, out := l.branches(k.branches)
		if before != "" {
			l.join(before, in, wireOf(c))
		}
		before = out
		if k.kind == load {
			switch {
			case first.part == "K1": // the reset input has no return of its own
			case wireOf(c) != chainWire: // its return is the control's
				l.join(out, l.at(neutral, ""), wireOf(c))
			default:
				l.join(out, l.at(zero, ""), wireOf(c))
			}
			before = ""
		} else if i == len(c.links)-1 {
			panic("wiring: the chain " + c.title + " switches nothing")
		}
	}
}

// branches joins the contacts of a branch one after the other and the branches
// side by side; what comes back are the two terminals for the chain.
func (l *list) branches(all [][]contact) (in, out string) {
	for i, b := range all {
		for j := 1; j < len(b); j++ {
			l.join(l.at(b[j-1].part, b[j-1].out), l.at(b[j].part, b[j].in), chainWire)
		}
		last := b[len(b)-1]
		if i > 0 {
			l.join(in, l.at(b[0].part, b[0].in), chainWire)
			l.join(out, l.at(last.part, last.out), chainWire)
		}
		in, out = l.at(b[0].part, b[0].in), l.at(last.part, last.out)
	}
	return in, out
}

func (l *list) pin(p Pin) {
	pin, wire := "A1:"+p.Label, manners[p.Kind].wire
	for i, f := range far[p.Name] {
		channel := p.Label
		if i > 0 {
			channel += "b"
		}
		in, out := l.at(f.part, f.in), l.at(f.part, f.out)
		switch p.Kind {
		case Input:
			l.join(l.at("XC", ""), in, wire)
			l.join(out, "A9:"+channel+" in", wire)
			l.join("A9:"+channel+" out", pin, "0.5 mm2, on the carrier")
		case Output:
			l.join(pin, "A3:"+channel+" in", wire)
			l.join("A3:"+channel+" out", in, "0.75 mm2")
			l.join(out, l.at(zero, ""), "0.75 mm2")
		case Pulse:
			l.join(pin, in, wire)
			l.join(out, l.at("XB", ""), wire)
		case Analog:
			l.join(l.at("XL", ""), in, wire)
			l.join(out, pin, wire)
		case Encoder:
			l.join(in, "A4:"+f.in, wire)
			l.join(out, "A4:"+f.out, wire)
			l.join("A4:"+f.in+" out", pin, "0.5 mm2, on the carrier")
		case Setpoint:
			l.join(pin, "A10:"+channel+" in", "0.5 mm2, on the carrier")
			l.join("A10:"+channel+" +", in, wire)
			l.join("A10:"+channel+" -", out, wire)
		}
	}
}

func wireTable(pins []Pin) string {
	var b strings.Builder
	b.WriteString("\n| wire | from | to | wire and section |\n|---|---|---|---|\n")
	for _, w := range Wires(pins) {
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", w.Number, w.From, w.To, w.Kind)
	}
	return b.String() + "\n"
}

// owner is the part of a terminal.
func owner(terminal string) string {
	part, _, _ := strings.Cut(terminal, ":")
	return part
}

func partTable(pins []Pin) string {
	var b strings.Builder
	b.WriteString("\n| class | number | tags | terminals wired |\n|---|---|---|---|\n")
	for _, c := range classes {
		seen := map[string]bool{}
		for _, w := range Wires(pins) {
			for _, t := range []string{w.From, w.To} {
				if slices.Contains(c.tags, owner(t)) {
					seen[t] = true
				}
			}
		}
		fmt.Fprintf(&b, "| %s | %d | %s | %d |\n", c.class, len(c.tags), strings.Join(c.tags, ", "), len(seen))
	}
	return b.String() + "\n"
}
