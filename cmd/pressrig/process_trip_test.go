//go:build linux && processes

package main

import (
	"slices"
	"testing"

	"pressrig/drivers/bench"
	"pressrig/panel/api"
	"pressrig/safety"
	"pressrig/safety/warden"
)

// trip is one thing that goes wrong at the rig while a cycle runs, and what the
// cause-and-effect matrix of docs/assessor.md says of it.
type trip struct {
	name    string
	early   string // command line before the cycle: a fault that waits
	line    string // command line while the glass is fired
	undo    string // what mends it
	causes  []uint8
	lockout bool
	// limitMs is the matrix's time from the moment to the fuel valve outputs,
	// in the rig's own time; 0 where the moment has its own check.
	limitMs uint64
}

// The times are the column "within" of the matrix, one tick of 1 ms added.
var trips = []trip{
	{name: "emergency stop", line: "estop press", undo: "estop release",
		causes: []uint8{warden.CauseEstop}, lockout: true, limitMs: 1},
	{name: "door opened", line: "door open", undo: "door close",
		causes: []uint8{warden.CauseDoor}, limitMs: 1},
	{name: "flame lost", early: "fault flame_out @ glass>=700 for 20s",
		causes: []uint8{warden.CauseFlameLost}, lockout: true},
	{name: "flame before ignition", early: "fault stuck flame on @ burner=purge+2s",
		undo: "clear stuck", causes: []uint8{warden.CauseFalseFlame}, lockout: true},
	{name: "fuel pressure low", line: "fault fuel_pressure 20 %", undo: "clear fuel_pressure",
		causes: []uint8{warden.CauseFuelLow}, lockout: true, limitMs: 201},
	// One byte in a hundred breaks half of the frames: row 35, or row 21 where
	// every frame of half a second is broken, or row 22 as the daemon sees it.
	{name: "noise on the line", line: "fault line_flip 1 %", undo: "clear line_flip",
		causes:  []uint8{warden.CauseBadFrames, warden.CauseLinkLost, safety.RowLinkLost},
		limitMs: 2000},
}

// TestTrips: each leaves the rig safe in time, the cycle aborted with its first
// cause, and the next start refused until the reset that the matrix asks for.
func TestTrips(t *testing.T) {
	for _, c := range trips {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.run(t, newStand(t, quick, noBroker))
		})
	}
}

func (c *trip) run(t *testing.T, s *stand) {
	var n uint32
	var before, after bench.Truth
	if c.early != "" {
		s.do(c.early)
		n = s.press()
	} else {
		n, _ = s.fires()
		before = s.truth()
		s.do(c.line)
		after = s.truth()
	}
	stored := s.ends(n)
	now := s.safe()
	c.check(t, stored, now)
	if c.limitMs > 0 {
		within(t, before, after, now, c.limitMs+s.lateMs)
	}
	if c.undo != "" {
		s.do(c.undo)
	}
	s.hears()
	if c.lockout {
		s.refuses("lockout")
	} else {
		s.refuses(aborted)
	}
	s.sound(n)
	s.frees(c.lockout)
	s.starts()
	s.closes()
}

// check compares the stored end with the matrix, and the rig's own view too.
func (c *trip) check(t *testing.T, stored api.Cycle, now bench.Truth) {
	t.Helper()
	if stored.State != "aborted" || !slices.Contains(c.causes, stored.Cause) ||
		stored.Lockout != c.lockout || stored.Recovered {
		t.Errorf("cycle is %s (%s), first cause %d, lockout %v; aborted, cause %d, lockout %v is right",
			stored.State, stored.Reason, stored.Cause, stored.Lockout, c.causes, c.lockout)
	}
	if want := safety.Sentence(stored.Cause); stored.Reason != want || stored.CauseText != want {
		t.Errorf("reason %q, cause %q; %q is right", stored.Reason, stored.CauseText, want)
	}
	lock := warden.LockAbort
	if c.lockout {
		lock = warden.LockLockout
	}
	if now.Lock != lock || !slices.Contains(c.causes, now.First) {
		t.Errorf("the rig has lock %d, first cause %d; %d and %d are right", now.Lock, now.First,
			lock, c.causes)
	}
	switch c.causes[0] {
	case warden.CauseFlameLost: // from the true flame-out, in the warden alone
		if late := now.FuelOffMs - now.FlameOutMs; now.FlameOutMs == 0 || late > 1000 {
			t.Errorf("flame out at %d ms, fuel off at %d ms: more than 1 s", now.FlameOutMs, now.FuelOffMs)
		}
	case warden.CauseFalseFlame: // no fuel has ever flowed
		if now.FuelOffMs != 0 || now.UnburntMs != 0 {
			t.Errorf("fuel was open until %d ms", now.FuelOffMs)
		}
	}
}

// TestThermometerStuck: held with the gas shut in sequence; nobody restarts, so
// after the longest hold it is stopped. A hold is no lock: the next start needs
// no more than a reset.
func TestThermometerStuck(t *testing.T) {
	t.Parallel()
	thermometerStuck(t, newStand)
}

func thermometerStuck(t *testing.T, newStand standMaker) {
	s := newStand(t, quick, noBroker)
	s.do("fault stuck glass @ glass>=700")
	n := s.press()
	held := s.until("the cycle is held", func(f *api.Frame) bool { return f.Status.State == "held" })
	if f := held.Status.FirstCause; f == nil || f.Row != safety.RowThermoNonsense {
		t.Errorf("held with first cause %+v; row %d is right", f, safety.RowThermoNonsense)
	}
	s.safe()
	stored := s.ends(n)
	if stored.State != "stopped" || stored.Cause != safety.RowThermoNonsense || stored.Lockout ||
		stored.Reason != "thermometer stuck, jumping or not rising: held, then stopped" {
		t.Errorf("cycle is %s (%s), first cause %d, lockout %v", stored.State, stored.Reason,
			stored.Cause, stored.Lockout)
	}
	s.safe()
	s.do("clear stuck")
	s.sound(n)
	s.frees(false)
	s.starts()
	s.closes()
}
