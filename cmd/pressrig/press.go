package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"pressrig/panel/api"
)

type pressCmd struct {
	Recipe string `arg:"" help:"Name of a stored recipe, or a recipe file."`
	Dummy  bool   `help:"A warming-up piece: marked so in the journal."`
	Last   bool   `help:"Last piece of the run: shut the flame at the end."`
	Detach bool   `help:"Do not follow the cycle."`
}

func (pressCmd) Help() string {
	return "Arms one cycle and follows it until its end; prompts are asked here. Ctrl-C ends the " +
		"following, not the cycle. A flame that is left lit for the next piece is asked about before " +
		"the command ends. Exit code 0 only when the cycle is complete. " + notSafe
}

// Run arms a cycle, then follows it.
func (p *pressCmd) Run(e *env) error {
	order, err := p.order(e.by)
	if err != nil {
		return err
	}
	started, err := e.client().Press(e.ctx, order)
	if err != nil {
		return err
	}
	switch {
	case !e.flags.JSON:
		fmt.Fprintf(e.out, "cycle %d is ready. When the lamp at the rig is lit, push START at the rig.\n",
			started.Cycle)
	case p.Detach:
		return e.printJSON(started)
	}
	if p.Detach {
		return nil
	}
	return e.followCycle(started.Cycle)
}

// order finds out whether the recipe is a file or a name.
func (p *pressCmd) order(by string) (api.Press, error) {
	order := api.Press{By: by, Dummy: p.Dummy, Last: p.Last}
	if !isFile(p.Recipe) {
		order.Recipe = p.Recipe
		return order, nil
	}
	text, err := readRecipe(p.Recipe)
	if err != nil {
		return order, err
	}
	order.Text, order.File = string(text), p.Recipe
	return order, nil
}

// isFile reports whether a person who wrote name means a file: names of stored
// recipes have no dot and no slash.
func isFile(name string) bool {
	return strings.ContainsRune(name, filepath.Separator) || strings.Contains(name, ".")
}

// readRecipe reads a file that a person wrote, up to its limit.
func readRecipe(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, api.MaxRecipeText+1))
	if err != nil {
		return nil, err
	}
	if len(text) > api.MaxRecipeText {
		return nil, fmt.Errorf("%s is longer than %d bytes; a recipe or profile is a page of text",
			path, api.MaxRecipeText)
	}
	if len(text) == 0 {
		return nil, fmt.Errorf("%s is empty", path)
	}
	return text, nil
}

// followCycle shows a cycle until its end and asks its prompts.
func (e *env) followCycle(number uint32) error {
	c := e.client()
	f := &follower{env: e, cycle: number, lines: readLines(e.ctx, e.in)}
	f.answer = func(prompt uint16, yes bool) error { return c.Answer(e.ctx, prompt, yes, e.by) }
	if err := e.watch(f); err != nil {
		if e.ctx.Err() != nil {
			fmt.Fprintln(e.err, f.unfollowed())
		}
		return err
	}
	if f.end == endUnseen { // it ended between two frames; the journal knows how
		stored, err := c.Cycle(e.ctx, number)
		if err != nil {
			return err
		}
		f.end, f.reason = stored.State, stored.Reason
	}
	if !e.flags.JSON {
		fmt.Fprintf(e.out, "cycle %d is %s%s; see it with: pressrig cycle %d\n",
			number, f.end, colon(f.reason), number)
	}
	said, err := f.leftBurning(false)
	if said != "" {
		f.say(said)
	}
	if f.end != "complete" {
		err = errors.Join(errors.New("the cycle did not complete"), err)
	}
	if err != nil {
		return exit{exitFailed, err}
	}
	return nil
}

// unfollowed is said to somebody who stops following.
func (f *follower) unfollowed() string {
	if f.end == "" {
		return fmt.Sprintf("no longer followed; cycle %d goes on. See it with: pressrig status, end it with: "+
			"pressrig stop", f.cycle)
	}
	said, _ := f.leftBurning(true)
	return fmt.Sprintf("no longer followed; cycle %d is over. %s", f.cycle, said)
}
