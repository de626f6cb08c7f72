package campaign

import (
	"fmt"
	"strconv"
	"strings"

	"pressrig/controller"
	"pressrig/drivers/bench"
)

// Action is one thing that happens in a run.
type Action struct {
	AtMs uint64 // since the rig was switched on
	What string // one of the words below, with what follows it
}

// Words that begin an action.
const (
	wordProvoke = "provoke" // a provocation by its name, like "provoke 10"
	wordFault   = "fault"   // a fault of the bench, like "fault flame_out for 3 s"
	wordCommand = "command" // a command of IEC 61512-1, like "command hold"
	wordAck     = "ack"     // the operator acknowledges
	wordReset   = "reset"   // RESET at the rig is pushed
	wordJournal = "journal" // "journal off": it cannot be written any more
	wordClock   = "clock"   // "clock 4000": the host's clock jumps ahead, ms
	wordDaemon  = "daemon"  // "daemon restart"
	wordNothing = "nothing" // keeps the place of what is left out
	wordForeign = "foreign" // strange bytes on the line: "foreign session", device, text
)

// Script is all that a run stands on: the same script is the same run.
type Script struct {
	Rig     string // one of Rigs
	Seed    uint64 // of plant, sensors and line
	Actions []Action
}

// startMs is when every run gives its job to the machine.
const startMs = 1000

// MaxScript is the longest text of a script, far above any that is generated.
const MaxScript = 16_000

// String writes the script so that ParseScript reads it back.
func (s Script) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %d", s.Rig, s.Seed)
	for _, a := range s.Actions {
		fmt.Fprintf(&b, "; %d %s", a.AtMs, a.What)
	}
	return b.String()
}

// ParseScript reads "rig seed; ms action; ms action ...".
func ParseScript(text string) (Script, error) {
	var s Script
	if len(text) > MaxScript {
		return s, fmt.Errorf("script of %d bytes is too long; at most %d", len(text), MaxScript)
	}
	head, rest, more := strings.Cut(text, ";")
	name, seed, _ := strings.Cut(strings.TrimSpace(head), " ")
	n, err := strconv.ParseUint(strings.TrimSpace(seed), 10, 64)
	if err != nil {
		return s, fmt.Errorf("script begins %q; write rig and seed, like %q", head, scriptExample)
	}
	if _, ok := rigNamed(name); !ok {
		return s, fmt.Errorf("no rig %q; one of %s", name, strings.Join(Rigs(), ", "))
	}
	s.Rig, s.Seed = name, n
	for more {
		var part string
		part, rest, more = strings.Cut(rest, ";")
		at, what, _ := strings.Cut(strings.TrimSpace(part), " ")
		a := Action{What: strings.TrimSpace(what)}
		if a.AtMs, err = strconv.ParseUint(at, 10, 64); err != nil {
			return s, fmt.Errorf("%q begins with no time in ms; write like %q", part, scriptExample)
		}
		if a.AtMs >= longestMs {
			return s, fmt.Errorf("%q is later than a run lasts; at most %d ms", part, longestMs-1)
		}
		if err := checkAction(a.What); err != nil {
			return s, err
		}
		s.Actions = append(s.Actions, a)
	}
	return s, nil
}

const scriptExample = "driven 7; 90000 fault flame_out; 91000 command stop"

// checkAction refuses what a run could not do.
func checkAction(what string) error {
	word, rest, _ := strings.Cut(what, " ")
	switch word {
	case wordProvoke:
		if _, ok := provocationNamed(rest); !ok {
			return fmt.Errorf("no provocation %q; a row of the matrix or one of %s", rest,
				strings.Join(lineErrors(), ", "))
		}
	case wordFault:
		_, err := bench.ParseFault(rest)
		return err
	case wordCommand:
		if controller.CommandNamed(rest) == controller.NoCommand || rest == "start" {
			return fmt.Errorf("no command %q; one of stop, hold, restart, abort, reset, pause, resume", rest)
		}
	case wordClock:
		if n, err := strconv.ParseUint(rest, 10, 32); err != nil || n > 3_600_000 {
			return fmt.Errorf("clock %q: write a jump in ms, at most an hour, like \"clock 4000\"", rest)
		}
	default:
		switch what {
		case wordAck, wordReset, wordNothing, "journal off", "journal on", "daemon restart", "foreign session",
			"foreign device", "foreign text":
		default:
			return fmt.Errorf("action %q means nothing; write like %q", what, scriptExample)
		}
	}
	return nil
}
