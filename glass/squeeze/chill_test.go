package squeeze

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"pressrig/glass/heat"
)

// A float glass: viscosity by constants of Pa.s and C (found in a table, unit
// repaired), the rest Pilkington ATS-129 (found).
func floatLog(c float64) float64 {
	if c <= 300 {
		return 30
	}
	return -2.585 + 4215/(c-263)
}

var float = Hot{LogPaS: floatLog, Density: 2500, Conductivity: 0.937, Capacity: 880, StiffC: 715}

// Perfect contact with a mould of an effusivity.
func perfect(mouldC, effusivity float64) Touch {
	return Touch{MouldC: mouldC, Effusivity: effusivity, FirstWM2K: 1e7, LastWM2K: 1e7, FallS: 1}
}

func chilled(t *testing.T, hot Hot, thick float64, both Touch, nodes int) *Chilled {
	t.Helper()
	c, err := NewChilled(hot, thick, 900, both, both, nodes)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Two deep bodies in perfect contact: glass of 900 C on a mould of 450 C, law of
// effusivities (found), metals from memory. H13 and H14 by stepping.
func TestPerfectContact(t *testing.T) {
	for want, e := range map[float64]float64{494.3: math.Sqrt(50.0 * 7200 * 480), 522.4: math.Sqrt(14.9 * 7900 * 477)} {
		c := chilled(t, float, 20*mm, perfect(450, e), 401)
		for range 1000 {
			c.Step(0.001, 20*mm)
		}
		low, up := c.FacesC()
		near(t, "lower face", low, want, 1.5)
		near(t, "upper face", up, low, 1e-9)
	}
}

// Skin below 715 C with an interface of 494 C: lambda 0.527; 0.49, 0.69 and 0.97
// mm after 0.5, 1 and 2 s (derived), in the formula and by stepping.
func TestSkin(t *testing.T) {
	kappa := 0.937 / (2500 * 880.0)
	f := Freeze{GlassC: 900, InterfaceC: 494, StiffC: 715, Diffusivity: kappa}
	near(t, "lambda", math.Erfinv(f.share()), 0.527, 0.001)
	c := chilled(t, float, 20*mm, perfect(494, 1e9), 401)
	at := 0.0
	for _, want := range []struct{ s, mm float64 }{{0.5, 0.49}, {1, 0.69}, {2, 0.97}} {
		skin, err := f.SkinM(want.s)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "skin, mm", skin/mm, want.mm, 0.006)
		for ; at < want.s-1e-9; at += 0.002 {
			c.Step(0.002, 20*mm)
		}
		near(t, "stepped, mm", c.SkinM()/mm, skin/mm, 0.01)
	}
	// A gap whose quarter is the skin of a second freezes in a second.
	one, _ := f.SkinM(1)
	limit, err := f.LimitS(4 * one)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "limit, s", limit, 1, 1e-9)
	if b, err := Brinkman(1e4, 10*mm, 0.937, 400); err != nil || math.Abs(b-2.7e-3) > 1e-4 {
		t.Errorf("Brinkman %g, %v", b, err)
	}
}

// With 3,000 W/(m2.K) to a mould of 450 C the skin below 740 C equals the exact
// solution for deep glass (Geankoplis 5.3-7). A stem maker's computed figures are
// about 0.25, 0.45 and 0.75 mm after 0.5, 1 and 2 s (derived, properties not
// told); conductivity and capacity of hot glass here are from memory.
func TestSkinThroughAContact(t *testing.T) {
	hot := float
	hot.StiffC, hot.Conductivity, hot.Capacity = 740, 1.6, 1300
	c := chilled(t, hot, 20*mm, Touch{MouldC: 450, Effusivity: 1e9, FirstWM2K: 3000, LastWM2K: 3000, FallS: 1}, 401)
	kappa := 1.6 / (2500 * 1300.0)
	at := 0.0
	for _, want := range []struct{ s, mm float64 }{{0.5, 0.25}, {1, 0.45}, {2, 0.75}} {
		for ; at < want.s-1e-9; at += 0.001 {
			c.Step(0.001, 20*mm)
		}
		near(t, "skin, mm", c.SkinM()/mm, want.mm, 0.1)
		share, err := heat.ConvectionShare(3000, 1.6, kappa, c.SkinM(), want.s)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "temperature there", 900-share*450, 740, 1)
	}
	fresh := chilled(t, hot, 4*mm, Touch{MouldC: 450, Effusivity: 1e9, FirstWM2K: 3000, LastWM2K: 3000, FallS: 1}, 81)
	s, ok, err := fresh.FreezesS(20)
	if err != nil || !ok || s < 2 || s > 4 {
		t.Errorf("a gap of 4 mm freezes after %g s, %v, %v", s, ok, err)
	}
	soft := hot
	soft.StiffC = 455
	if s, ok, err := chilled(t, soft, 10*mm, Touch{MouldC: 450, Effusivity: 1e9, FirstWM2K: 100, LastWM2K: 100, FallS: 1},
		21).FreezesS(1); err != nil || ok {
		t.Errorf("froze after %g s, %v", s, err)
	}
}

// An even gap flows by its own viscosity; a frozen skin of a quarter on each side
// leaves half of the gap, which resists by the third power of two.
func TestGapViscosity(t *testing.T) {
	c := chilled(t, float, 4*mm, perfect(450, 1e9), 41)
	near(t, "even", math.Log10(c.GapPaS()), floatLog(900), 1e-9)
	near(t, "core", math.Log10(c.CorePaS()), floatLog(900), 1e-9)
	hot := float
	hot.LogPaS = func(celsius float64) float64 {
		if celsius < 700 {
			return 15
		}
		return 4
	}
	c = chilled(t, hot, 4*mm, perfect(450, 1e9), 401)
	for i := range c.slab.Nodes() {
		if x := float64(i) / 400; x < 0.25 || x > 0.75 {
			c.slab.Nodes()[i] = 600
		}
	}
	c.flow()
	near(t, "half a gap", c.GapPaS()/1e4, 8, 0.2)
	near(t, "skin", c.SkinM(), 1*mm, 0.02*mm)
}

// Chilling stiffens: viscosity and skin only rise while it stands, the core
// never is stiffer than the gap, and a hotter mould stiffens less.
func TestChillProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		touch := Touch{MouldC: rapid.Float64Range(350, 500).Draw(r, "mould"), Effusivity: rapid.Float64Range(5000, 20000).Draw(r, "e"),
			FirstWM2K: rapid.Float64Range(500, 10000).Draw(r, "contact"), FallS: 1}
		touch.LastWM2K = touch.FirstWM2K // a contact that falls lets a skin melt again
		thick := rapid.Float64Range(1*mm, 8*mm).Draw(r, "thick")
		c, err := NewChilled(float, thick, 900, touch, touch, 25)
		if err != nil {
			r.Fatal(err)
		}
		touch.MouldC += 60
		warmer, _ := NewChilled(float, thick, 900, touch, touch, 25)
		gap, skin := c.GapPaS(), c.SkinM()
		for range 60 {
			c.Step(0.02, thick)
			warmer.Step(0.02, thick)
			if c.GapPaS() < gap*(1-1e-9) || c.SkinM() < skin-1e-12 || c.CorePaS() > c.GapPaS()*(1+1e-9) {
				r.Fatalf("gap %g after %g, skin %g after %g, core %g", c.GapPaS(), gap, c.SkinM(), skin, c.CorePaS())
			}
			gap, skin = c.GapPaS(), c.SkinM()
		}
		if warmer.GapPaS() > gap*(1+1e-9) || warmer.MeanC() <= c.MeanC() {
			r.Fatalf("a mould 60 K hotter: %g, was %g", warmer.GapPaS(), gap)
		}
	})
}

// Coupled: hot glass closes, cold glass and a weak press stop short of it, a
// colder mould stops it earlier, and what has no skin is quicker.
func TestChilledStroke(t *testing.T) {
	hot := float
	hot.Conductivity, hot.Capacity = 1.6, 1300
	volume, h0 := 3.5e-6, 8*mm
	stroke := func(force float64) Stroke {
		return Stroke{Gap: Gap{OuterM: math.Sqrt(volume / math.Pi / h0), ThickM: h0, ThickPart: true},
			Spreads: true, ToM: 4.5 * mm, SpeedMS: 10 * mm, ForceN: force, LongS: 30}
	}
	run := func(startC, mouldC, force float64) Run {
		touch := Touch{MouldC: mouldC, Effusivity: 13000, FirstWM2K: 6000, LastWM2K: 1800, FallS: 0.5}
		c, err := NewChilled(hot, h0, startC, touch, touch, 25)
		if err != nil {
			t.Fatal(err)
		}
		return closed(t, stroke(force), c)
	}
	good, cold, weak := run(900, 450, 250), run(780, 450, 250), run(900, 450, 20)
	coldMould, hotMould := run(820, 400, 250), run(820, 510, 250)
	for what, r := range map[string]Run{"good": good, "cold": cold, "weak": weak, "cold mould": coldMould, "hot mould": hotMould} {
		t.Logf("%s: %s, %.2f mm after %.2f s, peak %.0f N", what, r.End, r.ThickM/mm, r.S, r.PeakN)
	}
	if good.End != Closed {
		t.Errorf("900 C: %s at %g mm", good.End, good.ThickM/mm)
	}
	if even := closed(t, stroke(250), constant(math.Pow(10, floatLog(900)))); even.S >= good.S {
		t.Errorf("without skin %g s, with it %g s", even.S, good.S)
	}
	for what, r := range map[string]Run{"780 C": cold, "20 N": weak} {
		if r.End != Frozen || r.ThickM <= 5*mm {
			t.Errorf("%s: %s at %g mm", what, r.End, r.ThickM/mm)
		}
	}
	if hotMould.ThickM >= coldMould.ThickM {
		t.Errorf("a hotter mould stops at %g mm, a colder one at %g", hotMould.ThickM/mm, coldMould.ThickM/mm)
	}
}

// The stroke hardly depends on how many nodes the field has.
func TestChilledStrokeConverges(t *testing.T) {
	at := func(nodes int) float64 {
		touch := Touch{MouldC: 450, Effusivity: 13000, FirstWM2K: 6000, LastWM2K: 1800, FallS: 0.5}
		c, err := NewChilled(float, 8*mm, 900, touch, touch, nodes)
		if err != nil {
			t.Fatal(err)
		}
		return closed(t, Stroke{Gap: Gap{OuterM: 12 * mm, ThickM: 8 * mm}, Spreads: true, ToM: 5 * mm, SpeedMS: 10 * mm,
			ForceN: 250, LongS: 30}, c).S
	}
	coarse, middle, fine := at(13), at(25), at(49)
	order := math.Log2((middle - coarse) / (fine - middle))
	t.Logf("%.4f, %.4f, %.4f s, order %.2f", coarse, middle, fine, order)
	if math.Abs(fine-middle) > 0.01*fine || order < 1.5 {
		t.Errorf("%g, %g, %g s: order %.2f", coarse, middle, fine, order)
	}
}

func TestChillRefuses(t *testing.T) {
	good := perfect(450, 13000)
	for _, c := range []struct {
		hot   Hot
		touch Touch
		want  string
	}{
		{Hot{}, good, "without a viscosity"},
		{Hot{LogPaS: floatLog, StiffC: 20}, good, "stiff below, in C, is 20"},
		{Hot{LogPaS: floatLog, StiffC: 715, Density: 2500, Capacity: 880}, good, "conductivity"},
		{float, Touch{MouldC: 450, Effusivity: 13000, FirstWM2K: 1000, LastWM2K: 2000, FallS: 1}, "last contact in W/(m2.K) is 2000"},
		{float, Touch{MouldC: math.NaN()}, "mould in C is NaN"},
	} {
		if _, err := NewChilled(c.hot, 4*mm, 900, c.touch, good, 21); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
	if _, err := (Freeze{GlassC: 900, InterfaceC: 950, StiffC: 715, Diffusivity: 4e-7}).SkinM(1); err == nil {
		t.Error("an interface hotter than the glass passes")
	}
}
