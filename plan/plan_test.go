package plan

import (
	"testing"

	"pressrig/glass"
	"pressrig/glass/forming"
	"pressrig/recipes"
	"pressrig/rehearse/forecast"
	"pressrig/rig"
)

func TestTry(t *testing.T) {
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"soda-lime-lamp", "lead-29", "borosilicate-717a"} {
		g, _ := glass.Named(name)
		m := forming.MaterialOf(&g)
		job := forming.Job{Material: m, Ring: forming.Ring{OuterMM: 29, InnerMM: 24, LengthMM: 17.3}, Contact: forming.Usual(),
			Cavity: forming.Cavity{RadiusMM: 15, DiscMM: 5, Beads: 7, BeadGapMM: 0.8, BeadDepthMM: 1.5, BeadVolMM3: 7.5, GapMM: 0.08}}
		b := &bench{profile: p, glass: &g, job: job, limits: forming.UsualLimits(), ratio: ratiosFor(5, g.Lead, float64(g.SofteningC)),
			lowerC: float64(g.AnnealingC) - 64, upperC: float64(g.AnnealingC) - 84, targetC: g.AtLogViscosity(3.86)}
		err := b.warming()
		t.Logf("%s target %.0f: %v %+v", name, b.targetC, err, b.firing)
		err = b.pressing()
		t.Logf("%v %+v %+v", err, b.stroke, b.window)
		b.targetC = b.window.bestC
		b.thickestMM = 5
		err = b.warming()
		t.Logf("%s target %.0f: %v %+v", name, b.targetC, err, b.firing)
		b.cool()
		t.Logf("%+v", b.cooling)
		if err := b.turning(); err != nil {
			t.Fatal(err)
		}
		t.Logf("%+v %v", b.spin, b.warnings)
		text := b.recipe("plan-"+name, "planned", 7, "stem-lower", "stem-upper")
		r, err := recipes.Parse("plan.yaml", text, p)
		if err != nil {
			t.Errorf("%v\n%s", err, text)
			continue
		}
		t.Log(r.Warnings)
		res, err := forecast.Play(&forecast.Setting{Profile: p, Recipe: r, Cavity: &job.Cavity, Limits: forming.UsualLimits(), Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%v %s %s", res.Good, res.State, res.Reason)
		for _, f := range res.Findings {
			t.Logf("%+v", f)
		}
	}
}
