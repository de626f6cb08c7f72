package campaign

import (
	"strings"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// variant is a rig with a recipe for it. Most causes are provoked on the rig
// that has every drive and sensor; some need another.
type variant struct {
	name    string
	profile string // built-in profile
	recipe  string // stored recipe
	// What is changed in the text of both, old and new in turn: invented data.
	profileSwaps, recipeSwaps []string
}

// brisk shortens the practice disc: the phases are the same, the waits between
// them are not worth simulating ten thousand times.
var brisk = []string{
	"window: {from: 860 C", "window: {from: 800 C",
	"ends: {after: 10 s}", "ends: {after: 5 s}",
	"ends: {after: 25 s}", "ends: {after: 5 s}",
	"fuel: 0.9 L/min, oxygen: 1.0 L/min", "fuel: 1.5 L/min, oxygen: 1.8 L/min", "least: 20 s", "least: 10 s",
	"fuel: 2.7 L/min, oxygen: 4.3 L/min", "fuel: 3.3 L/min, oxygen: 5.3 L/min",
	"ends: {when: glass <= 540 C, for: 1 s, least: 15 s}", "ends: {after: 5 s}",
}

var variants = [...]variant{
	{name: "driven", profile: "driven", recipe: "practice-disc", recipeSwaps: brisk},
	{name: "turning", profile: "driven", recipe: "practice-disc",
		profileSwaps: []string{"at_press: stopped\n  upper_half: fixed",
			"at_press: turning\n  upper_half: free\n  press_low: 30 rpm\n  press_high: 50 rpm"},
		recipeSwaps: append([]string{"flame: {at: clear, fuel: 0.8 L/min}\n    spindle: 0 rpm",
			"flame: {at: clear, fuel: 0.8 L/min}\n    spindle: 40 rpm"}, brisk...)},
	{name: "stem", profile: "driven", recipe: "stem-tubulated"},
	{name: "weights", profile: "weights", recipe: "hand-pulled-disc"},
	{name: "by-eye", profile: "no-thermometer", recipe: "by-eye-disc"},
}

// Rigs are the names of the rigs that a script may run on.
func Rigs() []string {
	var names []string
	for i := range variants {
		names = append(names, variants[i].name)
	}
	return names
}

// short ends the name of a rig whose check, purge, post-purge and creep are
// shorter, in the same order, for runs that are about something else.
const short = "-short"

func rigNamed(name string) (*variant, bool) {
	name = strings.TrimSuffix(name, short)
	for i := range variants {
		if variants[i].name == name {
			return &variants[i], true
		}
	}
	return nil, false
}

// load reads profile and recipe.
func (v *variant) load() (*rig.Profile, *recipes.Recipe, error) {
	text, err := rig.BuiltinText(v.profile)
	if err != nil {
		return nil, nil, err
	}
	p, err := rig.ParseProfile(v.name+".yaml", swap(text, v.profileSwaps))
	if err != nil {
		return nil, nil, err
	}
	sample, err := recipes.Named(v.recipe)
	if err != nil {
		return nil, nil, err
	}
	r, err := recipes.Parse(sample.Name+".yaml", swap(sample.Text, v.recipeSwaps), p)
	return p, r, err
}

// swap changes the first of each old text for the new one.
func swap(text []byte, pairs []string) []byte {
	changed := string(text)
	for i := 0; i+1 < len(pairs); i += 2 {
		changed = strings.Replace(changed, pairs[i], pairs[i+1], 1)
	}
	return []byte(changed)
}

// config is the warden's on that rig.
func configOf(name string, p *rig.Profile) warden.Config {
	c := p.WardenConfig()
	if strings.HasSuffix(name, short) {
		c.CheckMs, c.PurgeMs, c.PostPurgeMs, c.CreepMs = 500, 1000, 1000, 2000
	}
	return c
}
