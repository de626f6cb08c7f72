package proof

import (
	"fmt"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// Requirement is a safety function of the rig's hardware, for the assessor. The
// program carries none of them: Causes are what it names beside them.
type Requirement struct {
	Function string
	Stop     string // stop category after IEC 60204-1 9.2.2, or what it is instead
	Hardware string
	Causes   []uint8
	Proofs   []string // names of rig.ProofFunctions; none: by hand
	ByHand   string   // what docs/maintenance.md tries of it
}

// Requirements are all of them.
var Requirements = [...]Requirement{
	{"emergency stop", "1 for the spindle, 0 for all else", "monitored relay K1, delayed contacts", []uint8{warden.CauseEstop},
		[]string{"estop", "bus_a"}, ""},
	{"safety door", "1 for the spindle, 0 for oxygen, slide and closing", "coded switch, relay K2, lock with standstill monitor K5",
		[]uint8{warden.CauseDoor}, []string{"door", "spindle_run_down", "press_stopping"}, "door lock, stopping time"},
	{"two-hand control", "0", "type III C relay K3", []uint8{warden.CauseTwoHand}, []string{"two_hand", "press_stopping"}, "stopping time"},
	{"flame supervision, fuel", "0", "certified burner control A2, valves Y1 and Y2",
		[]uint8{warden.CauseFlameLost, warden.CauseNoIgnition, warden.CauseFalseFlame},
		[]string{"flame_dark", "flame_seen", "flame_loss", "fuel_valve_1", "fuel_valve_2"}, ""},
	{"oxygen only behind a flame", "0", "repeater KFR, valves Y3 and Y4", []uint8{warden.CauseFlameLost}, []string{"oxygen_valve"}, "mirror contacts"},
	{"fuel pressure", "0", "switches B1 and B2 in bus G", []uint8{warden.CauseFuelLow, warden.CauseFuelHigh}, []string{"fuel_pressure_low", "fuel_pressure_high"}, ""},
	{"oxygen pressure", "0", "switches B3 and B4 in bus G", []uint8{warden.CauseOxygenLow, warden.CauseOxygenHigh}, []string{"oxygen_pressure_low", "oxygen_pressure_high"}, ""},
	{"extraction", "0 for gas", "flow switch B5 in bus G; the fan runs on", []uint8{warden.CauseExtraction}, []string{"extraction", "fan_run_on"}, ""},
	{"gas and oxygen alarm", "0 for gas", "detector B6 in bus G", []uint8{warden.CauseGasAlarm}, []string{"gas_alarm"}, ""},
	{"people are called away", "none: horn and lamp", "horn, lockout lamp", []uint8{warden.CauseFalseFlame, warden.CauseGasAlarm, warden.CauseFeedback, warden.CauseUnburnt},
		[]string{"alarm_signals"}, ""},
	{"flashback", "0 for gas", "arrestors; switch B7 in bus G", []uint8{warden.CauseFlashback}, []string{"flashback"}, "arrestors"},
	{"over-travel", "0 for what closes", "direct-opening switch B9", []uint8{warden.CauseOverTravel}, []string{"press_end"}, ""},
	{"over-force", "0 for what closes", "switch B10, relief valve", []uint8{warden.CauseOverForce}, []string{"over_force", "relief_valve"}, ""},
	{"press holds without power", "none: spring and gravity", "brake or counterbalance", nil, []string{"press_brake"}, ""},
	{"release of a trapped person", "none: by hand", "manual release of the press", nil, nil, "manual release"},
	{"spindle not driven", "0 or 1", "safe torque off of A5", []uint8{warden.CauseSpindleStill},
		[]string{"safe_torque_off", "spindle_sensor"}, ""},
	{"no gas at set-up", "0 for gas", "second contact of key S9 in bus G", []uint8{warden.CauseSetUp}, []string{"set_up_key"}, ""},
	{"board hangs or runs slow", "0 for all", "window watchdog K4", nil, []string{"watchdog"}, "pulse of 400 and 600 Hz"},
	{"board hangs", "0 for all, by its reset; not independent of the board", "the microcontroller's own watchdog", nil,
		nil, "own watchdog"},
}

// RequirementsTable is the table of docs/requirements.md. The performance level
// stays empty: it is the assessor's.
func RequirementsTable() string {
	var b strings.Builder
	b.WriteString("| # | safety function | stop category | hardware | the program beside it: row, within | proof | by hand | level (assessor) |\n" +
		"|---|---|---|---|---|---|---|---|\n")
	for i := range Requirements {
		r := &Requirements[i]
		var rows []string
		for _, c := range r.Causes {
			for _, w := range safety.Rows {
				if w.Cause == c {
					rows = append(rows, fmt.Sprintf("%d %s: %s", c, w.Name, w.Within))
				}
			}
		}
		fmt.Fprintf(&b, "| %d | %s | %s | %s | %s | %s | %s | |\n", i+1, r.Function, r.Stop, r.Hardware,
			orDash(strings.Join(rows, "; ")), orDash(strings.Join(r.Proofs, ", ")), orDash(r.ByHand))
	}
	return b.String()
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// PeriodsTable is the table of proofs in docs/maintenance.md: functions by
// their usual interval, the shortest first.
func PeriodsTable(p *rig.Profile) string {
	var b strings.Builder
	b.WriteString("| how often | tests |\n|---|---|\n")
	steps := Steps(p)
	var periods []string
	tests := map[string][]string{}
	for _, every := range []time.Duration{day, week, month, year} {
		for i := range steps {
			s := &steps[i]
			if s.Every != every {
				continue
			}
			if tests[s.EveryWhy] == nil {
				periods = append(periods, s.EveryWhy)
			}
			tests[s.EveryWhy] = append(tests[s.EveryWhy], "`"+s.Function+"`")
		}
	}
	for _, why := range periods {
		fmt.Fprintf(&b, "| %s | %s |\n", why, strings.Join(tests[why], ", "))
	}
	return b.String()
}
