//go:build linux && processes

package main

import (
	"errors"
	"os"
	"sort"
	"strings"
	"syscall"
	"testing"

	"pressrig/drivers/bench"
	"pressrig/panel/api"
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// What the warden has to keep alive or to refuse by itself, seen at the true
// simulated rig while a real daemon runs, stands still or is told yes.

// creepMs is how long soft glass is turned at creep (docs/assessor.md), the
// tick in which it begins not counted.
const creepMs = 120_000

// TestSoftGlassTurnsWithoutTheDaemon: a daemon that stands still takes the gas
// with it, and the glass that is soft goes on turning for as long as promised.
func TestSoftGlassTurnsWithoutTheDaemon(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	n, _ := s.fires()
	s.until("the glass is soft", func(f *api.Frame) bool {
		return f.Snapshot != nil && f.Snapshot.GlassC != nil && *f.Snapshot.GlassC >= 800
	})
	before := s.truth()
	s.daemon.signal(t, syscall.SIGSTOP)
	after := s.truth()
	within(t, before, after, s.safe(), leaseMs+underWayMs)
	settled := after.Ms + leaseMs + underWayMs + 1500 // the spindle has run down to creep
	seen, longest := 0, uint64(0)
	var now bench.Truth
	s.wait("creep has ended", func() bool {
		was := now
		now = s.truth()
		if was.Ms > 0 {
			longest = max(longest, now.Ms-was.Ms)
		}
		switch {
		case now.Ms < settled:
		case now.Ms < before.Ms+creepMs:
			seen++
			if now.SpindleRPM < 14 || now.SpindleRPM > 16 {
				t.Fatalf("%d ms after the daemon stood still the spindle turns at %.1f rpm; creep is 15 rpm", now.Ms-before.Ms,
					now.SpindleRPM)
			}
		case now.Ms > after.Ms+leaseMs+underWayMs+creepMs+5000:
			return true
		}
		return false
	})
	t.Logf("looked %d times, at most %d ms apart; first cause %d", seen, longest, now.First)
	if seen < 100 || now.SpindleRPM != 0 || now.First != warden.CauseLinkLost {
		t.Errorf("looked %d times; in the end %.1f rpm, first cause %d", seen, now.SpindleRPM, now.First)
	}
	s.daemon.signal(t, syscall.SIGCONT)
	if c := s.ends(n); c.State != "aborted" {
		t.Errorf("cycle is %s (%s)", c.State, c.Reason)
	}
	s.closes()
}

// TestForceWireCutWhileClosing: a press that feels nothing does not go on to
// the glass, and the cycle is not complete.
func TestForceWireCutWhileClosing(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	s.do("fault lost force @ press=closing+100 ms")
	n := s.press()
	c := s.ends(n)
	if c.State != "aborted" || c.Cause != warden.CauseForceLost || c.Lockout {
		t.Errorf("cycle is %s (%s), first cause %d, lockout %v; aborted by %d is right", c.State, c.Reason, c.Cause,
			c.Lockout, warden.CauseForceLost)
	}
	now := s.safe()
	// 100 ms of approach, 300 ms of the row and the way to stand still, at 50 mm/s.
	if now.First != warden.CauseForceLost || now.Touching || now.TravelMM > 30 || now.HeightMM < 6 {
		t.Errorf("first cause %d, travel %.1f mm, touching %v, glass %.1f mm high", now.First, now.TravelMM, now.Touching, now.HeightMM)
	}
	t.Logf("the press stands at %.1f mm", now.TravelMM)
	s.refuses(aborted)
	s.do("clear lost")
	s.sound(n)
	s.frees(false)
	s.closes()
}

// TestOneHandOpensWithTheDoorOpen: OPEN alone, held with one hand, opens the
// press with the door open: after a person has closed it by hand, and after a
// stroke that was aborted in contact, the daemon gone.
func TestOneHandOpensWithTheDoorOpen(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	opens := func(what string) {
		t.Helper()
		s.do("door open")
		s.wait(what+": the warden sees the open door", func() bool { return s.truth().In&warden.InDoorClosed == 0 })
		before := s.truth()
		if before.TravelMM < 5 || !before.DoorOpen {
			t.Fatalf("%s: travel %.1f mm, door open %v", what, before.TravelMM, before.DoorOpen)
		}
		s.do("hold OPEN 20 s")
		s.wait(what+": the press is open", func() bool {
			now := s.truth()
			if now.Out&(energising&^warden.OutBurnerIn) != 0 {
				t.Fatalf("%s: outputs %#x, inputs %#x, %d ms after", what, now.Out, now.In, now.Ms-before.Ms)
			}
			return now.TravelMM <= 1
		})
		now := s.truth()
		if !now.DoorOpen {
			t.Errorf("%s: the door is closed", what)
		}
		t.Logf("%s: open from %.1f mm within %d ms, lock %d, first cause %d", what, before.TravelMM, now.Ms-before.Ms, now.Lock, now.First)
		s.do("door close")
	}
	s.do("hold CLOSE 3 s")
	s.wait("the press is closed by hand", func() bool {
		now := s.truth()
		return now.TravelMM > 20 && now.In&warden.InHoldClose == 0
	})
	opens("closed by hand")
	s.wait("OPEN is let go", func() bool { return s.truth().In&warden.InHoldOpen == 0 })
	s.frees(false) // the open door is a cause of its own, and opens no less for it

	s.do("fault press_jam @ press=contact+500 ms for 1 s") // the abort comes while it works
	n := s.press()
	s.until("the glass is pressed", func(f *api.Frame) bool {
		return f.Status.Cycle == n && f.Snapshot != nil && f.Snapshot.PressTouching
	})
	s.daemon.kill(t)
	s.safe()
	opens("aborted in contact")
}

// TestYesFromTheDeskMovesNothing: in a hands phase the door was opened and
// closed, and somebody at the desk says yes. Nothing moves, nothing heats, until
// START is pushed at the rig.
func TestYesFromTheDeskMovesNothing(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	sample, err := recipes.Named("stem-tubulated")
	if err != nil {
		t.Fatal(err)
	}
	s.do("fault stuck start off @ burner=run") // the person at the rig pushes START once, not again
	started, err := s.client.Press(t.Context(), api.Press{Text: string(sample.Text), File: "tube.yaml", By: tester, Last: true})
	if err != nil {
		t.Fatal(err)
	}
	at := s.until("hands may go in", func(f *api.Frame) bool {
		return f.Status.Cycle == started.Cycle && f.Status.PhaseKind == "hands" && f.Status.Prompt != nil
	})
	still := func(what string, forMs uint64) {
		t.Helper()
		first := s.truth()
		s.wait(what, func() bool {
			now := s.truth()
			const moves = warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn | warden.OutSpindle | warden.OutPressClose |
				warden.OutPressOpen
			if now.Out&moves != 0 || now.SpindleRPM != 0 || now.TravelMM > 1 || now.Slide != 0 {
				t.Fatalf("%s: outputs %#x, spindle %.1f rpm, travel %.1f mm, slide %.2f", what, now.Out, now.SpindleRPM,
					now.TravelMM, now.Slide)
			}
			return now.Ms > first.Ms+forMs
		})
	}
	refused := func(when, words string) {
		t.Helper()
		var refusal *api.Error
		err := s.client.Answer(t.Context(), at.Status.Prompt.Number, true, tester)
		if !errors.As(err, &refusal) || refusal.Code != api.Refused || !strings.Contains(refusal.Message, words) {
			t.Errorf("yes %s: %v; refused is right: %s", when, err, words)
		}
	}
	s.do("door open")
	s.wait("the daemon sees the open door", func() bool {
		f, err := s.client.Status(t.Context())
		return err == nil && f.Snapshot != nil && !f.Snapshot.DoorClosed
	})
	refused("with the door open", "START")
	still("hands are in", 5000)
	s.do("door close")
	refused("with the door closed again", "START")
	still("the door is closed, nobody has pushed START", 10_000)
	s.do("clear stuck")
	still("START is free again, nobody has pushed it", 1000)
	s.do("press START")
	s.until("the glass is warmed", func(f *api.Frame) bool {
		return f.Status.Cycle == started.Cycle && f.Status.PhaseKind == "warm" && f.Snapshot != nil && f.Snapshot.BurnerAtBlank
	})
	if err := s.client.Command(t.Context(), "abort", tester); err != nil {
		t.Error(err)
	}
	s.ends(started.Cycle)
	s.safe()
	s.closes()
}

// TestPressLeavesNoFlameUnasked: after a cycle that is not the last the flame
// burns on as the person says; with nobody to ask, press ends when it is out.
func TestPressLeavesNoFlameUnasked(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	const asked = "and its flame still burns: fuel 0.80 L/min"
	for _, c := range []struct {
		typed string // two prompts of the recipe, then what becomes of the flame
		code  int
		says  string
		burns bool
	}{
		{"y\ny\nn\n", exitDone, "the flame stays lit for the next piece", true},
		{"y\ny\ny\n", exitDone, "is complete: done", false},
		{"y\ny\n", exitFailed, "Nobody can answer here. Shut it with: pressrig answer y.", false},
	} {
		s.wait("a cycle is taken", func() bool {
			r := s.commandLine(c.typed, "press", "practice-disc")
			if passing.MatchString(r.err) {
				return false
			}
			r.wants(t, c.code, asked, c.says)
			return true
		})
		if now := s.truth(); now.Flame != c.burns || now.FuelOpen != c.burns {
			t.Errorf("typed %q: flame %v, fuel open %v", c.typed, now.Flame, now.FuelOpen)
		}
		s.commandLine("", "reset").wants(t, exitDone)
	}
	s.closes()
}

// TestLeadStemEndsByConditions: the example of lead glass, planned by the
// program, runs to its end, each phase that the plan ends by a condition ended
// by it. Its last flame, 0.05 L/min of fuel, is measured as small as that.
func TestLeadStemEndsByConditions(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	recipe := dir + "/lead.yaml"
	runProgram(t, patience, "", "plan", "stem-4lead-lead", "mould-4lead-lead", "tube-24-lead", "--name", "lead",
		"--out", recipe).wants(t, exitDone, "recipe in")
	s := standOf(t, quick, noBroker, 2*patience, program, "bench", "--speed", "20", "--recipe", recipe, "--piece", "stem-4lead-lead",
		"--piece", "mould-4lead-lead")
	s.wait("the mould halves are in their band", func() bool {
		r := s.commandLine(strings.Repeat("y\n", 8), "press", recipe, "--last")
		if waits.MatchString(r.out + r.err) {
			return false
		}
		r.wants(t, exitDone, "cycle 1 is complete")
		return true
	})
	c := s.stored(1)
	text, err := os.ReadFile(recipe)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse("lead.yaml", text, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Phases) != len(r.Phases) {
		t.Fatalf("%d phases ran, %d are planned", len(c.Phases), len(r.Phases))
	}
	for i, ph := range c.Phases {
		if r.Phases[i].End.When != nil && ph.Reason != "condition" {
			t.Errorf("%s ended by %q", ph.Name, ph.Reason)
		}
		if ph.Name == "flame_cool" {
			flow := s.measured(1, "fuel_flow", ph.EndS-0.1)
			t.Logf("flame_cool: %.1f s at %.3f L/min of fuel, ended by %s", ph.EndS-ph.BeginS, flow, ph.Reason)
			if asked := float64(r.Phases[i].Flame.Fuel); asked > 0.06 || flow < 0.95*asked || flow > 1.05*asked {
				t.Errorf("%.2f L/min are asked for, %.3f are measured", asked, flow)
			}
		}
	}
	s.closes()
}

// measured is what a channel showed at a time of a stored cycle.
func (s *stand) measured(cycle uint32, channel string, atS float64) float64 {
	s.t.Helper()
	trace, err := s.client.Trace(s.t.Context(), cycle)
	if err != nil {
		s.t.Fatal(err)
	}
	at := sort.Search(len(trace.Ms), func(i int) bool { return float64(trace.Ms[i]) >= 1000*atS })
	for _, c := range trace.Columns {
		if c.Name == channel && at < len(c.Counts) {
			return float64(c.Counts[at]) * c.Scale
		}
	}
	s.t.Fatalf("no %s at %.1f s", channel, atS)
	return 0
}

// TestBouncedStartStartsNothing: a START contact that closes for a millisecond
// starts no cycle; a push does.
func TestBouncedStartStartsNothing(t *testing.T) {
	t.Parallel()
	s := newStand(t, quick, noBroker)
	s.do("fault stuck start off") // the person at the rig stays away
	n := s.press()
	s.until("START counts", func(f *api.Frame) bool { return f.Status.Cycle == n && f.Status.Armed })
	s.wait("the person has let go", func() bool { return s.truth().Ms > 0 })
	s.do("clear stuck")
	for range 20 {
		s.do("fault bounce start for 1 ms")
		before := s.truth()
		s.wait("100 ms have passed", func() bool { return s.truth().Ms > before.Ms+100 })
	}
	if now := s.truth(); now.Burner != warden.BurnerStandby || now.Out&energising != 0 {
		t.Errorf("a bounced START has begun burner phase %d, outputs %#x", now.Burner, now.Out)
	}
	s.do("press START")
	s.until("the cycle runs", func(f *api.Frame) bool {
		return f.Status.Cycle == n && f.Snapshot != nil && f.Snapshot.Burner == "purge"
	})
	s.closes()
}
