package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"pressrig/panel/api"
	"pressrig/trials"
)

// maxAnswerLine bounds a typed answer.
const maxAnswerLine = 256

// errEnded ends the following of a cycle that has ended.
var errEnded = errors.New("the cycle has ended")

// follower shows frames as they come: a line for what happens, and on a
// terminal one line below that is written over. Prompts are asked and answered
// when answer is set.
type follower struct {
	env    *env
	cycle  uint32 // ends with this cycle; 0: goes on
	answer func(prompt uint16, yes bool) error

	seen   bool   // the cycle was under way
	end    string // the state that it ended in
	reason string
	asked  uint16
	deaf   bool // no more input here
	after  afterCycle
	notice string
	doing  string
	live   int // columns of the line below
	lines  *lineReader
}

// watch feeds the daemon's frames to f until f ends it.
func (e *env) watch(f *follower) error {
	err := e.client().Follow(e.ctx, f.frame)
	f.clear()
	switch {
	case errors.Is(err, errEnded):
		return nil
	case errors.Is(err, context.Canceled):
		return exit{exitFailed, nil}
	case errors.Is(err, io.EOF):
		return errors.New("the daemon ended; the rig's leases run out by themselves")
	}
	return err
}

func (f *follower) frame(frame *api.Frame) error {
	s := &frame.Status
	if f.env.flags.JSON {
		if err := json.NewEncoder(f.env.out).Encode(frame); err != nil {
			return err
		}
	} else if err := f.show(frame); err != nil {
		return err
	}
	if f.ended(s) {
		f.lookAfter(frame)
	}
	if err := f.ask(s); err != nil {
		return err
	}
	if f.end != "" && f.mayEnd(frame) {
		return errEnded
	}
	return nil
}

// ended finds out whether the followed cycle is over.
func (f *follower) ended(s *api.Status) bool {
	ours := s.Cycle == f.cycle
	switch {
	case f.cycle == 0:
	case ours && over(s.State):
		f.end, f.reason = s.State, s.Reason
	case ours && s.State != "idle":
		f.seen = true
	case f.seen && f.end == "": // somebody reset before the end was seen here
		f.end = endUnseen
	}
	return f.end != ""
}

// show prints what happened since the frame before, then the line below.
func (f *follower) show(frame *api.Frame) error {
	f.clear()
	out := f.env.out
	if frame.Missed > 0 {
		fmt.Fprintf(out, "(%d records were not seen here; the journal has them)\n", frame.Missed)
	}
	for i := range frame.Records {
		if text := recordLine(&frame.Records[i]); text != "" {
			fmt.Fprintln(out, text)
		}
	}
	s := &frame.Status
	if s.Notice != f.notice && s.Notice != "" {
		fmt.Fprintln(out, f.env.wrapped("notice: "+s.Notice))
	}
	f.notice = s.Notice
	if !f.env.colour {
		if s.Doing != f.doing && s.Doing != "" {
			fmt.Fprintln(out, "waits for:", s.Doing)
		}
		f.doing = s.Doing
		return nil
	}
	text := liveLine(frame, f.env.width())
	f.live = len([]rune(text))
	_, err := io.WriteString(out, text)
	return err
}

// clear wipes the line below.
func (f *follower) clear() {
	if f.live > 0 {
		fmt.Fprint(f.env.out, "\r"+strings.Repeat(" ", f.live)+"\r")
		f.live = 0
	}
}

// liveWidth is what a line may have where the terminal does not say how wide it
// is.
const liveWidth = 79

// width is how long a line may be so that the terminal does not wrap it.
func (e *env) width() int {
	if e.columns != nil {
		if n := e.columns(); n > 1 {
			return n - 1
		}
	}
	return liveWidth
}

// wrapped breaks text at words where a terminal would break inside one. A file
// or a pipe gets it whole.
func (e *env) wrapped(text string) string {
	if e.columns == nil {
		return text
	}
	most, at := e.width(), 0
	var b strings.Builder
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case at+1+n > most:
			b.WriteByte('\n')
			at = 0
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	return b.String()
}

// liveLine is one line, no longer than that: a longer one would wrap and could
// not be written over. It ends at a whole word.
func liveLine(frame *api.Frame, most int) string {
	s := &frame.Status
	parts := []string{s.State}
	if s.Phase >= 0 {
		parts = []string{s.PhaseName + " " + timeLine(s)}
	}
	if v := frame.Snapshot; v != nil {
		parts = append(parts, "glass "+amount(v.GlassC, 0, "C"), "press "+amount(v.TravelMM, 1, "mm"),
			"flame "+yesNo(v.Flame))
	} else {
		parts = append(parts, "no word from the rig")
	}
	if s.Doing != "" {
		parts = append(parts, s.Doing)
	}
	return cutAtWord(strings.Join(parts, " | "), most)
}

// cutAtWord is text without the words that no longer fit.
func cutAtWord(text string, most int) string {
	runes := []rune(text)
	if len(runes) <= most {
		return text
	}
	cut := string(runes[:most])
	if at := strings.LastIndexByte(cut, ' '); at > 0 && runes[most] != ' ' {
		cut = cut[:at]
	}
	return strings.TrimRight(cut, " |")
}

// recordLine is a record for a person, "" for one that says nothing new.
func recordLine(r *api.Record) string {
	at := fmt.Sprintf("%8.1f s  ", r.AtS)
	switch r.Kind {
	case "start":
		return at + fmt.Sprintf("cycle %d begins", r.Cycle)
	case "phase_begin":
		return at + "phase " + r.Name
	case "phase_end":
		return at + "phase " + r.Name + " ended: " + r.Reason
	case "state":
		if over(r.State) {
			return "" // its end record says the same, once everything is written
		}
		return at + r.State + colon(r.Reason)
	case "end":
		return at + r.State + colon(r.Reason)
	case "trip":
		if r.Cause != nil && r.Reason == r.Cause.Text {
			return at + "TRIP: " + r.Reason
		}
		return at + "TRIP" + because(r.Cause) + colon(r.Reason)
	case "alarm":
		return at + "ALARM" + because(r.Cause) + colon(r.Reason)
	case "mark":
		return at + r.Reason
	case "measure":
		return at + fmt.Sprintf("%s %.3g %s", r.Name, r.Value, r.Unit)
	case "command":
		return at + r.Name + " by " + trials.Who(r.By, r.User) + colon(r.Reason)
	}
	return "" // prompts and answers are shown as they are asked
}

// over: a state that a cycle ends in.
func over(state string) bool {
	return state == "complete" || state == "stopped" || state == "aborted"
}

func colon(reason string) string {
	if reason == "" {
		return ""
	}
	return ": " + reason
}

// ask puts an open prompt to the person and hands on the answer. Frames come
// 20 times a second, so a typed line waits no longer than that.
func (f *follower) ask(s *api.Status) error {
	if s.Prompt == nil || f.answer == nil {
		return nil
	}
	if f.asked != s.Prompt.Number {
		f.asked = s.Prompt.Number
		f.say(fmt.Sprintf("prompt %d: %s [y/n]", s.Prompt.Number, s.Prompt.Text))
		f.lines.want(true)
	}
	line, state := f.lines.poll()
	switch state {
	case lineNone:
		return nil
	case lineEnd:
		f.answer, f.deaf = nil, true
		if f.end != "" {
			f.say(nobodyHere)
			return nil
		}
		f.say("no more input here; answer with: pressrig answer y|n")
		return nil
	}
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "y", "yes":
		return f.answered(s.Prompt.Number, true)
	case "n", "no":
		return f.answered(s.Prompt.Number, false)
	}
	f.say("y or n is wanted")
	f.lines.want(false)
	return nil
}

// say puts words to the person on lines of their own: never behind the line
// that is written over.
func (f *follower) say(text string) {
	f.clear()
	fmt.Fprintln(f.env.asking(), f.env.wrapped(text))
}

// answered tells the daemon. A refusal (the prompt is gone, the door is open)
// ends nothing: a prompt that stays open is asked again.
func (f *follower) answered(prompt uint16, yes bool) error {
	err := f.answer(prompt, yes)
	var refusal *api.Error
	if errors.As(err, &refusal) {
		f.clear()
		fmt.Fprintln(f.env.err, "not taken:", refusal)
		f.asked = 0
		return nil
	}
	if err == nil && f.end != "" {
		f.after.hear(yes)
	}
	return err
}

// asking is where questions go: not among the JSON.
func (e *env) asking() io.Writer {
	if e.flags.JSON {
		return e.err
	}
	return e.out
}

// States of a lineReader.
type lineState uint8

const (
	lineNone lineState = iota // nothing typed yet
	lineGot
	lineEnd // no more input
)

// lineReader reads a line of input when one is wanted, and not before, so that
// what was typed earlier answers no later question.
type lineReader struct {
	in    io.Reader
	wants chan struct{}
	got   chan string // closed at the end of the input
}

// readLines starts a reader of in; it lives until the input or ctx ends.
func readLines(ctx context.Context, in io.Reader) *lineReader {
	r := &lineReader{in: in, wants: make(chan struct{}, 1), got: make(chan string)}
	go func() {
		defer close(r.got)
		lines := bufio.NewScanner(in)
		lines.Buffer(make([]byte, 0, maxAnswerLine), maxAnswerLine)
		for {
			select {
			case <-r.wants:
			case <-ctx.Done():
				return
			}
			if !lines.Scan() {
				return
			}
			select {
			case r.got <- lines.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return r
}

// want asks for a line; anew forgets what a person typed ahead on a terminal.
func (r *lineReader) want(anew bool) {
	if file, ok := r.in.(*os.File); ok && anew {
		forgetTyped(file)
	}
	select {
	case r.wants <- struct{}{}:
	default: // one is wanted already
	}
}

func (r *lineReader) poll() (string, lineState) {
	select {
	case line, ok := <-r.got:
		if !ok {
			return "", lineEnd
		}
		return line, lineGot
	default:
		return "", lineNone
	}
}
