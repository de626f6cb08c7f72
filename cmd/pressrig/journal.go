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
	Head string `placeholder:"HASH" help:"A head of the ledger that was noted elsewhere: from the log, MQTT or a printed report. If it is not in the ledger, the journal's end was cut off. At least its first 16 digits."`
}

// Run checks a journal; a daemon may have it open.
func (c *journalCheckCmd) Run(e *env) error {
	path := c.File
	if path == "" {
		path = journalFile(e.data())
	}
	report, err := journal.CheckFile(path, c.Head)
	if err != nil {
		return err
	}
	if err := e.printReport(&report, c.Head); err != nil {
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
	Entries  int64    `json:"ledger_entries"`
	Head     string   `json:"ledger_head"`             // "" without a ledger
	After    *int64   `json:"entries_after,omitempty"` // after the head that was asked for
	Problems []string `json:"problems"`
}

func (e *env) printReport(r *journal.Report, head string) error {
	if e.flags.JSON {
		out := reportJSON{Path: r.Path, Version: r.Version, Cycles: r.Cycles, Running: r.Running, Records: r.Records,
			Chunks: r.Chunks, Steps: r.Steps, Gaps: r.Gaps, Proofs: r.Proofs, Entries: r.Head.Entries,
			Problems: append([]string{}, r.Problems...)}
		if r.Head.Entries > 0 {
			out.Head = r.Head.String()
		}
		if head != "" && r.OK() {
			out.After = &r.After
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
	fmt.Fprintf(e.out, "%s: %s; %d cycles (%d running), %d records, %d steps, %d gaps, "+
		"%d proofs\n", r.Path, verdict, r.Cycles, r.Running, r.Records, r.Steps, r.Gaps, r.Proofs)
	if head != "" && r.OK() {
		fmt.Fprintf(e.out, "the head that was asked for is in the ledger; %d entries came after it\n", r.After)
	}
	if r.Head.Entries == 0 {
		_, err := fmt.Fprintln(e.out, "no ledger: this journal is of an older program, and what was changed in it "+
			"cannot be seen; the daemon makes the ledger when it opens the journal")
		return err
	}
	_, err := fmt.Fprintf(e.out, "ledger: %d entries, head %s\n", r.Head.Entries, r.Head)
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
	head, err := j.Head()
	if err != nil {
		return err
	}
	fmt.Fprintf(e.err, "ledger: %s\n", head.Told()) // a table has no place for it
	if file != "" {
		return writeWhole(file, text.Bytes())
	}
	_, err = io.Copy(e.out, &text)
	return err
}
