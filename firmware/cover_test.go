package firmware_test

import (
	"fmt"
	"slices"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

// machine is one of the warden's machines with the transitions that its
// specification allows, as phases from which each phase is entered.
type machine struct {
	name  string
	phase func(*warden.State) uint8
	into  map[uint8][]uint8
	seen  map[[2]uint8]int
}

// cover counts what the compared steps came through: transitions of walks and
// probes, first causes of walks alone.
type cover struct {
	machines []machine
	reached  chaos.Reached
}

// newCover has the transitions as they are in the machines' files, read by a
// person. A shut of the gas leads from any phase that is active to post-purge,
// and in the same tick further where post-purge is over at once.
func newCover() *cover {
	const (
		standby, check, purge, igniter, trial, prove, dark, run, off, post, lockout = 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10

		pressOff, stay, closing, contact, opening, easing, handOpen, handClose = 0, 1, 2, 3, 4, 5, 6, 7
	)
	return &cover{machines: []machine{
		{"burner", func(s *warden.State) uint8 { return s.Burner }, map[uint8][]uint8{
			standby: {check, post, lockout}, check: {standby}, purge: {check}, igniter: {purge},
			trial: {igniter}, prove: {trial}, dark: {prove}, run: {dark}, off: {run},
			post: {check, purge, igniter, trial, prove, dark, run, off}, lockout: {standby},
		}, map[[2]uint8]int{}},
		{"press", func(s *warden.State) uint8 { return s.Press }, map[uint8][]uint8{
			pressOff: {stay, closing, contact, opening, easing, handOpen},
			stay:     {pressOff, closing, opening, contact, easing, handOpen, handClose},
			closing:  {stay}, contact: {closing}, opening: {stay, closing}, easing: {contact},
			handOpen: {pressOff, stay}, handClose: {stay},
		}, map[[2]uint8]int{}},
		{"spindle", func(s *warden.State) uint8 { return s.Spindle }, map[uint8][]uint8{
			warden.SpindleOff: {warden.SpindleRun, warden.SpindleRamp}, warden.SpindleRun: {warden.SpindleOff},
			warden.SpindleCreep: {warden.SpindleRun}, warden.SpindleRamp: {warden.SpindleRun, warden.SpindleCreep},
		}, map[[2]uint8]int{}},
		{"link", func(s *warden.State) uint8 { return s.Link }, map[uint8][]uint8{
			warden.LinkDown: {warden.LinkUp, warden.LinkStarted}, warden.LinkUp: {warden.LinkDown, warden.LinkArmed, warden.LinkStarted},
			warden.LinkArmed: {warden.LinkUp}, warden.LinkStarted: {warden.LinkArmed},
		}, map[[2]uint8]int{}},
		{"latch", func(s *warden.State) uint8 { return s.Lock }, map[uint8][]uint8{
			warden.LockNone: {warden.LockHold, warden.LockAbort, warden.LockLockout}, warden.LockHold: {warden.LockNone},
			warden.LockAbort: {warden.LockNone, warden.LockHold}, warden.LockLockout: {warden.LockNone, warden.LockHold, warden.LockAbort},
		}, map[[2]uint8]int{}},
	}}
}

func (c *cover) count(before, after *warden.State) {
	c.reached.Count(before, after)
	c.transitions(before, after)
}

func (c *cover) transitions(before, after *warden.State) {
	for i := range c.machines {
		m := &c.machines[i]
		if from, to := m.phase(before), m.phase(after); from != to {
			m.seen[[2]uint8{from, to}]++
		}
	}
}

func (c *cover) missing() []string {
	var missing []string
	for cause, row := range warden.Matrix {
		if n := c.reached.Times(uint8(cause)); row.Priority != 0 && n < wanted {
			missing = append(missing, fmt.Sprintf("cause %d came first only %d times", cause, n))
		}
	}
	for _, m := range c.machines {
		for to, phases := range m.into {
			for _, from := range phases {
				if n := m.seen[[2]uint8{from, to}]; n < wanted {
					missing = append(missing, fmt.Sprintf("%s went from %d to %d only %d times", m.name, from, to, n))
				}
			}
		}
	}
	slices.Sort(missing)
	return missing
}

// lacks reports whether walks that aim at the cause are still needed.
func (c *cover) lacks(cause uint8) bool { return chaos.Aimed(cause) && c.reached.Times(cause) < wanted }

func (c *cover) String() string {
	text := fmt.Sprintf("first causes %v; button stuck %d", c.reached.First, c.reached.Button)
	for _, m := range c.machines {
		text += "; " + m.name
		for to := range uint8(len(m.into) + 1) {
			for _, from := range m.into[to] {
				text += fmt.Sprintf(" %d>%d:%d", from, to, m.seen[[2]uint8{from, to}])
			}
		}
	}
	return text
}
