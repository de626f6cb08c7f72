//go:build linux && processes

package main

import (
	"strings"
	"syscall"
	"testing"
	"time"

	"pressrig/panel/api"
	"pressrig/safety"
	"pressrig/safety/warden"
)

const (
	// leaseMs is a lease's life and one tick (row 21 of the matrix).
	leaseMs = 501
	// underWayMs is for the request that was on the line at the moment.
	underWayMs = 50
	// slow is for what is measured in real time.
	slow = 5
)

// TestKilledDaemon: the rig shuts the gas when the leases end; the next daemon
// closes the cycle as aborted with the trace up to the last second.
func TestKilledDaemon(t *testing.T) {
	t.Parallel()
	killedDaemon(t, newStand)
}

func killedDaemon(t *testing.T, newStand standMaker) {
	s := newStand(t, slow, noBroker)
	n, _ := s.fires()
	reached := s.until("the glass is hot", func(f *api.Frame) bool {
		v := f.Snapshot
		return v != nil && v.GlassC != nil && *v.GlassC >= 700
	})
	before := s.truth()
	s.daemon.kill(t)
	after := s.truth()
	within(t, before, after, s.safe(), leaseMs+underWayMs)
	if now := s.truth(); now.First != warden.CauseLinkLost || now.Lock != warden.LockAbort {
		t.Errorf("the rig has first cause %d, lock %d", now.First, now.Lock)
	}
	s.startDaemon()
	c := s.stored(n)
	if c.State != "aborted" || !c.Recovered || c.Reason != "daemon ended during the cycle" {
		t.Errorf("cycle is %s (%s), recovered %v", c.State, c.Reason, c.Recovered)
	}
	// A second of real time is so many seconds of the rig's.
	if least := reached.Status.CycleS - float64(s.speed); c.SavedS < least {
		t.Errorf("%.1f s of the trace are saved; the cycle had run for %.1f s, so that at least "+
			"%.1f s are right", c.SavedS, reached.Status.CycleS, least)
	}
	trace, err := s.client.Trace(t.Context(), n)
	if err != nil {
		t.Fatal(err)
	}
	if rows := len(trace.Ms); rows == 0 || float64(trace.Ms[rows-1])/1000 < c.SavedS-1 {
		t.Errorf("the trace has %d rows and does not reach %.1f s", rows, c.SavedS)
	}
	s.refuses("the rig is locked: acknowledge, then reset")
	s.sound(n)
	s.frees(false)
	s.starts()
	s.closes()
}

// TestKilledBench: the daemon aborts, because it does not know the rig's state;
// the rig that comes back finds its running marker and boots locked out.
func TestKilledBench(t *testing.T) {
	t.Parallel()
	killedBench(t, newStand)
}

func killedBench(t *testing.T, newStand standMaker) {
	s := newStand(t, quick, noBroker)
	n, _ := s.fires()
	s.bench.kill(t)
	c := s.ends(n)
	if c.State != "aborted" || c.Cause != safety.RowLinkLost ||
		!strings.Contains(c.Reason, "its state is unknown, use the emergency stop") {
		t.Errorf("cycle is %s (%s), first cause %d", c.State, c.Reason, c.Cause)
	}
	s.refuses(aborted)
	s.startBench()
	s.hears()
	s.until("the lockout is seen", func(f *api.Frame) bool { return f.Status.Lock == "lockout" })
	if now := s.safe(); now.First != warden.CauseRestart || now.Lock != warden.LockLockout {
		t.Errorf("the rig has first cause %d, lock %d", now.First, now.Lock)
	}
	s.refuses("lockout")
	s.sound(n)
	s.frees(true)
	s.starts()
	s.closes()
}

// TestStoppedDaemon: a daemon that stands still for 2 s loses its leases, and
// when it goes on it finds the cycle aborted.
func TestStoppedDaemon(t *testing.T) {
	t.Parallel()
	stoppedDaemon(t, newStand)
}

func stoppedDaemon(t *testing.T, newStand standMaker) {
	s := newStand(t, quick, noBroker)
	n, _ := s.fires()
	before := s.truth()
	s.daemon.signal(t, syscall.SIGSTOP)
	began := time.Now()
	after := s.truth()
	within(t, before, after, s.safe(), leaseMs+underWayMs)
	s.wait("2 s have passed", func() bool { return time.Since(began) >= 2*time.Second })
	s.daemon.signal(t, syscall.SIGCONT)
	c := s.ends(n)
	if c.State != "aborted" || c.Lockout ||
		c.Cause != warden.CauseLinkLost && c.Cause != safety.RowLinkLost {
		t.Errorf("cycle is %s (%s), first cause %d, lockout %v", c.State, c.Reason, c.Cause, c.Lockout)
	}
	s.hears()
	s.safe()
	s.refuses(aborted)
	s.sound(n)
	s.frees(false)
	s.starts()
	s.closes()
}
