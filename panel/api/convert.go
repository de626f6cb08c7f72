package api

import (
	"pressrig/controller"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// Causes says a row of the cause-and-effect matrix in words.
type Causes func(row uint8) string

// Words of what the daemon and the warden report as numbers, by number.
var (
	spindleWords = [...]string{"off", "run", "creep", "ramp", "hand"}
	linkWords    = [...]string{"down", "up", "armed", "started"}
	lockWords    = [...]string{"none", "hold", "abort", "lockout"}
	recordWords  = [...]string{"", "start", "phase_begin", "phase_end", "state", "trip", "mark",
		"measure", "prompt", "answer", "command", "alarm", "end"}
)

func word(words []string, n uint8) string {
	if int(n) < len(words) {
		return words[n]
	}
	return "unknown"
}

// LockWord names how far the warden is latched.
func LockWord(lock uint8) string { return word(lockWords[:], lock) }

// StatusOf puts a status into the words of the API.
func StatusOf(s *controller.Status, causes Causes) Status {
	out := Status{
		State: s.State.String(), Cycle: s.Cycle, Run: s.Run, Piece: s.Piece, Recipe: s.Recipe,
		Phase: int(s.Phase), PhaseName: s.PhaseName, PhaseKind: string(s.PhaseKind),
		Doing: s.Doing, PhaseS: seconds(s.PhaseMs), CycleS: seconds(s.CycleMs),
		Armed: s.Armed, Refired: s.Refired, Reason: s.Reason, Lock: LockWord(s.Lock),
		AckNeeded: s.AckNeeded, Line: s.Line, Contradiction: s.Contradiction,
	}
	if s.LeftMs >= 0 {
		left := float64(s.LeftMs) / 1000
		out.LeftS = &left
	}
	if s.Prompt != 0 {
		out.Prompt = &Prompt{s.Prompt, s.PromptTxt}
	} else {
		out.Notice = s.PromptTxt
	}
	out.FirstCause = causeOf(s.Cause, causes)
	for row := uint8(1); row < 64; row++ {
		if s.Alarms&(1<<row) != 0 {
			out.Alarms = append(out.Alarms, *causeOf(row, causes))
		}
	}
	return out
}

func causeOf(row uint8, causes Causes) *Cause {
	if row == 0 {
		return nil
	}
	return &Cause{row, causes(row)}
}

// SnapshotOf puts a snapshot into the words of the API. What the rig does not
// vouch for is null.
func SnapshotOf(s *rig.Snapshot, ageMs int64) *Snapshot {
	out := &Snapshot{
		StampMs: s.StampMs, AgeMs: ageMs,
		GlassC: analog(s, warden.AiGlass), GlassSeen: s.Flags&rig.FlagViewFree != 0,
		MouldLowerC: analog(s, warden.AiMouldLower), MouldUpperC: analog(s, warden.AiMouldUpper),
		TravelMM: analog(s, warden.AiTravel), ForceN: analog(s, warden.AiForce),
		SpindleRPM: analog(s, warden.AiSpindle),
		FuelLMin:   analog(s, warden.AiFuelFlow), OxygenLMin: analog(s, warden.AiOxygenFlow),
		FuelBar: analog(s, warden.AiFuelPressure), OxygenBar: analog(s, warden.AiOxygenPressure),
		Inputs: []string{}, Outputs: []string{},
		Burner: trials.BurnerWord(s.Burner), Press: trials.PressWord(s.Press),
		Spindle: word(spindleWords[:], s.Spindle), Link: word(linkWords[:], s.Link),
		Flame: s.Has(warden.InFlame), DoorClosed: s.Has(warden.InDoorClosed),
		EstopOK: s.Has(warden.InEstopOK), BurnerClear: s.Has(warden.InBurnerClear),
		BurnerAtBlank: s.Has(warden.InBurnerAtBlank),
		PressTouching: s.Flags&rig.FlagTouching != 0, PressHomed: s.Flags&rig.FlagHomed != 0,
		BadFrames: s.BadFrames, MissedRequests: s.Gaps,
	}
	for _, in := range rig.Switches {
		if s.Has(in.Bit) {
			out.Inputs = append(out.Inputs, in.Name)
		}
	}
	for _, o := range trials.Drives {
		if s.Drives(o.Bit) {
			out.Outputs = append(out.Outputs, o.Name)
		}
	}
	return out
}

// analog is channel ai in its base unit, or nil when it is not valid.
func analog(s *rig.Snapshot, ai uint8) *float64 {
	if !s.OK(ai) {
		return nil
	}
	v := inUnit(int32(s.Analog[ai]), rig.Analogs[ai].Scale)
	return &v
}

// inUnit divides where the scale is a decimal fraction, so that 7801 counts
// print as 780.1 and not as 780.1000000000001.
func inUnit(count int32, scale float64) float64 {
	if scale < 1 {
		return float64(count) / float64(int64(1/scale+0.5))
	}
	return float64(count) * scale
}

// RecordOf puts a record into the words of the API under its number.
func RecordOf(number uint64, r *controller.Record, causes Causes) Record {
	out := Record{
		Number: number, AtS: seconds(r.ElapsedMs), Kind: word(recordWords[:], uint8(r.Kind)),
		Cycle: r.Cycle, Phase: int(r.Phase), Name: r.Name, Value: r.Value, Unit: r.Unit,
		Reason: r.Reason, Cause: causeOf(r.Cause, causes), Lock: r.Lockout, Prompt: r.Prompt,
		By: r.By, User: r.User,
	}
	if r.State != 0 {
		out.State = r.State.String()
	}
	if r.Kind == controller.RecCommand {
		out.Name = r.Command.String()
	}
	return out
}

func seconds(ms uint64) float64 { return float64(ms) / 1000 }
