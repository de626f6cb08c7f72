package main

import (
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"

	"pressrig/panel/api"
	"pressrig/proof"
	"pressrig/trials"
)

// proveCmd walks a person through the proof tests of the rig.
type proveCmd struct {
	Name []string `arg:"" optional:"" help:"Functions to prove; all of the rig without."`
	List bool     `help:"Only list the proof tests and how they stand."`
	Due  bool     `help:"Only those that are due, overdue or failed."`
	By   string   `placeholder:"NAME" help:"Who signs; asked for without."`
}

func (proveCmd) Help() string {
	return "Goes through the proof tests one at a time: cautions first, then what to do, what the rig's own " +
		"signals say, and the signed result. Ctrl-C stores nothing of the test under way. " + proof.Notice +
		" " + notSafe
}

// Run lists the proof tests, or makes them.
func (p *proveCmd) Run(e *env) error {
	if e.flags.JSON && !p.List {
		return usage("--json goes with --list; a proof test is made in conversation")
	}
	all, err := e.client().Proofs(e.ctx)
	if err != nil {
		return err
	}
	steps, err := p.choose(all.Steps)
	if err != nil {
		return err
	}
	if p.List {
		all.Steps = steps
		return e.printProofs(&all)
	}
	if len(steps) == 0 {
		_, err := fmt.Fprintln(e.out, "nothing to prove")
		return err
	}
	w := &walk{env: e, client: e.client(), by: p.By, lines: readLines(e.ctx, e.in)}
	fmt.Fprintln(e.out, all.Notice)
	if w.by == "" {
		if w.by, err = w.line("Your name, as it will stand in the journal:"); err != nil {
			return err
		}
	}
	if w.by == "" {
		return usage("a proof is signed by name; give one with --by")
	}
	return w.all(steps)
}

// choose are the steps that are asked for. Without names those that the rig
// has not are left out, but not from a list.
func (p *proveCmd) choose(steps []api.ProofStep) ([]api.ProofStep, error) {
	var out []api.ProofStep
	for _, name := range p.Name {
		found := false
		for i := range steps {
			if steps[i].Function == name {
				found, out = true, append(out, steps[i])
			}
		}
		if !found {
			return nil, usage("no protective function %s; pressrig prove --list shows them", name)
		}
	}
	for i := range steps {
		s := &steps[i]
		if len(p.Name) == 0 && (p.List || s.Lacks == "") && (!p.Due || s.Warning != "") {
			out = append(out, *s)
		}
	}
	return out, nil
}

func (e *env) printProofs(all *api.Proofs) error {
	if e.flags.JSON {
		return e.printJSON(all)
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "FUNCTION\tSTATE\tDUE\tLAST\tTEST")
	for i := range all.Steps {
		s := &all.Steps[i]
		state, due, last := dash(s.State), "-", "-"
		if s.Lacks != "" {
			state = "not fitted"
		}
		if s.Due != nil {
			due = s.Due.Format(dueForm)
		}
		if s.Last != nil {
			last = fmt.Sprintf("%s on %s by %s", s.Last.Result, s.Last.At.Format(dueForm), trials.Who(s.Last.By, s.Last.User))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", s.Function, state, due, last, s.Title)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(e.out, "\nledger: %s\n%s\n", dash(all.Ledger.String()), all.Notice)
	return err
}

const dueForm = "2006-01-02 15:04"

// all makes the steps one after the other and tells how they ended.
func (w *walk) all(steps []api.ProofStep) error {
	ends := make([]string, len(steps))
	for i := range steps {
		fmt.Fprintf(w.out, "\n%d of %d: %s (%s)\n", i+1, len(steps), steps[i].Title, steps[i].Function)
		end, err := w.step(&steps[i])
		if errors.Is(err, errQuit) {
			break
		}
		if err != nil {
			return err
		}
		ends[i] = end
	}
	fmt.Fprintln(w.out)
	t := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	good := true
	for i, end := range ends {
		if end == "" {
			end = "not made"
		}
		good = good && strings.HasPrefix(end, string(proof.Passed))
		fmt.Fprintf(t, "%s\t%s\n", steps[i].Function, end)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if !good {
		return exit{exitFailed, errors.New("not every proof passed")}
	}
	return nil
}
