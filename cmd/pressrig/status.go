package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"pressrig/panel/api"
	"pressrig/safety"
)

type statusCmd struct {
	Follow bool `short:"f" help:"Go on showing it until Ctrl-C."`
}

// Run shows the status once, or follows it.
func (s *statusCmd) Run(e *env) error {
	if s.Follow {
		return e.watch(&follower{env: e})
	}
	f, err := e.client().Status(e.ctx)
	if err != nil {
		return err
	}
	if e.flags.JSON {
		return e.printJSON(f)
	}
	return statusText(e.out, &f)
}

// statusText prints a frame for a person.
func statusText(out io.Writer, f *api.Frame) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	s := &f.Status
	row := func(name, text string) {
		if text != "" {
			fmt.Fprintf(w, "%s\t%s\n", name, text)
		}
	}
	row("rig", f.Rig)
	row("state", stateLine(s))
	if s.Phase >= 0 {
		row("phase", s.PhaseName+", "+timeLine(s))
	}
	row("waits for", s.Doing)
	row("notice", s.Notice)
	if s.Prompt != nil {
		row("prompt", fmt.Sprintf("%s (answer with: pressrig answer y|n)", s.Prompt.Text))
	}
	row("reason", s.Reason)
	row("line", s.Line)
	row("lock", lockLine(s))
	for _, a := range s.Alarms {
		row("alarm", fmt.Sprintf("%d %s", a.Row, a.Text))
	}
	if s.AckNeeded {
		row("", "to be acknowledged with: pressrig ack")
	}
	for _, text := range f.ProofsDue {
		row("proof", text)
	}
	rigRows(row, f.Snapshot)
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintln(out, safety.Notice)
	return err
}

func rigRows(row func(name, text string), s *api.Snapshot) {
	if s == nil {
		row("link", "no word from the rig: its state is not known")
		return
	}
	glass := amount(s.GlassC, 0, "C")
	if s.GlassC != nil && !s.GlassSeen {
		glass += " (view not free: not to be believed)"
	}
	row("glass", glass)
	row("mould halves", "lower "+amount(s.MouldLowerC, 0, "C")+
		", upper "+amount(s.MouldUpperC, 0, "C"))
	row("press", s.Press+", travel "+amount(s.TravelMM, 2, "mm")+", force "+amount(s.ForceN, 1, "N"))
	row("spindle", s.Spindle+", "+amount(s.SpindleRPM, 0, "rpm"))
	row("burner", s.Burner+", "+burnerPlace(s)+", flame "+yesNo(s.Flame))
	row("gas", "fuel "+amount(s.FuelLMin, 2, "L/min")+" at "+amount(s.FuelBar, 2, "bar")+
		", oxygen "+amount(s.OxygenLMin, 2, "L/min")+" at "+amount(s.OxygenBar, 2, "bar"))
	row("safety door", map[bool]string{true: "closed", false: "open"}[s.DoorClosed])
	row("emergency stop", map[bool]string{true: "released", false: "PUSHED"}[s.EstopOK])
}

func burnerPlace(s *api.Snapshot) string {
	switch {
	case s.BurnerClear && s.BurnerAtBlank:
		return "both place switches made (fault)"
	case s.BurnerClear:
		return "clear"
	case s.BurnerAtBlank:
		return "at the blank"
	}
	return "between its places"
}

func stateLine(s *api.Status) string {
	text := s.State
	if s.Cycle != 0 {
		text += fmt.Sprintf(", cycle %d", s.Cycle)
	}
	if s.Recipe != "" {
		text += ", recipe " + s.Recipe
	}
	if s.Run != 0 {
		text += fmt.Sprintf(", piece %d of run %d", s.Piece, s.Run)
	}
	if s.Armed {
		text += ", START at the rig is armed"
	}
	if s.Refired {
		text += ", fired again"
	}
	return text
}

func timeLine(s *api.Status) string {
	text := fmt.Sprintf("%.1f s", s.PhaseS)
	if s.LeftS != nil {
		text += fmt.Sprintf(", about %.0f s left", *s.LeftS)
	}
	return text
}

func lockLine(s *api.Status) string {
	switch s.Lock {
	case "none", "":
		return ""
	case "lockout":
		return "lockout" + because(s.FirstCause) + ": only the RESET button at the rig clears it"
	}
	return s.Lock + because(s.FirstCause)
}

// amount prints a value with its unit, or that there is none.
func amount(v *float64, digits int, unit string) string {
	if v == nil {
		return "no value"
	}
	text := fmt.Sprintf("%.*f", digits, *v)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text + " " + unit
}
