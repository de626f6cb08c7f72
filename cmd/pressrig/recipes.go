package main

import (
	"fmt"
	"text/tabwriter"

	"pressrig/panel/api"
	"pressrig/recipes"
)

type recipesCmd struct {
	Name string `arg:"" optional:"" help:"Print this one."`
}

// Run lists the recipes that are part of the program, or prints one; it needs
// no daemon.
func (c *recipesCmd) Run(e *env) error {
	if c.Name != "" {
		return e.printRecipe(c.Name)
	}
	list := []api.Recipe{}
	for _, s := range recipes.Stored() {
		r, err := storedRecipe(s)
		if err != nil {
			return err
		}
		list = append(list, api.RecipeOf(r, false))
	}
	if e.flags.JSON {
		return e.printJSON(list)
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "RECIPE\tGLASS\tPHASES\tLONGEST\tNUMBERS ARE\tNOTE")
	for _, r := range list {
		fmt.Fprintf(w, "%s\t%s\t%d\t%.0f s\t%s\t%s\n", r.Name, dash(r.Glass), r.Phases, r.LongestS,
			r.Standing, dash(r.Note))
	}
	return w.Flush()
}

func (e *env) printRecipe(name string) error {
	s, err := recipes.Named(name)
	if err != nil {
		return err
	}
	if e.flags.JSON {
		r, err := storedRecipe(s)
		if err != nil {
			return err
		}
		return e.printJSON(api.RecipeOf(r, true))
	}
	_, err = e.out.Write(s.Text)
	return err
}

// storedRecipe parses a recipe of the program without a rig, to look at it.
func storedRecipe(s recipes.Sample) (*recipes.Recipe, error) {
	return recipes.Parse(s.Name+".yaml", s.Text, nil)
}
