package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"pressrig/rehearse/campaign"
)

type campaignCmd struct {
	Only   string        `enum:"all,singles,pairs,none" default:"all" help:"Listed cases to run: all, singles, pairs or none."`
	Runs   int           `help:"Random compound runs after them."`
	For    time.Duration `help:"Random compound runs for so long, like 10m."`
	Seed   uint64        `default:"1" help:"Seed of the first random run."`
	Jobs   int           `help:"Runs at a time (default: all cores)."`
	Save   string        `help:"Write every result into this file, as JSON." placeholder:"FILE"`
	Replay *string       `help:"Play one script, or the random run of one seed, and tell its story." placeholder:"SCRIPT"`
}

func (campaignCmd) Help() string {
	return "Provokes every cause of the matrix and every error of the line on the simulated rig, in each " +
		"of twelve phases at five moments, then all pairs of the twelve worst, then random compounds, " +
		"and judges each run by a matrix typed by hand. It needs no daemon and no rig. " +
		"Faults are injected at sensors, valves, drives, line, microcontroller, clock and journal of a " +
		"simulation: it proves nothing about a real rig's hardware, and nothing about faults that it does " +
		"not inject. " + notSafe
}

// Run plays the campaign and fails when one of its runs does.
func (c *campaignCmd) Run(e *env) error {
	if c.Replay != nil {
		return c.replay(e, *c.Replay)
	}
	if c.Runs < 0 || c.Jobs < 0 || c.For < 0 {
		return usage("runs, jobs and time of a campaign cannot be negative")
	}
	if c.Save != "" { // not only after an hour
		if _, err := os.Stat(filepath.Dir(c.Save)); err != nil {
			return usage("--save %s: %w; write into a folder that exists", c.Save, err)
		}
	}
	begun, before := time.Now(), processorTime()
	lines, err := campaign.Observe()
	if err != nil {
		return err
	}
	report := newCampaignReport(e, c.listed(lines), c)
	c.play(e.ctx, lines, report)
	report.finish(time.Since(begun), processorTime()-before)
	return errors.Join(report.print(e), c.save(report)) // told even where it cannot be saved
}

func (c *campaignCmd) save(report *campaignReport) error {
	if c.Save == "" {
		return nil
	}
	text, err := json.MarshalIndent(report, "", " ")
	if err != nil {
		return err
	}
	return writeWhole(c.Save, append(text, '\n'))
}

func (c *campaignCmd) listed(lines campaign.Timelines) []campaign.Case {
	var cases []campaign.Case
	if c.Only == "all" || c.Only == "singles" {
		cases = append(cases, campaign.Singles(lines)...)
	}
	if c.Only == "all" || c.Only == "pairs" {
		cases = append(cases, campaign.Pairs(lines)...)
	}
	campaign.InOrder(cases)
	return cases
}

// play lets the workers take cases until there are none, or the context ends.
func (c *campaignCmd) play(ctx context.Context, lines campaign.Timelines, report *campaignReport) {
	cases := make(chan campaign.Case)
	var workers sync.WaitGroup
	jobs := c.Jobs
	if jobs == 0 {
		jobs = runtime.NumCPU()
	}
	for range jobs {
		workers.Go(func() {
			var player campaign.Player
			for one := range cases {
				report.add(player.Run(&one))
			}
		})
	}
	give := func(one campaign.Case) bool {
		select {
		case cases <- one:
			return true
		case <-ctx.Done():
			return false
		}
	}
	c.giveAll(lines, give)
	close(cases)
	workers.Wait()
}

func (c *campaignCmd) giveAll(lines campaign.Timelines, give func(campaign.Case) bool) {
	for _, one := range c.listed(lines) {
		if !give(one) {
			return
		}
	}
	until := time.Now().Add(c.For)
	for i := 0; i < c.Runs || time.Now().Before(until); i++ {
		if !give(campaign.Random(c.Seed + uint64(i))) {
			return
		}
	}
}

// replay tells the story of one run. Its digest is that of the first time.
func (c *campaignCmd) replay(e *env, script string) error {
	one := campaign.Case{Name: "replay"}
	if seed, err := strconv.ParseUint(script, 10, 64); err == nil {
		one = campaign.Random(seed)
	} else if one.Script, err = campaign.ParseScript(script); err != nil {
		return usage("%w", err)
	}
	var failed error
	r := campaign.Tell(&one, nil, func(ms uint64, what string) {
		if e.flags.JSON || failed != nil {
			return
		}
		_, failed = fmt.Fprintf(e.out, "%9.3f s  %s\n", float64(ms)/1000, what)
	})
	if failed != nil {
		return failed
	}
	if e.flags.JSON {
		failed = e.printJSON(&r)
	} else {
		_, failed = fmt.Fprintf(e.out, "script  %s\nend     %s, lock %s, first cause %d\ndigest  %s\n", r.Script, r.End,
			r.Lock, r.First, r.Digest)
	}
	if failed == nil && len(r.Wrong) > 0 {
		return exit{code: exitFailed}
	}
	return failed
}

// campaignReport gathers the results; its form is that of the saved file.
type campaignReport struct {
	*campaign.Summary
	Begun     string            `json:"begun"`
	Planned   int               `json:"planned"` // listed cases and --runs
	Done      int               `json:"done"`
	WallMs    int64             `json:"wall_ms"`
	CoreMs    int64             `json:"processor_ms"`
	TimesReal float64           `json:"times_real_time_per_core"`
	Failures  []campaign.Result `json:"failures"`
	Results   []campaign.Result `json:"results"`

	mu  sync.Mutex
	bar io.Writer // nil: not a terminal
}

func newCampaignReport(e *env, cases []campaign.Case, c *campaignCmd) *campaignReport {
	r := &campaignReport{Summary: campaign.NewSummary(), Begun: time.Now().UTC().Format(time.RFC3339),
		Planned: len(cases) + c.Runs, Failures: []campaign.Result{}, Results: []campaign.Result{}}
	if onTerminal(e.err) {
		r.bar = e.err
	}
	return r
}

func (r *campaignReport) add(one campaign.Result) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.Done++
	r.Add(&one)
	r.Results = append(r.Results, one)
	if len(one.Wrong) > 0 {
		r.Failures = append(r.Failures, one)
	}
	if r.bar != nil && (r.Done%10 == 0 || r.Done == r.Planned) {
		const width = 40
		filled := min(width, width*r.Done/max(1, r.Planned))
		_, _ = fmt.Fprintf(r.bar, "\r[%-*.*s] %d of %d, %d wrong ", width, filled, // a bar that cannot be drawn is none
			"########################################", r.Done, r.Planned, len(r.Failures))
	}
}

func (r *campaignReport) finish(wall, core time.Duration) {
	if r.bar != nil {
		_, _ = fmt.Fprintln(r.bar) // ends the bar's line
	}
	r.WallMs, r.CoreMs = wall.Milliseconds(), core.Milliseconds()
	r.TimesReal = float64(r.Virtual-r.Shared) / float64(max(1, r.CoreMs))
	campaign.Sort(r.Results)
	campaign.Sort(r.Failures)
}

func (r *campaignReport) print(e *env) error {
	wrong := error(nil)
	switch {
	case len(r.Failures) > 0 || len(r.Silent()) > 0:
		wrong = exit{code: exitFailed}
	case e.ctx.Err() != nil:
		wrong = exit{exitFailed, fmt.Errorf("interrupted after %d of %d runs", r.Done, r.Planned)}
	}
	if e.flags.JSON {
		if err := e.printJSON(r); err != nil {
			return err
		}
		return wrong
	}
	if _, err := io.WriteString(e.out, r.text()); err != nil {
		return err
	}
	return wrong
}

// text is the table, the runs that went wrong with what plays them again, and
// the speed.
func (r *campaignReport) text() string {
	var b strings.Builder
	b.WriteString(r.Text())
	for i := range r.Failures {
		f := &r.Failures[i]
		fmt.Fprintf(&b, "WRONG %s, digest %s\n", f.Name, f.Digest)
		for _, what := range f.Wrong {
			fmt.Fprintf(&b, "  %s\n", what)
		}
		fmt.Fprintf(&b, "  pressrig campaign --replay %q\n", f.Script)
	}
	for _, name := range r.Silent() {
		fmt.Fprintf(&b, "WRONG provocation %s: its row never acted, so nothing was shown about it\n", name)
	}
	fmt.Fprintf(&b, "%d runs, %d wrong; %.1f h of virtual time in %s; %.0f times real time on one core, "+
		"with what runs share %.0f\n", r.Done, len(r.Failures), float64(r.Virtual)/3.6e6,
		time.Duration(r.WallMs)*time.Millisecond, r.TimesReal, float64(r.Virtual)/float64(max(1, r.CoreMs)))
	return b.String()
}

// processorTime is what this process has computed so far, on all cores.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
