package recipes_test

import (
	"strings"
	"testing"

	"pressrig/recipes"
	"pressrig/rig"
)

// The stored stems keep to facts of the trade (each: common practice, no
// source): a cut ring of about 17 mm for a stem of this size; a soft flame at
// once after pressing, so that the glass does not crack, then a flame that
// steps down; fuel alone when lighting, oxygen only later.
func TestStemsKeepToTheTrade(t *testing.T) {
	for _, sample := range recipes.Stored() {
		if !strings.HasPrefix(sample.Name, "stem-") {
			continue
		}
		p, err := rig.Builtin(sample.For)
		if err != nil {
			t.Fatal(err)
		}
		r, err := recipes.Parse(sample.Name, sample.Text, p)
		if err != nil {
			t.Fatal(err)
		}
		if r.Blank.Length < 16 || r.Blank.Length > 18 {
			t.Errorf("%s: a ring of %v mm; about 17", r.Name, r.Blank.Length)
		}
		var after []recipes.Kind
		for i := r.FirstStroke(); i < len(r.Phases); i++ {
			if k := r.Phases[i].Kind; len(after) == 0 || after[len(after)-1] != k {
				after = append(after, k)
			}
		}
		want := []recipes.Kind{recipes.Press, recipes.Set, recipes.Part, recipes.SoftFlame,
			recipes.FlameCool, recipes.Out, recipes.Unload}
		for i, k := range want {
			if i >= len(after) || after[i] != k {
				t.Fatalf("%s: from the stroke on %v; the trade does %v", r.Name, after, want)
			}
		}
		for _, ph := range r.Phases {
			if ph.Kind == recipes.Light && ph.Flame.Oxygen != 0 {
				t.Errorf("%s: oxygen while lighting", r.Name)
			}
		}
	}
}
