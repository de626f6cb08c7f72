package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"pressrig/drivers/bench"
	"pressrig/drivers/benchport"
	"pressrig/journal"
	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/rig"
	"pressrig/trials"
)

// testSpeed is how much faster than real time the rig of these tests runs.
const testSpeed = 30

// plant is a simulated rig behind a pty and a daemon that serves it, in one
// process but with nothing shared but the pty.
type plant struct {
	t      *testing.T
	client *client.Client
	say    io.Writer      // command lines to the rig
	heard  *bufio.Scanner // its replies
	cfg    config
	quit   context.CancelFunc // SIGTERM to the daemon
	ended  chan error
	log    *lines
}

// lines keeps log lines.
type lines struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// newPlant starts both; they end with the test.
func newPlant(t *testing.T) *plant {
	t.Helper()
	dir, err := os.MkdirTemp("", "service") // a socket's path has at most 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	p.Port = filepath.Join(dir, "rig")
	control, say := io.Pipe()
	replies, reply := io.Pipe()
	rigEnded := startRig(t, p, control, reply)
	f := &plant{t: t, say: say, heard: bufio.NewScanner(replies), ended: make(chan error, 1), cfg: defaultConfig(noEnv),
		log: &lines{}}
	f.cfg.Data, f.cfg.Socket = filepath.Join(dir, "data"), filepath.Join(dir, "socket")
	f.cfg.Listen = "127.0.0.1:0"
	f.client = client.New(f.cfg.Socket)
	s, err := newService(f.cfg, p, zerolog.New(io.MultiWriter(zerolog.NewTestWriter(t), f.log)).Level(zerolog.InfoLevel))
	if err != nil {
		t.Fatal(err)
	}
	ctx, quit := context.WithCancel(context.Background())
	f.quit = quit
	go func() { f.ended <- errors.Join(s.run(ctx), s.close()) }()
	t.Cleanup(func() {
		quit()
		_ = say.Close()
		rigEnded()
		_ = os.RemoveAll(dir)
		goleak.VerifyNone(t)
	})
	return f
}

func startRig(t *testing.T, p *rig.Profile, control io.Reader, replies io.Writer) (end func()) {
	t.Helper()
	r, err := bench.New(bench.Options{Profile: p, Config: p.WardenConfig(), Seed: 1,
		Scale: testSpeed, Operator: true})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- benchport.Serve(ctx, benchport.Options{Rig: r, Scale: testSpeed, Link: p.Port,
			Control: control, Replies: replies, Ready: func(path string) { ready <- path }})
	}()
	select {
	case <-ready:
	case err := <-ended:
		t.Fatal(err)
	}
	return func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// until follows the daemon until it shows what is wanted, and answers prompts
// with yes meanwhile.
func (f *plant) until(what string, wanted func(*api.Frame) bool) {
	f.t.Helper()
	asked := uint16(0)
	err := f.client.Follow(f.t.Context(), func(frame *api.Frame) error {
		if wanted(frame) {
			return errEnded
		}
		if s := &frame.Status; ended(s.State) {
			return fmt.Errorf("cycle %d is %s: %s", s.Cycle, s.State, s.Reason)
		}
		p := frame.Status.Prompt
		if p == nil || p.Number == asked || frame.Status.State != "running" {
			return nil
		}
		asked = p.Number
		return f.client.Answer(f.t.Context(), asked, true, "test")
	})
	if !errors.Is(err, errEnded) {
		f.t.Fatalf("waiting for %s: %v", what, err)
	}
}

// at does something at the rig.
func (f *plant) at(line string) { f.ask(line) }

// ask gives the rig a command line and waits for its reply.
func (f *plant) ask(line string) string {
	f.t.Helper()
	if _, err := io.WriteString(f.say, line+"\n"); err != nil {
		f.t.Fatal(err)
	}
	if !f.heard.Scan() {
		f.t.Fatal("the rig gives no reply: ", f.heard.Err())
	}
	return f.heard.Text()
}

// truth is the rig as a perfect observer sees it.
func (f *plant) truth() (now bench.Truth) {
	f.t.Helper()
	if err := json.Unmarshal([]byte(f.ask("truth")), &now); err != nil {
		f.t.Fatal(err)
	}
	return now
}

func (f *plant) press(recipe string) uint32 {
	f.t.Helper()
	f.until("the rig", func(frame *api.Frame) bool {
		return frame.Snapshot != nil && frame.Status.State == "idle"
	})
	started, err := f.client.Press(f.t.Context(), api.Press{Recipe: recipe, By: "Ada", Last: true})
	if err != nil {
		f.t.Fatal(err)
	}
	return started.Cycle
}

// close ends the daemon as SIGTERM does and opens its journal.
func (f *plant) close() *journal.Journal {
	f.t.Helper()
	f.quit()
	if err := <-f.ended; err != nil {
		f.t.Errorf("the daemon ended with %v", err)
	}
	j, err := journal.Open(journalFile(f.cfg.Data), journal.Options{})
	if err != nil {
		f.t.Fatal(err)
	}
	f.t.Cleanup(func() {
		if err := j.Close(); err != nil {
			f.t.Error(err)
		}
	})
	return j
}

// A whole cycle from the local API to the journal, over the pty.
func TestServiceRunsACycle(t *testing.T) {
	f := newPlant(t)
	number := f.press("practice-disc")
	f.until("the end", func(frame *api.Frame) bool {
		return frame.Status.Cycle == number && ended(frame.Status.State)
	})
	j := f.close()
	c, err := j.Cycle(number)
	if err != nil {
		t.Fatal(err)
	}
	if c.State != "complete" || !c.Guarded || c.By != "Ada" || c.Piece != 1 || len(c.Phases) == 0 {
		t.Errorf("cycle %d: %s (%s), guarded %v, by %s, piece %d, %d phases", number, c.State, c.Reason,
			c.Guarded, c.By, c.Piece, len(c.Phases))
	}
	if user := fmt.Sprintf("uid %d", os.Getuid()); c.User != user || c.Events[0].Text != "by Ada ("+user+")" {
		t.Errorf("user %q, %q, want %s, who typed Ada", c.User, c.Events[0].Text, user)
	}
	if c.Firmware == "" || len(c.Hash) != 64 || len(c.Profile) != 64 {
		t.Errorf("what is frozen is not whole: firmware %q, recipe %q, profile %q",
			c.Firmware, c.Hash, c.Profile)
	}
	f.headsAreInTheLog(number)
}

// headsAreInTheLog: at start, at the cycle's end and at the close, and each is
// in the journal.
func (f *plant) headsAreInTheLog(number uint32) {
	f.t.Helper()
	for _, want := range []struct {
		message string
		cycle   uint32
	}{{"the journal is open", 0}, {"the journal has the cycle's end", number}, {"the journal closes", 0}} {
		found := false
		for text := range strings.Lines(f.log.String()) {
			var line struct {
				Message, Head string
				Cycle         uint32
				Entries       int64
			}
			if json.Unmarshal([]byte(text), &line) != nil || line.Message != want.message || line.Cycle != want.cycle {
				continue
			}
			found = true
			r, err := journal.CheckFile(journalFile(f.cfg.Data), line.Head)
			if err != nil || !r.OK() || r.Head.Entries-r.After != line.Entries {
				f.t.Errorf("%s: head %s after %d entries: %v, %+v", want.message, line.Head, line.Entries, err, r)
			}
		}
		if !found {
			f.t.Errorf("%q of cycle %d is not in the log", want.message, want.cycle)
		}
	}
}

func ended(state string) bool {
	return state == "complete" || state == "stopped" || state == "aborted"
}

// SIGTERM in the middle of a cycle: stopped in order and in the journal as
// stopped, not left for the next start to close.
func TestServiceStopsARunningCycleBeforeItCloses(t *testing.T) {
	f := newPlant(t)
	number := f.press("practice-disc")
	f.until("the flame", func(frame *api.Frame) bool {
		return frame.Snapshot != nil && frame.Snapshot.Flame
	})
	j := f.close()
	c, err := j.Cycle(number)
	if err != nil {
		t.Fatal(err)
	}
	if c.State != "stopped" || c.Lockout || len(j.Recovered()) != 0 {
		t.Errorf("cycle %d: %s (%s), lockout %v, %d recovered; want stopped in order", number, c.State,
			c.Reason, c.Lockout, len(j.Recovered()))
	}
	if by := lastCommand(&c); !strings.Contains(by, "daemon closing") {
		t.Errorf("last command %q, want who stopped it", by)
	}
}

func lastCommand(c *trials.Cycle) (text string) {
	for _, e := range c.Events {
		if e.Kind == "command" {
			text = e.Text
		}
	}
	return text
}

// A damaged journal: the daemon does not come up, and says what to do.
func TestServiceRefusesADamagedJournal(t *testing.T) {
	dir := emptyJournal(t)
	text, err := os.ReadFile(journalFile(dir))
	if err != nil {
		t.Fatal(err)
	}
	copy(text[4096:8192], bytes.Repeat([]byte{0xA5}, 4096)) // the second page
	if err := os.WriteFile(journalFile(dir), text, 0o600); err != nil {
		t.Fatal(err)
	}
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	cfg := defaultConfig(noEnv)
	cfg.Data, cfg.Socket, cfg.Listen = dir, filepath.Join(dir, "s"), "127.0.0.1:0"
	s, err := newService(cfg, p, zerolog.Nop())
	if err == nil {
		t.Fatal("it serves", s.close())
	}
	if !errors.Is(err, journal.ErrDamaged) || !strings.Contains(err.Error(), "put back a copy") {
		t.Errorf("%v", err)
	}
}

// A start that is refused takes no number: the cycle after it is the next.
func TestServiceRefusals(t *testing.T) {
	f := newPlant(t)
	f.at("fault offset mould_lower 90 K")
	f.until("the mould to read hot", func(frame *api.Frame) bool {
		return frame.Snapshot != nil && *frame.Snapshot.MouldLowerC > 500
	})
	cases := []struct {
		press api.Press
		code  api.Code
		says  string
	}{
		{api.Press{Recipe: "no-such", By: "Ada"}, api.NotFound, "no-such"},
		{api.Press{Text: "recipe: [", File: "mine.yaml", By: "Ada"}, api.Problems, "mine.yaml:1:"},
		{api.Press{Recipe: "hand-pulled-disc", By: "Ada"}, api.Problems, "hand-pulled-disc.yaml:"},
		{api.Press{Recipe: "practice-disc", By: "Ada"}, api.Refused, "lower mould half"},
	}
	for _, c := range cases {
		_, err := f.client.Press(t.Context(), c.press)
		var refusal *api.Error
		if !errors.As(err, &refusal) || refusal.Code != c.code || !strings.Contains(err.Error(), c.says) {
			t.Errorf("press %v: %v; want %s and %q", c.press, err, c.code, c.says)
		}
	}
	for _, command := range []string{"stop", "hold", "restart", "abort", "reset", "pause", "resume"} {
		err := f.client.Command(t.Context(), command, "Ada")
		var refusal *api.Error
		if !errors.As(err, &refusal) || refusal.Code != api.Refused {
			t.Errorf("%s while idle: %v, want refused", command, err)
		}
	}
	f.at("clear all")
	f.until("the mould to read right", func(frame *api.Frame) bool {
		return frame.Snapshot != nil && *frame.Snapshot.MouldLowerC < 460
	})
	if n := f.press("practice-disc"); n != 1 {
		t.Errorf("the first cycle has number %d", n)
	}
}
