package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"pressrig/journal"
)

type journalCmd struct {
	Check  journalCheckCmd  `cmd:"" help:"Check the whole journal, without changing it."`
	Export journalExportCmd `cmd:"" help:"Export a cycle as CSV or JSON."`
}

type journalCheckCmd struct {
	File string `arg:"" optional:"" help:"The journal (default: that of the data folder)."`
}

// Run checks a journal; a daemon may have it open.
func (c *journalCheckCmd) Run(e *env) error {
	path := c.File
	if path == "" {
		path = journalFile(e.data())
	}
	report, err := journal.CheckFile(path)
	if err != nil {
		return err
	}
	if err := e.printReport(&report); err != nil {
		return err
	}
	if !report.OK() {
		return exit{exitFailed, nil}
	}
	return nil
}

// reportJSON is a journal.Report as --json prints it.
type reportJSON struct {
	Path     string   `json:"path"`
	Version  int      `json:"tables_version"`
	Cycles   int      `json:"cycles"`
	Running  int      `json:"running"`
	Records  int      `json:"records"`
	Chunks   int      `json:"chunks"`
	Steps    int      `json:"steps"`
	Gaps     int      `json:"gaps"`
	Proofs   int      `json:"proofs"`
	Problems []string `json:"problems"`
}

func (e *env) printReport(r *journal.Report) error {
	if e.flags.JSON {
		out := reportJSON(*r)
		if out.Problems == nil {
			out.Problems = []string{}
		}
		return e.printJSON(out)
	}
	for _, p := range r.Problems {
		fmt.Fprintln(e.out, p)
	}
	verdict := "no problems"
	if n := len(r.Problems); n > 0 {
		verdict = fmt.Sprintf("%d problems", n)
	}
	_, err := fmt.Fprintf(e.out, "%s: %s; %d cycles (%d running), %d records, %d steps, %d gaps, "+
		"%d proofs\n", r.Path, verdict, r.Cycles, r.Running, r.Records, r.Steps, r.Gaps, r.Proofs)
	return err
}

type journalExportCmd struct {
	Number uint32 `arg:"" help:"Number of the cycle."`
	CSV    bool   `name:"csv" help:"The trace as a table; --json exports the whole cycle."`
	Out    string `short:"o" help:"File to write (default: standard output)." placeholder:"FILE"`
}

// Run exports a cycle from the journal of the data folder.
func (c *journalExportCmd) Run(e *env) (err error) {
	if c.CSV == e.flags.JSON {
		return usage("export needs either --csv or --json")
	}
	j, err := e.openJournal()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	write := j.ExportJSON
	if c.CSV {
		write = j.ExportCSV
	}
	var text bytes.Buffer
	if err := write(&text, c.Number); err != nil {
		return err
	}
	if c.Out != "" {
		return writeWhole(c.Out, text.Bytes())
	}
	_, err = io.Copy(e.out, &text)
	return err
}
