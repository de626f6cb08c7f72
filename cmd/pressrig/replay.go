package main

import (
	"errors"
	"fmt"
	"strings"

	"pressrig/controller"
	"pressrig/journal"
	"pressrig/recipes"
	"pressrig/rehearse"
	"pressrig/rig"
)

type replayCmd struct {
	Number uint32 `arg:"" help:"Number of the cycle."`
}

func (replayCmd) Help() string {
	return "Feeds the stored inputs of a cycle to the cycle machine again and compares every " +
		"request with the stored one. No rig is touched. Exit code 1 at the first " +
		"difference, and where steps are missing."
}

// replayed is what a replay found.
type replayed struct {
	Cycle       uint32   `json:"cycle"`
	Equal       int      `json:"equal_requests"` // before the first difference or gap
	Tick        uint64   `json:"tick,omitempty"` // of the first difference, or before the gap
	Differences []string `json:"differences,omitempty"`
	Missing     uint32   `json:"missing_steps,omitempty"` // a gap: what follows cannot be replayed
}

// errDiffers ends the reading of steps at the first difference.
var errDiffers = errors.New("the replay differs")

// Run replays a cycle of the journal in the data folder.
func (c *replayCmd) Run(e *env) (err error) {
	j, err := e.openJournal()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	frozen, err := j.Frozen(c.Number)
	if err != nil {
		return err
	}
	out, err := replay(&frozen, func(fn stepFunc) error { return j.Steps(c.Number, fn) })
	if err != nil {
		return err
	}
	if err := e.printReplayed(out); err != nil {
		return err
	}
	if len(out.Differences) > 0 || out.Missing > 0 {
		return exit{exitFailed, nil}
	}
	return nil
}

type stepFunc = func(*controller.Input, *rig.Request) error

// replay runs the machine over the stored steps. The stored requests are read
// only to be compared with.
func replay(frozen *journal.CycleInfo, steps func(stepFunc) error) (replayed, error) {
	out := replayed{Cycle: frozen.Number}
	profile, err := rig.ParseProfile("frozen rig profile", frozen.ProfileText)
	if err != nil {
		return out, fmt.Errorf("this program cannot read the profile of the cycle: %w", err)
	}
	recipe, err := recipes.ParseFrozen("frozen recipe", frozen.RecipeText, profile, nil)
	if err != nil {
		return out, fmt.Errorf("this program cannot read the recipe of the cycle: %w", err)
	}
	job := controller.Job{Cycle: frozen.Number, Run: frozen.Run, Piece: frozen.Piece,
		Dummy: frozen.Dummy, Last: frozen.Last, By: frozen.By, User: frozen.User, Recipe: recipe}
	r := rehearse.NewReplayer(job, controller.Config{Profile: profile})
	err = steps(func(in *controller.Input, stored *rig.Request) error {
		diff := r.Step(in, stored)
		if diff == nil {
			return nil
		}
		out.Tick = diff.Tick
		if diff.Gap { // one that the journal did not mark
			out.Missing = uint32(in.Tick - diff.Tick - 1)
		}
		for _, f := range diff.Fields {
			out.Differences = append(out.Differences, f.String())
		}
		return errDiffers
	})
	out.Equal = r.Equal
	var gap *journal.GapError
	switch {
	case errors.As(err, &gap):
		out.Tick, out.Missing = gap.AfterTick, gap.Missing
	case err != nil && !errors.Is(err, errDiffers):
		return out, err
	}
	return out, nil
}

func (e *env) printReplayed(r replayed) error {
	var err error
	switch {
	case e.flags.JSON:
		err = e.printJSON(r)
	case len(r.Differences) > 0:
		_, err = fmt.Fprintf(e.out, "cycle %d: first difference at tick %d, after %d equal "+
			"requests\n  %s\n", r.Cycle, r.Tick, r.Equal, strings.Join(r.Differences, "\n  "))
	case r.Missing > 0:
		_, err = fmt.Fprintf(e.out, "cycle %d: %d requests equal up to tick %d; then %d steps are "+
			"missing, and what follows cannot be replayed\n", r.Cycle, r.Equal, r.Tick, r.Missing)
	default:
		_, err = fmt.Fprintf(e.out, "cycle %d: all %d requests equal\n", r.Cycle, r.Equal)
	}
	return err
}
