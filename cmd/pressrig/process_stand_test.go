//go:build linux && processes

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"pressrig/drivers/bench"
	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// stand is one simulated rig with its daemon, each a process of its own.
type stand struct {
	t     *testing.T
	dir   string
	speed int
	// rig are program and first words of the simulated rig's command line.
	rig      []string
	patience time.Duration
	// lateMs is how much later than the simulated microcontroller this one sees a
	// contact: a tick that is under way has read it already.
	lateMs uint64
	bench  *process
	daemon *process
	client *client.Client
	hands  net.Conn // the bench's control socket
	reply  *bufio.Reader
}

// standMaker is newStand, or one with another board.
type standMaker func(t *testing.T, speed int, config string) *stand

// newStand starts both processes; config is the daemon's, in YAML.
func newStand(t *testing.T, speed int, config string) *stand {
	t.Helper()
	return standOf(t, speed, config, patience, program, "bench", "--speed", fmt.Sprint(speed))
}

// standOf is newStand with the simulated rig's program.
func standOf(t *testing.T, speed int, config string, patience time.Duration, rigProgram ...string) *stand {
	t.Helper()
	dir, err := os.MkdirTemp("", "stand") // a socket's path has at most 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	s := &stand{t: t, dir: dir, speed: speed, rig: rigProgram, patience: patience,
		client: client.New(filepath.Join(dir, "daemon"))}
	text, err := rig.BuiltinText("bench")
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, ("port: " + s.path("port") + "\n")...)
	s.write("rig.yaml", text)
	s.write("pressrig.yaml", []byte(config))
	s.startBench()
	s.startDaemon()
	return s
}

// noBroker is the config of a daemon that needs no telemetry.
const noBroker = "telemetry: {broker: none}\n"

func (s *stand) path(name string) string { return filepath.Join(s.dir, name) }

func (s *stand) write(name string, text []byte) {
	s.t.Helper()
	if err := os.WriteFile(s.path(name), text, 0o600); err != nil {
		s.t.Fatal(err)
	}
}

// startBench starts the rig, with the non-volatile memory of the one before,
// and takes the hands at it.
func (s *stand) startBench() {
	s.t.Helper()
	s.bench = launch(s.t, s.rig[0], append(slices.Clone(s.rig[1:]), "--port-link", s.path("port"),
		"--state", s.path("state"), "--control", s.path("hands"), "--operator")...)
	s.wait("the bench takes command lines", func() bool {
		conn, err := net.Dial("unix", s.path("hands"))
		if err == nil {
			s.hands, s.reply = conn, bufio.NewReader(conn)
			s.t.Cleanup(func() { conn.Close() })
		}
		return err == nil
	})
}

// startDaemon starts the daemon and waits until it hears the rig.
func (s *stand) startDaemon() {
	s.t.Helper()
	s.daemon = launch(s.t, program, "serve", "--rig", s.path("rig.yaml"), "--config",
		s.path("pressrig.yaml"), "--data", s.path("data"), "--socket", s.path("daemon"))
	s.hears()
}

// hears waits until the daemon hears the rig.
func (s *stand) hears() {
	s.t.Helper()
	s.wait("the daemon hears the rig", func() bool {
		f, err := s.client.Status(s.t.Context())
		return err == nil && f.Snapshot != nil
	})
}

// wait looks again and again until the condition holds.
func (s *stand) wait(what string, holds func() bool) {
	s.t.Helper()
	late := time.NewTimer(s.patience)
	defer late.Stop()
	again := time.NewTicker(look)
	defer again.Stop()
	for !holds() {
		select {
		case <-again.C:
		case <-late.C:
			s.t.Fatalf("in vain waited until %s", what)
		}
	}
}

// ask gives the bench a command line.
func (s *stand) ask(line string) string {
	s.t.Helper()
	if err := s.hands.SetDeadline(time.Now().Add(patience)); err != nil {
		s.t.Fatal(err)
	}
	if _, err := fmt.Fprintln(s.hands, line); err != nil {
		s.t.Fatal(err)
	}
	text, err := s.reply.ReadString('\n')
	if err != nil {
		s.t.Fatal(err)
	}
	return strings.TrimSpace(text)
}

// do gives the bench a command line that is answered by ok.
func (s *stand) do(line string) {
	s.t.Helper()
	if reply := s.ask(line); reply != "ok" {
		s.t.Fatalf("the bench answers %q to %q", reply, line)
	}
}

// truth is the rig as a perfect observer sees it.
func (s *stand) truth() (now bench.Truth) {
	s.t.Helper()
	if err := json.Unmarshal([]byte(s.ask("truth")), &now); err != nil {
		s.t.Fatal(err)
	}
	return now
}

// errSeen ends a following.
var errSeen = errors.New("seen")

// until follows the daemon's frames, answers every prompt with yes, and returns
// the first frame for which seen holds.
func (s *stand) until(what string, seen func(*api.Frame) bool) (at api.Frame) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.t.Context(), s.patience)
	defer cancel()
	answered := uint16(0)
	var newest api.Frame
	err := s.client.Follow(ctx, func(f *api.Frame) error {
		newest = *f
		if p := f.Status.Prompt; p != nil && p.Number != answered {
			answered = p.Number
			if err := s.client.Answer(ctx, p.Number, true, tester); !gone(err) {
				return err
			}
		}
		if seen(f) {
			return errSeen
		}
		return nil
	})
	if !errors.Is(err, errSeen) {
		s.t.Fatalf("in vain waited until %s: %v; the newest status was %+v", what, err, newest.Status)
	}
	return newest
}

// gone: no error, or the prompt is not open any more.
func gone(err error) bool {
	var refusal *api.Error
	return err == nil || errors.As(err, &refusal) && refusal.Code == api.Refused
}

// passing are refusals that pass by themselves: a mould still warm from the
// piece before, a line that a busy machine has just lost.
var passing = regexp.MustCompile(`mould half|link to the rig is down|no word from the rig`)

// press arms a cycle of the practice disc and waits, as a person would, where
// the refusal passes by itself.
func (s *stand) press() uint32 {
	s.t.Helper()
	var started api.Started
	s.wait("a cycle is taken", func() bool {
		var err error
		started, err = s.order()
		var refusal *api.Error
		passes := errors.As(err, &refusal) && passing.MatchString(refusal.Message)
		if err != nil && !passes {
			s.t.Fatal(err)
		}
		return err == nil
	})
	return started.Cycle
}

func (s *stand) order() (api.Started, error) {
	return s.client.Press(s.t.Context(), api.Press{Recipe: "practice-disc", By: tester, Last: true})
}

// aborted is how a start after an abort is refused.
const aborted = "aborted: acknowledge, then reset"

// refuses checks that a start is refused, in words that say why.
func (s *stand) refuses(words string) {
	s.t.Helper()
	started, err := s.order()
	var refusal *api.Error
	switch {
	case err == nil:
		s.t.Errorf("cycle %d is taken; refused is right: %s", started.Cycle, words)
	case !errors.As(err, &refusal) || refusal.Code != api.Refused ||
		!strings.Contains(refusal.Message, words):
		s.t.Errorf("a start is refused with %v; expected: %s", err, words)
	}
}

// fires presses and waits until the glass is fired on the sharp flame.
func (s *stand) fires() (uint32, api.Frame) {
	s.t.Helper()
	n := s.press()
	f := s.until("the glass is fired", func(f *api.Frame) bool {
		return f.Status.Cycle == n && f.Status.PhaseKind == "fire" && f.Snapshot != nil &&
			f.Snapshot.Burner == "run"
	})
	if now := s.truth(); !now.FuelOpen || !now.Flame {
		s.t.Fatalf("the glass is fired without fuel: %+v", now)
	}
	return n, f
}

// ends waits until the cycle has ended, and gives it as the journal has it.
func (s *stand) ends(n uint32) api.Cycle {
	s.t.Helper()
	s.until("the cycle has ended", func(f *api.Frame) bool {
		return f.Status.Cycle == n && over(f.Status.State)
	})
	return s.stored(n)
}

// stored waits until the journal has the cycle's end.
func (s *stand) stored(n uint32) (c api.Cycle) {
	s.t.Helper()
	s.wait("the journal has the end of the cycle", func() bool {
		var err error // not found: its start is not on the disk yet
		c, err = s.client.Cycle(s.t.Context(), n)
		var refusal *api.Error
		if err != nil && !(errors.As(err, &refusal) && refusal.Code == api.NotFound) {
			s.t.Fatal(err)
		}
		return err == nil && c.State != ""
	})
	return c
}

// energising are the outputs that may hurt.
const energising = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutPressClose |
	warden.OutBurnerIn

// safe waits until the rig itself is safe: no gas, no closing force.
func (s *stand) safe() (now bench.Truth) {
	s.t.Helper()
	s.wait("the rig is safe", func() bool {
		now = s.truth()
		return now.Out&energising == 0 && !now.FuelOpen && !now.OxygenOpen && now.ForceN < 1
	})
	return now
}

// within checks that the fuel valve outputs went off within limit of the rig's
// own time after a moment that lay between before and after.
func within(t *testing.T, before, after, now bench.Truth, limitMs uint64) {
	t.Helper()
	if now.FuelOffMs < before.Ms || now.FuelOffMs > after.Ms+limitMs {
		t.Errorf("fuel went off at %d ms; expected within %d ms of the moment between %d and %d ms",
			now.FuelOffMs, limitMs, before.Ms, after.Ms)
	}
}

// frees clears what a trip left: acknowledged, with RESET at the rig where it
// is a lockout, then reset, as soon as the cause is gone.
func (s *stand) frees(lockout bool) {
	s.t.Helper()
	if err := s.client.Ack(s.t.Context(), tester); err != nil {
		s.t.Fatal(err)
	}
	if lockout { // no message clears it
		if err := s.client.Command(s.t.Context(), "reset", tester); err == nil {
			s.t.Error("a command has cleared a lockout")
		}
		s.refuses("press RESET at the rig")
	}
	newest := ""
	defer func() {
		if s.t.Failed() {
			f, err := s.client.Status(context.Background()) // the test's own may have ended
			s.t.Logf("the newest reset was refused with %q; status %+v, %v", newest, f.Status, err)
		}
	}()
	s.wait("the reset is taken", func() bool {
		if lockout {
			s.do("press RESET")
		}
		err := s.client.Command(s.t.Context(), "reset", tester)
		if err != nil {
			newest = err.Error()
		}
		return err == nil
	})
	s.until("the rig is free", func(f *api.Frame) bool {
		return f.Status.State == "idle" && f.Status.Lock == "none"
	})
}

// starts checks that the next cycle is taken, and stops it.
func (s *stand) starts() {
	s.t.Helper()
	n := s.press()
	s.until("the next cycle runs", func(f *api.Frame) bool {
		return f.Status.Cycle == n && f.Status.State == "running"
	})
	if err := s.client.Command(s.t.Context(), "stop", tester); err != nil {
		s.t.Fatal(err)
	}
	if c := s.ends(n); c.State != "stopped" || c.Cause != 0 {
		s.t.Errorf("the next cycle is %s, first cause %d; stopped is right", c.State, c.Cause)
	}
}

// sound checks what is stored, beside the running daemon: the journal without a
// problem, and the cycle's requests equal when its inputs are replayed.
func (s *stand) sound(n uint32) {
	s.t.Helper()
	s.commandLine("", "journal", "check").wants(s.t, exitDone, "no problems")
	s.commandLine("", "replay", fmt.Sprint(n)).wants(s.t, exitDone,
		fmt.Sprintf("cycle %d: all ", n), "requests equal")
}

// closes ends the daemon by SIGTERM; it must end in order.
func (s *stand) closes() {
	s.t.Helper()
	s.daemon.signal(s.t, syscall.SIGTERM)
	s.wait("the daemon has ended", func() bool {
		select {
		case <-s.daemon.ended:
			return true
		default:
			return false
		}
	})
	if s.daemon.err != nil {
		s.t.Errorf("the daemon ended with %v", s.daemon.err)
	}
}
