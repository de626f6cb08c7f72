package trials

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pressrig/rig"
	"pressrig/safety/warden"
)

func TestCompareGolden(t *testing.T) {
	cycles, traces := three()
	c := Compare(cycles, traces)
	golden(t, "compare.txt", []byte(c.Text()))
	text, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "compare.json", append(text, '\n'))
}

// TestCompareFindsWhatWasPutIn changes one sample by a known amount.
func TestCompareFindsWhatWasPutIn(t *testing.T) {
	a, ta := invented(1, 0, "")
	b, tb := invented(2, 0, "")
	fire := a.Phases[3]
	row := tb.from(fire.Begin + 12340*time.Millisecond)
	tb.Analog[warden.AiGlass][row] -= 1720
	apart := Compare([]Cycle{a, b}, []*Trace{ta, tb}).Channels[warden.AiGlass].Cells[1].Apart
	if apart == nil || apart.Phase != "fire" || apart.AtS != 12.34 || apart.Difference != -172 {
		t.Errorf("got %+v, want -172 at 12.34 s into fire", apart)
	}
}

// TestCompareAlignsByPhase: a longer wait before START is no difference.
func TestCompareAlignsByPhase(t *testing.T) {
	a, ta := invented(1, 0, "")
	b, tb := invented(2, 0, "")
	const late = 7000
	b.Phases[0].End += late * time.Millisecond
	for i := range b.Phases[1:] {
		b.Phases[i+1].Begin += late * time.Millisecond
		b.Phases[i+1].End += late * time.Millisecond
	}
	for i := range tb.Ms {
		if int64(ta.Ms[i]) >= a.Phases[1].Begin.Milliseconds() {
			tb.Ms[i] += late
		}
	}
	c := Compare([]Cycle{a, b}, []*Trace{ta, tb})
	for _, row := range c.Channels {
		if d := row.Cells[1].Apart; d == nil || d.Difference != 0 {
			t.Errorf("%s: %+v, want no difference", row.Channel, d)
		}
	}
	if got := *c.Phases[0].Cells[1].DiffS; got != 7 {
		t.Errorf("load is longer by %g s, want 7", got)
	}
	if c.Cycles[0].LengthS != c.Cycles[1].LengthS {
		t.Errorf("from START: %g s and %g s", c.Cycles[0].LengthS, c.Cycles[1].LengthS)
	}
}

func TestCompareReadsNothingAcrossAGap(t *testing.T) {
	a, ta := invented(1, 0, "")
	b, tb := invented(2, 0, "")
	from, to := ta.from(a.Phases[3].Begin), ta.from(a.Phases[3].End)
	cut := *ta
	cut.Ms = append(append([]uint32{}, ta.Ms[:from+1]...), ta.Ms[to-1:]...)
	cut.OK = append(append([]uint16{}, ta.OK[:from+1]...), ta.OK[to-1:]...)
	cut.Analog = make([][]int16, len(ta.Analog))
	for ai, v := range ta.Analog {
		cut.Analog[ai] = append(append([]int16{}, v[:from+1]...), v[to-1:]...)
	}
	for i := from + 5; i < to-5; i++ {
		tb.Analog[warden.AiGlass][i] = 0
	}
	apart := Compare([]Cycle{a, b}, []*Trace{&cut, tb}).Channels[warden.AiGlass].Cells[1].Apart
	if apart == nil || apart.Difference != 0 {
		t.Errorf("got %+v; what lay in the gap is not known", apart)
	}
}

func TestCompareLeavesOutWhatIsNotValid(t *testing.T) {
	a, ta := invented(1, 0, "")
	ta.Flags = make([]uint16, len(ta.Ms)) // the view is never free
	for _, row := range Compare([]Cycle{a}, []*Trace{ta}).Channels {
		if row.Channel == "glass" {
			t.Errorf("glass temperature is believed with the view taken: %+v", row)
		}
	}
	for i := range ta.Flags {
		ta.Flags[i] = rig.FlagViewFree
	}
	if row := Compare([]Cycle{a}, []*Trace{ta}).Channels[0]; row.Channel != "glass" {
		t.Errorf("first channel is %s, want glass", row.Channel)
	}
}

func TestCompareKeysRepeatedPhases(t *testing.T) {
	a, ta := invented(1, 0, "")
	b := a
	b.Number = 2
	b.Phases = append(append([]Phase{}, a.Phases[:4]...), a.Phases[2:]...)
	c := Compare([]Cycle{a, b}, []*Trace{ta, nil})
	var names []string
	for _, p := range c.Phases {
		names = append(names, p.Phase)
	}
	want := "load light warm fire warm (2nd time) fire (2nd time) soak"
	if got := strings.Join(names[:7], " "); got != want {
		t.Errorf("phases are %q, want %q", got, want)
	}
	if c.Phases[4].Cells[0].Ran || !c.Phases[4].Cells[1].Ran {
		t.Errorf("warm ran a second time in: %+v", c.Phases[4])
	}
}

func TestCompareNotes(t *testing.T) {
	a, ta := invented(1, 0, "")
	b, _ := invented(2, 0, "")
	b.Hash, b.Profile, b.Firmware = "other", "other", "other"
	b.Guarded, b.Dummy, b.Refired = false, true, true
	ta.Gaps = []Gap{{1, 2}}
	got := strings.Join(Compare([]Cycle{a, b}, []*Trace{ta}).Notes, "\n")
	for _, want := range []string{"different texts of the recipe", "different profiles",
		"different firmware", "unguarded", "dummy", "fired again", "1 gap"} {
		if !strings.Contains(got, want) {
			t.Errorf("no note on %q in:\n%s", want, got)
		}
	}
	b.Recipe, b.Rig = "other", "other"
	got = strings.Join(Compare([]Cycle{a, b}, nil).Notes, "\n")
	for _, want := range []string{"different recipes", "different rigs"} {
		if !strings.Contains(got, want) {
			t.Errorf("no note on %q in:\n%s", want, got)
		}
	}
}

func TestCompareOfNothing(t *testing.T) {
	if c := Compare(nil, nil); len(c.Cycles)+len(c.Phases)+len(c.Channels) != 0 {
		t.Errorf("got %+v", c)
	}
	_ = Compare(nil, nil).Text()
	if c := Compare([]Cycle{{}, {}}, []*Trace{nil, {}}); len(c.Channels) != 0 {
		t.Errorf("channels of nothing: %+v", c.Channels)
	}
}

// TestSelfCompare: a cycle shows no difference to itself, whatever it is.
func TestSelfCompare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, tr := anyCycle(t)
		out := Compare([]Cycle{c, c}, []*Trace{tr, tr})
		for _, p := range out.Phases {
			if d := p.Cells[1].DiffS; d != nil && *d != 0 {
				t.Fatalf("%s: %g s", p.Phase, *d)
			}
		}
		for _, row := range out.Channels {
			if a := row.Cells[1].Apart; a != nil && a.Difference != 0 {
				t.Fatalf("%s: %+v", row.Channel, *a)
			}
			l, m, h := row.Cells[0].Least, row.Cells[0].Mean, row.Cells[0].Largest
			if l != nil && (*l > *m+1e-9 || *m > *h+1e-9) {
				t.Fatalf("%s: least %g, mean %g, largest %g", row.Channel, *l, *m, *h)
			}
		}
		for _, row := range out.Channels {
			if text := apartText(row.Cells, 0)[1]; text != none && text != "no difference" {
				t.Fatal(text)
			}
		}
		_ = Overlay([]Cycle{c, c}, []*Trace{tr, tr})
		_ = Picture(&c, tr)
	})
}

// anyCycle is any cycle with any trace whose columns are of one length and
// whose times rise.
func anyCycle(t *rapid.T) (Cycle, *Trace) {
	var c Cycle
	at := time.Duration(0)
	for range rapid.IntRange(0, 6).Draw(t, "phases") {
		length := time.Duration(rapid.IntRange(0, 3000).Draw(t, "length")) * time.Millisecond
		c.Phases = append(c.Phases, Phase{Name: rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t,
			"name"),
			Kind: rapid.SampledFrom([]string{"load", "fire"}).Draw(t, "kind"), Begin: at, End: at + length})
		at += length
	}
	tr := &Trace{Analog: make([][]int16, warden.NumAnalog)}
	ms := uint32(0)
	for range rapid.IntRange(0, 300).Draw(t, "rows") {
		ms += rapid.Uint32Range(1, 200).Draw(t, "step")
		tr.Ms = append(tr.Ms, ms)
		tr.OK = append(tr.OK, rapid.Uint16().Draw(t, "ok"))
		tr.In = append(tr.In, rapid.Uint32().Draw(t, "in"))
		tr.Out = append(tr.Out, rapid.Uint16().Draw(t, "out"))
		tr.Burner = append(tr.Burner, rapid.Uint8().Draw(t, "burner"))
		tr.Press = append(tr.Press, rapid.Uint8().Draw(t, "press"))
		v := rapid.Int16().Draw(t, "value")
		for ai := range tr.Analog {
			tr.Analog[ai] = append(tr.Analog[ai], v)
		}
	}
	return c, tr
}

func TestNumbersForPeople(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{fixed(-0.04, 1), "0.0"},
		{fixed(-0.06, 1), "-0.1"},
		{signed(0, 1), "±0.0"},
		{signed(0.04, 1), "±0.0"},
		{signed(-3.21, 1), "-3.2"},
		{figures(8.2449), "8.24"},
		{figures(0.012345), "0.0123"},
		{figures(1234.5), "1234"}, // half to even
		{figures(0), "0"},
		{figures(math.Inf(1)), "+Inf"},
		{ordinal(1) + ordinal(2) + ordinal(3) + ordinal(11) + ordinal(21), "1st2nd3rd11th21st"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestTicksAreRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e4, 0).Draw(t, "low")
		high := rapid.Float64Range(1e-3, 1e4).Draw(t, "high")
		l, h := rounded(low, high)
		if l > low+0.021*high || h < high {
			t.Fatalf("%g to %g became %g to %g", low, high, l, h)
		}
		if n := len(ticks(l, h, 4)); n < 2 || n > 12 {
			t.Fatalf("%d ticks between %g and %g", n, l, h)
		}
	})
}
