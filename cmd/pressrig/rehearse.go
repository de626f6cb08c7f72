package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"text/tabwriter"

	"pressrig/glass"
	"pressrig/glass/forming"
	"pressrig/pieces"
	"pressrig/plan"
	"pressrig/recipes"
	"pressrig/rehearse/forecast"
	"pressrig/trials"
	"pressrig/units"
)

type rehearseCmd struct {
	Recipe  string   `arg:"" help:"Stored recipe or file."`
	Rig     string   `help:"Rig profile, or a built-in one's name (default: the stored recipe's, else driven)."`
	Seed    uint64   `default:"1" help:"Of every random number."`
	Runs    int      `help:"Also rehearse so many pieces with the usual spread of blank, gas and moulds; tells the yield."`
	Jobs    int      `help:"Rehearsals at a time (default: all cores)."`
	Picture string   `help:"Draw the predicted trace into this file, as SVG." placeholder:"FILE"`
	Plant   string   `help:"Plant that fit has saved; without one the usual figures stand." placeholder:"FILE"`
	Piece   []string `help:"Files of piece and mould, or examples' names: what is pressed, and its limits (default: a plain disc)." placeholder:"FILE"`
	Oven    string   `help:"Anneal the piece after the rig, cooling at this rate, such as '4 K/min'; its stress is judged then." placeholder:"RATE"`
	Quick   bool     `help:"Leave out what moves the piece most."`

	standing string // what the plant stands on
}

func (rehearseCmd) Help() string {
	return "Runs the recipe on the simulated rig in virtual time and judges the piece. It needs no daemon and " +
		"no rig. The plant behind it stands on usual figures until it is fitted to cycles of your rig: it ranks " +
		"recipes and promises no piece. " + notSafe
}

// rehearsal is what is printed.
type rehearsal struct {
	Recipe   string             `json:"recipe"`
	Rig      string             `json:"rig"`
	Seed     uint64             `json:"seed"`
	Standing string             `json:"stands_on"`
	State    string             `json:"state"`
	Reason   string             `json:"reason,omitempty"`
	Good     bool               `json:"good"`
	VirtualS float64            `json:"virtual_s"`
	PullN    float64            `json:"pull_n"`
	Phases   []rehearsedPhase   `json:"phases"`
	Findings []forming.Finding  `json:"findings"`
	Piece    forming.Inspection `json:"piece"`
	Effects  []forecast.Effect  `json:"effects,omitempty"`
	Spread   *spread            `json:"spread,omitempty"`
	trace    *trials.Trace
	cycle    *trials.Cycle
}

type rehearsedPhase struct {
	Phase  string  `json:"phase"`
	BeginS float64 `json:"begin_s"`
	LastsS float64 `json:"lasts_s"`
	Ended  string  `json:"ended_by"`
}

// spread is the yield of a series.
type spread struct {
	Pieces  int            `json:"pieces"`
	Good    int            `json:"good"`
	Yield   float64        `json:"yield"`
	Low     float64        `json:"yield_low_95"`
	High    float64        `json:"yield_high_95"`
	Defects map[string]int `json:"defects"`
}

// Run rehearses and prints. The exit code is 1 when the piece is not good.
func (c *rehearseCmd) Run(e *env) error {
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	s, err := c.setting(shelf)
	if err != nil {
		return err
	}
	r, err := forecast.Play(s)
	if err != nil {
		return usage("%w", err)
	}
	if c.standing == "" {
		c.standing = "Simulated on usual figures: it ranks recipes, it promises no piece."
	}
	out := c.told(s, r)
	bar := newBar(e.err)
	if !c.Quick {
		out.Effects, err = c.effects(e.ctx, s, r, bar)
	}
	if err == nil && c.Runs > 0 {
		out.Spread, err = c.spread(e.ctx, s, bar)
	}
	bar.end()
	if err != nil {
		return err
	}
	if c.Picture != "" {
		if err := writeWhole(c.Picture, trials.Picture(&r.Cycle, &r.Trace)); err != nil {
			return fmt.Errorf("--picture: %w", err)
		}
	}
	if e.flags.JSON {
		err = e.printJSON(out)
	} else {
		_, err = io.WriteString(e.out, out.text())
	}
	if err == nil && !r.Good {
		return exit{code: exitFailed}
	}
	return err
}

// setting reads recipe and rig and refuses what cannot be rehearsed.
func (c *rehearseCmd) setting(shelf *glass.Shelf) (*forecast.Setting, error) {
	if c.Runs < 0 || c.Runs > 1_000_000 || c.Jobs < 0 {
		return nil, usage("--runs must lie between 0 and 1000000, and --jobs not be negative")
	}
	if c.Picture != "" {
		if _, err := os.Stat(filepath.Dir(c.Picture)); err != nil {
			return nil, usage("--picture %s: %w; write into a folder that exists", c.Picture, err)
		}
	}
	name, rigName := c.Recipe, c.Rig
	var text []byte
	if isFile(name) {
		var err error
		if text, err = readRecipe(name); err != nil {
			return nil, err
		}
	} else {
		sample, err := recipes.Named(name)
		if err != nil {
			return nil, usage("%w; or name a file", err)
		}
		name, text = sample.Name+".yaml", sample.Text
		if rigName == "" {
			rigName = sample.For
		}
	}
	if rigName == "" {
		rigName = "driven"
	}
	p, err := (&checkCmd{Rig: rigName}).profile()
	if err != nil {
		return nil, err
	}
	r, err := recipes.ParseFor(name, text, p, shelf)
	if err != nil {
		return nil, err
	}
	s := &forecast.Setting{Profile: p, Recipe: r, Limits: forming.UsualLimits(), Seed: c.Seed, Trace: true}
	if len(c.Piece) > 0 {
		if err := pressed(s, c.Piece); err != nil {
			return nil, err
		}
	}
	if c.Oven != "" {
		if s.Oven, err = ovenFor(s, c.Oven); err != nil {
			return nil, err
		}
	}
	if c.Plant != "" {
		plant, err := readPlant(c.Plant, r.Glass)
		if err != nil {
			return nil, err
		}
		s.Tune, c.standing = plant.Tune, "Simulated on plant "+plant.Name+", fitted "+plant.Fitted+" to rig "+plant.Rig+"."
	}
	return s, nil
}

// pressed puts the cavity of a piece and what it is accepted by into the setting.
func pressed(s *forecast.Setting, files []string) error {
	var w workshop
	for _, file := range files {
		found, err := w.read(file)
		if err != nil {
			return err
		}
		if found.bad() {
			return usage("--piece %s has problems; pressrig piece %s tells them", file, file)
		}
	}
	if w.piece == nil || w.mould == nil {
		return usage("--piece wants the files of a piece and of its mould: --piece PIECE --piece MOULD")
	}
	if err := pieces.Together(w.piece, w.mould); err != nil {
		return usage("--piece: %w", err)
	}
	if s.Recipe.Known == nil || s.Recipe.Glass != w.piece.Glass {
		return usage("recipe %s is for glass %s, piece %s is of %s", s.Recipe.Name, dash(s.Recipe.Glass), w.piece.Name, w.piece.Glass)
	}
	o := &plan.Order{Glass: s.Recipe.Known, Piece: w.piece, Mould: w.mould}
	cavity := plan.Cavity(o)
	s.Cavity, s.Limits = &cavity, plan.Accept(o)
	return nil
}

// ovenFor is the usual oven of the recipe's glass, cooling at a rate.
func ovenFor(s *forecast.Setting, rate string) (*forming.Oven, error) {
	perMinute, found := strings.CutSuffix(strings.TrimSpace(rate), "/min")
	kelvin, err := units.Parse(perMinute, units.Difference)
	if !found || err != nil || !(kelvin > 0 && kelvin <= 1000) {
		return nil, usage("--oven %q; write a rate of cooling up to 1000 K/min, such as '4 K/min'", rate)
	}
	job, err := s.Job()
	if err != nil {
		return nil, usage("%w", err)
	}
	oven := forming.UsualOven(&job.Material)
	oven.CoolKS = kelvin / 60
	return &oven, nil
}

func (c *rehearseCmd) told(s *forecast.Setting, r *forecast.Result) *rehearsal {
	out := &rehearsal{Recipe: s.Recipe.Name, Rig: s.Profile.Name, Seed: c.Seed, Standing: c.standing, State: r.State, Reason: r.Reason,
		Good: r.Good, VirtualS: r.VirtualS, PullN: r.PullN, Findings: r.Findings, Piece: forecast.Inspect(s, r),
		trace: &r.Trace, cycle: &r.Cycle}
	for _, p := range r.Cycle.Phases {
		out.Phases = append(out.Phases, rehearsedPhase{p.Name, p.Begin.Seconds(), (p.End - p.Begin).Seconds(), p.Reason})
	}
	return out
}

// each does n things on all cores and stops at the first error or with ctx.
func (c *rehearseCmd) each(ctx context.Context, n int, bar *bar, do func(i int) error) error {
	jobs := c.Jobs
	if jobs == 0 {
		jobs = runtime.NumCPU()
	}
	next := make(chan int)
	var workers sync.WaitGroup
	var mu sync.Mutex
	var failed error
	for range min(jobs, n) {
		workers.Go(func() {
			for i := range next {
				err := do(i)
				mu.Lock()
				failed = errors.Join(failed, err)
				bar.step()
				mu.Unlock()
			}
		})
	}
	for i := range n {
		select {
		case next <- i:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	workers.Wait()
	if ctx.Err() != nil {
		return exit{exitFailed, fmt.Errorf("interrupted after %d of %d rehearsals", bar.done, n)}
	}
	return failed
}

// effects turns every knob and keeps the five that move the piece most.
func (c *rehearseCmd) effects(ctx context.Context, s *forecast.Setting, base *forecast.Result, bar *bar) ([]forecast.Effect, error) {
	knobs := forecast.Knobs(s.Recipe)
	list := make([]forecast.Effect, len(knobs))
	bar.begin("what moves the piece", len(knobs))
	err := c.each(ctx, len(knobs), bar, func(i int) (err error) {
		list[i], err = forecast.Turn(s, base, &knobs[i])
		return err
	})
	slices.SortStableFunc(list, func(a, b forecast.Effect) int {
		switch {
		case a.Moves > b.Moves:
			return -1
		case a.Moves < b.Moves:
			return 1
		}
		return 0
	})
	return list[:min(5, len(list))], err
}

// spread rehearses a series.
func (c *rehearseCmd) spread(ctx context.Context, s *forecast.Setting, bar *bar) (*spread, error) {
	tolerances := forecast.UsualTolerances()
	out := &spread{Pieces: c.Runs, Defects: map[string]int{}}
	var mu sync.Mutex
	series, err := forecast.NewSeries(s)
	if err != nil {
		return nil, err
	}
	bar.begin("pieces", c.Runs)
	err = c.each(ctx, c.Runs, bar, func(i int) error {
		one := forecast.Vary(s, &tolerances, uint64(i))
		r, err := series.Play(&one)
		if err != nil {
			return err
		}
		mu.Lock()
		defer mu.Unlock()
		out.add(&one, r)
		return nil
	})
	out.Yield, out.Low, out.High = forecast.Yield(out.Good, out.Pieces)
	return out, err
}

// add counts a piece. In a series a crack is a matter of the dice, not of the
// limit for its risk.
func (s *spread) add(setting *forecast.Setting, r *forecast.Result) {
	if !r.Complete {
		s.Defects["cycle "+r.State]++
		return
	}
	bad := false
	for i := range r.Findings {
		if f := &r.Findings[i]; f.Margin < 0 && f.Unit != "%" || f.Margin < 0 && f.What == "beads filled" {
			s.Defects[f.Defect]++
			bad = true
		}
	}
	if !forecast.Survives(setting, r) {
		s.Defects["cracked"]++
		bad = true
	}
	if !bad {
		s.Good++
	}
}

// text is the rehearsal for a person.
func (r *rehearsal) text() string {
	var b strings.Builder
	verdict := "GOOD by the usual limits"
	if !r.Good {
		verdict = "NOT GOOD"
	}
	fmt.Fprintf(&b, "%s on simulated rig %s, seed %d: %s after %.0f s; the piece: %s\n", r.Recipe, r.Rig, r.Seed,
		r.State, r.VirtualS, verdict)
	if r.Reason != "" && r.Reason != "done" {
		fmt.Fprintf(&b, "%s\n", r.Reason)
	}
	fmt.Fprintf(&b, "%s\n\n", r.Standing)
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "PHASE\tFROM\tLASTS\tENDED BY")
	for _, p := range r.Phases {
		fmt.Fprintf(w, "%s\t%.1f s\t%.2f s\t%s\n", p.Phase, p.BeginS, p.LastsS, dash(p.Ended))
	}
	fmt.Fprintln(w)
	w.Flush() // a strings.Builder takes all
	b.WriteString(trials.Sketch(r.trace, sketchWidth))
	fmt.Fprintln(w, "\nPIECE\tIS\tLIMIT\tMARGIN\t")
	for _, f := range r.Findings {
		fmt.Fprintf(w, "%s\t%.4g %s\t%.4g %s\t%s\t%s\n", f.What, f.Value, f.Unit, f.Limit, f.Unit, marginBar(f.Margin), f.Defect)
	}
	w.Flush()
	fmt.Fprintf(&b, "pull when parting %.0f N\n", r.PullN)
	r.effectsText(&b)
	if s := r.Spread; s != nil {
		fmt.Fprintf(&b, "\n%d pieces with the usual spread: %d good, yield %.0f %% (95 %% interval %.0f to %.0f %%)\n",
			s.Pieces, s.Good, 100*s.Yield, 100*s.Low, 100*s.High)
		for _, d := range byCount(s.Defects) {
			fmt.Fprintf(&b, "  %s: %d\n", d, s.Defects[d])
		}
	}
	return b.String()
}

const sketchWidth = 76

func (r *rehearsal) effectsText(b *strings.Builder) {
	if len(r.Effects) == 0 {
		return
	}
	w := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "\nMOVES THE PIECE MOST\tSTEP\tMOVES\tMARGIN")
	for _, e := range r.Effects {
		if e.Fails != "" {
			fmt.Fprintf(w, "%s\t%s\tthe cycle ends %s\t\n", e.Knob, e.Step, e.Fails)
			continue
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%.2f -> %.2f\n", e.Knob, e.Step, e.Finding, e.From, e.To)
	}
	w.Flush()
}

// marginBar draws a margin from 0 to 1; outside it says so.
func marginBar(m float64) string {
	if m < 0 {
		return fmt.Sprintf("OUTSIDE %.2f", m)
	}
	n := int(math.Round(10 * m))
	return fmt.Sprintf("%s%s %.2f", strings.Repeat("#", n), strings.Repeat(".", 10-n), m)
}

func byCount(m map[string]int) []string {
	var names []string
	for n := range m {
		names = append(names, n)
	}
	slices.SortFunc(names, func(a, b string) int {
		if m[a] != m[b] {
			return m[b] - m[a]
		}
		return strings.Compare(a, b)
	})
	return names
}

// bar is a progress bar, on a terminal only.
type bar struct {
	w     io.Writer
	label string
	done  int
	of    int
}

func newBar(w io.Writer) *bar {
	if !onTerminal(w) {
		w = nil
	}
	return &bar{w: w}
}

func (b *bar) begin(label string, of int) { b.label, b.done, b.of = label, 0, of }

func (b *bar) step() {
	b.done++
	if b.w == nil {
		return
	}
	const width = 40
	filled := width * b.done / max(1, b.of)
	_, _ = fmt.Fprintf(b.w, "\r%s [%-*s] %d of %d ", b.label, width, strings.Repeat("#", filled), b.done, b.of) // a bar that cannot be drawn is none
}

func (b *bar) end() {
	if b.w != nil && b.of > 0 {
		_, _ = fmt.Fprintln(b.w) // ends the bar's line
	}
}
