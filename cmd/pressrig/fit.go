package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"pressrig/glass"
	"pressrig/journal"
	"pressrig/recipes"
	"pressrig/rehearse/fit"
	"pressrig/rehearse/forecast"
	"pressrig/rig"
)

type fitCmd struct {
	Numbers []uint32 `arg:"" name:"cycle" help:"Stored cycles of one rig and one glass."`
	Name    string   `default:"plant" help:"Of the fitted plant."`
	Piece   []string `help:"Files of piece and mould, or examples' names: what was pressed (default: a plain disc)." placeholder:"FILE"`
	Save    string   `help:"Write the plant into this file, for rehearse --plant." placeholder:"FILE"`
}

func (fitCmd) Help() string {
	return "Finds from stored cycles how much of the burner's heat arrives, what the glass loses, how well the " +
		"moulds touch and how stiff the glass is, each with its 95 % interval, and says what the cycles cannot " +
		"tell. A heat-only and a cool-only cycle tell most. " + notSafe
}

// mostFitted cycles at once: each takes some ten milliseconds for each try.
const mostFitted = 20

// Run fits, prints and saves.
func (c *fitCmd) Run(e *env) (err error) {
	if len(c.Numbers) > mostFitted {
		return usage("%d cycles; fit at most %d at once", len(c.Numbers), mostFitted)
	}
	if c.Save != "" {
		if _, err := os.Stat(filepath.Dir(c.Save)); err != nil {
			return usage("--save %s: %w; write into a folder that exists", c.Save, err)
		}
	}
	j, err := e.openJournal()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	saved := &fit.Saved{Name: c.Name, Fitted: time.Now().Format(time.DateOnly), Cycles: c.Numbers}
	var cycles []fit.Cycle
	for _, n := range c.Numbers {
		one, err := c.cycle(e, j, n, shelf, saved)
		if err != nil {
			return err
		}
		cycles = append(cycles, one)
	}
	plant, err := fit.Fit(cycles)
	if err != nil {
		return err
	}
	saved.Plant = *plant
	if c.Save != "" {
		text, err := saved.Encode()
		if err != nil {
			return err
		}
		if err := writeWhole(c.Save, text); err != nil {
			return err
		}
	}
	if e.flags.JSON {
		return e.printJSON(saved)
	}
	_, err = io.WriteString(e.out, fitText(saved))
	return err
}

// cycle reads one stored cycle and refuses what does not belong to the others.
func (c *fitCmd) cycle(e *env, j *journal.Journal, n uint32, shelf *glass.Shelf, saved *fit.Saved) (fit.Cycle, error) {
	info, err := j.Frozen(n)
	if err != nil {
		return fit.Cycle{}, err
	}
	p, err := rig.ParseProfile(fmt.Sprintf("rig profile of cycle %d", n), info.ProfileText)
	if err != nil {
		return fit.Cycle{}, err
	}
	r, err := recipes.ParseFrozen(fmt.Sprintf("recipe of cycle %d", n), info.RecipeText, p, shelf)
	if err != nil {
		return fit.Cycle{}, err
	}
	if saved.Rig == "" {
		saved.Rig, saved.Glass = p.Name, r.Glass
	}
	if p.Name != saved.Rig || r.Glass != saved.Glass {
		return fit.Cycle{}, fmt.Errorf("cycle %d: rig %s, glass %s; the first has rig %s, glass %s: fit one rig and one glass at a time",
			n, p.Name, r.Glass, saved.Rig, saved.Glass)
	}
	setting := &forecast.Setting{Profile: p, Recipe: r}
	if len(c.Piece) > 0 {
		if err := pressed(setting, c.Piece); err != nil {
			return fit.Cycle{}, fmt.Errorf("cycle %d: %w", n, err)
		}
	}
	if r.Glass != "" && r.Known == nil {
		return fit.Cycle{}, fmt.Errorf("cycle %d: no figures of glass %s; --glasses names the folder that has its file", n, r.Glass)
	}
	job, err := setting.Job()
	if err != nil {
		return fit.Cycle{}, err
	}
	t, err := (records{j}).Trace(e.ctx, n)
	if err != nil {
		return fit.Cycle{}, err
	}
	return fit.Cycle{Trace: t, Job: job, StopMM: p.StopMM()}, nil
}

func fitText(s *fit.Saved) string {
	var b strings.Builder
	fmt.Fprintf(&b, "plant %s of rig %s, glass %s, fitted %s to cycles %v\n", s.Name, s.Rig, s.Glass, s.Fitted, s.Cycles)
	fmt.Fprintf(&b, "%d samples of glass; error %.1f K before, %.2f K after; lack of fit %.2f (1: nothing is left but the "+
		"thermometer's scatter)\n\n", s.Samples, s.BeforeK, s.AfterK, s.LackOfFit)
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NUMBER\tVALUE\t95 % INTERVAL\tMEANING")
	meaning := [...]string{"of the usual heat from the burner", "of the usual loss by radiation and air",
		"of the usual contact with the moulds", "decades stiffer than the glass's curve"}
	for i, n := range s.Numbers {
		if n.Told {
			fmt.Fprintf(w, "%s\t%.3f\t%.3f to %.3f\t%s\n", n.Name, n.Value, n.Low, n.High, meaning[i])
		} else {
			fmt.Fprintf(w, "%s\t-\tcannot be told\t%s\n", n.Name, n.Why)
		}
	}
	w.Flush() // a strings.Builder takes all
	if s.LackOfFit > lackMost {
		b.WriteString("\nThe plant does not explain these cycles: something acts that it does not know. Look at the " +
			"traces before you trust the numbers.\n")
	}
	return b.String()
}

// lackMost is the lack of fit beyond which a person is warned.
const lackMost = 2.0
