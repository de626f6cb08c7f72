package plan

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pressrig/glass"
	"pressrig/pieces"
	"pressrig/recipes"
	"pressrig/rehearse/forecast"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
)

// sets are the invented examples that come with the program: piece, mould, tube.
var sets = [][3]string{
	{"stem-7pin-soda", "mould-7pin-soda", "tube-27-soda"},
	{"stem-4lead-lead", "mould-4lead-lead", "tube-24-lead"},
	{"button-boro", "mould-button-boro", "tube-30-boro"},
}

func order(t testing.TB, set [3]string) *Order {
	t.Helper()
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	if set[0] == "button-boro" { // a thermometer that reaches so hard a glass
		p, err = rig.ParseProfile("hot.yaml", []byte(strings.ReplaceAll(string(p.Text), "1200 C", "1400 C")))
		if err != nil {
			t.Fatal(err)
		}
	}
	o := &Order{Name: "plan-" + set[0], Profile: p}
	text := func(i int) []byte {
		e, err := pieces.Named(set[i])
		if err != nil {
			t.Fatal(err)
		}
		return e.Text
	}
	if o.Piece, err = pieces.ParsePiece(set[0], text(0)); err != nil {
		t.Fatal(err)
	}
	if o.Mould, err = pieces.ParseMould(set[1], text(1)); err != nil {
		t.Fatal(err)
	}
	if o.Tube, err = pieces.ParseTube(set[2], text(2)); err != nil {
		t.Fatal(err)
	}
	g, ok := glass.Named(o.Piece.Glass)
	if !ok {
		t.Fatalf("no glass %s", o.Piece.Glass)
	}
	o.Glass = &g
	return o
}

// mistake changes a checked recipe or its setting.
type mistake struct {
	name    string
	change  func(r *recipes.Recipe, s *forecast.Setting)
	defects []string // any of them
}

var mistakes = []mistake{
	{"glass 60 K colder", warmer(-60), []string{"rounded edges", "not filled"}},
	{"glass 60 K hotter", warmer(60), []string{"flash", "let go too soft", "sticks"}},
	{"moulds 60 K hotter", func(r *recipes.Recipe, s *forecast.Setting) { r.Moulds.Band, s.MouldK = 100, 60 }, []string{"sticks"}},
	{"a quarter of the force", func(r *recipes.Recipe, _ *forecast.Setting) {
		for i := range r.Phases {
			r.Phases[i].Press.Force /= 4
		}
	}, []string{"rounded edges", "not filled"}},
	{"four times the flux", func(_ *recipes.Recipe, s *forecast.Setting) { s.GasShare = 3 }, []string{"cracks while warming"}},
	{"cooled ten times as fast", func(_ *recipes.Recipe, s *forecast.Setting) {
		o := *s.Oven
		o.CoolKS *= 10
		s.Oven = &o
	}, []string{"stress", "cracks while cooling"}},
}

// warmer moves the glass temperature of firing, soak and permit.
func warmer(k float64) func(r *recipes.Recipe, s *forecast.Setting) {
	return func(r *recipes.Recipe, _ *forecast.Setting) {
		r.Window.Low += units.Celsius(k)
		r.Window.High += units.Celsius(k)
		for i := range r.Phases {
			ph := &r.Phases[i]
			switch ph.Kind {
			case recipes.Fire:
				if ph.Flame.HasHold {
					ph.Flame.HoldC += units.Celsius(k)
				}
				if ph.End.When == nil {
					continue
				}
				w := *ph.End.When
				w.Value += k
				w.Count += int16(math.Round(k / rig.Analogs[w.AI].Scale))
				ph.End.When = &w
				ph.Longest *= 2
			case recipes.Soak:
				ph.Flame.HoldC += units.Celsius(k)
			}
		}
	}
}

func TestPlanIsRightAndItsMistakesShow(t *testing.T) {
	for _, set := range sets {
		o, name := order(t, set), set[0]
		p, err := Make(o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, f := range p.Figures {
			t.Logf("%-8s %-40s %8.4g %-8s %.4g..%.4g", f.Topic, f.What, f.Value, f.Unit, f.From, f.To)
			if f.Topic == "spindle" && f.From <= f.To && (f.Value < f.From || f.Value > f.To) {
				t.Errorf("%s: %s is %.4g %s, outside %.4g to %.4g", name, f.What, f.Value, f.Unit, f.From, f.To)
			}
		}
		t.Log(p.Limits, p.Warnings)
		play(t, o, p, mistake{name: "as planned"})
		for _, m := range mistakes {
			play(t, o, p, m)
		}
	}
}

// play rehearses the plan with a mistake and demands its defect; without one, a
// good piece.
func play(t *testing.T, o *Order, p *Plan, m mistake) {
	t.Helper()
	r, err := recipes.Parse(p.Name+".yaml", p.Recipe, o.Profile)
	if err != nil {
		t.Fatalf("%v\n%s", err, p.Recipe)
	}
	s := &forecast.Setting{Profile: o.Profile, Recipe: r, Cavity: &p.Cavity, Oven: &p.Oven, Limits: p.Accept, Seed: 1,
		Trace: m.change == nil}
	if m.change != nil {
		m.change(r, s)
	}
	got, err := forecast.Play(s)
	if err != nil {
		t.Fatal(err)
	}
	var defects []string
	for _, f := range got.Findings {
		if f.Margin < 0 {
			defects = append(defects, f.Defect)
		}
	}
	t.Logf("%s, %s: %s %s; good %v; %s", p.Name, m.name, got.State, got.Reason, got.Good, strings.Join(defects, ", "))
	if m.change == nil {
		if !got.Good {
			t.Errorf("%s: not good: %s", p.Name, strings.Join(defects, ", "))
		}
		endsByConditions(t, r, got)
		return
	}
	if !slices.ContainsFunc(m.defects, func(d string) bool { return strings.Contains(strings.Join(defects, ";"), d) }) {
		t.Errorf("%s, %s: %s %s, defects %q; want one of %q", p.Name, m.name, got.State, got.Reason, defects, m.defects)
	}
}

// endsByConditions: a phase that the plan ends by a condition ends by it and
// not because it took its longest, under the flows that it asks for. The last
// flame is the smallest and burns as small as that: with more, the glass would
// not come down in time.
func endsByConditions(t *testing.T, r *recipes.Recipe, got *forecast.Result) {
	t.Helper()
	for i, ran := range got.Cycle.Phases {
		asked := &r.Phases[i]
		if ran.Name != asked.Name {
			t.Fatalf("phase %d is %s, planned %s", i, ran.Name, asked.Name)
		}
		if asked.End.When != nil && ran.Reason != "condition" {
			t.Errorf("%s: %s ended by %q after %v", r.Name, ran.Name, ran.Reason, ran.End-ran.Begin)
		}
		if asked.Kind != recipes.FlameCool {
			continue
		}
		k, last := 0, uint32(ran.End.Milliseconds())
		for k+1 < len(got.Trace.Ms) && got.Trace.Ms[k+1] < last {
			k++
		}
		for ai, want := range map[uint8]units.LitrePerMinute{warden.AiFuelFlow: asked.Flame.Fuel,
			warden.AiOxygenFlow: asked.Flame.Oxygen} {
			shown := float64(got.Trace.Analog[ai][k]) * rig.Analogs[ai].Scale
			if math.Abs(shown-float64(want)) > 0.02*float64(want)+0.001 {
				t.Errorf("%s: %s asks for %v L/min, %s is %v", r.Name, ran.Name, want, rig.Analogs[ai].Name, shown)
			}
		}
		t.Logf("%s: %s with %v and %v L/min ended by %s after %v", r.Name, ran.Name, asked.Flame.Fuel,
			asked.Flame.Oxygen, ran.Reason, ran.End-ran.Begin)
	}
}

// A rig whose flame does not stand with so little is asked for no less, and the
// plan says where the glass then does not come down in time.
func TestPlanKeepsTheRigsLeastFlow(t *testing.T) {
	o := order(t, sets[1])
	const at = "  soft_max: 1.6 L/min\n"
	p, err := rig.ParseProfile("least.yaml", []byte(strings.Replace(string(o.Profile.Text), at, at+"  fuel_min: 0.3 L/min\n", 1)))
	if err != nil {
		t.Fatal(err)
	}
	o.Profile = p
	got, err := Make(o)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse(got.Name+".yaml", got.Recipe, p)
	if err != nil {
		t.Fatalf("%v\n%s", err, got.Recipe)
	}
	for _, ph := range r.Phases {
		if least := ph.Flame.Fuel * units.LitrePerMinute(1-ph.Flame.Trim/100); ph.Flame.Lit && least < 0.3-1e-9 {
			t.Errorf("%s asks for as little as %v L/min", ph.Name, least)
		}
	}
	if !strings.Contains(strings.Join(got.Warnings, "\n"), "flame-cool does not reach") {
		t.Errorf("warnings %q", got.Warnings)
	}
}
