package main

import (
	"strings"

	"pressrig/panel"
	"pressrig/panel/api"
	"pressrig/recipes"
)

// recipe finds the recipe of an order and checks it against the rig.
func (d *desk) recipe(o panel.Order) (*recipes.Recipe, error) {
	name, text := o.File, o.Text
	if len(text) == 0 {
		sample, err := recipes.Named(o.Recipe)
		if err != nil {
			return nil, &api.Error{Code: api.NotFound, Message: err.Error()}
		}
		name, text = sample.Name+".yaml", sample.Text
	}
	r, err := recipes.ParseFor(name, text, d.rig, d.shelf)
	if err != nil {
		return nil, &api.Error{Code: api.Problems, Message: "the recipe does not fit this rig",
			Lines: strings.Split(err.Error(), "\n")}
	}
	return r, nil
}

// Recipes are the stored recipes that fit this rig.
func (d *desk) Recipes() []*recipes.Recipe {
	var fit []*recipes.Recipe
	for _, sample := range recipes.Stored() {
		if r, err := recipes.Parse(sample.Name+".yaml", sample.Text, d.rig); err == nil {
			fit = append(fit, r)
		}
	}
	return fit
}
