package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"pressrig/glass"
	"pressrig/plan"
	"pressrig/recipes"
	"pressrig/rehearse/fit"
)

type planCmd struct {
	Files   []string `arg:"" name:"file" help:"Files of a piece, its mould and its tube, or examples' names."`
	Rig     string   `default:"driven" help:"Rig profile, or a built-in one's name."`
	Plant   string   `help:"Plant that fit has saved; without one the usual figures stand." placeholder:"FILE"`
	Name    string   `help:"Of the recipe (default: plan- and the piece's)."`
	Out     string   `help:"Write the recipe into this file." placeholder:"FILE"`
	Explain bool     `help:"Tell formula and source of every figure."`
}

func (planCmd) Help() string {
	return "Finds from the drawing how long a ring to cut, how to warm and fire it, when and how hard to press, how to " +
		"cool it, and writes a checked recipe with its reasons. pressrig plan stem-7pin-soda mould-7pin-soda tube-27-soda " +
		"--out stem.yaml plans the first example. Until the plant behind it is fitted to cycles of your rig it stands on " +
		"usual figures of flame and contact: a first recipe to rehearse, no promise. " + notSafe
}

// planned is what is printed.
type planned struct {
	Recipe   string        `json:"recipe"`
	Rig      string        `json:"rig"`
	Standing string        `json:"stands_on"`
	Figures  []plan.Figure `json:"figures"`
	Limits   []plan.Limit  `json:"limits"`
	Warnings []string      `json:"warnings,omitempty"`
	File     string        `json:"file,omitempty"`
	Text     string        `json:"recipe_text"`
}

// Run plans, checks its own recipe and prints.
func (c *planCmd) Run(e *env) error {
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	o, standing, err := c.order(shelf)
	if err != nil {
		return err
	}
	p, err := plan.Make(o)
	if err != nil {
		return exit{exitFailed, fmt.Errorf("no plan: %w", err)}
	}
	checked, err := recipes.ParseFor(p.Name+".yaml", p.Recipe, o.Profile, shelf)
	if err != nil {
		return fmt.Errorf("the planned recipe does not pass check, which is a fault of the program: %w", err)
	}
	for _, w := range checked.Warnings {
		p.Warnings = append(p.Warnings, w.Error())
	}
	if c.Out != "" {
		if err := writeWhole(c.Out, p.Recipe); err != nil {
			return fmt.Errorf("--out: %w", err)
		}
	}
	out := &planned{Recipe: p.Name, Rig: o.Profile.Name, Standing: standing, Figures: p.Figures, Limits: p.Limits,
		Warnings: p.Warnings, File: c.Out, Text: string(p.Recipe)}
	if e.flags.JSON {
		return e.printJSON(out)
	}
	return c.show(e, out)
}

// order reads what is to be planned.
func (c *planCmd) order(shelf *glass.Shelf) (*plan.Order, string, error) {
	if c.Out != "" {
		if _, err := os.Stat(filepath.Dir(c.Out)); err != nil {
			return nil, "", usage("--out %s: %w; write into a folder that exists", c.Out, err)
		}
	}
	w, err := wholeWorkshop(c.Files)
	if err != nil {
		return nil, "", err
	}
	o := &plan.Order{Name: c.Name, Piece: w.piece, Mould: w.mould, Tube: w.tube}
	if o.Name == "" {
		o.Name = "plan-" + w.piece.Name
	}
	g, known := shelf.Named(w.piece.Glass)
	if !known {
		return nil, "", usage("piece %s is of glass %s, which the program does not know; one of %s, or a glass file in the folder that --glasses names",
			w.piece.Name, w.piece.Glass, strings.Join(shelf.Names(), ", "))
	}
	o.Glass = &g
	if o.Profile, err = (&checkCmd{Rig: c.Rig}).profile(); err != nil {
		return nil, "", err
	}
	standing := "Usual figures of flame and contact: a first guess, no promise."
	if c.Plant != "" {
		plant, err := readPlant(c.Plant, g.Name)
		if err != nil {
			return nil, "", err
		}
		o.Tune, standing = plant.Tune, "Plant "+plant.Name+", fitted "+plant.Fitted+" to rig "+plant.Rig+"."
	}
	return o, standing, nil
}

// readPlant reads what fit has saved, for one glass.
func readPlant(file, glassName string) (*fit.Saved, error) {
	text, err := readRecipe(file)
	if err != nil {
		return nil, err
	}
	plant, err := fit.Decode(file, text)
	if err != nil {
		return nil, err
	}
	if plant.Glass != glassName {
		return nil, usage("%s was fitted to glass %s, not %s; fit one for it", file, plant.Glass, glassName)
	}
	return plant, nil
}

// wholeWorkshop reads a piece, its mould and its tube, all without problems.
func wholeWorkshop(files []string) (*workshop, error) {
	var w workshop
	for _, file := range files {
		found, err := w.read(file)
		if err != nil {
			return nil, err
		}
		if found.bad() {
			var lines []string
			for _, p := range found.Problems {
				if !p.Warning {
					lines = append(lines, p.text)
				}
			}
			return nil, exit{exitFailed, fmt.Errorf("%s", strings.Join(lines, "\n"))}
		}
	}
	switch {
	case w.piece == nil:
		return nil, usage("no piece among the files; name a piece, its mould and its tube")
	case w.mould == nil:
		return nil, usage("no mould among the files; name the mould that is cut for piece %s", w.piece.Name)
	case w.tube == nil:
		return nil, usage("no tube among the files; name the tube that the ring is cut from")
	}
	return &w, nil
}

// show prints the plan for a person.
func (c *planCmd) show(e *env, p *planned) error {
	fmt.Fprintf(e.out, "%s for rig %s\n%s\n", p.Recipe, p.Rig, p.Standing)
	wide := 0
	for i := range p.Figures {
		wide = max(wide, len(p.Figures[i].What))
	}
	topic := ""
	for i := range p.Figures {
		f := &p.Figures[i]
		if f.Topic != topic {
			topic = f.Topic
			fmt.Fprintf(e.out, "\n%s\n", strings.ToUpper(topic))
		}
		window := ""
		if f.From != 0 || f.To != 0 {
			window = fmt.Sprintf("%.4g to %.4g", f.From, f.To)
		}
		value := fmt.Sprintf("%.4g %s", f.Value, f.Unit)
		if f.Text != "" {
			value = f.Text
		}
		fmt.Fprintln(e.out, strings.TrimRight(fmt.Sprintf("  %-*s  %-16s  %s", wide, f.What, value, window), " "))
		if c.Explain {
			fmt.Fprintf(e.out, "      %s; %s [%s]\n", f.Formula, f.Source, f.Standing)
		}
	}
	fmt.Fprintln(e.out, "\nWHAT LIMITS IT, AND WHAT WOULD GIVE ROOM")
	for _, l := range p.Limits {
		fmt.Fprintf(e.out, "  %s\n    %s\n", l.What, l.Relaxes)
	}
	for _, text := range p.Warnings {
		fmt.Fprintf(e.out, "warning: %s\n", text)
	}
	if p.File != "" {
		_, err := fmt.Fprintf(e.out, "\nrecipe in %s: rehearse it before you light a flame\n", p.File)
		return err
	}
	_, err := fmt.Fprintf(e.out, "\n%s", p.Text)
	return err
}
