package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/trials"
)

// demoCmd shows the whole job on a simulated rig.
type demoCmd struct {
	Once   bool   `help:"End after the two cycles; exit code 1 when they did not go as they should."`
	Speed  int    `default:"10" help:"Virtual time over real time; 1 is real time."`
	Recipe string `default:"stem-7pin" help:"Stored recipe to run."`
	Seed   uint64 `default:"1" help:"Of every random number of the rig."`
}

// maxDemoSpeed is as fast as two processes keep up with on two slow cores; with
// more, the rig's clock only waits for requests.
const maxDemoSpeed = 60

// demoFault is what goes wrong in the second cycle: the flame goes out while
// the glass is being fired.
const demoFault = "fault flame_out @ glass>=700 for 20s"

// Help says what is shown.
func (demoCmd) Help() string {
	return "A simulated rig runs as a process of its own behind a pseudo-terminal; the daemon talks " +
		"to it as to a board. The first cycle goes well; in the second the flame goes out while " +
		"the glass is fired. Both are recorded and compared. " + notSafe
}

// Run plays both cycles, then serves until Ctrl-C.
func (c *demoCmd) Run(e *env) (err error) {
	if c.Speed < 1 || c.Speed > maxDemoSpeed {
		return usage("--speed must lie between 1 and %d", maxDemoSpeed)
	}
	dir, err := os.MkdirTemp("", "pressrig-demo-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	director, err := startDirector(filepath.Join(dir, "rig"), c.Speed, c.Seed)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, director.close()) }()
	log, closeLog := newLog(e.err, zerolog.WarnLevel)
	defer closeLog()
	s, err := c.service(dir, log)
	if err != nil {
		return err
	}
	work, end := context.WithCancel(e.ctx)
	defer end()
	served := make(chan error, 1)
	go func() { served <- s.run(work) }()
	show := &demo{env: e, client: client.New(s.cfg.Socket), director: director, cmd: c}
	err = show.play()
	if err == nil && !c.Once {
		err = show.serve(s)
	}
	if e.ctx.Err() != nil && errors.Is(err, context.Canceled) {
		err = interrupted(e, c.Once)
	}
	end()
	return errors.Join(err, <-served, s.close())
}

// interrupted says what Ctrl-C does; only with --once is it a failure.
func interrupted(e *env, once bool) error {
	fmt.Fprintln(e.out, "\nA running cycle is stopped in order: soft glass is kept turning for a "+
		"minute of the rig's time.\nCtrl-C again ends at once; the rig's leases then run out by themselves.")
	if once {
		return exit{exitFailed, errors.New("interrupted before the end")}
	}
	return nil
}

// service is the daemon of the demo: the same as serve's, in a folder that goes
// away, with quiet logs.
func (c *demoCmd) service(dir string, log zerolog.Logger) (*service, error) {
	p, err := rig.Builtin("bench")
	if err != nil {
		return nil, err
	}
	p.Port = filepath.Join(dir, "rig")
	cfg := defaultConfig(os.Getenv)
	cfg.Data, cfg.Socket = filepath.Join(dir, "data"), filepath.Join(dir, "socket")
	cfg.Listen = "127.0.0.1:0" // any free port
	return newService(cfg, p, log)
}

// demo is the play itself: it gives the orders and checks what came of them.
type demo struct {
	env      *env
	client   *client.Client
	director *director
	cmd      *demoCmd
}

func (d *demo) play() error {
	out := d.env.out
	fmt.Fprintf(out, "pressrig demo: simulated rig, invented figures, %d x real time.\n"+
		"This program is no safety device. The demo itself pushes START and answers the prompts.\n\n",
		d.cmd.Speed)
	good, err := d.cycle("first cycle: all goes well")
	if err != nil {
		return err
	}
	if err := d.client.Command(d.env.ctx, "reset", d.env.by); err != nil {
		return err
	}
	if err := d.director.do(demoFault); err != nil {
		return err
	}
	bad, err := d.cycle("second cycle: the flame goes out while the glass is fired")
	if err != nil {
		return err
	}
	truth, err := d.director.truth()
	if err != nil {
		return err
	}
	if err := d.records(good, bad); err != nil {
		return err
	}
	return d.verdict(good, bad, truth.FlameOutMs, truth.FuelOffMs)
}

// serve leaves the rig ready for another cycle and waits for Ctrl-C.
func (d *demo) serve(s *service) error {
	if err := d.unlock(); err != nil {
		return err
	}
	fmt.Fprintf(d.env.out, "\nThe demo has pushed RESET at the rig. Serving until Ctrl-C, which also "+
		"removes the demo's journal.\nIn another terminal:\n"+
		"  pressrig --socket %[1]s status\n  pressrig --socket %[1]s press %[2]s\n"+
		"Telemetry: MQTT at %[3]s, topics below pressrig/.\n",
		s.cfg.Socket, d.cmd.Recipe, s.telemetry.Address())
	<-d.env.ctx.Done()
	return nil
}

// unlock does what clears a lockout: acknowledge, RESET at the rig, reset.
func (d *demo) unlock() error {
	if err := d.client.Ack(d.env.ctx, "demo"); err != nil {
		return err
	}
	for range unlockTries {
		if err := d.director.do("press RESET"); err != nil {
			return err
		}
		err := d.client.Command(d.env.ctx, "reset", "demo")
		var refusal *api.Error
		if !errors.As(err, &refusal) || refusal.Code != api.Refused {
			return err
		}
		select {
		case <-time.After(unlockPause):
		case <-d.env.ctx.Done():
			return d.env.ctx.Err()
		}
	}
	return errors.New("the rig stays locked")
}

// The rig purges for half a minute of its time before its causes are gone.
const (
	unlockPause = 200 * time.Millisecond
	unlockTries = 600
)

// cycle arms one cycle and shows it until its end.
func (d *demo) cycle(title string) (uint32, error) {
	fmt.Fprintf(d.env.out, "--- %s\n", title)
	if err := d.ready(); err != nil {
		return 0, err
	}
	started, err := d.press()
	if err != nil {
		return 0, err
	}
	view := &demoView{env: d.env, cycle: started.Cycle, answer: func(prompt uint16) error {
		return d.client.Answer(d.env.ctx, prompt, true, "demo")
	}}
	err = d.client.Follow(d.env.ctx, view.frame)
	view.clear()
	if !errors.Is(err, errEnded) {
		return 0, errors.Join(errors.New("the cycle could not be followed to its end"), err)
	}
	return started.Cycle, nil
}

// press arms a cycle; while the moulds are still warm from the piece before, it
// waits, as a person would.
func (d *demo) press() (api.Started, error) {
	told := ""
	for {
		started, err := d.client.Press(d.env.ctx, api.Press{Recipe: d.cmd.Recipe, By: d.env.by})
		var refusal *api.Error
		if !errors.As(err, &refusal) || refusal.Code != api.Refused ||
			!strings.Contains(refusal.Message, "mould half") {
			return started, err
		}
		if told != refusal.Message {
			told = refusal.Message
			fmt.Fprintf(d.env.out, "waiting: %s\n", told)
		}
		select {
		case <-time.After(200 * time.Millisecond):
		case <-d.env.ctx.Done():
			return started, d.env.ctx.Err()
		}
	}
}

// ready waits until the rig has said hello.
func (d *demo) ready() error {
	err := d.client.Follow(d.env.ctx, func(f *api.Frame) error {
		if f.Snapshot != nil && f.Status.State == "idle" {
			return errEnded
		}
		return nil
	})
	if errors.Is(err, errEnded) {
		return nil
	}
	return err
}

// records prints both records and their comparison.
func (d *demo) records(numbers ...uint32) error {
	from := remote{d.client}
	var cycles []trials.Cycle
	var traces []*trials.Trace
	for _, n := range numbers {
		c, err := from.Cycle(d.env.ctx, n)
		if err != nil {
			return err
		}
		t, err := from.Trace(d.env.ctx, n)
		if err != nil {
			return err
		}
		fmt.Fprintf(d.env.out, "\n--- record of cycle %d\n", n)
		if err := cycleText(d.env.out, &c); err != nil {
			return err
		}
		cycles, traces = append(cycles, c), append(traces, t)
	}
	fmt.Fprintf(d.env.out, "\n--- comparison\n%s", trials.Compare(cycles, traces).Text())
	return nil
}

// verdict says whether both cycles went as they should, the reaction measured
// between the true flame and the valve outputs.
func (d *demo) verdict(good, bad uint32, flameOutMs, fuelOffMs uint64) error {
	first, err := remote{d.client}.Cycle(d.env.ctx, good)
	if err != nil {
		return err
	}
	second, err := remote{d.client}.Cycle(d.env.ctx, bad)
	if err != nil {
		return err
	}
	reaction := int64(fuelOffMs) - int64(flameOutMs)
	fmt.Fprintf(d.env.out, "\ncycle %d: %s. cycle %d: %s, first cause: %s; fuel valve outputs off "+
		"%d ms after the flame truly went out (at most 1000).\n", good, stateOf(&first), bad, stateOf(&second),
		dash(second.CauseText), reaction)
	switch {
	case first.State != "complete":
		return fmt.Errorf("cycle %d is %s, not complete", good, first.State)
	case second.State != "aborted" || !second.Lockout || second.Cause != warden.CauseFlameLost:
		return fmt.Errorf("cycle %d is %s, first cause %s; aborted, lockout, flame lost is right",
			bad, stateOf(&second), causeOf(&second))
	case flameOutMs == 0 || reaction < 0 || reaction > 1000:
		return fmt.Errorf("the valve outputs went off %d ms after the flame; at most 1000 is right",
			reaction)
	}
	return nil
}
