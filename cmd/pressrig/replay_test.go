package main

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pressrig/controller"
	"pressrig/journal"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// storedStep is one step as the journal gives it back.
type storedStep struct {
	in  controller.Input
	req rig.Request
}

// recorded runs a cycle of the dry-run recipe for some seconds on a rig that
// only stands there, and keeps what a journal would.
func recorded(t *testing.T) (*journal.CycleInfo, []storedStep) {
	t.Helper()
	sample, err := recipes.Named("dry-run")
	if err != nil {
		t.Fatal(err)
	}
	profileText, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	profile, err := rig.ParseProfile("driven", profileText)
	if err != nil {
		t.Fatal(err)
	}
	recipe, err := recipes.Parse("dry-run", sample.Text, profile)
	if err != nil {
		t.Fatal(err)
	}
	frozen := &journal.CycleInfo{Number: 7, Run: 2, Piece: 1, By: "Ada", RecipeText: sample.Text,
		ProfileText: profileText}
	m := controller.New(controller.Config{Profile: profile})
	job := controller.Job{Cycle: 7, Run: 2, Piece: 1, By: "Ada", Recipe: recipe}
	var steps []storedStep
	out := new(controller.Output)
	for tick := range uint64(600) {
		in := standing(tick)
		if tick == 0 {
			m.Begin(job, &in, out)
		} else {
			m.Step(&in, out)
		}
		steps = append(steps, storedStep{in, out.Request})
	}
	return frozen, steps
}

// standing is the input from a rig that is ready and does nothing.
func standing(tick uint64) controller.Input {
	snap := &rig.Snapshot{StampMs: uint32(tick * 10), AnalogOK: 1<<warden.NumAnalog - 1,
		Flags: rig.FlagHomed | rig.FlagViewFree, Link: warden.LinkUp, EchoSeq: uint16(tick),
		Press: warden.PressStay, Out: warden.OutBrake,
		In: warden.InEstopOK | warden.InDoorClosed | warden.InMainsOK | warden.InPressOpen |
			warden.InBurnerClear | warden.InFuelShut | warden.InOxygenShut | warden.InChuckClamped}
	return controller.Input{Tick: tick, ElapsedMs: tick * 10, Snap: snap, Session: 1,
		Journal: controller.JournalHealth{Writable: true, Started: 7}}
}

// feed gives steps as the journal does, and gap at the end when it is set.
func feed(steps []storedStep, gap error) func(stepFunc) error {
	return func(fn stepFunc) error {
		for i := range steps {
			in := steps[i].in
			if err := fn(&in, &steps[i].req); err != nil {
				return fmt.Errorf("steps of cycle 7: %w", err)
			}
		}
		return gap
	}
}

func TestReplayIsEqual(t *testing.T) {
	frozen, steps := recorded(t)
	got, err := replay(frozen, feed(steps, nil))
	if err != nil || got.Equal != len(steps) || len(got.Differences) > 0 {
		t.Fatalf("%+v, %v", got, err)
	}
	zero := 0
	for _, s := range steps {
		if s.req == (rig.Request{}) {
			zero++
		}
	}
	if zero == len(steps) {
		t.Error("every request is empty: the test compares nothing")
	}
}

// TestReplayFindsAnAlteredInput and names the first tick of the difference.
func TestReplayFindsAnAlteredInput(t *testing.T) {
	frozen, steps := recorded(t)
	steps[250].in.Command, steps[250].in.By = controller.Abort, "Ada"
	got, err := replay(frozen, feed(steps, nil))
	if err != nil || got.Tick != 250 || got.Equal != 250 || len(got.Differences) == 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestReplayFindsAnAlteredRequest(t *testing.T) {
	frozen, steps := recorded(t)
	steps[300].req.FuelMl += 1
	got, err := replay(frozen, feed(steps, nil))
	if err != nil || got.Tick != 300 || len(got.Differences) != 1 ||
		!strings.HasPrefix(got.Differences[0], "FuelMl: stored ") {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestReplayStopsAtAGap(t *testing.T) {
	frozen, steps := recorded(t)
	gap := fmt.Errorf("steps of cycle 7: %w", &journal.GapError{Cycle: 7, AfterTick: 99, Missing: 12})
	got, err := replay(frozen, feed(steps[:100], gap))
	if err != nil || got.Equal != 100 || got.Tick != 99 || got.Missing != 12 {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestReplayOfWhatCannotBeRead(t *testing.T) {
	frozen, steps := recorded(t)
	broken := *frozen
	broken.RecipeText = []byte("recipe: [")
	if _, err := replay(&broken, feed(steps, nil)); err == nil {
		t.Error("a broken recipe is replayed")
	}
	broken = *frozen
	broken.ProfileText = nil
	if _, err := replay(&broken, feed(steps, nil)); err == nil {
		t.Error("a broken profile is replayed")
	}
	disk := errors.New("disk")
	if _, err := replay(frozen, feed(steps, disk)); !errors.Is(err, disk) {
		t.Errorf("got %v", err)
	}
}
