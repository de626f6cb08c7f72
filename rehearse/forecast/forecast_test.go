package forecast

import (
	"fmt"
	"testing"

	"pressrig/glass/forming"
	"pressrig/recipes"
	"pressrig/rig"
)

func setting(t testing.TB, name string) *Setting {
	t.Helper()
	sample, err := recipes.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin(sample.For)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse(name+".yaml", sample.Text, p)
	if err != nil {
		t.Fatal(err)
	}
	return &Setting{Profile: p, Recipe: r, Limits: forming.UsualLimits(), Seed: 1}
}

func TestShow(t *testing.T) {
	for _, n := range []string{"practice-disc", "stem-7pin", "stem-tubulated", "hand-pulled-disc", "by-eye-disc"} {
		s := setting(t, n)
		r, err := Play(s)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(n, r.State, r.Reason, r.Good, r.VirtualS, r.PullN)
		for _, f := range r.Findings {
			fmt.Printf("   %-30s %8.3f %8.3f %s  margin %.2f %s\n", f.What, f.Value, f.Limit, f.Unit, f.Margin, f.Defect)
		}
		if n == "stem-7pin" {
			for _, k := range Knobs(s.Recipe) {
				e, err := Turn(s, r, &k)
				fmt.Println(e, err)
			}
		}
	}
}
