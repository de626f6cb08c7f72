package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// manner is what all pins of a list share.
type manner struct {
	title     string
	circuit   string // letter in the drawing
	direction string
	active    string
	atRest    string // in reset, unpowered, while it is written
	wire      string
	parts     string
}

var manners = map[Kind]manner{
	Input: {"Contact inputs", "C", "in", "5 V", "0 V (input, pulled down)",
		"2 x 0.75 mm2, 24 V, each contact its own pair", "optocoupler; 1 kohm in series, 10 kohm to ground"},
	Output: {"Switched outputs", "R", "out", "5 V", "0 V (input in reset, pulled down)",
		"0.5 mm2 to the relay card, under 0.3 m", "1 kohm in series; 10 kohm to ground at the relay driver's input"},
	Pulse: {"Pulse", "D", "out", "edges", "0 V, no edges",
		"0.5 mm2, under 0.3 m", "1 kohm in series; 10 kohm to ground; capacitor in front of the watchdog"},
	Analog: {"4-20 mA inputs", "T", "in", "0.88 to 4.40 V", "0 V (no current)",
		"shielded twisted pair, shield earthed at the cabinet", "220 ohm 0.1 % to ground; 1 kohm in series, 100 nF, clamps; 50 mA fuse"},
	Encoder: {"Encoder", "E", "in", "5 V edges", "follows the encoder",
		"shielded, twisted pairs, differential", "line receiver 5 V; 1 kohm in series"},
	Setpoint: {"Set-points", "W", "out", "pulse width, 1 kHz", "0 V, no pulse (input in reset, pulled down)",
		"shielded twisted pair behind the converter", "1 kohm in series; 10 kohm to ground; isolated converter to 0-10 V or 4-20 mA"},
}

// Parts are the generated parts of docs/wiring.md, by the name of their marker.
func Parts(pins []Pin) map[string]string {
	return map[string]string{"pins": pinTables(pins), "unused": unusedTable(pins), "wires": wireTable(pins), "classes": partTable(pins)}
}

func pinTables(pins []Pin) string {
	var b strings.Builder
	for _, l := range lists {
		m := manners[l.kind]
		fmt.Fprintf(&b, "\n### %s (circuit %s)\n\nAll: direction %s; at rest %s; wire %s; parts %s.\n\n",
			m.title, m.circuit, m.direction, m.atRest, m.wire, m.parts)
		b.WriteString("| pin | port | name | at the other end | active level | means | broken wire |\n|---|---|---|---|---|---|---|\n")
		for _, p := range pins {
			if p.Kind != l.kind {
				continue
			}
			w := wordsOf(p.Name)
			fmt.Fprintf(&b, "| %s | %s | `%s` | %s | %s | %s | %s |\n", p.Label, p.At, p.Name, w.Does, active(p), w.Short, w.Broken)
		}
	}
	return b.String() + "\n"
}

// active is the level of the pin and what makes it. An inverted output is one
// whose name is its rest: the brake holds without power.
func active(p Pin) string {
	switch {
	case p.Kind == Input && p.Inverted:
		return "0 V = alarm: contact opened"
	case p.Kind == Input:
		return "5 V: contact closed"
	case p.Kind == Output && p.Inverted:
		return "5 V = energised, which ends what the name says"
	case p.Kind == Output:
		return "5 V = energised"
	}
	return manners[p.Kind].active
}

// fixed are the connections that are on every board of this class.
var fixed = []struct{ label, is, how string }{
	{"0, 1", "serial line to the USB chip", "nothing else may hang on them"},
	{"50, 51, 52 and the 6-pin header", "in-system programmer (MISO, MOSI, SCK, with RESET, 5 V, ground)",
		"nothing wired; the programmer is plugged in only with the rig off, the chain's plug out"},
	{"RESET", "reset, pulled up on the board", "nothing wired but the programmer; auto-reset cut"},
	{"5V", "5 V rail", "feeds receivers, optocouplers and pull-ups only; no relay coil; never two sources"},
	{"VIN", "supply, 7 to 9 V", "from its own isolated converter, 500 mA fuse"},
	{"GND", "0 V of the board", "joined to the protective earth at one point only"},
	{"AREF", "converter reference", "nothing wired: the program uses the 5 V supply; a voltage here destroys the chip"},
	{"3V3, IOREF", "outputs of the board", "nothing wired"},
	{"SDA, SCL (second pair)", "the same as 20 and 21", "nothing wired: the encoder is on them"},
}

func unusedTable(pins []Pin) string {
	var free []string
	for _, s := range unused(pins) {
		free = append(free, fmt.Sprintf("%s (%s)", s.label, s.at))
	}
	var b strings.Builder
	b.WriteString("\n| pin | is | what to do |\n|---|---|---|\n")
	fmt.Fprintf(&b, "| %s | unused | nothing wired: each is an input with the chip's own pull-up, so it neither floats nor drives |\n",
		strings.Join(free, ", "))
	for _, f := range fixed {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", f.label, f.is, f.how)
	}
	return b.String() + "\n"
}

// unused are the board's ports that carry nothing.
func unused(pins []Pin) []socket {
	reserved := []string{"PE0", "PE1", "PB1", "PB2", "PB3"}
	var free []socket
	for _, s := range sockets {
		used := slices.ContainsFunc(pins, func(p Pin) bool { return p.At == s.at })
		if !used && !slices.Contains(reserved, s.at) {
			free = append(free, s)
		}
	}
	return free
}
