package proof

import (
	"time"

	"pressrig/rig"
	"pressrig/safety"
)

// Notice is what everybody who proves a function has to be told.
const Notice = safety.Notice + " A proof test finds hidden faults; it does not " +
	"replace the yearly check of gas, interlocks and guards by a licensed person."

// Step is the proof test of one protective function of one rig.
type Step struct {
	Function string // its name in the profile's proof_tests
	Title    string
	Lacks    string // what the rig would need and has not, "" when it can be proven
	Cautions []string
	Do       []string
	See      string // what must be seen
	After    string // how everything is put back, also after a failed proof
	Limit    string // with its source, "" where a switch only has to act
	Most     float64
	Unit     string // of the measured value, "" for none
	Every    time.Duration
	EveryWhy string // the usual interval and its source

	stages []stage
}

// Fitted reports whether this rig has the function.
func (s *Step) Fitted() bool { return s.Lacks == "" }

// Steps are the proof steps of a rig, in the order in which they are best made;
// those of functions that are not fitted say what is missing.
func Steps(p *rig.Profile) []Step {
	makers := map[string]func(*rig.Profile) Step{
		"estop": estop, "door": door, "lockout_memory": lockoutMemory, "watchdog": watchdog,
		"flame_dark":          flameDark,
		"fuel_pressure_low":   fuelLow,
		"fuel_pressure_high":  fuelHigh,
		"oxygen_pressure_low": oxygenLow, "oxygen_pressure_high": oxygenHigh,
		"press_open": pressOpen, "press_end": pressEnd, "two_hand": twoHand, "over_force": overForce,
		"gas_alarm": gasAlarm, "flashback": flashback, "extraction": extraction,
		"flame_seen": flameSeen, "flame_loss": flameLoss, "lease": lease,
		"bus_a": busA, "alarm_signals": alarmSignals, "press_stopping": pressStopping, "press_brake": pressBrake,
		"relief_valve": reliefValve, "spindle_sensor": spindleSensor, "spindle_run_down": spindleRunDown,
		"safe_torque_off": safeTorqueOff, "fan_run_on": fanRunOn, "set_up_key": setUpKey,
		"fuel_valve_1": fuelValve1, "fuel_valve_2": fuelValve2, "oxygen_valve": oxygenValve,
	}
	var steps []Step
	for _, name := range rig.ProofFunctions() {
		s := makers[name](p)
		s.Function, s.Lacks = name, p.LacksFor(name)
		s.After = "Put everything back: " + s.After
		steps = append(steps, s)
	}
	return steps
}

// StepNamed finds a step by its function.
func StepNamed(steps []Step, function string) (*Step, bool) {
	for i := range steps {
		if steps[i].Function == function {
			return &steps[i], true
		}
	}
	return nil, false
}

// The usual intervals. A day is worth two decades of probability over a year:
// PFD_avg = lambda x T1 / 2.
const (
	day   = 24 * time.Hour
	week  = 7 * day
	month = 30 * day
	year  = 365 * day

	monthlyWhy = "monthly: common practice, no source"
	dailyWhy   = "daily, at the start of work: common practice, no source"
	weeklyWhy  = "weekly: common practice, no source"
	yearlyWhy  = "yearly: NFPA 86, testing of interlocks and of valve seats, from memory"
)

func (s Step) daily() Step   { s.Every, s.EveryWhy = day, dailyWhy; return s }
func (s Step) weekly() Step  { s.Every, s.EveryWhy = week, weeklyWhy; return s }
func (s Step) monthly() Step { s.Every, s.EveryWhy = month, monthlyWhy; return s }
func (s Step) yearly() Step  { s.Every, s.EveryWhy = year, yearlyWhy; return s }

// Longest waits, in seconds: for a hand at the rig, for work with cocks and
// gauges, and for a light-up with its purge.
const (
	handS  = 60
	workS  = 600
	lightS = 600 // the unburnt-fuel budget of a failed flame drains for minutes
)

// reads holds a switch to how it must read while nothing is done.
func reads(bit uint32, on bool, forMs uint32, says, why string) stage {
	return stage{act: ActWait, says: says, proves: true, longestS: handS, bit: bit, ai: none,
		late: "no word from the rig", look: func(j *Judge) verdict {
			switch {
			case j.snap.Has(bit) != on:
				return failed(why)
			case j.lookedMs() >= forMs:
				return next
			}
			return stay
		}}
}

// none is no channel.
const none int8 = -1

// turns waits for a switch to change by what a person does.
func turns(act Act, bit uint32, on bool, says, late string) stage {
	return stage{act: act, says: says, proves: true, longestS: handS, late: late, bit: bit, ai: none,
		look: func(j *Judge) verdict {
			if j.snap.Has(bit) == on {
				return next
			}
			return stay
		}}
}

// ready waits for what the proof stands on.
func ready(act Act, says, late string, longestS uint64, is func(*Judge) bool) stage {
	return stage{act: act, says: says, longestS: longestS, late: late, ai: none,
		look: func(j *Judge) verdict {
			if is(j) {
				return next
			}
			return stay
		}}
}
