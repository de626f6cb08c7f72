package forecast

import (
	"math"
	"strings"
	"testing"

	"pressrig/glass/forming"
	"pressrig/recipes"
	"pressrig/rig"
)

// setting is a stored recipe, with pairs of old and new text swapped in it.
func setting(t testing.TB, name string, swaps ...string) *Setting {
	t.Helper()
	sample, err := recipes.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin(sample.For)
	if err != nil {
		t.Fatal(err)
	}
	text := string(sample.Text)
	for i := 0; i+1 < len(swaps); i += 2 {
		if !strings.Contains(text, swaps[i]) {
			t.Fatalf("no %q in %s", swaps[i], name)
		}
		text = strings.Replace(text, swaps[i], swaps[i+1], -1)
	}
	r, err := recipes.Parse(name+".yaml", []byte(text), p)
	if err != nil {
		t.Fatal(err)
	}
	return &Setting{Profile: p, Recipe: r, Limits: forming.UsualLimits(), Seed: 1}
}

func play(t testing.TB, s *Setting) *Result {
	t.Helper()
	r, err := Play(s)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Complete {
		t.Fatalf("%s: %s", r.State, r.Reason)
	}
	return r
}

// The stored stem recipes, a stem maker's defaults [common practice, no
// source], give a good piece; what a recipe gets wrong shows as the defect that
// a press shop expects.
func TestRecipesGiveTheirPiece(t *testing.T) {
	for _, c := range []struct {
		name   string
		s      *Setting
		defect string // "" good
	}{
		{"as stored", setting(t, "stem-7pin"), ""},
		{"fired 60 K colder", setting(t, "stem-7pin", "glass >= 915 C", "glass >= 855 C", "hold: 900 C", "hold: 840 C",
			"from: 860 C", "from: 780 C"), "rounded edges"},
		{"fired 60 K hotter", setting(t, "stem-7pin", "glass >= 915 C", "glass >= 975 C", "hold: 900 C", "hold: 960 C",
			"to: 940 C", "to: 1000 C", "longest: 75 s", "longest: 120 s"), "flash"},
		{"a quarter of the force", setting(t, "stem-7pin", "force: 250 N", "force: 62 N"), "rounded edges"},
		{"warmed far too hard", setting(t, "stem-7pin", "fuel: 0.9 L/min, oxygen: 1.0 L/min", "fuel: 1.6 L/min, oxygen: 8 L/min",
			"least: 25 s", "least: 1 s"), "cracks while warming"},
		{"moulds 60 K hotter", func() *Setting { s := setting(t, "stem-7pin", "band: 25 K", "band: 90 K"); s.MouldK = 60; return s }(), "sticks"},
	} {
		r := play(t, c.s)
		var defects []string
		for _, f := range r.Findings {
			if f.Defect != "" {
				defects = append(defects, f.Defect)
			}
		}
		if c.defect == "" && !r.Good || c.defect != "" && !strings.Contains(strings.Join(defects, ";"), c.defect) {
			t.Errorf("%s: good %v, defects %q; wanted %q", c.name, r.Good, defects, c.defect)
		}
	}
}

// A piece of a series is the piece that a rehearsal of its own gives, but for
// the chance of sensors.
func TestSeriesEqualsPlay(t *testing.T) {
	s := setting(t, "practice-disc")
	x, err := NewSeries(s)
	if err != nil {
		t.Fatal(err)
	}
	for _, wall := range []float64{0, -0.05} {
		one := *s
		one.WallMM = wall
		a := play(t, &one)
		b, err := x.Play(&one)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(a.Outcome.EdgeMM-b.Outcome.EdgeMM) > 0.05 || math.Abs(a.Outcome.ThicknessMM-b.Outcome.ThicknessMM) > 0.02 {
			t.Errorf("wall %+v: alone %+v, in a series %+v", wall, a.Outcome, b.Outcome)
		}
	}
	first, err := x.Play(s)
	if err != nil {
		t.Fatal(err)
	}
	if second, _ := x.Play(s); second.Outcome != first.Outcome {
		t.Error("the same piece of a series came out differently")
	}
}

// Mass is first-rank: 0.1 mm of wall is 4 % of it (a stem maker's computation,
// 4 % of a 2.5 mm wall), and of all knobs it moves the piece most.
func TestWallMovesThePieceMost(t *testing.T) {
	s := setting(t, "stem-7pin")
	base := play(t, s)
	most := Effect{}
	for _, k := range Knobs(s.Recipe) {
		e, err := Turn(s, base, &k)
		if err != nil {
			t.Fatal(err)
		}
		if e.Moves > most.Moves {
			most = e
		}
	}
	if most.Knob != "wall of the tube" {
		t.Errorf("%+v moves most; the wall of the tube", most)
	}
}

// Wilson's interval: 8 of 10 gives 0.4902 to 0.9433 (computed from the formula
// of Wilson 1927; the same as in Brown, Cai and DasGupta 2001, from memory).
func TestYield(t *testing.T) {
	p, low, high := Yield(8, 10)
	if p != 0.8 || math.Abs(low-0.4902) > 1e-4 || math.Abs(high-0.9433) > 1e-4 {
		t.Errorf("%v, %v to %v; 0.8, 0.4902 to 0.9433", p, low, high)
	}
	if _, low, high := Yield(0, 0); low != 0 || high != 1 {
		t.Errorf("nothing tried: %v to %v; 0 to 1", low, high)
	}
}

func TestVaryIsDeterministicAndSpreads(t *testing.T) {
	s := setting(t, "practice-disc")
	tol := UsualTolerances()
	sum, square := 0.0, 0.0
	const n = 2000
	for i := range uint64(n) {
		v := Vary(s, &tol, i)
		if again := Vary(s, &tol, i); again.Seed != v.Seed || again.WallMM != v.WallMM {
			t.Fatal("not the same twice")
		}
		sum += v.WallMM
		square += v.WallMM * v.WallMM
	}
	mean, sd := sum/n, math.Sqrt(square/n)
	if math.Abs(mean) > 0.003 || math.Abs(sd-tol.WallMM) > 0.002 {
		t.Errorf("wall %v +- %v; 0 +- %v", mean, sd, tol.WallMM)
	}
}

func TestWhatHasNoPieceIsRefused(t *testing.T) {
	for _, name := range []string{"assisted-disc", "light-only", "warm-moulds"} {
		if _, err := Play(setting(t, name)); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v; refused with its name", name, err)
		}
	}
}

// BenchmarkPlay is one rehearsal of a cycle of some 215 s at 100 Hz.
func BenchmarkPlay(b *testing.B) {
	s := setting(b, "stem-7pin")
	s.Trace = true
	virtual := 0.0
	for b.Loop() {
		virtual = play(b, s).VirtualS
	}
	b.ReportMetric(virtual, "virtual-s/op")
}
