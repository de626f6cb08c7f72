package benchport

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"pressrig/drivers/bench"
	"pressrig/units"
)

// Help is what the command lines are.
const Help = `press START|RESET|SOFT [time]   push a button, for 200 ms unless said
hold OPEN|CLOSE|TURN time       hold-to-run
hold LEFT|RIGHT time            two-hand control
door open|close                 the safety door
estop press|release             the emergency stop, which stays in
set_up on|off                   the key switch
burner in|clear                 swing a burner moved by hand
lever close|open|rest           move the lever of a press worked by hand
load                            seat a fresh blank
fuel_cock|oxygen_cock shut|open the cock at the supply
burner_cock shut|open           the cock at the burner
test_cock shut|open             the cock between the fuel valves, to the open air
fault NAME ... [@ when] [for time] let something go wrong; see below
clear NAME|all                  end faults
faults                          list them
reset mcu                       restart the microcontroller
piece                           what gauges find on the glass as it stands, edges by the clock
truth                           everything as it really is, one line of JSON`

// defaultPush is a push on a button.
const defaultPush = 200 * time.Millisecond

// Do carries out one command line and returns its reply, one line without its
// end: "ok", "error: ...", or what was asked for.
func Do(r *bench.Rig, line string) string {
	word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	rest = strings.TrimSpace(rest)
	switch word {
	case "press", "hold":
		return reply(push(r, word, rest))
	case "fault":
		f, err := bench.ParseFault(rest)
		if err == nil {
			err = r.Inject(f)
		}
		return reply(err)
	case "clear":
		if n := r.Clear(rest); n == 0 {
			return reply(fmt.Errorf("no fault %q waits or acts", rest))
		}
		return "ok"
	case "faults":
		return faults(r)
	case "piece":
		return piece(r)
	case "truth":
		return truth(r)
	}
	return reply(act(r, strings.Join(strings.Fields(line), " ")))
}

func reply(err error) string {
	if err != nil {
		return "error: " + strings.ReplaceAll(err.Error(), "\n", "; ")
	}
	return "ok"
}

// act does what takes no amount.
func act(r *bench.Rig, words string) error {
	switch words {
	case "door open", "door close":
		r.SetDoor(words == "door close")
	case "estop press", "estop release":
		r.SetEstop(words == "estop press")
	case "set_up on", "set_up off":
		r.SetSetUp(words == "set_up on")
	case "reset mcu":
		r.Reset()
	default:
		h, ok := bench.HandNamed(words)
		if !ok {
			return fmt.Errorf("no command %q; one of press, hold, door, estop, set_up, burner, lever, load, "+
				"fuel_cock, oxygen_cock, burner_cock, test_cock, "+
				"fault, clear, faults, reset mcu, piece, truth", words)
		}
		r.Hand(h)
	}
	return nil
}

func push(r *bench.Rig, word, rest string) error {
	name, text, timed := strings.Cut(rest, " ")
	b, ok := bench.ButtonNamed(name)
	if !ok {
		return fmt.Errorf("no button %q; one of START, RESET, SOFT, OPEN, CLOSE, LEFT, RIGHT, TURN", name)
	}
	d := defaultPush
	if timed {
		var err error
		text = strings.TrimPrefix(strings.TrimSpace(text), "for ")
		if d, err = units.ParseTime(text); err != nil {
			return err
		}
	} else if word == "hold" {
		return fmt.Errorf("hold %s: say how long, like \"hold %s 2s\"", name, name)
	}
	r.Press(b, uint32(min(d, time.Hour)/time.Millisecond))
	return nil
}

func faults(r *bench.Rig) string {
	list := r.Faults()
	texts := make([]string, len(list))
	for i, f := range list {
		texts[i] = f.String()
	}
	return "ok " + strings.Join(texts, "; ")
}

func truth(r *bench.Rig) string {
	text, err := json.Marshal(r.Truth())
	if err != nil {
		return reply(err)
	}
	return string(text)
}

// piece is one line of what a person would note of the glass.
func piece(r *bench.Rig) string {
	n := r.Inspect()
	var b strings.Builder
	fmt.Fprintf(&b, "thickness %.2f mm; edges %.1f mm; ", n.ThicknessMM, n.EdgeMM)
	if len(n.BeadMM) > 0 {
		fmt.Fprintf(&b, "beads %.1f mm; ", n.BeadMM)
	}
	fmt.Fprintf(&b, "flash %.2f mm; retardation %.0f nm; chill grade %d; ", n.FlashMM, n.RetardNM, n.ChillGrade)
	if n.Stuck {
		b.WriteString("stuck; ")
	}
	if n.Cracked == "" {
		return b.String() + "no crack"
	}
	return b.String() + "cracked " + n.Cracked
}
