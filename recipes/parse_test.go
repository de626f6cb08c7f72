package recipes_test

import (
	"crypto/sha256"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"pressrig/alloctest"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/yamlfile"
	"pressrig/yamlfile/yamltest"
)

func profile(t testing.TB, name string) *rig.Profile {
	t.Helper()
	p, err := rig.Builtin(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// edited is a recipe's text (the test's own disc, or a stored one) with each
// old text replaced by the new one after it, once; a text that is not there
// fails the test.
func edited(t testing.TB, name string, pairs ...string) []byte {
	t.Helper()
	text := ""
	if own, err := os.ReadFile("testdata/" + name + ".yaml"); err == nil {
		text = string(own)
	} else if s, err := recipes.Named(name); err == nil {
		text = string(s.Text)
	} else {
		t.Fatal(err)
	}
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("%s has no %q", name, pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return []byte(text)
}

func phase(t *testing.T, r *recipes.Recipe, name string) *recipes.Phase {
	t.Helper()
	for i := range r.Phases {
		if r.Phases[i].Name == name {
			return &r.Phases[i]
		}
	}
	t.Fatalf("%s has no phase %q", r.Name, name)
	return nil
}

// What the practice recipe says is what the recipe holds, unit by unit.
func TestParseReadsEveryKey(t *testing.T) {
	text := edited(t, "disc")
	r, err := recipes.Parse("disc.yaml", text, profile(t, "driven"))
	if err != nil {
		t.Fatal(err)
	}
	if r.Hash != sha256.Sum256(text) || string(r.Text) != string(text) {
		t.Error("hash or text are not the file's")
	}
	if r.Glass != "soda-lime-lamp" || r.Longest != 20*time.Minute || r.Assisted ||
		r.Blank != (recipes.Blank{Outer: 29, Inner: 24, Length: 17}) ||
		r.Window != (recipes.Window{Low: 860, High: 940}) ||
		r.Moulds != (recipes.Moulds{Lower: "disc-30-lower", Upper: "disc-30-upper",
			LowerC: 450, UpperC: 430, Band: 15}) {
		t.Errorf("head: %s %v %+v %+v %+v", r.Glass, r.Longest, r.Blank, r.Window, r.Moulds)
	}
	if r.Phases[r.Resume].Name != "warm" || !r.Strokes() || r.Phases[r.FirstStroke()].Name != "approach" {
		t.Errorf("resume %d, first stroke %d", r.Resume, r.FirstStroke())
	}
	warm := phase(t, r, "warm")
	if warm.Kind != recipes.Warm || warm.Late != recipes.LateHold || warm.Longest != 70*time.Second ||
		warm.Flame != (recipes.Flame{Lit: true, At: recipes.AtBlank, Fuel: 0.9, Oxygen: 1}) ||
		warm.SpindleRPM != 70 || warm.SpindleKeep || warm.Press.Do != recipes.DoStay ||
		warm.OnHold != (recipes.OnHold{KeepWarm: true, Fuel: 0.8, For: time.Minute}) {
		t.Errorf("warm: %+v", warm)
	}
	if e := warm.End; e.Least != 20*time.Second || e.When == nil || *e.When != (recipes.Condition{
		Channel: "glass", AI: warden.AiGlass, AtLeast: true, Value: 450, Count: 4500,
		For: time.Second}) {
		t.Errorf("warm ends: %+v", e)
	}
	if len(warm.Bands) != 1 || warm.Bands[0] != (recipes.Band{Channel: "spindle",
		AI:  warden.AiSpindle,
		Low: 55, High: 85, LowCount: 550, HighCount: 850, Grace: 4 * time.Second,
		Fault: recipes.LateHold}) {
		t.Errorf("warm bands: %+v", warm.Bands)
	}
	if f := phase(t, r, "soak").Flame; !f.HasHold || f.HoldC != 900 || f.Trim != 5 {
		t.Errorf("soak: %+v", f)
	}
	wait := profile(t, "driven").Press.Positions["wait"]
	if s := phase(t, r, "approach").Press; s != (recipes.Stroke{Do: recipes.DoClose, To: wait,
		Speed: 50, Force: 60}) {
		t.Errorf("approach: %+v", s)
	}
	// Flame and spindle that are not written are those of the phase before.
	set := phase(t, r, "set")
	if set.Flame != phase(t, r, "clear").Flame || !set.SpindleKeep {
		t.Errorf("set: %+v", set)
	}
}

func TestHandRigGetsItsOwnLimits(t *testing.T) {
	p := profile(t, "weights")
	r, err := recipes.Parse("x", edited(t, "hand-pulled-disc"), p)
	if err != nil {
		t.Fatal(err)
	}
	want := recipes.Stroke{Do: recipes.DoForce, To: p.Press.End, Speed: p.Press.SpeedMax,
		Force: p.Press.ForceMax}
	if have := phase(t, r, "form").Press; have != want {
		t.Errorf("form: %+v, want %+v", have, want)
	}
	if w := phase(t, r, "pull").End.When; w.Switch != warden.InPressOpen || w.On {
		t.Errorf("pull ends: %+v", w)
	}
}

// A condition is compared in counts, so a calibration moves the count and not
// the temperature: a sensor that reads 2 % low shows 882 at a true 900 C.
func TestConditionFollowsCalibration(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.ParseProfile("x", append(text, []byte("\ncalibrations:\n"+
		"  - {channel: glass, read: [490 C, 980 C], actual: [500 C, 1000 C], "+
		"date: 2026-11-02, reference: furnace}\n")...))
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse("x", edited(t, "disc", "glass >= 910 C", "glass >= 900 C"), p)
	if err != nil {
		t.Fatal(err)
	}
	if w := phase(t, r, "fire").End.When; w.Value != 900 || w.Count != 8820 {
		t.Errorf("fire ends at %v C, count %d; want 900 C, 8820", w.Value, w.Count)
	}
}

// Lead glass goes grey in a reducing flame (common practice): 1.1 of what
// burns the fuel is demanded in fire and asked for elsewhere: 5.0 of propane,
// 2 of natural gas as methane, 0.5 of hydrogen (stoichiometry of C3H8, CH4, H2).
func TestLeadGlass(t *testing.T) {
	lead := []string{"glass: soda-lime-lamp", "glass: lead-29",
		"lower_at: 450 C, upper_at: 430 C", "lower_at: 365 C, upper_at: 350 C",
		"window: {from: 860 C, to: 940 C}", "window: {from: 810 C, to: 880 C}",
		"glass >= 450 C", "glass >= 400 C", "glass >= 910 C", "glass >= 850 C",
		"hold: 900 C", "hold: 840 C", "hold: 600 C", "hold: 490 C", "glass <= 520 C",
		"glass <= 435 C"}
	for _, c := range []struct {
		fuel   string
		oxygen string
		errors int
		warned int // warm, soak, soft_flame, flame_cool of propane
	}{{"propane", "10.9 L/min", 1, 4}, {"propane", "11.0 L/min", 0, 4},
		{"natural_gas", "4.3 L/min", 1, 4}, {"natural_gas", "4.4 L/min", 0, 4},
		{"hydrogen", "1.0 L/min", 1, 1}, {"hydrogen", "1.1 L/min", 0, 1}} {
		p := profile(t, "driven")
		p.Gas.Fuel = c.fuel
		flame := append(lead[:len(lead):len(lead)], "fuel: 2.7 L/min, oxygen: 4.3 L/min",
			"fuel: 2.0 L/min, oxygen: "+c.oxygen)
		r, err := recipes.Parse("x", edited(t, "disc", flame...), p)
		if have := len(yamlfile.Of(err)); have != c.errors {
			t.Errorf("%s, oxygen %s: %v, want %d errors", c.fuel, c.oxygen, err, c.errors)
		}
		if r != nil && len(r.Warnings) != c.warned {
			t.Errorf("%s, oxygen %s: warnings %v", c.fuel, c.oxygen, r.Warnings)
		}
	}
}

func TestColdMouldIsAWarning(t *testing.T) {
	r, err := recipes.Parse("x", edited(t, "disc", "lower_at: 450 C", "lower_at: 250 C"),
		profile(t, "driven"))
	if err != nil || len(r.Warnings) != 1 {
		t.Fatalf("%v, %v", err, r)
	}
	want := "x:7:64: warning: lower_at is 250 C; a cold mould chills and wrinkles the piece"
	if have := r.Warnings[0].Error(); have != want {
		t.Errorf("%s\nwant %s", have, want)
	}
}

// A second press (flatten, then form) is only more phases.
func TestSecondPress(t *testing.T) {
	again := `  - phase: clear_1
    kind: clear
    flame: {at: clear, fuel: 0.8 L/min}
    spindle: 0 rpm
    ends: {there: true}
    longest: 3 s
    late: hold
  - phase: flatten
    kind: press
    press: {do: close, to: flatten, speed: 15 mm/s, force: 250 N}
    ends: {there: true}
    longest: 5 s
    late: next
  - phase: lift_1
    kind: part
    press: {do: open, to: open, speed: 30 mm/s}
    ends: {there: true}
    longest: 5 s
    late: hold
  - phase: refire
    kind: fire
    flame: {at: blank, fuel: 2.7 L/min, oxygen: 4.3 L/min}
    spindle: 60 rpm
    ends: {after: 6 s}
    longest: 10 s
    late: hold
  - phase: clear
`
	r, err := recipes.Parse("x", edited(t, "disc", "  - phase: clear\n", again), profile(t,
		"driven"))
	if err != nil {
		t.Fatal(err)
	}
	if r.Phases[r.FirstStroke()].Name != "flatten" {
		t.Errorf("first stroke: %s", r.Phases[r.FirstStroke()].Name)
	}
}

// An assisted recipe runs on every rig, and without a microcontroller only
// an assisted one does.
func TestAssisted(t *testing.T) {
	bare, err := rig.ParseProfile("bare.yaml",
		[]byte("rig: bare\naxis: vertical\nboard: false\nthermometer: {fitted: false}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []*rig.Profile{bare, profile(t, "driven"), profile(t, "weights"), profile(t,
		"no-thermometer")} {
		r, err := recipes.Parse("x", edited(t, "assisted-disc"), p)
		if err != nil || !r.Assisted {
			t.Errorf("on %s: %v", p.Name, err)
		}
	}
	_, err = recipes.Parse("x", edited(t, "disc"), bare)
	if err == nil || !strings.Contains(err.Error(),
		"bare has no microcontroller; write assisted: true") {
		t.Errorf("a guarded recipe on a rig without a board: %v", err)
	}
}

// What other rigs demand of the same recipe.
func TestOtherRigs(t *testing.T) {
	change := func(from, to string) *rig.Profile {
		text, err := rig.BuiltinText("driven")
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(text), from) {
			t.Fatalf("no %q", from)
		}
		bare, _, _ := strings.Cut(string(text), "\nproof_tests:") // they would fault for what is taken out
		changed := strings.Replace(bare, from, to, 1)
		if to == "  oxygen: false" {
			changed = strings.Replace(changed, "  oxygen_max: 16 L/min\n", "", 1)
			changed = regexp.MustCompile(`  ratio_(low|high):.*\n`).ReplaceAllString(changed, "")
		}
		p, err := rig.ParseProfile("x", []byte(changed))
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	turning := change("at_press: stopped\n  upper_half: fixed",
		"at_press: turning\n  press_low: 40 rpm\n  press_high: 60 rpm\n  upper_half: synchronised")
	noPark := change("parked_door_open: true", "parked_door_open: false")
	flameOff := change("stroke_flame: clear", "stroke_flame: off")
	noOxygen := change("  oxygen: true", "  oxygen: false")
	for _, c := range []struct {
		name  string
		p     *rig.Profile
		pairs []string
		want  string // "" accepted
	}{
		{"spindle stands", turning, nil, "spindle is 0 rpm in the stroke; write 40 rpm to 60 rpm"},
		{"spindle turns", turning, []string{"    spindle: 0 rpm\n    ends: {there: true}\n    " +
			"longest: 3 s",
			"    spindle: 50 rpm\n    ends: {there: true}\n    longest: 3 s"}, ""},
		{"parked flame, door open", noPark, nil, "a flame burns while the door may be open"},
		{"parked flame shut", noPark, []string{"    kind: unload",
			"    kind: unload\n    flame: off"}, ""},
		{"flame in the stroke", flameOff, nil, "a flame burns during the stroke; write flame: off"},
		{"oxygen", noOxygen, nil, "oxygen is not fitted on bench-driven; fuel alone"},
	} {
		_, err := recipes.Parse("x", edited(t, "disc", c.pairs...), c.p)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// SOFT permits the stroke for 30 s on a rig without a thermometer.
func TestSoftMustBeRecent(t *testing.T) {
	_, err := recipes.Parse("x", edited(t, "by-eye-disc", "ends: {after: 10 s}\n    longest: 15 s",
		"ends: {after: 30 s}\n    longest: 40 s"), profile(t, "no-thermometer"))
	if err == nil || !strings.Contains(err.Error(), "the stroke may come 43 s after SOFT") {
		t.Errorf("%v", err)
	}
}

func TestWithoutRig(t *testing.T) {
	r, err := recipes.Parse("x", edited(t, "disc", "fuel: 2.7 L/min", "fuel: 20 L/min"),
		nil)
	if err != nil {
		t.Fatalf("a limit of a rig was checked without one: %v", err)
	}
	if s := phase(t, r, "approach").Press; s.To != 0 || s.Speed != 50 {
		t.Errorf("approach to a position of an unknown rig: %+v", s)
	}
	if _, err := recipes.Parse("x", edited(t, "disc", "glass >= 450 C",
		"glass >= 4500 C"), nil); err == nil {
		t.Error("a value that no count can carry was accepted")
	}
}

func TestNamed(t *testing.T) {
	if _, err := recipes.Named("nothing"); err == nil || !strings.Contains(err.Error(),
		"practice-disc") {
		t.Errorf("%v", err)
	}
}

// Whatever is accepted keeps what the rest of the program relies upon.
func FuzzParse(f *testing.F) {
	for _, s := range recipes.Stored() {
		f.Add(s.Text, uint8(0))
		f.Add(s.Text, uint8(1))
		f.Add(s.Text, uint8(2))
	}
	f.Add([]byte("recipe: x\nphases: [{phase: a}]\n"), uint8(3))
	profiles := []*rig.Profile{profile(f, "driven"), profile(f, "weights"), profile(f,
		"no-thermometer"), nil}
	f.Fuzz(func(t *testing.T, text []byte, n uint8) {
		p := profiles[int(n)%len(profiles)]
		var r *recipes.Recipe
		var err error
		alloctest.Within(t, yamltest.MostAllocated(len(text)), func() {
			r, err = recipes.Parse("f", text, p)
		})
		if (r == nil) == (err == nil) {
			t.Fatalf("recipe %v beside error %v", r, err)
		}
		if err != nil {
			if n := len(yamlfile.Of(err)); n == 0 || n > yamlfile.MostProblems+1 {
				t.Fatalf("%d problems: %v", n, err)
			}
			return
		}
		holds(t, r, p)
	})
}

// holds checks what Recipe promises.
func holds(t *testing.T, r *recipes.Recipe, p *rig.Profile) {
	t.Helper()
	var sum time.Duration
	lit := false
	for i := range r.Phases {
		ph := &r.Phases[i]
		sum += ph.Longest
		lit = lit || ph.Kind == recipes.Light
		e := ph.End
		ends := e.After > 0 || e.When != nil || e.Soft || e.Answer || e.Lit || e.There
		closes := ph.Press.Do == recipes.DoClose || ph.Press.Do == recipes.DoForce
		switch {
		case ph.Longest <= 0 || !ends:
			t.Fatalf("phase %q never ends: %+v", ph.Name, ph)
		case ph.Flame.Lit && !lit:
			t.Fatalf("phase %q has a flame before any light-up", ph.Name)
		case closes && ph.Flame.At == recipes.AtBlank:
			t.Fatalf("phase %q presses with the burner at the blank", ph.Name)
		case closes && r.Window.Low <= 0:
			t.Fatalf("phase %q presses without a window", ph.Name)
		case ph.Flame.Oxygen > 0 && ph.Flame.At == recipes.AtClear:
			t.Fatalf("phase %q has oxygen while the burner is clear", ph.Name)
		case ph.OnHold.For > 120*time.Second:
			t.Fatalf("phase %q keeps warm for %v", ph.Name, ph.OnHold.For)
		case p != nil && (ph.Press.To > p.Press.End || ph.Flame.Fuel > p.Gas.FuelMax):
			t.Fatalf("phase %q is past the rig's limits: %+v", ph.Name, ph)
		}
	}
	if len(r.Phases) == 0 || sum > r.Longest || r.Resume >= len(r.Phases) || r.Resume < 0 {
		t.Fatalf("%d phases, %v of %v, resume %d", len(r.Phases), sum, r.Longest, r.Resume)
	}
}

// The rig's ratio window and its longest sharp flame: what the board would end, the
// reader refuses beforehand.
func TestRowsThatWouldEndTheFlame(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, want string }{
		{"ratio_high: 600 %", "ratio_high: 150 %", "of the fuel; between"},
		{"ratio_low: 20 %", "ratio_low: 140 %", "of the fuel; between"},
		{"  fuel_max: 4 L/min", "  fuel_max: 4 L/min\n  sharp_longest: 20 s", "a sharp flame may stand at the blank for"},
	} {
		if !strings.Contains(string(text), c.from) {
			t.Fatalf("no %q", c.from)
		}
		p, err := rig.ParseProfile("x", []byte(strings.Replace(string(text), c.from, c.to, 1)))
		if err != nil {
			t.Fatal(err)
		}
		if _, err = recipes.Parse("x", edited(t, "disc"), p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want %q", c.to, err, c.want)
		}
	}
}
