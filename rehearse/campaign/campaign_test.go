package campaign

import (
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"

	"pressrig/safety/chaos"
	"pressrig/safety/oracle"
	"pressrig/safety/warden"
	"pressrig/testcount"
)

var observed = sync.OnceValues(Observe)

func timelines(t testing.TB) Timelines {
	t.Helper()
	lines, err := observed()
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// runAll plays cases on all cores.
func runAll(cases []Case, step Step) []Result {
	results := make([]Result, len(cases))
	var workers sync.WaitGroup
	for worker := range runtime.NumCPU() {
		workers.Go(func() {
			var player Player
			for i := worker; i < len(cases); i += runtime.NumCPU() {
				if step == nil {
					results[i] = player.Run(&cases[i])
				} else {
					results[i] = Run(&cases[i], step)
				}
			}
		})
	}
	workers.Wait()
	return results
}

// every takes each n-th case, from the middle of the first n on.
func every(n int, cases []Case) []Case {
	var some []Case
	for i := n / 2; i < len(cases); i += n {
		some = append(some, cases[i])
	}
	return some
}

// A sample of the campaign: all of it is make campaign.
func TestSampleOfTheCampaign(t *testing.T) {
	lines := timelines(t)
	cases := every(testcount.Of(211, 53), Singles(lines))
	cases = append(cases, every(testcount.Of(523, 131), Pairs(lines))...)
	for seed := range uint64(testcount.Of(5, 20)) {
		cases = append(cases, Random(seed))
	}
	InOrder(cases)
	acted := 0
	for _, r := range runAll(cases, nil) {
		if len(r.Wrong) > 0 {
			t.Errorf("%s: %s\n%s", r.Name, strings.Join(r.Wrong, "; "), r.Script)
		}
		if len(r.Acted) > 0 {
			acted++
		}
	}
	if acted < len(cases)/2 {
		t.Errorf("something acted in only %d of %d runs", acted, len(cases))
	}
}

// The campaign has the size that it is asked for: every row of the requirement
// and every error of the line in twelve phases at five moments, and all pairs of
// the twelve worst in each phase. SV-067
func TestCampaignIsWhole(t *testing.T) {
	lines := timelines(t)
	named := map[string]bool{}
	for _, p := range provocations {
		named[p.name] = true
	}
	for _, row := range oracle.Rows {
		if !named[fmt.Sprint(row.Number)] {
			t.Errorf("row %d, %s, is never provoked", row.Number, row.Cause)
		}
	}
	if n := len(lineErrors()); n != 8 {
		t.Errorf("%d errors of the line, want the 8 of IEC 61784-3", n)
	}
	singles, required := Singles(lines), 0
	for _, c := range singles {
		p, _ := provocationNamed(c.About[0])
		if p.row() <= 37 {
			required++
		}
	}
	if required != (37+8)*12*5 || len(Pairs(lines)) != 66*12 {
		t.Errorf("%d singles of the requirement and %d pairs, want 2700 and 792", required, len(Pairs(lines)))
	}
	for rig, line := range lines {
		for i, span := range line {
			if span.To <= span.From {
				t.Errorf("rig %s: phase %s from %d to %d", rig, Phases[i], span.From, span.To)
			}
		}
	}
}

// A script is a run, bit for bit, however often it is read and played, and
// whether from its first millisecond or from what others share with it. SV-070
func TestReplayIsBitForBit(t *testing.T) {
	lines := timelines(t)
	cases := append(every(700, Singles(lines)), Random(4), Random(9))
	again := make([]Case, len(cases))
	for i := range cases {
		s, err := ParseScript(cases[i].Script.String())
		if err != nil {
			t.Fatal(err)
		}
		again[i] = Case{Script: s}
	}
	other := Case{Script: cases[0].Script}
	other.Script.Seed++
	first, second := make([]Result, len(cases)), runAll(again, nil)
	for i := range first {
		first[i] = Run(&cases[i], nil)
		if first[i].Digest != second[i].Digest {
			t.Errorf("%s: digest %s, then %s", first[i].Name, first[i].Digest, second[i].Digest)
		}
	}
	if r := Run(&other, nil); r.Digest == first[0].Digest {
		t.Error("another seed gives the same digest: it cannot tell runs apart")
	}
}

// broken are wardens with one fault each, and a case that has to find it.
var broken = []struct {
	name, about, phase, moment string
	step                       Step
}{
	{"never sees a low fuel pressure", "6", "fire", "middle", blindTo(warden.InFuelLow)},
	{"takes an open door for closed", "2", "contact", "middle",
		func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			bent := *in
			bent.Bits |= warden.InDoorClosed
			warden.Step(c, s, &bent, out)
		}},
	{"waits twice as long for a lost flame", "3", "fire", "middle",
		func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			bent := *c
			bent.FlameOffMs *= 2
			warden.Step(&bent, s, in, out)
		}},
	{"lets the spindle run on", "10", "warm", "middle", driveOn(warden.OutSpindle)},
	{"lets the press push on", "13", "contact", "entry", driveOn(warden.OutPressClose)},
	{"ramps with the request that goes", "21", "warm", "middle", chaos.RampsWithTheRequest},
	{"takes a stop for an abort", "1", "close", "middle",
		func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			warden.Step(c, s, in, out)
			s.Lock = min(s.Lock, warden.LockAbort)
		}},
	{"names another first cause", "31", "fire", "exit",
		func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			warden.Step(c, s, in, out)
			if s.First == warden.CauseGasAlarm {
				s.First = warden.CauseFlashback
			}
		}},
}

func blindTo(bit uint32) Step {
	return func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		bent := *in
		bent.Bits &^= bit
		warden.Step(c, s, &bent, out)
	}
}

// driveOn keeps an output on for half a second after a trip.
func driveOn(bit uint16) Step {
	on, left := false, 0
	return func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		warden.Step(c, s, in, out)
		if s.Trips == 0 {
			on, left = out.Bits&bit != 0, 500
		} else if on && left > 0 {
			left--
			out.Bits |= bit
		}
	}
}

// A warden that is broken in one rule fails: the campaign is not satisfied by
// everything.
func TestBrokenWardensFail(t *testing.T) {
	lines := timelines(t)
	for _, b := range broken {
		t.Run(b.name, func(t *testing.T) {
			for _, c := range Singles(lines) {
				if c.Name != "single "+b.about+" "+b.phase+" "+b.moment {
					continue
				}
				if r := Run(&c, nil); len(r.Wrong) > 0 {
					t.Fatalf("the real warden fails: %v", r.Wrong)
				}
				r := Run(&c, b.step)
				if len(r.Wrong) == 0 {
					t.Error("passes")
				}
				t.Log(strings.Join(r.Wrong, "; "))
				return
			}
			t.Fatal("no such case")
		})
	}
}

// BenchmarkRun is one core's virtual time over its real time.
func BenchmarkRun(b *testing.B) {
	cases := every(97, Singles(timelines(b)))
	virtual, i := uint64(0), 0
	for b.Loop() {
		virtual += Run(&cases[i%len(cases)], nil).Virtual
		i++
	}
	b.ReportMetric(float64(virtual)/1000/b.Elapsed().Seconds(), "times-real")
}

// Random runs notice a broken warden too, without knowing what to look for.
func TestRandomRunsNotice(t *testing.T) {
	for seed := range uint64(40) {
		c := Random(seed)
		if r := Run(&c, broken[6].step); len(r.Wrong) > 0 {
			t.Logf("seed %d: %s", seed, strings.Join(r.Wrong, "; "))
			return
		}
	}
	t.Error("a warden that never locks out passes 40 random runs")
}
