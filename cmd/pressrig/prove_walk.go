package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/proof"
)

const (
	// proveLook is the time between two looks at the proof under way.
	proveLook = 100 * time.Millisecond
	// armedLeast is how long an armed cycle may take to show in the status.
	armedLeast = 3 * time.Second
	// rightLongest bounds the wait until a rig that was put back is unlocked.
	rightLongest = 2 * time.Minute
)

// errQuit ends the walk where the person wants it ended.
var errQuit = errors.New("ended")

// walk leads one person through proof tests.
type walk struct {
	*env
	client *client.Client
	by     string
	lines  *lineReader

	id     uint32 // of the proof under way
	stage  int    // that was told
	wants  want
	armed  time.Time
	column int // of the live line
}

// want is what the next line of input answers.
type want uint8

const (
	wantNothing want = iota
	wantAnswer
	wantArm
)

// line asks and waits for one line.
func (w *walk) line(question string) (string, error) {
	w.clear()
	fmt.Fprintf(w.out, "%s ", question)
	w.lines.want(true)
	select {
	case text, ok := <-w.lines.got:
		if !ok {
			return "", errors.New("no more input; nothing of the proof under way is stored")
		}
		return strings.TrimSpace(text), nil
	case <-w.ctx.Done():
		return "", exit{exitFailed, errors.New("ended; nothing of the proof under way is stored")}
	}
}

// step makes one proof, again as often as the person wants, and returns how it
// ended.
func (w *walk) step(s *api.ProofStep) (string, error) {
	w.show(s)
	for {
		text, err := w.line("Begin? y = begin, s = skip, q = end:")
		switch {
		case err != nil:
			return "", err
		case text == "q":
			return "", errQuit
		case text == "s":
			return "skipped", nil
		case text != "y":
			continue
		}
		end, again, err := w.once(s)
		if err != nil || !again {
			return end, err
		}
	}
}

func (w *walk) show(s *api.ProofStep) {
	for _, c := range s.Cautions {
		fmt.Fprintln(w.out, "  CAUTION:", c)
	}
	for i, d := range s.Do {
		fmt.Fprintf(w.out, "  %d. %s\n", i+1, d)
	}
	fmt.Fprintln(w.out, "  must be seen:", s.See)
	if s.Limit != "" {
		fmt.Fprintln(w.out, "  limit:", s.Limit)
	}
}

// once makes one proof and has its result signed.
func (w *walk) once(s *api.ProofStep) (end string, again bool, err error) {
	if w.id, err = w.client.ProofBegin(w.ctx, s.Function, w.by); err != nil {
		return w.refused(err)
	}
	defer func() {
		if err != nil { // also after Ctrl-C, which ended the context
			_ = w.client.ProofCancel(context.WithoutCancel(w.ctx), api.ProofID{Proof: w.id, By: w.by})
		}
	}()
	w.stage, w.wants, w.armed = -1, wantNothing, time.Time{}
	p, err := w.watch()
	if err != nil {
		return "", false, err
	}
	w.clear()
	fmt.Fprintf(w.out, "  %s%s%s\n", strings.ToUpper(p.Result), valueOf(p.Value, p.Unit), colon(p.Why))
	if end, again, err = w.sign(&p); err != nil || again {
		return end, again, err
	}
	if _, err = w.line(s.After + " Then Enter: it acknowledges and resets."); err != nil {
		return "", false, err
	}
	return end, false, w.putRight()
}

// refused tells a refusal and lets the person try again.
func (w *walk) refused(err error) (string, bool, error) {
	var refusal *api.Error
	if !errors.As(err, &refusal) {
		return "", false, err
	}
	fmt.Fprintln(w.out, "  not begun:", refusal)
	return "", true, nil
}

// valueOf is a measured value for people, "" for none.
func valueOf(v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return fmt.Sprintf(", %.4g %s", *v, unit)
}

// sign stores the result under the person's name.
func (w *walk) sign(p *api.ProofProgress) (end string, again bool, err error) {
	id := api.ProofID{Proof: w.id, By: w.by}
	if p.Result == string(proof.Undone) {
		text, err := w.line("Nothing is known of the function. r = again, Enter = go on:")
		if err != nil {
			return "", false, err
		}
		return "not done" + colon(p.Why), text == "r", w.client.ProofCancel(w.ctx, id)
	}
	text, err := w.line(fmt.Sprintf("%s signs \"%s\". Enter or a note = sign, r = again without storing:", w.by, p.Result))
	if err != nil {
		return "", false, err
	}
	if text == "r" {
		return "", true, w.client.ProofCancel(w.ctx, id)
	}
	record, err := w.client.ProofSign(w.ctx, api.ProofSign{Proof: w.id, By: w.by, Note: text})
	if err != nil {
		return "", false, err
	}
	fmt.Fprintf(w.out, "  stored as proof %d\n", record.Number)
	if record.Ledger != nil {
		fmt.Fprintf(w.out, "  ledger: %s\n", record.Ledger)
	}
	return p.Result + valueOf(p.Value, p.Unit) + colon(p.Why), false, nil
}

// watch shows the proof under way until its end.
func (w *walk) watch() (api.ProofProgress, error) {
	ticker := time.NewTicker(proveLook)
	defer ticker.Stop()
	for {
		p, err := w.client.ProofNow(w.ctx)
		switch {
		case w.ctx.Err() != nil:
			return p, exit{exitFailed, errors.New("ended; nothing of this proof is stored")}
		case err != nil:
			return p, err
		case p.Proof != w.id:
			return p, errors.New("somebody else began another proof; nothing of this one is stored")
		case p.Result != string(proof.Waiting):
			return p, nil
		}
		if err := w.tell(&p); err != nil {
			return p, err
		}
		if err := w.hear(&p); err != nil {
			return p, err
		}
		select {
		case <-ticker.C:
		case <-w.ctx.Done():
		}
	}
}

// tell says what is awaited: a line for each stage, and on a terminal the live
// reading below it.
func (w *walk) tell(p *api.ProofProgress) error {
	if p.Stage != w.stage {
		w.clear()
		w.stage, w.wants = p.Stage, wantNothing
		fmt.Fprintf(w.out, "  -> %s\n", p.Awaits)
		if p.Ask != "" {
			fmt.Fprintf(w.out, "     [%s]\n", map[string]string{string(proof.AskYesNo): "y/n",
				string(proof.AskReading): "y or n and the reading, like: y 0.01"}[p.Ask])
			w.want(wantAnswer)
		}
	}
	if p.Recipe != "" && w.wants == wantNothing && time.Since(w.armed) > armedLeast {
		idle, err := w.idle()
		if err != nil {
			return err
		}
		if idle {
			w.clear()
			fmt.Fprintf(w.out, "     Arm %s for this proof? START at the rig starts it. [y]\n", p.Recipe)
			w.want(wantArm)
		}
	}
	w.live(p)
	return nil
}

func (w *walk) want(kind want) {
	w.wants = kind
	w.lines.want(true)
}

// idle reports whether no cycle runs.
func (w *walk) idle() (bool, error) {
	f, err := w.client.Status(w.ctx)
	return err == nil && (over(f.Status.State) || f.Status.State == "idle"), err
}

func (w *walk) live(p *api.ProofProgress) {
	if !onTerminal(w.out) {
		return
	}
	text := fmt.Sprintf("     %s (%.0f s left)", p.Live, p.LeftS)
	pad := max(0, w.column-len(text))
	fmt.Fprintf(w.out, "\r%s%s", text, strings.Repeat(" ", pad))
	w.column = len(text)
}

// clear takes the live line away.
func (w *walk) clear() {
	if w.column > 0 {
		fmt.Fprintf(w.out, "\r%s\r", strings.Repeat(" ", w.column))
		w.column = 0
	}
}

// hear takes what was typed.
func (w *walk) hear(p *api.ProofProgress) error {
	if w.wants == wantNothing {
		return nil
	}
	text, state := w.lines.poll()
	switch state {
	case lineNone:
		return nil
	case lineEnd:
		return fmt.Errorf("no more input; nothing of this proof is stored: %w", io.ErrUnexpectedEOF)
	}
	kind := w.wants
	w.wants = wantNothing
	if kind == wantArm {
		return w.arm(text)
	}
	return w.answer(p, text)
}

func (w *walk) arm(text string) error {
	if !strings.HasPrefix(strings.ToLower(strings.TrimSpace(text)), "y") {
		return nil // asked again
	}
	w.armed = time.Now()
	if err := w.putRight(); err != nil {
		return err
	}
	started, err := w.client.ProofArm(w.ctx, api.ProofID{Proof: w.id, By: w.by})
	var refusal *api.Error
	if errors.As(err, &refusal) {
		fmt.Fprintln(w.out, "     not armed:", refusal)
		return nil
	}
	if err == nil {
		fmt.Fprintf(w.out, "     cycle %d is ready: push START at the rig when its lamp is lit\n", started.Cycle)
		w.armed = time.Now()
	}
	return err
}

// answer reads "y", "n" or "y 0.01" and hands it on.
func (w *walk) answer(p *api.ProofProgress, text string) error {
	word, reading, _ := strings.Cut(strings.ToLower(strings.TrimSpace(text)), " ")
	a := api.ProofAnswer{Proof: w.id, Stage: p.Stage, By: w.by}
	switch word {
	case "y", "yes":
		a.Yes = true
	case "n", "no":
	default:
		fmt.Fprintln(w.out, "     y or n is wanted")
		w.want(wantAnswer)
		return nil
	}
	if reading = strings.TrimSpace(reading); reading != "" {
		v, err := strconv.ParseFloat(reading, 64)
		if err != nil {
			fmt.Fprintf(w.out, "     %q is no number; like: y 0.01\n", reading)
			w.want(wantAnswer)
			return nil
		}
		a.Value = &v
	}
	err := w.client.ProofAnswer(w.ctx, a)
	var refusal *api.Error
	if errors.As(err, &refusal) {
		fmt.Fprintln(w.out, "     not taken:", refusal)
		return nil
	}
	return err
}

// putRight ends a proof's cycle, acknowledges and resets, until the rig is idle
// without a lock; a lockout waits for RESET at the rig.
func (w *walk) putRight() error {
	told := ""
	say := func(text string) {
		if text != told {
			fmt.Fprintln(w.out, "    ", text)
		}
		told = text
	}
	for began := time.Now(); time.Since(began) < rightLongest && w.ctx.Err() == nil; {
		f, err := w.client.Status(w.ctx)
		if err != nil {
			return err
		}
		switch s := &f.Status; {
		case s.State == "idle" && s.Lock == "none":
			return nil
		case s.State == "running":
			err = w.client.Command(w.ctx, "stop", w.by)
		case s.Lock == "lockout":
			say("push RESET at the rig" + because(s.FirstCause))
		case s.AckNeeded:
			err = w.client.Ack(w.ctx, w.by)
		default:
			err = w.client.Command(w.ctx, "reset", w.by)
		}
		var refusal *api.Error
		if err != nil && !errors.As(err, &refusal) {
			return err
		}
		select {
		case <-time.After(2 * proveLook):
		case <-w.ctx.Done():
		}
	}
	say("the rig is still locked or busy; see: pressrig status")
	return nil
}
