package rig

import (
	"slices"
	"strings"
	"time"

	"pressrig/units"
	"pressrig/yamlfile"
)

// Proof-test intervals lie between these: often enough to mean something, and
// at most a year apart with some days to spare, because interlocks and valve
// seats are tested yearly (NFPA 86, from memory).
const (
	leastProofH = 1.0
	mostProofH  = 400 * 24.0
)

// proofFunctions are the protective functions that a proof test is made for,
// in the order in which they are best proven: each with the switches and
// channels that must be fitted, "" for none.
var proofFunctions = []struct{ name, needs string }{
	{"estop", "estop_ok"},
	{"watchdog", "watchdog_ok"},
	{"bus_a", "estop_ok"},
	{"door", "door_closed"},
	{"lockout_memory", "estop_ok"},
	{"alarm_signals", ""},
	{"flame_dark", "flame"},
	{"fuel_pressure_low", "fuel_pressure_low"},
	{"fuel_pressure_high", "fuel_pressure_high"},
	{"oxygen_pressure_low", "oxygen_pressure_low"},
	{"oxygen_pressure_high", "oxygen_pressure_high"},
	{"press_open", "press_open"},
	{"press_end", "press_end"},
	{"press_stopping", "hold_close travel"},
	{"press_brake", ""},
	{"relief_valve", ""},
	{"two_hand", "two_hand_left"},
	{"over_force", "over_force"},
	{"spindle_sensor", turning},
	{"spindle_run_down", turning},
	{"safe_torque_off", turning},
	{"gas_alarm", "gas_alarm"},
	{"flashback", "flashback"},
	{"extraction", "extraction"},
	{"fan_run_on", "extraction"},
	{"set_up_key", "set_up flame"},
	{"flame_seen", "flame"},
	{"flame_loss", "flame"},
	{"lease", ""},
	{"fuel_valve_2", ""}, // first: it needs the gas that a light-up left between the valves
	{"fuel_valve_1", ""},
	{"oxygen_valve", ""},
}

// turning is what a person turns the spindle by and sees it with.
const turning = "set_up hold_turn spindle"

// ProofFunctions are the names of the protective functions that a proof test
// is made for, in the order in which they are best proven.
func ProofFunctions() []string {
	names := make([]string, len(proofFunctions))
	for i := range proofFunctions {
		names[i] = proofFunctions[i].name
	}
	return names
}

// LacksFor says what of this rig a proof test of the function would need and
// the profile does not list, "" when nothing is missing.
func (p *Profile) LacksFor(function string) string {
	if !p.Board {
		return "a board: nothing here is read by software"
	}
	for _, f := range proofFunctions {
		if f.name != function {
			continue
		}
		for need := range strings.FieldsSeq(f.needs) {
			if p.Sensors[need] {
				continue
			}
			if _, channel := ChannelNamed(need); channel {
				return "the channel " + need
			}
			return "the switch " + need
		}
	}
	switch {
	case function == "press_stopping" && p.Press.Stopping == 0:
		return "press.stopping, the longest stop as measured at commissioning"
	case function == "spindle_run_down" && p.Spindle.RunDown == 0:
		return "spindle.run_down, the longest as measured at commissioning"
	case function == "relief_valve" && p.Press.Relief == 0:
		return "press.relief, the pressure of its relief valve"
	}
	if strings.HasPrefix(function, "oxygen_") && !p.Gas.Oxygen {
		return "oxygen"
	}
	return ""
}

func (p *Profile) proofs(n yamlfile.Node) {
	if !n.Present() {
		return
	}
	p.Proof = map[string]time.Duration{}
	pairs := n.AnyMap().Pairs()
	if len(pairs) > mostProofs {
		n.Fault("too many proof tests", "write at most 64")
		return
	}
	for _, kv := range pairs {
		name := kv.Key.Ident(mostName)
		seconds := kv.Value.Quantity(units.Time, leastProofH*3600, mostProofH*3600)
		switch known := ProofFunctions(); {
		case name == "":
		case !slices.Contains(known, name):
			right := "known: " + strings.Join(known, ", ")
			if near := yamlfile.Near(name, known); near != "" {
				right = "did you mean " + near + "? " + right
			}
			kv.Key.Fault("no protective function is called "+quote(name), right)
		case p.LacksFor(name) != "":
			kv.Key.Fault(name+" cannot be proven on this rig",
				"take it out, or fit "+p.LacksFor(name))
		default:
			p.Proof[name] = time.Duration(seconds * float64(time.Second))
		}
	}
}
