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
	Proofs journalProofsCmd `cmd:"" help:"Export all proof tests as CSV or JSON."`
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
func (c *journalExportCmd) Run(e *env) error {
	return e.export(c.CSV, c.Out,
		func(j *journal.Journal, w io.Writer) error { return j.ExportCSV(w, c.Number) },
		func(j *journal.Journal, w io.Writer) error { return j.ExportJSON(w, c.Number) })
}

type journalProofsCmd struct {
	CSV bool   `name:"csv" help:"As a table; --json exports as JSON."`
	Out string `short:"o" help:"File to write (default: standard output)." placeholder:"FILE"`
}

// Run exports all proof tests from the journal of the data folder.
func (c *journalProofsCmd) Run(e *env) error {
	return e.export(c.CSV, c.Out, (*journal.Journal).ExportProofsCSV, (*journal.Journal).ExportProofsJSON)
}

// export writes what is stored in one of two forms, to a file or the output.
func (e *env) export(asCSV bool, file string, table, whole func(*journal.Journal, io.Writer) error) (err error) {
	if asCSV == e.flags.JSON {
		return usage("export needs either --csv or --json")
	}
	j, err := e.openJournal()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	write := whole
	if asCSV {
		write = table
	}
	var text bytes.Buffer
	if err := write(j, &text); err != nil {
		return err
	}
	if file != "" {
		return writeWhole(file, text.Bytes())
	}
	_, err = io.Copy(e.out, &text)
	return err
}
