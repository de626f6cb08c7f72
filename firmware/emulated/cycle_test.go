//go:build avr

package emulated_test

import (
	"fmt"
	"math"
	"testing"

	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/firmware/emulated"
	"pressrig/rehearse"
	"pressrig/safety/warden"
)

// cycleMost is more than any stored recipe takes, in milliseconds.
const cycleMost = 20 * 60 * 1000

// A stored recipe completes through the image with the real supervisor, in the
// phases and for the reasons that it has on the simulated microcontroller.
func TestCycleThroughTheImage(t *testing.T) {
	const recipe = "practice-disc"
	l := newLoop(t, recipe)
	l.starts(1)
	l.until("the cycle has ended", cycleMost, l.Ended)
	p, r := profileAndRecipe(t, recipe)
	want, err := rehearse.New(rehearse.Options{Profile: p, Seed: 3, Answers: true, NoTrace: true})
	if err != nil {
		t.Fatal(err)
	}
	want.Steps = func(_ *controller.Input, out *controller.Output) { want.ByHand(p, r, out) }
	want.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	want.Run(cycleMost, want.Ended)
	if l.State() != controller.Complete || want.State() != controller.Complete {
		t.Fatalf("%v: %s; on the simulated microcontroller %v", l.State(), l.Out.Status.Reason, want.State())
	}
	a, b := l.Cycle(recipe, p.Name), want.Cycle(recipe, p.Name)
	if len(a.Phases) != len(b.Phases) {
		t.Fatalf("%d phases; %d on the simulated microcontroller", len(a.Phases), len(b.Phases))
	}
	for i := range a.Phases {
		if a.Phases[i].Name != b.Phases[i].Name || a.Phases[i].Reason != b.Phases[i].Reason {
			t.Errorf("phase %d: %+v; %+v", i, a.Phases[i], b.Phases[i])
		}
	}
	f := l.board.Figures
	if f.Resets > 1 || f.Overruns != 0 || f.Pulses+1000 < f.Ms || f.Ticks+1000 < f.Ms {
		t.Errorf("%+v: a tick and a pulse a millisecond, no reset after the one that boot provokes, no byte lost", f)
	}
	t.Logf("%d ms, %d ticks compared, the longest took %d cycles, stack down to %#x, %d bytes from and %d to the board",
		f.Ms, f.Ticks, f.Longest, f.LowestStack, f.FromBoard, f.ToBoard)
}

// moment is one millisecond of a recorded cycle.
type moment struct {
	sensors warden.Input // as the converter of the image reads them
	bytes   []byte       // that the host sent
	phases  phases
}

// phases are all state machines of the warden.
type phases struct{ burner, press, spindle, link, lock, first uint8 }

func phasesOf(s *warden.State) phases {
	return phases{s.Burner, s.Press, s.Spindle, s.Link, s.Lock, s.First}
}

// recorded is a cycle of the simulated microcontroller, millisecond by
// millisecond, its sensors read in whole counts of the board's converter.
func recorded(t *testing.T, recipe string, board *emulated.Board) []moment {
	t.Helper()
	p, r := profileAndRecipe(t, recipe)
	var tape []moment
	var bytes []byte
	var ageMs uint16
	var h *rehearse.Rehearsal
	var err error
	h, err = rehearse.New(rehearse.Options{Profile: p, Seed: 5, Answers: true, NoTrace: true,
		Sent: func(frame []byte) { bytes = append(bytes, frame...) },
		Warden: func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
			board.AsRead(in, &ageMs)
			warden.Step(c, s, in, out)
			sensors := *in
			if h != nil { // in the first two seconds nothing changes
				sensors.Bits = h.Rig.RawBits() // the image has a filter of its own
			}
			tape = append(tape, moment{sensors, bytes, phasesOf(s)})
			bytes = nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	h.Steps = func(_ *controller.Input, out *controller.Output) { h.ByHand(p, r, out) }
	h.Start(controller.Job{Cycle: 1, Run: 1, Piece: 1, Last: true, By: "test", Recipe: r})
	if !h.Run(cycleMost, h.Ended) || h.State() != controller.Complete {
		t.Fatalf("%v: %s", h.State(), h.Out.Status.Reason)
	}
	return tape
}

// change is where the state machines went, and when.
type change struct {
	at int
	to phases
}

// Inputs and bytes of a cycle on the simulated microcontroller, played to the
// image: the same states in the same order, each within 2 ticks, and every
// analog value within one count of what was given in the last 3 ms, 9 of the slow
// channels.
func TestSameStatesAsTheSimulatedMicrocontroller(t *testing.T) {
	l := bareLoop(t, "practice-disc")
	tape := recorded(t, "practice-disc", l.board)
	var in bench.BoardInput
	var out bench.BoardOutput
	at, ticks := 0, 0
	var got []change
	last, worstCounts := phases{}, [warden.NumAnalog]int{}
	l.each = func(k *emulated.Tick) {
		ticks++
		if now := phasesOf(&k.State); now != last {
			got, last = append(got, change{at, now}), now
		}
	}
	in.Sensors = tape[0].sensors
	for ticks == 0 { // boot; its clock begins as that of the tape
		if b := l.board.Figures.Ms; b > 60_000 || l.board.Err() != nil {
			t.Fatalf("no tick within a minute of power-on: %v", l.board.Err())
		}
		steps(l.board, &in, &out, 1)
	}
	began := ticks
	for at = began; at < len(tape); at++ {
		in.Sensors, in.FromHost = tape[at].sensors, append(in.FromHost, tape[at].bytes...)
		if at == began { // what was sent while it booted
			in.FromHost = in.FromHost[:0]
			for i := range at + 1 {
				in.FromHost = append(in.FromHost, tape[i].bytes...)
			}
		}
		steps(l.board, &in, &out, 1)
		if at > 100 && out.Ran {
			compareAnalog(t, l.board, tape[at-9:at+1], &out.In, &worstCounts)
		}
	}
	var want []change
	was := phases{}
	for i := range tape {
		if tape[i].phases != was {
			was = tape[i].phases
			want = append(want, change{i, was})
		}
	}
	compareChanges(t, want, got)
	t.Logf("%d ms, %d changes of state; counts apart at most: %v", len(tape), len(want), worstCounts)
}

// compareAnalog counts how far each channel is from what was given of late: a
// value between two of those is right, since the wires move within a
// millisecond.
func compareAnalog(t *testing.T, b *emulated.Board, recent []moment, in *warden.Input, most *[warden.NumAnalog]int) {
	for ai := range warden.NumAnalog {
		if in.AnalogOK&(1<<ai) == 0 {
			continue
		}
		first := 0
		if ai == warden.AiGlass || ai == warden.AiForce || ai == warden.AiSpindle || ai == warden.AiTravel {
			first = len(recent) - 4 // converted in every tick
		}
		low, high := int16(math.MaxInt16), int16(math.MinInt16)
		for i := first; i < len(recent); i++ {
			if given := &recent[i].sensors; given.AnalogOK&(1<<ai) != 0 {
				low, high = min(low, given.Analog[ai]), max(high, given.Analog[ai])
			}
		}
		if low > high {
			t.Errorf("channel %d reads %d; it was broken for %d ms", ai, in.Analog[ai], len(recent)-first)
			continue
		}
		near := min(high, max(low, in.Analog[ai]))
		apart := b.Counts(ai, in.Analog[ai], near)
		apart = max(apart, -apart)
		if apart > 1 && apart > most[ai] {
			t.Errorf("channel %d reads %d; %d to %d was given", ai, in.Analog[ai], low, high)
		}
		most[ai] = max(most[ai], apart)
	}
}

func compareChanges(t *testing.T, want, got []change) {
	t.Helper()
	latest := 0
	for i := range max(len(want), len(got)) {
		if i >= len(want) || i >= len(got) || want[i].to != got[i].to {
			t.Fatalf("change %d of %d and %d: %s; on the simulated microcontroller %s", i, len(got), len(want),
				around(got, i), around(want, i))
		}
		late := got[i].at - want[i].at
		if late < -2 || late > 2 {
			t.Errorf("change %d to %+v comes in ms %d; in %d on the simulated microcontroller", i, got[i].to,
				got[i].at, want[i].at)
		}
		latest = max(latest, late, -late)
	}
	t.Logf("at most %d ms apart", latest)
}

func around(all []change, i int) string {
	return fmt.Sprintf("%+v", all[max(0, min(len(all), i-1)):min(len(all), i+2)])
}
