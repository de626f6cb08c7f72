package recipes

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed stored/*.yaml
var stored embed.FS

// Sample is one stored recipe: its name and its text.
type Sample struct {
	Name string
	Text []byte
	// For names the built-in rig profile that the recipe is written for.
	For string
}

// storedFor lists the stored recipes, learning order first, with their rig.
var storedFor = [][2]string{
	{"light-only", "driven"},
	{"dry-run", "driven"},
	{"warm-moulds", "driven"},
	{"practice-disc", "driven"},
	{"stem-7pin", "driven"},
	{"stem-tubulated", "driven"},
	{"hand-pulled-disc", "weights"},
	{"by-eye-disc", "no-thermometer"},
	{"assisted-disc", "driven"},
}

// Stored returns the recipes that come with the program. Their numbers are
// guesses from bench practice; none was measured.
func Stored() []Sample {
	var all []Sample
	for _, s := range storedFor {
		// The files are part of the program; a test reads them all.
		text, err := stored.ReadFile("stored/" + s[0] + ".yaml")
		if err == nil {
			all = append(all, Sample{Name: s[0], Text: text, For: s[1]})
		}
	}
	return all
}

// Named returns a stored recipe by its name.
func Named(name string) (Sample, error) {
	var names []string
	for _, s := range Stored() {
		if s.Name == name {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return Sample{}, fmt.Errorf("no stored recipe %.40q; there are %s", name, strings.Join(names,
		", "))
}
