//go:build linux && processes

package main

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pressrig/panel/api"
)

var (
	kills = flag.Int("kills", 8, "how many cycles TestKilledAtRandomMoments kills, in all")
	seed  = flag.Uint64("seed", 20261125, "of its random moments")
)

const (
	lanes = 2 // rigs at the same time, one a core
	// killsAStand go to one rig with its journal; the next has a new one, so
	// that checking the whole journal after every kill stays quick.
	killsAStand = 25
	// cycleS is a little longer than a cycle of the practice disc, in seconds
	// of the rig, so that some kills come after its end; they do not count.
	cycleS = 260
)

// toll is what the kills met.
type toll struct {
	mu      sync.Mutex
	kills   int
	closed  int            // cycles closed as aborted by the next daemon
	states  map[string]int // at the kill
	longest float64        // trace lost, in seconds of real time
}

func (l *toll) add(state string, closed bool, lost float64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.kills++
	if closed {
		l.closed++
	}
	l.states[state]++
	l.longest = max(l.longest, lost)
}

// TestKilledAtRandomMoments kills the daemon again and again, at moments that
// are spread over the whole cycle. Whenever it was: the rig becomes safe by
// itself, the next daemon closes the cycle as aborted with the trace up to the
// last second, the journal is sound, and the next cycle can start.
func TestKilledAtRandomMoments(t *testing.T) {
	l := &toll{states: map[string]int{}}
	defer func() { l.tell(t) }()
	t.Run("lanes", func(t *testing.T) {
		for lane := range lanes {
			t.Run(fmt.Sprint(lane), func(t *testing.T) {
				t.Parallel()
				rng := rand.New(rand.NewPCG(*seed, uint64(lane)))
				for left := *kills / lanes; left > 0; left -= killsAStand {
					killAgainAndAgain(t, newStand, rng, min(left, killsAStand), l)
				}
			})
		}
	})
}

// tell logs what the kills met.
func (l *toll) tell(t *testing.T) {
	t.Helper()
	t.Logf("seed %d: %d kills, %d cycles closed as aborted, the longest lost trace %.2f s of real time (limit 1 s); at the kill:",
		*seed, l.kills, l.closed, l.longest)
	var names []string
	for name := range l.states {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		t.Logf("%6d %s", l.states[name], name)
	}
}

func killAgainAndAgain(t *testing.T, newStand standMaker, rng *rand.Rand, times int, l *toll) {
	s := newStand(t, quick, noBroker)
	for left := times; left > 0 && !t.Failed(); {
		n := s.press()
		s.comesTo(n, rng.Float64()*cycleS)
		between := time.Duration(rng.Int64N(int64(200 * time.Millisecond)))
		began := time.Now()
		s.wait("the moment has come", func() bool { return time.Since(began) >= between })
		before := s.truth()
		last, err := s.client.Status(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		s.daemon.kill(t)
		after := s.truth()
		now := s.safe()
		if before.FuelOpen {
			within(t, before, after, now, leaseMs+underWayMs)
		}
		s.startDaemon()
		closed, lost := s.recovered(n, &last)
		if closed {
			left--
		}
		l.add(describe(&last), closed, lost)
		s.unlocks()
	}
	s.starts()
	s.closes()
}

// comesTo waits until the cycle has run for so many seconds of the rig, or is
// over.
func (s *stand) comesTo(n uint32, seconds float64) {
	s.t.Helper()
	s.until(fmt.Sprintf("cycle %d has run for %.1f s", n, seconds), func(f *api.Frame) bool {
		return f.Status.Cycle == n && (f.Status.CycleS >= seconds || over(f.Status.State))
	})
}

// describe tells what went on: the phase of a running cycle, or why it had
// ended before the kill.
func describe(f *api.Frame) string {
	if over(f.Status.State) {
		return f.Status.State + ": " + f.Status.Reason
	}
	return strings.TrimSpace(f.Status.State + " " + f.Status.PhaseKind)
}

// recovered checks what the next daemon made of the cycle: whether it closed it
// as aborted, and how much of its trace is lost, in seconds of real time.
func (s *stand) recovered(n uint32, last *api.Frame) (closed bool, lost float64) {
	s.t.Helper()
	c, err := s.client.Cycle(s.t.Context(), n)
	var refusal *api.Error
	if errors.As(err, &refusal) && refusal.Code == api.NotFound && last.Status.State != "running" {
		return false, 0 // it had not started
	}
	if err != nil {
		s.t.Fatal(err)
	}
	s.sound(n)
	if !c.Recovered { // it had ended; on a busy machine also by an answer that came late
		if c.State == "" || c.Reason == "" {
			s.t.Errorf("cycle %d was not closed and ended as %q (%s)", n, c.State, c.Reason)
		}
		return false, 0
	}
	if c.State != "aborted" || c.Reason != "daemon ended during the cycle" {
		s.t.Errorf("cycle %d is %s (%s)", n, c.State, c.Reason)
	}
	lost = max(0, last.Status.CycleS-c.SavedS) / float64(s.speed)
	if lost > 1 {
		s.t.Errorf("cycle %d had run for %.1f s, %.1f s of the trace are saved: %.2f s of real time "+
			"are lost; 1 s at most is right", n, last.Status.CycleS, c.SavedS, lost)
	}
	return true, lost
}

// unlocks brings the rig back to idle, whatever state the kill left it in.
func (s *stand) unlocks() {
	s.t.Helper()
	f, err := s.client.Status(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	if f.Status.State != "idle" || f.Status.Lock != "none" {
		s.frees(f.Status.Lock == "lockout")
	} else if f.Status.AckNeeded { // the daemon ended in a cycle
		if err := s.client.Ack(s.t.Context(), tester); err != nil {
			s.t.Fatal(err)
		}
	}
}
