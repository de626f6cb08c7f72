package blank

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, have, want, tol float64) {
	t.Helper()
	if !(math.Abs(have-want) <= tol) {
		t.Errorf("%s is %.8g, want %.8g +-%g", what, have, want, tol)
	}
}

// must fails on an error.
func must(t *testing.T) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// The volumes are derived: computed apart from this code from the formulas of
// solid geometry.
func TestVolumes(t *testing.T) {
	near(t, "B01 ring", must(t)(RingMM3(30, 22, 18)), 5881.06, 0.01) // B01, derived
	v, wide, err := FrustumMM3(15, 6, 5)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "B02 frustum", v, 4391.30, 0.01) // B02, derived
	near(t, "B02 wide", wide, 15.5249, 1e-4)
	near(t, "draft", math.Tan(5*math.Pi/180), 0.08749, 1e-5) // derived
	// 4,000 mm3 of that tube are 12.2427 mm long (derived).
	c, err := Tube{OutsideMM: 30, BoreMM: 22}.Cut(4000, 2500, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length", c.LengthMM, 12.2427, 1e-4)
	near(t, "mass", c.MassG, 10, 1e-9)
	// Float glass from cold to 900 C: +2.2 % with the slope below the
	// transformation all the way (derived).
	near(t, "hot, one slope", must(t)(HotMM3(1, 8.3e-6, 900, 900)), 1.022, 2e-4)
	if two := must(t)(HotMM3(1, 8.3e-6, 548, 900)); two < 1.03 || two > 1.045 {
		t.Errorf("hot with the liquid's slope is %g", two)
	}
	near(t, "bead", must(t)(BeadMM3(2.6, 1, 1.5)), math.Pi/4*(2.6*2.6-1)*1.5, 1e-9)
}

func TestVolumeProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		radius := rapid.Float64Range(1, 40).Draw(r, "radius")
		height := rapid.Float64Range(0.5, 30).Draw(r, "height")
		draft := rapid.Float64Range(0, 20).Draw(r, "draft")
		v, wide, err := FrustumMM3(radius, height, draft)
		if err != nil {
			r.Fatal(err)
		}
		narrowest, widest := math.Pi*radius*radius*height, math.Pi*wide*wide*height
		if v < narrowest*(1-1e-12) || v > widest*(1+1e-12) {
			r.Fatalf("frustum %g is not between its cylinders %g and %g", v, narrowest, widest)
		}
		// two halves make the whole
		low, middle, _ := FrustumMM3(radius, height/2, draft)
		up, _, _ := FrustumMM3(middle, height/2, draft)
		if !(math.Abs(low+up-v) <= 1e-9*v) {
			r.Fatalf("halves %g + %g are not %g", low, up, v)
		}
		straight, _, _ := FrustumMM3(radius, height, 0)
		ring, err := RingMM3(2*radius, 0, height)
		if err != nil || !(math.Abs(straight-ring) <= 1e-9*ring) {
			r.Fatalf("no draft: %g, ring without bore %g, %v", straight, ring, err)
		}
	})
}

func TestBalanceClosesAndRefuses(t *testing.T) {
	b := Balance{Body: 4391.3, Holes: 300, Beads: 80, Tubulation: 120, Flash: 0.02}
	near(t, "piece", must(t)(b.Piece()), 4291.3, 1e-9)
	near(t, "blank", must(t)(b.Blank()), 4291.3*1.02, 1e-9)
	for _, bad := range []Balance{{Body: -1}, {Body: 100, Holes: 100}, {Body: 100, Flash: -0.1},
		{Body: 100, Flash: 0.6}, {Body: math.NaN()}, {Body: 1e12}, {}} {
		if v, err := bad.Blank(); err == nil {
			t.Errorf("%+v gives %g", bad, v)
		}
	}
}

// A tube of 29 x 2.5 whose wall is +-0.1: about +-4 % of mass [common practice,
// no source; computed 3.6 %].
func TestWallTolerance(t *testing.T) {
	tube := Tube{OutsideMM: 29, BoreMM: 24, WallTolMM: 0.1}
	c, err := tube.Cut(3000, 2500, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "least", c.LeastMassG/c.MassG, 0.96, 0.006)
	near(t, "most", c.GreatestMassG/c.MassG, 1.04, 0.006)
	near(t, "likely", c.LikelyMassShare, 0.0362, 1e-4)
	// A saw of +-0.1 on that length alone spreads mass as it spreads length.
	sawn, err := Tube{OutsideMM: 29, BoreMM: 24}.Cut(3000, 2500, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "short", sawn.LeastMassG, 7.5*(1-0.1/sawn.LengthMM), 1e-9)
	near(t, "long", sawn.GreatestMassG, 7.5*(1+0.1/sawn.LengthMM), 1e-9)
	near(t, "saw alone", sawn.LikelyMassShare, 0.1/sawn.LengthMM, 1e-12)
	near(t, "volume kept", c.LongestMM*c.LeastMassG/c.MassG, c.LengthMM, 1e-9)
}

// The likely share lies below the worst case and equals it when there is one
// tolerance alone, to first order; wall and bore tell the same tube.
func TestToleranceProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		outside := rapid.Float64Range(8, 60).Draw(r, "outside")
		wall := rapid.Float64Range(0.8, 3).Draw(r, "wall")
		tol := rapid.Float64Range(1e-4, 0.05).Draw(r, "tolerance")
		outTol := rapid.Float64Range(0, 0.3).Draw(r, "outside's tolerance")
		for _, tube := range []Tube{
			{OutsideMM: outside, BoreMM: outside - 2*wall, OutsideTolMM: outTol, WallTolMM: tol},
			{OutsideMM: outside, BoreMM: outside - 2*wall, OutsideTolMM: outTol, BoreTolMM: tol},
		} {
			nominal, least, most, err := tube.AreaMM2()
			if err != nil {
				r.Fatal(err)
			}
			if !(least < nominal && nominal < most) {
				r.Fatalf("%+v: %g %g %g", tube, least, nominal, most)
			}
			likely, err := tube.LikelyShare()
			if err != nil {
				r.Fatal(err)
			}
			if worst := max(most-nominal, nominal-least) / nominal; likely > worst*1.0001 {
				r.Fatalf("%+v: likely %g above worst %g", tube, likely, worst)
			}
		}
		alone := Tube{OutsideMM: outside, BoreMM: outside - 2*wall, WallTolMM: tol}
		nominal, least, most, _ := alone.AreaMM2()
		likely, _ := alone.LikelyShare()
		for _, one := range []Tube{{OutsideMM: outside, BoreMM: outside - 2*wall, BoreTolMM: tol},
			{OutsideMM: outside, BoreMM: outside - 2*wall, BoreTolMM: 1e-9, OutsideTolMM: tol}} {
			nominal, least, most, err := one.AreaMM2()
			share, err2 := one.LikelyShare()
			if err != nil || err2 != nil || !(math.Abs((most-least)/2/nominal-share) <= 1e-6) {
				r.Fatalf("%+v: worst %g, likely %g, %v, %v", one, (most-least)/2/nominal, share, err, err2)
			}
		}
		if !(math.Abs((most-least)/2/nominal-likely) <= 1e-6) {
			r.Fatalf("one tolerance: worst %g, likely %g", (most-least)/2/nominal, likely)
		}
	})
}

func TestTubeRefusals(t *testing.T) {
	good := Tube{OutsideMM: 30, BoreMM: 22, OutsideTolMM: 0.2, WallTolMM: 0.1}
	for _, c := range []struct {
		tube Tube
		vol  float64
		want string
	}{
		{Tube{OutsideMM: 30, BoreMM: 30}, 1000, "bore in mm, which lies inside, is 30; it must lie between"},
		{Tube{OutsideMM: -30, BoreMM: 22}, 1000, "outside in mm is -30"},
		{Tube{OutsideMM: 30, BoreMM: 22, WallTolMM: 0.1, BoreTolMM: 0.1}, 1000, "leave the other 0"},
		{Tube{OutsideMM: 30, BoreMM: 28, OutsideTolMM: 1, BoreTolMM: 1}, 1000, "may leave no wall of 1 mm"},
		{Tube{OutsideMM: 30, BoreMM: 26, OutsideTolMM: 1.9, BoreTolMM: 1.9}, 1000, ""},
		{good, -5, "volume in mm3 is -5"},
		{good, math.NaN(), "volume in mm3 is NaN"},
		{good, 100, "cannot be cut to +-0.5 mm"},
	} {
		_, err := c.tube.Cut(c.vol, 2500, 0.5)
		if c.want == "" && err == nil {
			continue
		}
		if c.want == "" || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v %v: %v, want %q", c.tube, c.vol, err, c.want)
		}
	}
}

func TestPlaceRefusals(t *testing.T) {
	p := Place{TubeMM: 150, HeldMM: 30, MouldMM: 25, MouldBoreMM: 30}
	for _, c := range []struct {
		length, outside float64
		want            string
	}{
		{20, 29, ""}, {25, 30, ""},
		{121, 29, "longer than the 120 mm that a tube of 150 mm gives"},
		{26, 29, "taller than the 25 mm that the mould takes"},
		{20, 31, "does not go into a mould of 30 mm"},
		{-1, 29, "length in mm is -1; it must lie between"},
		{math.NaN(), 29, "length in mm is NaN"},
	} {
		err := p.Takes(c.length, c.outside)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%g x %g: %v, want %q", c.outside, c.length, err, c.want)
		}
	}
}

// A draft of 5 degrees is common practice, no source; 2 to 5 from memory.
func TestLeaves(t *testing.T) {
	for _, c := range []struct {
		draft         float64
		warning, fail string
	}{
		{5, "", ""}, {2, "", ""}, {1, "below 2 it may grip", ""},
		{0, "", "the core has no draft and cannot leave its mould; give it 5 degrees, which widens it by 0.52 mm over its 6 mm"},
		{-3, "", "undercut by 0.31 mm and locked in"},
		{math.NaN(), "", "draft of the core in degrees is NaN"},
	} {
		warning, err := Leaves("core", c.draft, 6)
		if !strings.Contains(warning, c.warning) || (warning == "") != (c.warning == "") {
			t.Errorf("%g: warning %q, want %q", c.draft, warning, c.warning)
		}
		if c.fail == "" && err != nil || c.fail != "" && (err == nil || !strings.Contains(err.Error(), c.fail)) {
			t.Errorf("%g: %v, want %q", c.draft, err, c.fail)
		}
	}
}
