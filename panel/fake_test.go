package panel

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"pressrig/controller"
	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// fakeDaemon notes what it was asked, and refuses with err when that is set.
type fakeDaemon struct {
	mu    sync.Mutex
	asked []any
	err   error
}

type asked struct {
	what string
	who  Who
	n    int
	yes  bool
}

func (d *fakeDaemon) note(a any) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.asked = append(d.asked, a)
	return d.err
}

func (d *fakeDaemon) Press(_ context.Context, o Order) (uint32, error) { return 12, d.note(o) }

func (d *fakeDaemon) Command(_ context.Context, c controller.Command, who Who) error {
	return d.note(asked{what: c.String(), who: who})
}

func (d *fakeDaemon) Answer(_ context.Context, prompt uint16, yes bool, who Who) error {
	return d.note(asked{what: "answer", who: who, n: int(prompt), yes: yes})
}

func (d *fakeDaemon) Ack(_ context.Context, who Who) error {
	return d.note(asked{what: "ack", who: who})
}

func (d *fakeDaemon) Recipes() []*recipes.Recipe {
	return []*recipes.Recipe{{Name: "practice-disc", Standing: "guess", Glass: "soda-lime",
		Longest: 6 * time.Minute, Phases: make([]recipes.Phase,
			3), Text: []byte("recipe: practice-disc\n")}}
}

func (d *fakeDaemon) all() []any {
	d.mu.Lock()
	defer d.mu.Unlock()
	return append([]any(nil), d.asked...)
}

// fakeRecords has cycles 1 and 2, and fails for 99.
type fakeRecords struct{}

func (fakeRecords) Cycles(_ context.Context, before uint32, limit int) ([]trials.Cycle, error) {
	var out []trials.Cycle
	for n := uint32(2); n > 0 && len(out) < limit; n-- {
		if before == 0 || n < before {
			c, _ := fakeCycle(n)
			out = append(out, c)
		}
	}
	return out, nil
}

func (fakeRecords) Cycle(_ context.Context, n uint32) (trials.Cycle, error) { return fakeCycle(n) }

func (fakeRecords) Trace(_ context.Context, n uint32) (*trials.Trace, error) {
	if _, err := fakeCycle(n); err != nil {
		return nil, err
	}
	t := &trials.Trace{Ms: []uint32{0, 10}, OK: []uint16{1, 1}, In: []uint32{1, 2},
		Out: []uint16{3, 4}, Burner: []uint8{7, 10}, Press: []uint8{1, 200},
		Gaps: []trials.Gap{{AfterMs: 10, Steps: 3}}, Analog: make([][]int16, warden.NumAnalog)}
	for ai := range t.Analog {
		t.Analog[ai] = []int16{int16(ai), int16(n)}
	}
	return t, nil
}

func fakeCycle(n uint32) (trials.Cycle, error) {
	switch n {
	case 99:
		return trials.Cycle{}, errors.New("secret path of the disk")
	case 1, 2:
	default:
		return trials.Cycle{}, api.ErrNoCycle(n)
	}
	return trials.Cycle{Number: n, Recipe: "practice-disc", State: "complete", Guarded: true,
		Started: time.Date(2026, 3, 4, 9, int(n), 0, 0, time.UTC), Saved: 1500 * time.Millisecond,
		Phases: []trials.Phase{{Name: "fire", Kind: "fire", Begin: 1234 * time.Millisecond,
			End: 5 * time.Second}},
		Measures: []trials.Measure{{Name: "pull peak", Value: 8.1, Unit: "N", At: 2 * time.Second}},
		Events:   []trials.Event{{At: 3 * time.Second, Kind: "mark", Text: "soft"}}}, nil
}

func causes(row uint8) string {
	if row == warden.CauseFlameLost {
		return "flame lost"
	}
	return "another cause"
}

// socketPath is short enough for the system's 107 bytes.
func socketPath(t testing.TB) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "panel")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return filepath.Join(dir, "s")
}

// serving runs a panel until the test ends.
func serving(t testing.TB, change func(*Options)) (*Panel, *fakeDaemon, string) {
	t.Helper()
	d := &fakeDaemon{}
	o := Options{Rig: "lathe-1", Daemon: d, Records: fakeRecords{}, Causes: causes, Now: time.Now,
		Every: time.Millisecond}
	if change != nil {
		change(&o)
	}
	p, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	p.patient = 50 * time.Millisecond
	path := socketPath(t)
	l, err := Listen(path, "")
	if err != nil {
		t.Fatal(err)
	}
	serve(t, p, l)
	return p, d, path
}

func serve(t testing.TB, p *Panel, l net.Listener) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.Serve(ctx, l) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("serve: %v", err)
		}
	})
}

// running is a status in the middle of a cycle, and a snapshot of it.
func running() (*controller.Status, *rig.Snapshot) {
	s := &controller.Status{State: controller.Running, Cycle: 12, Run: 3, Piece: 1,
		Recipe: "practice-disc", Phase: 3, PhaseName: "fire", PhaseKind: recipes.Fire,
		Doing: "heating", PhaseMs: 12300, LeftMs: 21700, CycleMs: 71300, Prompt: 4,
		PromptTxt: "Is the blank seated?", Alarms: 1 << 29}
	snap := &rig.Snapshot{StampMs: 4711, In: warden.InEstopOK | warden.InDoorClosed | warden.InFlame,
		AnalogOK: 1<<warden.NumAnalog - 1, Flags: rig.FlagViewFree, Out: warden.OutFuel,
		Burner: warden.BurnerRun, Press: warden.PressStay, Spindle: warden.SpindleRun,
		Link: warden.LinkStarted}
	snap.Analog = [warden.NumAnalog]int16{7801, 2003, 1900, 4150, -81, 600, 3200, 6400, 40, 1500}
	snap.AnalogOK &^= 1 << warden.AiMouldUpper
	return s, snap
}

func dialed(t testing.TB, path string) net.Conn {
	t.Helper()
	c, err := net.Dial("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(20 * time.Second)); err != nil {
		t.Fatal(err)
	}
	return c
}

func clientOf(path string) *client.Client { return client.New(path) }
