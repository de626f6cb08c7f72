package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/controller"
	"pressrig/panel"
	"pressrig/panel/api"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
	"pressrig/trials"
)

var rewrite = flag.Bool("rewrite", false,
	"write the golden files anew; a person reads the difference")

// fakeDaemon is a daemon behind a real local API. Its data are invented. The
// panel wants one writer, so all that tells it anything holds mu.
type fakeDaemon struct {
	mu     sync.Mutex
	panel  *panel.Panel
	socket string
	asked  []string
	err    error
	now    controller.Status
	snap   *rig.Snapshot
	// ends is the state that the answer to the last prompt leads to.
	ends controller.State
	// parks: the flame stays lit at the end, and is asked about.
	parks  bool
	parked uint16 // number of that question
}

func (d *fakeDaemon) note(words ...string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.asked = append(d.asked, strings.Join(words, " "))
	return d.err
}

// Press begins cycle 12 at its first prompt.
func (d *fakeDaemon) Press(_ context.Context, o panel.Order) (uint32, error) {
	if err := d.note("press", o.Recipe+o.File, string(o.Text), "by", o.By); err != nil {
		return 0, err
	}
	d.tell(controller.Status{State: controller.Running, Cycle: 12, Run: 3, Piece: 1,
		Recipe: "practice-disc", PhaseName: "load", PhaseKind: recipes.Load, LeftMs: -1,
		Prompt: 4, PromptTxt: "Is the blank seated?"})
	return 12, nil
}

func (d *fakeDaemon) Command(_ context.Context, c controller.Command, who panel.Who) error {
	return d.note(c.String(), "by", who.By)
}

// Answer ends the cycle, or says what becomes of a parked flame.
func (d *fakeDaemon) Answer(_ context.Context, _ uint16, yes bool, who panel.Who) error {
	if err := d.note("answer", yesNo(yes), "by", who.By); err != nil {
		return err
	}
	if d.parks {
		if d.parked != 0 && yes {
			d.dark()
		} else {
			d.burns()
		}
		return nil
	}
	d.tell(controller.Status{State: d.ends, Cycle: 12, Phase: -1, LeftMs: -1,
		Reason: "as the test wants"})
	return nil
}

// burns ends the cycle with a parked flame, or asks about it once more.
func (d *fakeDaemon) burns() {
	d.mu.Lock()
	d.parked = max(d.parked, 4) + 1
	d.snap = &rig.Snapshot{In: warden.InFlame, Out: warden.OutFuel, AnalogOK: 1<<warden.AiFuelFlow | 1<<warden.AiOxygenFlow}
	d.snap.Analog[warden.AiFuelFlow] = 800
	d.mu.Unlock()
	d.tell(controller.Status{State: controller.Complete, Cycle: 12, Phase: -1, LeftMs: -1, Reason: "as the test wants",
		Doing: "flame parked", Prompt: d.parked, PromptTxt: "flame parked: yes shuts it"})
}

// dark: the flame is out.
func (d *fakeDaemon) dark() {
	d.mu.Lock()
	d.snap = &rig.Snapshot{}
	d.mu.Unlock()
	d.tell(controller.Status{State: controller.Complete, Cycle: 12, Phase: -1, LeftMs: -1, Reason: "as the test wants"})
}

func (d *fakeDaemon) Ack(_ context.Context, who panel.Who) error { return d.note("ack by", who.By) }

func (d *fakeDaemon) Recipes() []*recipes.Recipe { return nil }

func (d *fakeDaemon) tell(s controller.Status) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now = s
	d.panel.Tell(&d.now, d.snap)
}

// fakeRecords has cycles 1 (complete) and 2 (flame lost).
type fakeRecords struct{}

func (r fakeRecords) Cycles(ctx context.Context, _ uint32, _ int) ([]trials.Cycle, error) {
	a, _ := r.Cycle(ctx, 1)
	b, _ := r.Cycle(ctx, 2)
	return []trials.Cycle{b, a}, nil
}

func (fakeRecords) Cycle(_ context.Context, n uint32) (trials.Cycle, error) {
	if n < 1 || n > 2 {
		return trials.Cycle{}, api.ErrNoCycle(n)
	}
	at := time.Date(2026, 3, 4, 9, int(n), 0, 0, time.Local)
	c := trials.Cycle{Number: n, Run: 1, Piece: uint16(n), Guarded: true, By: "Ada", Rig: "lathe-1",
		Recipe: "practice-disc", Hash: strings.Repeat("c0ffee", 8), Profile: "beef", Firmware: "bench 1",
		Started: at, Ended: at.Add(90 * time.Second), State: "complete", Reason: "all phases ran",
		Phases: []trials.Phase{{Name: "load", Kind: "load", End: 9 * time.Second, Reason: "answered yes"},
			{Name: "fire", Kind: "fire", Begin: 9 * time.Second, End: 43 * time.Second,
				Reason: "glass at 810 C"}},
		Measures: []trials.Measure{{Name: "pull peak", Value: 8.123, Unit: "N", At: 42 * time.Second}},
		Events:   []trials.Event{{At: 40 * time.Second, Kind: "mark", Text: "soft"}}}
	if n == 2 {
		c.State, c.Lockout, c.Cause, c.CauseText = "aborted", true, warden.CauseFlameLost, "flame lost"
		c.Reason, c.Dummy, c.Measures = "flame lost", true, nil
		c.Ledger = trials.Ledger{Entries: 211, Head: strings.Repeat("0a1b2c3d", 8)}
	}
	return c, nil
}

func (fakeRecords) Trace(_ context.Context, n uint32) (*trials.Trace, error) {
	t := &trials.Trace{Analog: make([][]int16, warden.NumAnalog)}
	for ms := uint32(9000); ms < 43000; ms += 10 {
		t.Ms = append(t.Ms, ms)
		t.OK = append(t.OK, 1<<warden.AiGlass)
		t.In = append(t.In, warden.InFlame)
		t.Out, t.Burner, t.Press = append(t.Out, 0), append(t.Burner, 0), append(t.Press, 0)
		for ai := range t.Analog {
			t.Analog[ai] = append(t.Analog[ai], int16(ms/10-100*n))
		}
	}
	return t, nil
}

// daemon runs a fake daemon until the test ends.
func daemon(t *testing.T) *fakeDaemon {
	t.Helper()
	dir, err := os.MkdirTemp("", "cli") // a socket's path has at most 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	d := &fakeDaemon{socket: filepath.Join(dir, "s"), ends: controller.Complete}
	d.panel, err = panel.New(panel.Options{Rig: "lathe-1", Daemon: d, Records: fakeRecords{},
		Causes: safety.Sentence, Now: time.Now, Every: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	l, err := panel.Listen(d.socket, "")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- d.panel.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return d
}

// result is what one run of the command line gave.
type result struct {
	code     int
	out, err string
}

// cli runs the command line as main does, with input typed.
func cli(t *testing.T, socket, input string, args ...string) result {
	t.Helper()
	var out, errOut bytes.Buffer
	e := &env{ctx: t.Context(), in: strings.NewReader(input), out: &out, err: &errOut, by: "Ada"}
	err := e.command(append(args, "--socket", socket))
	if text := message(err); text != "" {
		errOut.WriteString(text + "\n")
	}
	return result{exitCode(err), out.String(), errOut.String()}
}

// golden compares text with a file under testdata.
func golden(t *testing.T, name, text string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *rewrite {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), text); diff != "" {
		t.Errorf("%s, -want +got:\n%s", path, diff)
	}
}
