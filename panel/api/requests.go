package api

import (
	"fmt"
	"strings"
)

// Press asks for a cycle: the daemon arms it, and the START button at the rig
// starts it. Either Recipe or Text is given.
type Press struct {
	Recipe string `json:"recipe,omitempty"` // name of a stored recipe
	Text   string `json:"text,omitempty"`   // a recipe's own text, at most MaxRecipeText
	File   string `json:"file,omitempty"`   // what to call Text in messages
	By     string `json:"by"`
	Dummy  bool   `json:"dummy,omitempty"` // a warming-up piece
	Last   bool   `json:"last,omitempty"`  // shut the flame at the end instead of parking it
}

// Started is the daemon's answer to a Press.
type Started struct {
	Cycle  uint32 `json:"cycle"`
	Recipe string `json:"recipe"`
}

// Command asks for one of the commands of IEC 61512-1 but start, which needs a
// recipe: see Press.
type Command struct {
	Command string `json:"command"`
	By      string `json:"by"`
}

// Answer answers an open prompt.
type Answer struct {
	Prompt uint16 `json:"prompt"`
	Yes    bool   `json:"yes"`
	By     string `json:"by"`
}

// Ack acknowledges the trips and alarms on show. It clears none of them.
type Ack struct {
	By string `json:"by"`
}

// Done is the answer to a command, answer or acknowledgement that was taken.
type Done struct {
	Done string `json:"done"`
}

// Code says what kind of refusal an Error is. Written out, never renamed.
type Code string

// The codes, one sentence each.
const (
	Wrong    Code = "wrong_request" // the request itself is not of the right form
	TooLarge Code = "too_large"     // the request is longer than its limit
	NoRight  Code = "not_allowed"   // the caller may read but not command
	NotFound Code = "not_found"     // no such recipe, cycle or path
	Refused  Code = "refused"       // understood, but not in this state of the rig
	Problems Code = "problems"      // the recipe has problems; Lines tells each
	Busy     Code = "busy"          // too many connections or followers
	Internal Code = "internal"      // the daemon failed; its log has the cause
)

// Error is a refusal: for code by its Code, for people by its words.
type Error struct {
	Code    Code     `json:"code"`
	Message string   `json:"message"`
	Hint    string   `json:"hint,omitempty"`  // what would be right
	Lines   []string `json:"lines,omitempty"` // file:line:column: what, for Problems
}

// Error is the message, its hint and its lines.
func (e *Error) Error() string {
	text := e.Message
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	if len(e.Lines) > 0 {
		text += "\n" + strings.Join(e.Lines, "\n")
	}
	return text
}

// Refusef makes a Refused error.
func Refusef(format string, args ...any) *Error {
	return &Error{Code: Refused, Message: fmt.Sprintf(format, args...)}
}

// Valid checks what a Press must have.
func (p *Press) Valid() error {
	switch {
	case (p.Recipe == "") == (p.Text == ""):
		return wrong("a press needs either recipe or text")
	case len(p.Text) > MaxRecipeText:
		return wrong("text has %d bytes; a recipe has at most %d", len(p.Text), MaxRecipeText)
	}
	if err := validName("recipe", p.Recipe, MaxName, true); err != nil {
		return err
	}
	if err := validName("file", p.File, 4*MaxName, true); err != nil {
		return err
	}
	return validName("by", p.By, MaxBy, false)
}

// Valid checks that the command is one that the daemon knows and not start.
func (c *Command) Valid() error {
	switch c.Command {
	case "stop", "hold", "restart", "abort", "reset", "pause", "resume":
	case "start":
		return wrong("a cycle is armed by %s, and started by the START button at the rig", PathPress)
	default:
		return wrong("no command %q; one of stop, hold, restart, pause, resume, abort, reset is wanted",
			clip(c.Command))
	}
	return validName("by", c.By, MaxBy, false)
}

// Valid checks that a prompt is named.
func (a *Answer) Valid() error {
	if a.Prompt == 0 {
		return wrong("prompt is missing; it is the number in the status, from 1")
	}
	return validName("by", a.By, MaxBy, false)
}

// Valid checks who acknowledges.
func (a *Ack) Valid() error { return validName("by", a.By, MaxBy, false) }

func wrong(format string, args ...any) *Error {
	return &Error{Code: Wrong, Message: fmt.Sprintf(format, args...)}
}

// validName refuses what would garble a record or a terminal.
func validName(key, name string, limit int, empty bool) error {
	if name == "" && !empty {
		return wrong("%s is missing; it says who asks", key)
	}
	if len(name) > limit {
		return wrong("%s has %d bytes; at most %d are taken", key, len(name), limit)
	}
	for _, r := range name {
		if r < ' ' || r == 0x7f || r == '\uFFFD' || (r >= 0x80 && r < 0xa0) {
			return wrong("%s holds a control or broken character; only printable ones are taken", key)
		}
	}
	return nil
}

// clip shortens foreign text for a message.
func clip(s string) string {
	if len(s) > MaxName {
		return s[:MaxName] + "..."
	}
	return s
}

// ErrNoCycle is the refusal for a cycle that the journal does not have.
func ErrNoCycle(number uint32) *Error {
	return &Error{Code: NotFound, Message: fmt.Sprintf("no cycle %d in the journal", number)}
}
