package safety

import (
	"fmt"

	"pressrig/safety/warden"
)

// Words are what a row of the matrix is called and why it is there. What the
// row does stands in warden.Matrix and SupervisorRows.
type Words struct {
	Cause    uint8
	Name     string // short, in records and telemetry
	Sentence string // what a person reads
	Armed    string // when the condition counts
	Within   string // stated reaction time, condition to reaction
	Reason   string // why this reaction
}

// filtered is the reaction time behind the board's filter of 5 ms.
const filtered = "5 ms and a tick"

// Rows are the words of every row; docs/assessor.md is generated from them.
var Rows = [...]Words{
	{warden.CauseEstop, "emergency stop", "the emergency stop loop is open", "always", filtered,
		"overrides all; no automatic retract, because new motion may crush a hand"},
	{warden.CauseDoor, "door open", "the safety door is open while something moves or burns",
		"anything energising on, spindle turning or press not open", filtered,
		"a person is near; hands would reach flame and chuck"},
	{warden.CauseFlameLost, "flame lost", "the flame went out while fuel was open", "run and off",
		"flame-failure response", "unburnt fuel and oxygen; the spindle creeps so that soft glass does not drop; " +
			"halves that stayed shut would shrink the glass on to the mould"},
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
		"a flame at the blank, of a fixed burner a sharp one", "2 s",
		"one-sided heating: glass drips; a jammed drive is not pushed"},
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
		"always, where fitted", filtered, "enriched or explosive air"},
	{warden.CauseFlashback, "flashback", "the flashback arrestor tripped", "check to post-purge",
		filtered, "the flame went back into a line"},
	{warden.CauseFeedback, "valve feedback wrong", "a valve is not where its output says",
		"where feedback is fitted", "valve closing time and 500 ms",
		"one block is lost; the second must hold"},
	{warden.CauseTwoHand, "two-hand released", "two-hand control was released in the stroke",
		"stroke with the door open under two hands", "next tick",
		"one hand is free and may be between the halves; both must be released before the next stroke"},
	{warden.CauseBadFrames, "link noise", "too many corrupted frames: 3 in 1 s or 10 in 6 min",
		"something is energised", "next tick", "the residual error budget of the line"},
	{warden.CauseMains, "mains lost", "the mains failed", "always, where fitted", filtered,
		"spring-closed valves have shut already"},
	{warden.CauseButton, "button stuck", "START or RESET has been held too long", "always", "3 s",
		"edges count, never levels; no new stroke while it lasts"},
	{warden.CauseUnburnt, "unburnt fuel", "too much unburnt fuel within 30 s", "fuel open",
		"next tick", "at most 4 s of unburnt fuel in any 30 s, valve closing included"},
	{warden.CauseSlide, "burner slide stuck", "the burner slide did not arrive",
		"something is energised", "2 s", "the flame would heat the wrong place or meet the stroke"},
	{warden.CauseHostAbort, "abort",
		"aborted by the operator or the supervisor, or by the open button in a running stroke",
		"something is energised", "next tick",
		"the fastest safe end; who opens by hand in a stroke frees a hand"},
	{warden.CauseNV, "lockout memory failed", "the non-volatile memory does not hold its byte",
		"always", "1 s", "a lockout that power loss would clear is none"},
	{warden.CauseSetUp, "set-up switched on", "the key switch was turned to set-up during a cycle",
		"a cycle, a light-up or a turning spindle", "next tick",
		"set-up is work by hand: no gas, no recipe; a change of mode ends what ran"},
	{warden.CauseForceLost, "press force not sensed",
		"the press force is not sensed: its channel is broken, or nothing was felt at the stop",
		"press moves or works, where fitted", "20 ms broken, 300 ms at the stop",
		"a blind stroke bursts mould or glass; the over-force switch alone would be left"},
	{warden.CauseTravelLost, "press travel not sensed",
		"the press travel is not sensed: its channel is broken, or stands while the press is driven",
		"press moves or works, where fitted", "20 ms broken, 500 ms standing",
		"nobody knows where the press is: a frozen channel and a caught press look the same"},
	{warden.CauseSpindleFast, "spindle too fast or backwards",
		"the spindle turns above its limit or the wrong way", "always", "200 ms",
		"the chuck throws what it holds; a drive that does not obey is not asked to ramp"},
	{warden.CauseSpindleAsked, "spindle asked in contact",
		"the spindle was asked to turn with the mould halves in contact", "contact, where it has to stand",
		"next tick", "glass between a turning and a standing half is twisted off; the moulds break"},
	{warden.CauseHandFast, "hold-to-run too fast", "hold-to-run moved the press faster than it may",
		"hold-to-run of a driven press", "100 ms", "a hand cannot follow: the power goes, the brake holds"},
	{warden.CauseFlowOff, "flow not as asked", "a gas flows more or less than was asked for",
		"its valves open, where measured", "2 s after the 1 to 2 s that a step has to arrive",
		"another flame than the recipe's; a bottle runs empty, a desk does not obey (EN 746-2)"},
	{warden.CauseFlowOver, "flow far above what is asked", "a gas flows far above what was asked for, or with nothing asked",
		"always, where measured", "500 ms after the 1 to 2 s that a step has to arrive",
		"a desk or a valve block has failed open: no flame that anybody set, or gas into the room"},
	{warden.CauseRatio, "ratio outside its window", "oxygen to fuel is outside the profile's window",
		"oxygen open, both measured and settled", "2 s", "soot, or oxygen left over that feeds a fire (EN 746-2)"},
	{warden.CauseSharpLong, "sharp flame too long", "a sharp flame stood at the blank longer than the profile allows",
		"oxygen, or more fuel than a soft flame, at the blank", "next tick",
		"a daemon that goes on asking without looking melts glass, mould and machine"},
	{warden.CauseChuck, "chuck not clamped", "the chuck is not clamped while the spindle turns or the press pushes",
		"spindle powered or press pushing, where fitted", "100 ms",
		"the mould half would fly or tilt; a controlled stop is the gentlest"},

	{RowThermoBroken, "thermometer broken", "the glass thermometer is broken or out of range",
		"view free, needed", "500 ms", "neither overheating nor pressing cold glass can be excluded"},
	{RowThermoNonsense, "thermometer implausible",
		"the glass thermometer is stuck, jumps or does not rise under the flame",
		"view free; no rise only while heating up", "5 s stuck, 20 s no rise",
		"the same; no rise may also mean that the flame misses the piece"},
	{RowTooHot, "glass too hot", "the glass is hotter than this phase allows", "view free",
		"500 ms", "glass runs; keep it turning"},
	{RowLinkLost, "no word from the rig",
		"no word from the rig: its state is unknown, use the emergency stop", "a cycle runs",
		"500 ms", "the daemon cannot do anything; the warden has acted by itself"},
	{RowDaemonRestarted, "daemon restarted", "the daemon ended during the cycle", "at its start",
		"at once", "a recipe never resumes"},
	{RowWallClock, "wall clock set", "the wall clock was set; running time is not touched",
		"always", "1 s", "timers are monotonic"},
	{RowClocksDiffer, "clocks differ", "the clocks of host and rig differ by more than 1 s",
		"a cycle runs", "10 s", "a suspended host has lost the recipe's time"},
	{RowJournalAtStart, "journal not writable",
		"the journal cannot be written: no cycle may start", "start", "at once",
		"no untraceable cycle"},
	{RowJournalRunning, "journal failed", "the journal failed: this cycle ends, no other may start",
		"a cycle runs", "1 s", "aborting hot glass would add risk"},
	{RowBrokerLost, "broker lost", "the telemetry broker is lost", "always", "10 s",
		"telemetry only"},
	{RowImplausible, "board contradicts itself",
		"the board says what cannot be so: press the emergency stop, shut the gas by hand, do not trust the board",
		"always, in every snapshot", "the contradicted rule's own time and 300 ms",
		"a defective board or program may say anything; the emergency stop does not need it"},
}

// wordsOf finds the words of a row; nil for a number that no row has.
func wordsOf(cause uint8) *Words {
	for i := range Rows {
		if Rows[i].Cause == cause {
			return &Rows[i]
		}
	}
	return nil
}

// Name is the short name of a row, "none" for 0 and "cause N" for a number
// that no row has.
func Name(cause uint8) string {
	if cause == 0 {
		return "none"
	}
	if w := wordsOf(cause); w != nil {
		return w.Name
	}
	return fmt.Sprintf("cause %d", cause)
}

// Sentence says in one sentence what the row means; "" for 0.
func Sentence(cause uint8) string {
	if cause == 0 {
		return ""
	}
	if w := wordsOf(cause); w != nil {
		return w.Sentence
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
