package recipes_test

import (
	"testing"

	"pressrig/recipes"
	"pressrig/rig"
)

func TestStoredRecipesFitTheirRig(t *testing.T) {
	files := recipes.Stored()
	if len(files) != 9 {
		t.Fatalf("%d stored recipes, want 9", len(files))
	}
	for _, s := range files {
		p, err := rig.Builtin(s.For)
		if err != nil {
			t.Fatal(err)
		}
		r, err := recipes.Parse(s.Name+".yaml", s.Text, p)
		if err != nil {
			t.Errorf("%s:\n%v", s.Name, err)
			continue
		}
		if r.Name != s.Name || r.Standing != "guess" {
			t.Errorf("%s: name %q, standing %q; nothing of ours was measured", s.Name, r.Name, r.Standing)
		}
		if len(r.Warnings) > 0 {
			t.Errorf("%s: %v", s.Name, r.Warnings)
		}
		if _, err := recipes.Parse(s.Name+".yaml", s.Text, nil); err != nil {
			t.Errorf("%s without a rig:\n%v", s.Name, err)
		}
	}
}
