package main

import (
	"bytes"
	"context"
	"io"
	"strings"
	"sync"
	"testing"

	"pressrig/controller"
	"pressrig/panel/api"
)

// listener keeps what is written and tells when the words are among it.
type listener struct {
	mu    sync.Mutex
	text  bytes.Buffer
	words string
	heard chan struct{}
}

func listenFor(words string) *listener { return &listener{words: words, heard: make(chan struct{})} }

func (l *listener) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	n, err := l.text.Write(p)
	if l.words != "" && strings.Contains(l.text.String(), l.words) {
		l.words = ""
		close(l.heard)
	}
	return n, err
}

// presses runs press until it has said the words, then lets something happen,
// and gives what it all came to. It must not have ended before.
func (d *fakeDaemon) presses(t *testing.T, ctx context.Context, in io.Reader, words string, then func()) (int, string) {
	t.Helper()
	d.parks = true
	said := listenFor(words)
	ended := make(chan error, 1)
	go func() {
		e := &env{ctx: ctx, in: in, out: said, err: said, by: "Ada"}
		err := e.command([]string{"press", "practice-disc", "--socket", d.socket})
		if text := message(err); text != "" {
			_, _ = io.WriteString(said, text+"\n")
		}
		ended <- err
	}()
	select {
	case <-said.heard:
	case err := <-ended:
		t.Fatalf("ended with %v before it said %q:\n%s", err, words, said.text.String())
	}
	select {
	case err := <-ended:
		t.Fatalf("ended with %v while the flame burns and nobody was heard:\n%s", err, said.text.String())
	default:
	}
	then()
	err := <-ended
	return exitCode(err), said.text.String()
}

// typedHere is a terminal: what is typed comes, then nothing more until it closes.
func typedHere(t *testing.T) (io.Reader, func(string)) {
	t.Helper()
	r, w := io.Pipe()
	t.Cleanup(func() { w.Close() })
	return r, func(text string) { go func() { _, _ = io.WriteString(w, text) }() }
}

const burnsOn = "cycle 12 is complete, and its flame still burns: fuel 0.80 L/min, oxygen 0.00 L/min."

// No press ends while its flame burns without a person having been heard.
func TestPressAsksWhatBecomesOfTheFlame(t *testing.T) {
	for _, c := range []struct {
		name, answer string
		code         int
		want, not    string
	}{
		{"yes shuts it", "y\n", exitDone, "cycle 12 is complete", "still burns: fuel 0.80 L/min, oxygen 0.00 L/min. Shut"},
		{"no keeps it", "n\n", exitDone, "the flame stays lit for the next piece: fuel 0.80 L/min, oxygen 0.00 L/min. Shut it with: " +
			"pressrig answer y. In danger push the emergency stop", "Waiting"},
		{"neither, then yes", "well\ny\n", exitDone, "y or n is wanted", "stays lit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := daemon(t)
			in, typed := typedHere(t)
			typed("y\n")
			code, said := d.presses(t, t.Context(), in, "prompt 5: flame parked: yes shuts it [y/n]", func() { typed(c.answer) })
			if code != c.code || !strings.Contains(said, burnsOn) || !strings.Contains(said, c.want) ||
				strings.Contains(said, c.not) {
				t.Errorf("exit code %d:\n%s", code, said)
			}
		})
	}
}

// With no input left it says so, what burns and how to shut it, waits until the
// flame is out, and fails: nobody was heard. Somebody who answers elsewhere is.
func TestPressWithoutInputWaitsForTheFlame(t *testing.T) {
	const nobody = "Nobody can answer here. Shut it with: pressrig answer y. In danger push the emergency stop at the rig. " +
		"Waiting until the flame is out."
	d := daemon(t)
	code, said := d.presses(t, t.Context(), strings.NewReader("y\n"), nobody, d.dark)
	if code != exitFailed || !strings.Contains(said, burnsOn) || !strings.Contains(said, "nobody could be asked; it is out now") {
		t.Errorf("exit code %d:\n%s", code, said)
	}
	d = daemon(t)
	code, said = d.presses(t, t.Context(), strings.NewReader("y\n"), nobody, func() {
		d.mu.Lock()
		d.panel.Record(controller.Record{Kind: controller.RecAnswer, Cycle: 12, Prompt: 5, Value: 1, By: "Bob"})
		d.mu.Unlock()
		d.dark()
	})
	if code != exitDone {
		t.Errorf("answered elsewhere: exit code %d:\n%s", code, said)
	}
	d = daemon(t)
	code, said = d.presses(t, t.Context(), strings.NewReader("y\n"), nobody, func() {
		d.mu.Lock()
		d.panel.Record(controller.Record{Kind: controller.RecAnswer, Cycle: 12, Prompt: 5, By: "Bob"})
		d.mu.Unlock()
		d.burns() // asked anew
	})
	if code != exitDone || !strings.Contains(said, "stays lit for the next piece") {
		t.Errorf("no, elsewhere: exit code %d:\n%s", code, said)
	}
	d = daemon(t)
	code, said = d.presses(t, t.Context(), strings.NewReader("y\n"), nobody, func() {
		d.mu.Lock()
		d.snap = nil
		d.mu.Unlock()
		d.tell(controller.Status{State: controller.Complete, Cycle: 12, Phase: -1, LeftMs: -1})
	})
	if code != exitFailed || !strings.Contains(said, "look whether it is out") {
		t.Errorf("rig lost: exit code %d:\n%s", code, said)
	}
}

// The next cycle has the flame and its own person.
func TestPressLetsTheNextCycleHaveTheFlame(t *testing.T) {
	d := daemon(t)
	in, typed := typedHere(t)
	typed("y\n")
	code, said := d.presses(t, t.Context(), in, "prompt 5:", func() {
		d.tell(controller.Status{State: controller.Running, Cycle: 13, Phase: 0, LeftMs: -1})
	})
	if code != exitDone || !strings.Contains(said, "cycle 12 is complete") {
		t.Errorf("exit code %d:\n%s", code, said)
	}
}

// Ctrl-C ends the following and says what burns.
func TestPressInterruptedSaysWhatBurns(t *testing.T) {
	d := daemon(t)
	in, typed := typedHere(t)
	typed("y\n")
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	code, said := d.presses(t, ctx, in, "prompt 5:", interrupt)
	if code != exitFailed || !strings.Contains(said, "cycle 12 is over. THE FLAME STILL BURNS: fuel 0.80 L/min") ||
		!strings.Contains(said, "pressrig answer y") {
		t.Errorf("exit code %d:\n%s", code, said)
	}
}

// A question stands on lines of its own, broken at words, never behind the line
// that is written over; that line ends at a word too.
func TestQuestionAndLiveLineDoNotMeet(t *testing.T) {
	const question = "prompt 4: Is the blank seated? [y/n]"
	for _, columns := range []int{20, 32, 61, 80, 200} {
		var out bytes.Buffer
		e := &env{ctx: t.Context(), out: &out, err: &out, colour: true, columns: func() int { return columns }}
		f := &follower{env: e, cycle: 12, lines: readLines(e.ctx, strings.NewReader(""))}
		f.answer = func(uint16, bool) error { return nil }
		frame := &api.Frame{Status: api.Status{State: "running", Cycle: 12, PhaseName: "load", Doing: "waits for the answer"},
			Snapshot: &api.Snapshot{}}
		for range 3 { // the line below stands there when the question comes
			if err := f.frame(frame); err != nil {
				t.Fatal(err)
			}
			frame.Status.Prompt = &api.Prompt{Number: 4, Text: "Is the blank seated?"}
		}
		text := out.String()
		at := strings.Index(text, "prompt 4:")
		if at < 1 || text[at-1] != '\r' || strings.TrimRight(text[:at-1], " ") == text[:at-1] {
			t.Errorf("%d columns: the question does not stand on a line wiped before:\n%q", columns, text)
		}
		asked := text[at : at+len(question)+1]
		if strings.ReplaceAll(asked, "\n", " ") != question+" " || !strings.HasSuffix(asked, "\n") {
			t.Errorf("%d columns: asked %q", columns, asked)
		}
		for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\r' || r == '\n' }) {
			if len(line) >= columns {
				t.Errorf("%d columns: %q has %d", columns, line, len(line))
			}
		}
	}
	whole := liveLine(&api.Frame{Status: api.Status{State: "running", PhaseName: "load", Doing: "waits for the answer"},
		Snapshot: &api.Snapshot{}}, 1000)
	for most := 1; most <= len(whole); most++ {
		cut := cutAtWord(whole, most)
		if len(cut) > most || !strings.HasPrefix(whole, cut) ||
			strings.Contains(cut, " ") && len(cut) < len(whole) && whole[len(cut)] != ' ' {
			t.Errorf("%d columns: %q of %q", most, cut, whole)
		}
	}
}
