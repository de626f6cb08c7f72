package main

import (
	"fmt"
	"strings"

	"pressrig/panel/api"
	"pressrig/safety"
)

// The commands that act on a running cycle. Each of their helps says what it
// is not: none is an emergency stop, and none starts anything.

type stopCmd struct{}

func (stopCmd) Help() string {
	return "Ends the cycle in its order: oxygen first, then fuel, press open. " + notSafe
}

// Run asks for a stop.
func (stopCmd) Run(e *env) error { return e.give("stop", "stop is taken; the cycle ends in order") }

type holdCmd struct{}

func (holdCmd) Help() string {
	return "Before contact the cycle holds at once; from contact on it finishes set, part and " +
		"flame-cooling first. " + notSafe
}

// Run asks for a hold.
func (holdCmd) Run(e *env) error {
	return e.give("hold", "hold is taken; go on with: pressrig restart")
}

type restartCmd struct{}

func (restartCmd) Help() string {
	return "Arms a held cycle again. Nothing moves before START is pushed at the rig. " + notSafe
}

// Run asks for a restart.
func (restartCmd) Run(e *env) error {
	return e.give("restart", "restart is taken; push START at the rig when the status says so")
}

type pauseCmd struct{}

func (pauseCmd) Help() string {
	return "Takes effect at a phase boundary with the burner clear, for a limited time. " + notSafe
}

// Run asks for a pause.
func (pauseCmd) Run(e *env) error {
	return e.give("pause", "pause is taken; it begins at the next boundary of two phases")
}

type resumeCmd struct{}

func (resumeCmd) Help() string {
	return "The rig moves again by itself: see that nobody reaches into it. " + notSafe
}

// Run asks to go on after a pause.
func (resumeCmd) Run(e *env) error { return e.give("resume", "resume is taken") }

type abortCmd struct{}

func (abortCmd) Help() string {
	return "Asks the rig to shut both gases at once and ends the cycle. " + notSafe
}

// Run asks for an abort.
func (abortCmd) Run(e *env) error { return e.give("abort", "abort is taken") }

type resetCmd struct{}

func (resetCmd) Help() string {
	return "Clears a stop or an abort whose cause is gone and acknowledged. A lockout is cleared " +
		"by the RESET button at the rig alone, by a person who has looked why. " + notSafe
}

// Run asks for a reset. A lockout is told before it is tried: no command
// clears it.
func (resetCmd) Run(e *env) error {
	c := e.client()
	f, err := c.Status(e.ctx)
	if err != nil {
		return err
	}
	if f.Status.Lock == "lockout" {
		return fmt.Errorf("the rig is locked out%s; find and mend the cause, then push the RESET "+
			"button at the rig: no command clears a lockout", because(f.Status.FirstCause))
	}
	return e.give("reset", "reset is taken")
}

func because(c *api.Cause) string {
	if c == nil {
		return ""
	}
	return " (" + c.Text + ")"
}

type ackCmd struct{}

// Run acknowledges.
func (ackCmd) Run(e *env) error {
	if err := e.client().Ack(e.ctx, e.by); err != nil {
		return err
	}
	return e.done("ack", "acknowledged; what is still present stays on show")
}

type answerCmd struct {
	Answer string `arg:"" enum:"y,n,yes,no" help:"y or n."`
	Prompt uint16 `help:"Number of the prompt (default: the open one)." placeholder:"N"`
}

// Run answers the open prompt, or the one that is named: a named one cannot
// meet another question that came in between.
func (a *answerCmd) Run(e *env) error {
	c := e.client()
	if a.Prompt == 0 {
		f, err := c.Status(e.ctx)
		if err != nil {
			return err
		}
		if f.Status.Prompt == nil {
			return fmt.Errorf("no prompt is open")
		}
		a.Prompt = f.Status.Prompt.Number
	}
	yes := strings.HasPrefix(a.Answer, "y")
	if err := c.Answer(e.ctx, a.Prompt, yes, e.by); err != nil {
		return err
	}
	return e.done("answer", fmt.Sprintf("prompt %d is answered with %s", a.Prompt, yesNo(yes)))
}

// notSafe stands in the help of every command that acts on the rig.
const notSafe = safety.Notice + " In danger use the emergency stop at the rig. " +
	"START at the rig starts a cycle; no command does."

// give hands a command to the daemon and says what that means.
func (e *env) give(command, meaning string) error {
	if err := e.client().Command(e.ctx, command, e.by); err != nil {
		return err
	}
	return e.done(command, meaning)
}

func (e *env) done(what, meaning string) error {
	if e.flags.JSON {
		return e.printJSON(api.Done{Done: what})
	}
	_, err := fmt.Fprintln(e.out, meaning)
	return err
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}
