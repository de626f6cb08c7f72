package campaign

import (
	"strconv"
)

// step is one action of a provocation, so long after its beginning.
type step struct {
	afterMs uint64
	what    string
}

// provocation brings one cause about, or one error of the line.
type provocation struct {
	name  string // row of the matrix, or the error's name
	steps []step
	// rows may be the first cause that comes of it: its own, and those that the
	// same fault is in another phase.
	rows []uint8
	rig  string // "" for the rig that has everything
	// waits are the states, other than complete, in which a cycle may end that no
	// row has locked: a missing permit stops or holds it.
	waits []string
	// same: nothing that the warden drives may differ from a run without it.
	same bool
}

var (
	stops = []string{"stopped"}         // no light-up, no START
	holds = []string{"stopped", "held"} // or no stroke
)

func provoke(name string, rows []uint8, what ...string) provocation {
	p := provocation{name: name, rows: rows}
	for _, w := range what {
		p.steps = append(p.steps, step{0, w})
	}
	return p
}

// or names the states in which the cycle may wait in vain.
func (p provocation) or(states ...string) provocation {
	p.waits = states
	return p
}

// provocations are the rows of the matrix in their order, then the eight errors
// of a line (IEC 61784-3:2021 5.5, as listed in OPC 10000-15 table 2).
var provocations = [...]provocation{
	provoke("1", []uint8{1}, "fault estop"),
	provoke("2", []uint8{2}, "fault door_open").or(holds...),
	provoke("3", []uint8{3, 4}, "fault flame_out"),
	provoke("4", []uint8{4}, "fault igniter_dead"),
	provoke("5", []uint8{5}, "fault stuck flame on"),
	provoke("6", []uint8{6}, "fault fuel_pressure 20 %"),
	provoke("7", []uint8{7}, "fault fuel_pressure 200 %"),
	provoke("8", []uint8{8}, "fault oxygen_pressure 20 %"),
	provoke("9", []uint8{9}, "fault oxygen_pressure 200 %"),
	provoke("10", []uint8{10}, "fault spindle_stall").or(holds...),
	provoke("11", []uint8{11}, "fault offset spindle 30 rpm").or(holds...),
	{name: "12", rows: []uint8{12, 11, 10}, waits: holds, rig: "turning", steps: []step{{0, "fault spindle_stall"}}},
	provoke("13", []uint8{13}, "fault stuck over_force on"),
	provoke("14", []uint8{14}, "fault stuck press_end on"),
	provoke("15", []uint8{15, 39}, "fault stuck burner_clear off").or(holds...),
	provoke("16", []uint8{16, 15, 14, 17}, "fault stuck press_open off", "fault offset travel 10 mm").or(holds...),
	provoke("17", []uint8{17}, "fault glass_stuck"),
	provoke("18", []uint8{18}, "fault lost glass").or(holds...), // cold glass cannot be read either
	provoke("19", []uint8{19}, "fault stuck glass"),
	{name: "20", rows: []uint8{20}, waits: holds, steps: hotter()},
	provoke("21", []uint8{21, 22}, "fault line_cut"),
	provoke("22", []uint8{22, 21}, "fault line_cut"),
	provoke("23", []uint8{23}, "fault mcu_reset"),
	provoke("24", []uint8{21}, "daemon restart").or("idle"),
	{name: "25", same: true}, // the machine has no wall clock: there is nothing to turn
	provoke("26", []uint8{26, 40}, "clock 4000"),
	provoke("27", []uint8{27, 28}, "journal off").or("idle"),
	{name: "28", rows: []uint8{28}, same: true, steps: []step{{0, "journal off"}}},
	{name: "29", same: true}, // nor has it a broker
	provoke("30", []uint8{30}, "fault extraction_fail"),
	provoke("31", []uint8{31}, "fault stuck gas_alarm on"),
	provoke("32", []uint8{32}, "fault stuck flashback on"),
	provoke("33", []uint8{33}, "fault fuel1_stuck_open"),
	{name: "34", rows: []uint8{34, 2}}, // two hands let go: see held in cases.go
	provoke("35", []uint8{35, 21, 22}, "fault line_flip 20 %"),
	provoke("36", []uint8{36}, "fault stuck mains_ok off"),
	provoke("37", []uint8{37}, "fault press START for 3600 s").or(holds...),
	{name: "38", rows: []uint8{38, 4}, steps: flicker()},
	provoke("39", []uint8{39}, "fault slide_jam"),
	provoke("40", []uint8{40}, "command abort").or("aborted"),
	provoke("41", []uint8{41}, "fault nv_dead"),
	provoke("42", []uint8{42}, "fault set_up").or(stops...),
	provoke("43", []uint8{43}, "fault lost force").or(holds...),
	provoke("44", []uint8{44}, "fault lost travel").or(holds...),
	provoke("45", []uint8{45, 11}, "fault spindle_fixed 300 rpm").or(holds...),
	{name: "46", same: true}, // the machine never asks for it: the hostile walks do
	{name: "47", same: true}, // nor is the press moved by hand in a cycle
	provoke("48", []uint8{48}, "fault chuck_open").or(holds...),
	provoke("49", []uint8{49, 4, 3}, "fault fuel_flow_gain 60 %").or(holds...),
	provoke("50", []uint8{50, 49}, "fault fuel_flow_gain 600 %").or(holds...),
	{name: "51", same: true}, // no recipe asks for such a flame
	{name: "52", same: true}, // nor for so long a one
	{name: "60", same: true}, // the simulated board never lies: rehearse's TestLyingWardenIsFound

	provoke("corruption", []uint8{35, 21, 22}, "fault line_flip 1 %").or(stops...),
	provoke("repetition", nil, "fault line_repeat 100 %"),
	provoke("sequence", nil, "fault line_swap 50 %"),
	provoke("loss", nil, "fault line_drop 30 %"),
	provoke("delay", []uint8{21, 22}, "fault line_delay 300 ms").or("stopped", "aborted"),
	provoke("insertion", nil, "foreign session"),
	provoke("masquerade", []uint8{35, 21, 22}, "foreign text").or(stops...),
	provoke("addressing", nil, "foreign device"),
}

// hotter lets the thermometer read more and more, each step too small to be
// taken for a jump.
func hotter() []step {
	var s []step
	for i := range uint64(14) {
		s = append(s, step{100 * i, "fault offset glass 45 K"})
	}
	return s
}

// flicker lets the flame sensor drop out, each time for less than the
// flame-failure response, until the budget of unburnt fuel is used up.
func flicker() []step {
	var s []step
	for i := range uint64(8) {
		s = append(s, step{760 * i, "fault stuck flame off for 700 ms"})
	}
	return s
}

func provocationNamed(name string) (*provocation, bool) {
	for i := range provocations {
		if provocations[i].name == name {
			return &provocations[i], true
		}
	}
	return nil, false
}

// row is the row of the matrix that it is about, 0 for an error of the line.
func (p *provocation) row() uint8 {
	n, err := strconv.ParseUint(p.name, 10, 8)
	if err != nil {
		return 0
	}
	return uint8(n)
}

func lineErrors() []string {
	var names []string
	for i := range provocations {
		if provocations[i].row() == 0 {
			names = append(names, provocations[i].name)
		}
	}
	return names
}
