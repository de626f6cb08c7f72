package recipes_test

import (
	"bytes"
	"strings"
	"testing"

	"pressrig/recipes"
	"pressrig/rig"
)

// TestChecks has one mistake a row, beyond those of testdata/broken: text of
// the test's own recipe, what stands there instead, what must be said.
func TestChecks(t *testing.T) {
	for _, c := range []struct{ name, from, to, want string }{
		{"press opens while pressing", "{do: force, force: 250 N, to: form}",
			"{do: open, to: form, speed: 1 mm/s}",
			"press open in a press phase"},
		{"set opens", "{do: force, force: 50 N, to: form}", "{do: open, to: 58 mm, speed: 1 mm/s}",
			"press open in a set phase"},
		{"part closes", "{do: open, to: 57 mm, speed: 2.5 mm/s, force: 40 N}",
			"{do: close, to: 61 mm, speed: 2.5 mm/s, force: 40 N}", "press close in a part phase"},
		{"press moves while warming", "    spindle: 70 rpm",
			"    spindle: 70 rpm\n    press: {do: close, to: 2 mm, speed: 5 mm/s, force: 20 N}",
			"press close in a warm phase"},
		{"pull too large", "speed: 30 mm/s, force: 40 N", "speed: 30 mm/s, force: 90 N",
			"force is 90 N; the rig allows at most 60 N here"},
		{"too fast", "speed: 10 mm/s", "speed: 90 mm/s",
			"speed is 90 mm/s; the press moves at most 60 mm/s"},
		{"no contact force", "force: 50 N, to: form", "force: 2 N, to: form",
			"force is 2 N, less than means contact; write at least 8 N"},
		{"force without to", "{do: force, force: 50 N, to: form}", "{do: force, force: 50 N}",
			`press lacks the key "to"; a driven press that is to force needs it`},
		{"glass cools while heating", "glass >= 910 C", "glass <= 910 C",
			"a fire phase ends by <="},
		{"glass heats while cooling", "glass <= 520 C", "glass >= 520 C",
			"a flame_cool phase ends by >="},
		{"held too hot", "hold: 600 C", "hold: 800 C", "hold is 800 C; write 473 C to 695 C"},
		{"trim without hold", "oxygen: 2.4 L/min, hold: 900 C, trim: 5 %",
			"oxygen: 2.4 L/min, trim: 5 %",
			"trim without hold"},
		{"trim past the soft flame", "hold: 900 C, trim: 5 %", "hold: 900 C, trim: 20 %",
			"fuel is 1.5 L/min and may be trimmed by 20 %; a flame outside fire is soft"},
		{"too much oxygen", "oxygen: 4.3 L/min", "oxygen: 20 L/min",
			"oxygen is 20 L/min; the rig gives at most 16 L/min"},
		{"spindle too fast", "spindle: 60 rpm", "spindle: 600 rpm",
			"spindle is 600 rpm; the rig turns at most 200 rpm"},
		{"narrow window", "{from: 860 C, to: 940 C}", "{from: 900 C, to: 901 C}",
			"the window is narrower than 2 K"},
		{"window upside down", "{from: 860 C, to: 940 C}", "{from: 940 C, to: 860 C}",
			"to is 860 C; write 940 C to 2000 C"},
		{"blank inside out", "outer: 29 mm, inner: 24 mm", "outer: 24 mm, inner: 29 mm",
			"inner is not less than outer"},
		{"band without temperatures", "lower_at: 450 C, upper_at: 430 C, ", "",
			"a band without temperatures"},
		{"after past longest", "ends: {after: 25 s}", "ends: {after: 55 s}",
			"after is longer than longest"},
		{"least past longest", "least: 20 s", "least: 70 s", "least is not below longest"},
		{"least past after", "ends: {after: 25 s}", "ends: {after: 25 s, least: 30 s}",
			"least is longer than after"},
		{"for without when", "ends: {after: 25 s}", "ends: {after: 25 s, for: 1 s}",
			"for without when"},
		{"when without for", "glass >= 910 C, for: 500 ms", "glass >= 910 C",
			`ends lacks the key "for"`},
		{"answer to nothing", "ends: {after: 25 s}", "ends: {after: 25 s, answer: true}",
			"an answer without a prompt"},
		{"lit elsewhere", "ends: {after: 25 s}", "ends: {lit: true}",
			"lit belongs to the light phase"},
		{"hands without prompt", "    prompt: \"Swab the moulds, seat the blank; does it run " +
			"true?\"\n", "",
			"a load phase without a prompt"},
		{"next from load", "longest: 4 min\n    late: stop", "longest: 4 min\n    late: next",
			"late: next in a phase that must be done"},
		{"load late in the cycle", "    kind: soak", "    kind: load",
			"a load phase after the cycle has begun"},
		{"unload early", "    kind: soak", "    kind: unload", "an unload phase before the end"},
		{"second light", "    kind: soak", "    kind: light", "a second light phase"},
		{"light without fuel", "flame: {at: clear, fuel: 0.8 L/min}\n    ends: {lit",
			"flame: off\n    ends: {lit",
			"a light phase without fuel"},
		{"fuel of no flame", "{at: blank, fuel: 0.5 L/min}",
			"{at: blank, fuel: 0.5 L/min, lit: false}",
			"fuel of a flame that is not lit"},
		{"warm without flame", "{at: blank, fuel: 0.9 L/min, oxygen: 1.0 L/min}",
			"{at: blank, lit: false}",
			"a warm phase without flame"},
		{"warm while clear", "{at: blank, fuel: 0.9 L/min, oxygen: 1.0 L/min}",
			"{at: clear, fuel: 0.9 L/min}",
			"a warm phase with the burner clear"},
		{"keep warm after contact", "ends: {after: 25 s}",
			"ends: {after: 25 s}\n    on_hold: {keep_warm: 0.5 L/min, for: 9 s}",
			"keep_warm from the stroke on"},
		{"keep warm too large", "keep_warm: 0.8 L/min", "keep_warm: 3 L/min",
			"keep_warm is 3 L/min"},
		{"keep warm nothing", "    ends: {lit: true}",
			"    ends: {lit: true}\n    on_hold: {keep_warm: 0.5 L/min, for: 9 s}",
			"keep_warm in a light phase, where no soft glass is"},
		{"resume nowhere", "resume: warm", "resume: wram",
			`no phase is called "wram"; name the warm phase (did you mean warm?)`},
		{"channel as switch", "when: glass >= 450 C", "when: glass on",
			`write it like "glass >= 450 C"`},
		{"switch neither on nor off", "when: glass >= 450 C", "when: burner_clear up",
			`a switch is not "up"; write on or off`},
		{"unfitted switch", "when: glass >= 450 C", "when: indexed on",
			"indexed is not fitted on bench-driven"},
		{"speed of a channel in C", "channel: spindle, from: 55 rpm",
			"channel: spindle, from: 55 C",
			`"55 C" is a temperature; a rotation speed is wanted`},
		{"force past the rig", "channel: spindle, from: 55 rpm, to: 85 rpm",
			"channel: force, from: 0 N, to: 900 N",
			"to is 900 N; write -60 N to 400 N"},
		{"pressure past any rig", "channel: spindle, from: 55 rpm, to: 85 rpm",
			"channel: fuel_pressure, from: 1 bar, to: 90 bar",
			"to is 90 bar; write 0 bar to 16 bar"},
		{"no glass", "glass: soda-lime-lamp\n", "",
			`a recipe that heats or presses a blank lacks the key "glass"`},
		{"set before press", "    kind: soak", "    kind: set",
			"a set phase without a press phase before it"},
		{"part before press", "    kind: soak", "    kind: part",
			"a part phase without a stroke before it"},
		{"out while closed", "    kind: set", "    kind: out",
			"an out phase while the press is closed"},
	} {
		r, err := recipes.Parse("x", edited(t, "disc", c.from, c.to), profile(t, "driven"))
		if err == nil || r != nil {
			t.Errorf("%s: accepted", c.name)
			continue
		}
		if !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n%v\nwant %s", c.name, err, c.want)
		}
	}
}

// A flow below the profile's least is refused wherever a recipe may ask for it,
// trimmed too; the least itself is taken.
func TestFuelBelowTheRigsLeast(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	const at = "  soft_max: 1.6 L/min\n"
	p, err := rig.ParseProfile("p.yaml", bytes.Replace(text, []byte(at), []byte(at+"  fuel_min: 0.2 L/min\n"), 1))
	if err != nil {
		t.Fatal(err)
	}
	sample, err := recipes.Named("practice-disc")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, want string }{
		{"fuel: 0.2 L/min", "fuel: 0.2 L/min", ""},
		{"fuel: 0.2 L/min", "fuel: 0.19 L/min", "a flame_cool phase may burn as little as 0.19 L/min"},
		{"fuel: 1.5 L/min, oxygen: 2.4 L/min, hold: 900 C, trim: 5 %", "fuel: 0.21 L/min, oxygen: 2.4 L/min, hold: 900 C, trim: 5 %",
			"a flame stands from 0.2 L/min on (fuel_min), trimming included"},
	} {
		changed := strings.Replace(string(sample.Text), c.from, c.to, 1)
		if c.from != c.to && changed == string(sample.Text) {
			t.Fatalf("no %q", c.from)
		}
		_, err := recipes.Parse("r.yaml", []byte(changed), p)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%q: %v; want %q", c.to, err, c.want)
		}
	}
}

func TestPlainHeatingNeedsNoPress(t *testing.T) {
	text := string(edited(t, "disc"))
	from, to := strings.Index(text, "  - phase: clear\n"), strings.Index(text,
		"  - phase: flame_cool\n")
	text = text[:from] + text[to:]
	text = strings.Replace(text, "window: {from: 860 C, to: 940 C}\n", "", 1)
	r, err := recipes.Parse("x", []byte(text), profile(t, "driven"))
	if err != nil || r.Strokes() {
		t.Errorf("a heat-only recipe, the first of any rig: %v", err)
	}
}
