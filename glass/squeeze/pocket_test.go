package squeeze

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// steady is a constant pressure on glass of one viscosity at a wall.
func steady(pa, paS, wall, seconds float64, n int) []Moment {
	list := make([]Moment, n+1)
	for i := range list {
		list[i] = Moment{S: seconds * float64(i) / float64(n), OuterM: wall, MeanPa: pa, GapPaS: paS, CorePaS: paS}
	}
	return list
}

// Poiseuille (derived): S08. The slot of 0.8 mm, 1.5 mm deep, at 0.42 MPa takes
// 0.16, 0.5 and 1.6 s at 10^3.5, 10^4 and 10^4.5 Pa.s (derived).
func TestPocketTimes(t *testing.T) {
	v := must(t)
	hole := Pocket{SizeM: 0.5 * mm, DepthM: 3 * mm}
	near(t, "S08 s", v(hole.Seconds(1e4, 1e6)), 1.44, 0.01) // S08
	slot := Pocket{Slot: true, SizeM: 0.8 * mm, DepthM: 1.5 * mm}
	for log, want := range map[float64]float64{3.5: 0.16, 4: 0.5, 4.5: 1.6} {
		near(t, "slot, s", v(slot.Seconds(math.Pow(10, log), 0.42e6)), want, 0.04*want)
	}
	for _, p := range []Pocket{hole, slot} {
		need := v(p.Seconds(1e4, 0.5e6))
		got, err := p.Fill(steady(0.5e6, 1e4, 10*mm, 2*need, 500))
		if err != nil || !got.Full || math.Abs(got.S-need) > 1e-9 {
			t.Errorf("%+v: %+v, %v, want full after %g s", p, got, err, need)
		}
		half, err := p.Fill(steady(0.5e6, 1e4, 10*mm, need/4, 500))
		if err != nil || half.Full || math.Abs(half.DepthM-p.DepthM/2) > 1e-9 {
			t.Errorf("%+v after a quarter of its time: %+v, %v", p, half, err)
		}
	}
}

// A skin that grows shuts a pocket before it is full; a skin never helps, more
// pressure never harms.
func TestPocketSkin(t *testing.T) {
	f := Freeze{GlassC: 880, InterfaceC: 500, StiffC: 740, Diffusivity: 4.26e-7}
	skin := func(s float64) float64 {
		m, err := f.SkinM(s)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	got, err := Pocket{Slot: true, SizeM: 0.8 * mm, DepthM: 1.5 * mm, SkinM: skin}.Fill(steady(0.42e6, 1e4, 15*mm, 3, 1000))
	if err != nil || got.Full || !got.Closed || got.DepthM <= 0.1*mm || got.DepthM >= 1.5*mm {
		t.Errorf("%+v, %v", got, err)
	}
	rapid.Check(t, func(r *rapid.T) {
		p := Pocket{Slot: rapid.Bool().Draw(r, "slot"), SizeM: rapid.Float64Range(0.2*mm, 2*mm).Draw(r, "size"),
			DepthM: rapid.Float64Range(0.5*mm, 5*mm).Draw(r, "depth")}
		pa := rapid.Float64Range(1e4, 1e6).Draw(r, "Pa")
		bare, err := p.Fill(steady(pa, 1e4, 10*mm, 2, 200))
		if err != nil {
			r.Fatal(err)
		}
		harder, _ := p.Fill(steady(2*pa, 1e4, 10*mm, 2, 200))
		p.SkinM = skin
		cold, _ := p.Fill(steady(pa, 1e4, 10*mm, 2, 200))
		if cold.DepthM > bare.DepthM || harder.DepthM < bare.DepthM {
			r.Fatalf("bare %+v, with skin %+v, harder %+v", bare, cold, harder)
		}
	})
}

// Surface tension is never the limit: 0.315 um for 0.315 N/m at 1 MPa (derived).
// Under a constant pressure the edge closes as exp(-p t/(6 eta)).
func TestEdge(t *testing.T) {
	e := Edge{StartM: 2 * mm, WallM: 15 * mm, TensionNM: 0.315}
	near(t, "gamma/p, um", 1e6*must(t)(e.LeastM(1e6)), 0.315, 1e-9)
	left := func(list []Moment) float64 {
		t.Helper()
		r, err := e.LeftM(list)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	least := 0.315 / 0.4e6
	near(t, "after 0.5 s", left(steady(0.4e6, 1e4, 15*mm, 0.5, 100)),
		least+(2*mm-least)*math.Exp(-0.5*0.4e6/6e4), 1e-9)
	near(t, "in the end", left(steady(0.4e6, 1e3, 15*mm, 20, 2000)), least, 1e-9)
	near(t, "not at the wall", left(steady(0.4e6, 1e4, 14*mm, 5, 100)), 2*mm, 0)
	near(t, "no pressure", left(steady(0, 1e4, 15*mm, 5, 100)), 2*mm, 0)
	near(t, "frozen", left(steady(0.4e6, 1e12, 15*mm, 5, 100)), 2*mm, 1e-8)
}

// A stroke and its hold as one: what a press does to pocket and edge.
func TestHoldGoesOn(t *testing.T) {
	touch := Touch{MouldC: 450, Effusivity: 13000, FirstWM2K: 6000, LastWM2K: 1800, FallS: 0.5}
	volume, h0 := 3.5e-6, 8*mm
	pressed := func(startC float64) (edge float64, bead Filled) {
		c, err := NewChilled(float, h0, startC, touch, touch, 25)
		if err != nil {
			t.Fatal(err)
		}
		run := closed(t, Stroke{Gap: Gap{OuterM: math.Sqrt(volume / math.Pi / h0), ThickM: h0, ThickPart: true}, Spreads: true,
			WallM: 15 * mm, ToM: 2 * mm, SpeedMS: 10 * mm, ForceN: 250, LongS: 30}, c)
		held, err := run.Hold(c, 250, 2)
		if err != nil {
			t.Fatal(err)
		}
		if held[0].S != run.S || math.Abs(held[len(held)-1].S-run.S-2) > 1e-9 {
			t.Fatalf("held from %g to %g, ended at %g", held[0].S, held[len(held)-1].S, run.S)
		}
		all := append(run.Trace, held...)
		edge, err = Edge{StartM: 2 * mm, WallM: 15 * mm, TensionNM: 0.315}.LeftM(all)
		if err != nil {
			t.Fatal(err)
		}
		bead, err = Pocket{Slot: true, SizeM: 0.8 * mm, DepthM: 1.5 * mm}.Fill(all)
		if err != nil {
			t.Fatal(err)
		}
		return edge, bead
	}
	if _, err := (Run{OuterM: mm}).Hold(constant(eta), -1, 2); err == nil {
		t.Error("a pull holds")
	}
	hotEdge, hotBead := pressed(930)
	coldEdge, coldBead := pressed(800)
	t.Logf("930 C: edge %.3f mm, bead %.2f mm; 800 C: edge %.3f mm, bead %.2f mm", hotEdge/mm, hotBead.DepthM/mm,
		coldEdge/mm, coldBead.DepthM/mm)
	if hotEdge >= coldEdge || hotBead.DepthM <= coldBead.DepthM {
		t.Error("colder glass fills as well as hot")
	}
}

func TestPocketRefuses(t *testing.T) {
	good := Pocket{SizeM: mm, DepthM: mm}
	for _, c := range []struct {
		pocket  Pocket
		moments []Moment
		want    string
	}{
		{Pocket{SizeM: -1, DepthM: mm}, nil, "size of the pocket in m is -1"},
		{good, []Moment{{S: 1, CorePaS: 1, GapPaS: 1}, {S: 0, CorePaS: 1, GapPaS: 1}}, "give moments in order of time"},
		{good, []Moment{{S: 0}, {S: 1}}, "with a positive viscosity"},
		{good, []Moment{{CorePaS: 1, GapPaS: 1}, {S: math.NaN(), CorePaS: 1, GapPaS: 1}}, "moment 1: NaN s after"},
	} {
		if _, err := c.pocket.Fill(c.moments); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
		if c.moments == nil {
			continue
		}
		if _, err := (Edge{StartM: mm, WallM: mm, TensionNM: 0.3}).LeftM(c.moments); err == nil ||
			!strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}
