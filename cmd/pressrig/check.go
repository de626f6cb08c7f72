package main

import (
	"fmt"
	"io"
	"strings"

	"pressrig/glass"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/yamlfile"
)

type checkCmd struct {
	Files []string `arg:"" name:"file" help:"Recipes and rig profiles."`
	Rig   string   `help:"Rig to check recipes for: a profile, or a built-in one's name."`
}

func (checkCmd) Help() string {
	return "Prints a line for each problem: file:line:column: what is wrong; what would be right. " +
		"A file without problems is consistent, not safe: only a competent person's risk " +
		"assessment of the rig makes it so."
}

// checked is what a check found in one file.
type checked struct {
	File     string    `json:"file"`
	Kind     string    `json:"kind"` // recipe | rig profile | ""
	Name     string    `json:"name,omitempty"`
	Problems []problem `json:"problems"`
}

// problem is one fault. Line and column are 0 for one of the file as a whole.
type problem struct {
	Line    int    `json:"line,omitempty"`
	Column  int    `json:"column,omitempty"`
	What    string `json:"what"`
	Right   string `json:"right,omitempty"`
	Warning bool   `json:"warning,omitempty"`
	text    string
}

// Run checks every file and fails when one has problems. Warnings are none.
func (c *checkCmd) Run(e *env) error {
	profile, err := c.profile()
	if err != nil {
		return err
	}
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	list := []checked{}
	bad := 0
	for _, file := range c.Files {
		found := checkFile(file, profile, shelf)
		list = append(list, found)
		if found.bad() {
			bad++
		}
	}
	if err := e.printChecked(list, profile); err != nil {
		return err
	}
	if bad > 0 {
		return exit{exitFailed, nil}
	}
	return nil
}

// profile is the rig that recipes are checked against, nil without one.
func (c *checkCmd) profile() (*rig.Profile, error) {
	if c.Rig == "" {
		return nil, nil
	}
	if isFile(c.Rig) {
		text, err := readRecipe(c.Rig)
		if err != nil {
			return nil, err
		}
		return rig.ParseProfile(c.Rig, text)
	}
	return rig.Builtin(c.Rig)
}

func (c *checked) bad() bool {
	for _, p := range c.Problems {
		if !p.Warning {
			return true
		}
	}
	return false
}

// checkFile reads a file and checks it as what it says it is.
func checkFile(file string, profile *rig.Profile, shelf *glass.Shelf) checked {
	out := checked{File: file, Problems: []problem{}}
	text, err := readRecipe(file)
	if err != nil {
		out.whole(err)
		return out
	}
	top := yamlfile.Read(file, text).Root().AnyMap()
	switch {
	case top.Get("recipe").Present():
		out.Kind = "recipe"
		r, err := recipes.ParseFor(file, text, profile, shelf)
		out.add(err)
		if r != nil {
			out.Name = r.Name
			out.all(r.Warnings)
		}
	case top.Get("rig").Present():
		out.Kind = "rig profile"
		out.rig(file, text)
	default:
		out.unknown(file, text, "neither a recipe nor a rig profile",
			"begin a recipe with recipe: NAME, a rig profile with rig: NAME")
	}
	return out
}

func (c *checked) rig(file string, text []byte) {
	p, err := rig.ParseProfile(file, text)
	c.add(err)
	if p != nil {
		c.Name = p.Name
		c.add(safety.CheckProfile(p))
		for _, w := range safety.Warnings(p) {
			c.Problems = append(c.Problems, problem{What: w, Warning: true, text: c.File + ": warning: " + w})
		}
	}
}

// unknown tells of YAML that cannot be read, or else that the file is nothing
// that is known here.
func (c *checked) unknown(file string, text []byte, what, right string) {
	f := yamlfile.Read(file, text)
	f.Root().AnyMap()
	if err := f.Err(); err != nil {
		c.add(err)
		return
	}
	c.all(yamlfile.Problems{{File: file, Line: 1, Column: 1, What: what, Right: right}})
}

func (c *checked) add(err error) {
	if err == nil {
		return
	}
	if list := yamlfile.Of(err); list != nil {
		c.all(list)
		return
	}
	c.whole(fmt.Errorf("%s: %w", c.File, err))
}

func (c *checked) all(list yamlfile.Problems) {
	for _, p := range list {
		c.Problems = append(c.Problems, problem{p.Line, p.Column, p.What, p.Right, p.Warning, p.Error()})
	}
}

// whole adds what is wrong with the file as a whole.
func (c *checked) whole(err error) {
	if many, ok := err.(interface{ Unwrap() []error }); ok { // of this error, not of its cause
		for _, one := range many.Unwrap() {
			c.whole(one)
		}
		return
	}
	c.Problems = append(c.Problems, problem{What: err.Error(), text: err.Error()})
}

func (e *env) printChecked(list []checked, profile *rig.Profile) error {
	if e.flags.JSON {
		return e.printJSON(list)
	}
	var b strings.Builder
	rigs := false
	for i := range list {
		c := &list[i]
		rigs = rigs || c.Kind == "rig profile"
		for _, p := range c.Problems {
			fmt.Fprintln(&b, p.text)
		}
		if c.bad() {
			continue
		}
		note := ""
		if c.Kind == "recipe" && profile == nil {
			note = " (without a rig; --rig checks against one)"
		}
		if n := len(c.Problems); n > 0 && c.Kind == "rig profile" {
			note = fmt.Sprintf(" that it is refused for; warnings above: %d", n)
		}
		fmt.Fprintf(&b, "%s: %s %s has no problems%s\n", c.File, c.Kind, c.Name, note)
	}
	if rigs {
		fmt.Fprintln(&b, safety.Notice)
	}
	_, err := io.WriteString(e.out, b.String())
	return err
}
