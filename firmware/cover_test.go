package firmware_test

import (
	"fmt"

	"pressrig/safety/chaos"
	"pressrig/safety/warden"
)

// machine is one of the warden's machines with the transitions that its
// specification allows.
type machine struct {
	name  string
	phase func(*warden.State) uint8
	most  uint8 // number of phases
	seen  map[[2]uint8]int
}

// cover counts what the compared steps came through.
type cover struct {
	machines []machine
	reached  chaos.Reached
}

func newCover() *cover {
	return &cover{machines: []machine{
		{"burner", func(s *warden.State) uint8 { return s.Burner }, warden.NumBurner, map[[2]uint8]int{}},
		{"press", func(s *warden.State) uint8 { return s.Press }, warden.NumPress, map[[2]uint8]int{}},
		{"spindle", func(s *warden.State) uint8 { return s.Spindle }, warden.NumSpindle, map[[2]uint8]int{}},
		{"link", func(s *warden.State) uint8 { return s.Link }, warden.NumLink, map[[2]uint8]int{}},
		{"latch", func(s *warden.State) uint8 { return s.Lock }, warden.LockLockout + 1, map[[2]uint8]int{}},
	}}
}

func (c *cover) count(before, after *warden.State) {
	c.reached.Count(before, after)
	for i := range c.machines {
		m := &c.machines[i]
		if from, to := m.phase(before), m.phase(after); from != to && from < m.most {
			m.seen[[2]uint8{from, to}]++
		}
	}
}

func (c *cover) missing() []string {
	return c.reached.Missing(wanted)
}

func (c *cover) String() string {
	text := fmt.Sprintf("first causes %v; button stuck %d", c.reached.First, c.reached.Button)
	for _, m := range c.machines {
		text += "; " + m.name
		for from := range m.most {
			for to := range m.most {
				if n := m.seen[[2]uint8{from, to}]; n > 0 {
					text += fmt.Sprintf(" %d>%d:%d", from, to, n)
				}
			}
		}
	}
	return text
}
