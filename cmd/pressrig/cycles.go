package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"text/tabwriter"

	"pressrig/panel/api"
	"pressrig/trials"
)

type cyclesCmd struct {
	Limit  int    `default:"20" help:"How many, at most 500." placeholder:"N"`
	Before uint32 `help:"Only those with lower numbers: the next page." placeholder:"N"`
}

// Run lists stored cycles, newest first.
func (c *cyclesCmd) Run(e *env) (err error) {
	if c.Limit < 1 || c.Limit > api.MaxCycles {
		return usage("--limit must lie between 1 and %d", api.MaxCycles)
	}
	from, done, err := e.source()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	list, err := from.Cycles(e.ctx, c.Before, c.Limit)
	if err != nil {
		return err
	}
	if e.flags.JSON {
		out := []api.Cycle{}
		for i := range list {
			out = append(out, api.CycleOf(&list[i]))
		}
		return e.printJSON(out)
	}
	return cycleTable(e.out, list)
}

func cycleTable(out io.Writer, list []trials.Cycle) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(out, "no cycles")
		return err
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "CYCLE\tSTARTED\tLENGTH\tRECIPE\tRUN\tPIECE\tSTATE\tFIRST CAUSE\tBY")
	for i := range list {
		c := &list[i]
		piece := fmt.Sprint(c.Piece)
		if c.Dummy {
			piece += " dummy"
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%d\t%s\t%s\t%s\t%s\n", c.Number,
			c.Started.Local().Format("2006-01-02 15:04:05"), lengthOf(c), c.Recipe, c.Run, piece,
			stateOf(c), causeOf(c), c.By) // pressrig cycle shows the user beside the name
	}
	return w.Flush()
}

func lengthOf(c *trials.Cycle) string {
	if c.Ended.IsZero() {
		return "-"
	}
	return fmt.Sprintf("%.0f s", c.Ended.Sub(c.Started).Seconds())
}

// storyLength is the cycle's length on the rig's own clock, which a scaled
// simulated rig does not share with the wall.
func storyLength(c *trials.Cycle) string {
	if len(c.Events) == 0 {
		return lengthOf(c)
	}
	return fmt.Sprintf("%.1f s", c.Events[len(c.Events)-1].At.Seconds())
}

func stateOf(c *trials.Cycle) string {
	text := c.State
	if text == "" {
		text = "running"
	}
	if c.Lockout {
		text += ", lockout"
	}
	if !c.Guarded {
		text += ", unguarded"
	}
	return text
}

func causeOf(c *trials.Cycle) string {
	if c.Cause == 0 {
		return "-"
	}
	return fmt.Sprintf("%d %s", c.Cause, c.CauseText)
}

type cycleCmd struct {
	Number uint32 `arg:"" help:"Number of the cycle."`
	SVG    string `name:"svg" help:"Also draw it into this file." placeholder:"FILE"`
}

// Run shows one stored cycle.
func (c *cycleCmd) Run(e *env) (err error) {
	from, done, err := e.source()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	one, err := from.Cycle(e.ctx, c.Number)
	if err != nil {
		return err
	}
	if c.SVG != "" {
		trace, err := from.Trace(e.ctx, c.Number)
		if err != nil {
			return err
		}
		if err := writeWhole(c.SVG, trials.Picture(&one, trace)); err != nil {
			return err
		}
	}
	if e.flags.JSON {
		return e.printJSON(api.CycleOf(&one))
	}
	return cycleText(e.out, &one)
}

func cycleText(out io.Writer, c *trials.Cycle) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	row := func(name, text string) {
		if text != "" {
			fmt.Fprintf(w, "%s\t%s\n", name, text)
		}
	}
	row("cycle", fmt.Sprintf("%d, piece %d of run %d%s", c.Number, c.Piece, c.Run, marks(c)))
	row("recipe", c.Recipe+" "+short(c.Hash))
	row("rig", c.Rig+", profile "+short(c.Profile)+", firmware "+dash(c.Firmware))
	row("by", trials.Who(c.By, c.User))
	row("started", c.Started.Local().Format("2006-01-02 15:04:05"))
	row("length", storyLength(c))
	row("state", stateOf(c))
	row("first cause", causeOf(c))
	row("reason", c.Reason)
	if c.Recovered {
		row("note", fmt.Sprintf("the daemon ended in this cycle; %.1f s of its trace are saved",
			c.Saved.Seconds()))
	}
	if c.LostRecords > 0 {
		row("note", fmt.Sprintf("%d records are lost", c.LostRecords))
	}
	row("ledger", c.Ledger.String())
	cycleTables(w, c)
	return w.Flush()
}

// cycleTables prints phases, measures and events, each in columns of its own.
func cycleTables(w *tabwriter.Writer, c *trials.Cycle) {
	if len(c.Phases) > 0 {
		section(w, "PHASE\tKIND\tBEGIN\tLENGTH\tENDED BY")
	}
	for _, p := range c.Phases {
		fmt.Fprintf(w, "%s\t%s\t%7.1f s\t%7.1f s\t%s\n", p.Name, p.Kind, p.Begin.Seconds(),
			(p.End - p.Begin).Seconds(), dash(p.Reason))
	}
	if len(c.Measures) > 0 {
		section(w, "MEASURE\tVALUE\tAT")
	}
	for _, m := range c.Measures {
		fmt.Fprintf(w, "%s\t%.3g %s\t%7.1f s\n", m.Name, m.Value, m.Unit, m.At.Seconds())
	}
	if len(c.Events) > 0 {
		section(w, "AT\tEVENT\tWHAT")
	}
	for _, ev := range c.Events {
		fmt.Fprintf(w, "%7.1f s\t%s\t%s\n", ev.At.Seconds(), ev.Kind, ev.Text)
	}
}

func section(w *tabwriter.Writer, head string) {
	_ = w.Flush() // the last Flush tells of any error
	fmt.Fprintf(w, "\n%s\n", head)
}

func marks(c *trials.Cycle) string {
	text := ""
	if c.Dummy {
		text += ", dummy"
	}
	if c.Refired {
		text += ", fired again"
	}
	return text
}

// short is the beginning of a hash: enough to tell two apart by eye.
func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12]
	}
	return dash(hash)
}

// writeWhole writes a file so that it is there whole or not at all.
func writeWhole(path string, text []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".pressrig-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name()) // the first error is told
		}
	}()
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Chmod(0o644), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
