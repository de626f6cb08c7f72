package safety

import "pressrig/safety/warden"

// WardenRow gives a row of the warden's matrix its words. What the row does is
// warden.Matrix.
type WardenRow struct {
	Cause    uint8
	Name     string // short, in records and telemetry
	Sentence string // what a person reads
	Armed    string // when the condition counts
	Within   string // stated reaction time, condition to reaction
	Reason   string // why this reaction
}

// WardenRows are the warden's rows in order of number; docs/safety.md is
// generated from them.
var WardenRows = [...]WardenRow{
	{warden.CauseEstop, "emergency stop", "the emergency stop loop is open", "always", "next tick",
		"overrides all; no automatic retract, because new motion may crush a hand"},
	{warden.CauseDoor, "door open", "the safety door is open while something moves or burns",
		"anything energising on, spindle turning or press not open", "next tick",
		"a person is near; hands would reach flame and chuck"},
	{warden.CauseFlameLost, "flame lost", "the flame went out while fuel was open", "run and off",
		"flame-failure response", "unburnt fuel and oxygen; the spindle creeps so that soft glass does not drop"},
	{warden.CauseNoIgnition, "no ignition", "the flame was not proven within the trial",
		"trial and proof", "next tick", "the leak budget of 4 s in 30 s allows one attempt"},
	{warden.CauseFalseFlame, "false flame", "a flame is seen where none can be",
		"before ignition, and from 2 s after fuel was shut", "100 ms",
		"a blind sensor or a leaking valve; if gas really burns, shut the cylinder"},
	{warden.CauseFuelLow, "fuel pressure low", "fuel pressure is too low", "check to post-purge",
		"200 ms", "the flame lifts or burns back; oxygen may flow into the fuel line"},
	{warden.CauseFuelHigh, "fuel pressure high", "fuel pressure is too high", "check to post-purge",
		"200 ms", "a regulator has failed"},
	{warden.CauseOxygenLow, "oxygen pressure low", "oxygen pressure is too low",
		"check to post-purge", "200 ms", "fuel may enter the oxygen line; a long sooty flame"},
	{warden.CauseOxygenHigh, "oxygen pressure high", "oxygen pressure is too high",
		"check to post-purge", "200 ms", "the flame blows off; the burner melts"},
	{warden.CauseSpindleStill, "spindle still", "the spindle does not turn while the glass is heated",
		"sharp flame at the blank", "2 s", "one-sided heating: glass drips; a jammed drive is not pushed"},
	{warden.CausePressState, "spindle not in press state",
		"the spindle left its press state before contact", "closing above contact", "next tick",
		"pressing a misaligned piece breaks the mould; the piece is still good"},
	{warden.CauseSpindleStall, "spindle stalled", "the spindle stalled in contact", "contact",
		"500 ms", "torsion on glass and mould; open by hold-to-run"},
	{warden.CauseOverForce, "over-force", "the press force is too high", "always", "next tick",
		"mould or glass bursts; a full retract may tear sticking glass off; open by hold-to-run"},
	{warden.CauseOverTravel, "over-travel", "the press is past its last position", "always",
		"next tick", "position no longer known; the hardware end switch comes first"},
	{warden.CauseNotOpenForHeat, "burner and press in each other's way",
		"heat is wanted while the press is not open, or the burner stands in the stroke",
		"run; closing above contact", "200 ms", "the plunger would stand in the flame"},
	{warden.CauseLeftOpen, "press left open", "the press left open while the burner heats",
		"flame at the blank", "next tick", "unexpected motion"},
	{warden.CauseStuck, "press does not open", "the press does not open: the glass sticks",
		"opening", "500 ms at the pull limit", "pulling throws glass; waiting shrinks it loose"},
	{warden.CauseLinkLost, "link lost", "no live lease from the host", "something is energised",
		"500 ms and a tick", "heat must not go on unseen; creep saves the piece and prevents hot drops"},
	{warden.CauseRestart, "restarted", "the microcontroller restarted during a light-up or lockout",
		"power-up", "at once", "outputs are off by hardware; the position is lost until seen open"},
	{warden.CauseExtraction, "extraction lost", "extraction is not proven", "check to post-purge",
		"500 ms with fuel open, 10 s in purge", "carbon monoxide, nitrogen oxides and leaks build up"},
	{warden.CauseGasAlarm, "gas alarm", "the gas or oxygen detector (23.5 % oxygen) alarms",
		"always, where fitted", "next tick", "enriched or explosive air"},
	{warden.CauseFlashback, "flashback", "the flashback arrestor tripped", "check to post-purge",
		"next tick", "the flame went back into a line"},
	{warden.CauseFeedback, "valve feedback wrong", "a valve is not where its output says",
		"where feedback is fitted", "valve closing time and 500 ms",
		"one block is lost; the second must hold"},
	{warden.CauseBadFrames, "link noise", "too many corrupted frames: 3 in 1 s or 10 in 6 min",
		"something is energised", "next tick", "the residual error budget of the line"},
	{warden.CauseMains, "mains lost", "the mains failed", "always, where fitted", "next tick",
		"spring-closed valves have shut already"},
	{warden.CauseButton, "button stuck", "START or RESET has been held too long", "always", "3 s",
		"edges count, never levels; no new stroke while it lasts"},
	{warden.CauseUnburnt, "unburnt fuel", "too much unburnt fuel within 30 s", "fuel open",
		"next tick", "at most 4 s of unburnt fuel in any 30 s, valve closing included"},
	{warden.CauseSlide, "burner slide stuck", "the burner slide did not arrive",
		"something is energised", "2 s", "the flame would heat the wrong place or meet the stroke"},
	{warden.CauseHostAbort, "abort", "aborted by the operator or the supervisor",
		"something is energised", "next tick", "the fastest safe end"},
	{warden.CauseNV, "lockout memory failed", "the non-volatile memory does not hold its byte",
		"always", "1 s", "a lockout that power loss would clear is none"},
}

// Name is the short name of a row, "none" for 0 and "cause N" for a number
// that no row has.
func Name(cause uint8) string {
	if cause == 0 {
		return "none"
	}
	for i := range WardenRows {
		if WardenRows[i].Cause == cause {
			return WardenRows[i].Name
		}
	}
	for i := range SupervisorRows {
		if SupervisorRows[i].Row == cause {
			return SupervisorRows[i].Sentence
		}
	}
	return "cause " + digits(cause)
}

// Sentence says in one sentence what the row means; "" for 0.
func Sentence(cause uint8) string {
	if cause == 0 {
		return ""
	}
	for i := range WardenRows {
		if WardenRows[i].Cause == cause {
			return WardenRows[i].Sentence
		}
	}
	return Name(cause)
}

// Names lists the rows of a set, lowest number first.
func Names(set uint64) []string {
	var names []string
	for cause := range uint8(64) {
		if set&(1<<cause) != 0 {
			names = append(names, Name(cause))
		}
	}
	return names
}

func digits(n uint8) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return digits(n/10) + string(rune('0'+n%10))
}
