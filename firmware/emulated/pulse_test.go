//go:build avr

package emulated_test

import (
	"slices"
	"testing"

	"pressrig/drivers/bench"
)

// The window of the watchdog outside, docs/wiring.md: its relay makes from 450
// to 550 Hz, two edges a period, judged over 50 ms.
const (
	judgedMs  = 50
	leastEdge = 2 * 450 * judgedMs / 1000
	mostEdge  = 2 * 550 * judgedMs / 1000
)

// edges lets a window of the outside watchdog pass and counts what came in it.
func (l *loop) edges() (edges, ticks int) {
	pulses, before := l.board.Figures.Pulses, l.board.Figures.Ticks
	l.ms(judgedMs)
	return int(l.board.Figures.Pulses - pulses), int(l.board.Figures.Ticks - before)
}

// The pulse changes once for each millisecond that is done, and it is the main
// loop that gives it: one that hangs stops it although the clock's interrupt goes
// on, and a clock 20 % slow or fast is outside the window.
func TestPulseIsTheMainLoops(t *testing.T) {
	l := newLoop(t, "practice-disc")
	for range 20 {
		if edges, ticks := l.edges(); edges != ticks || ticks != judgedMs {
			t.Fatalf("%d changes of the pulse and %d milliseconds in %d", edges, ticks, judgedMs)
		}
	}
	for _, c := range []struct {
		percent     uint16
		least, most int
	}{{100, leastEdge, mostEdge}, {97, leastEdge, mostEdge}, {103, leastEdge, mostEdge},
		{80, 0, leastEdge - 1}, {120, mostEdge + 1, 2 * mostEdge}} {
		l.board.Clock(c.percent)
		l.ms(judgedMs)
		if edges, _ := l.edges(); edges < c.least || edges > c.most {
			t.Errorf("clock at %d %%: %d edges in %d ms; %d to %d", c.percent, edges, judgedMs, c.least, c.most)
		}
	}
	l.board.Clock(100)
	l.board.Hang(true, false)
	l.ms(2)
	pulses, ticks := l.board.Figures.Pulses, l.board.Figures.Ticks
	l.ms(10)
	if p, k := l.board.Figures.Pulses-pulses, l.board.Figures.Ticks-ticks; p != 0 || k != 10 {
		t.Errorf("main loop hangs for 10 ms: %d changes of the pulse, %d milliseconds; 0 and 10", p, k)
	}
}

// An encoder that gives more edges than can be counted takes milliseconds away.
// None is lost silently: a lone one is told with what the millisecond took, and
// a second within a hundred ends the program, which is told after the restart.
func TestLateMillisecondsAreTold(t *testing.T) {
	l := bareLoop(t, "practice-disc")
	l.overloaded = true
	r, err := bench.New(bench.Options{Profile: l.profile, Config: l.config, Seed: 1, Board: l.board})
	if err != nil {
		t.Fatal(err)
	}
	h, now := newTalker(l.profile.Device, 77), 0
	ms := func(n int) {
		for range n {
			r.Receive(h.say(now))
			r.Step()
			h.take(r.Transmit(nil), uint32(now))
			now++
		}
	}
	ms(3000)
	lone, ended := 0, 0
	for _, c := range []struct {
		edges int32
		last  int // ms
	}{{60, 300}, {108, 1}, {112, 1}, {88, 300}, {92, 300}, {96, 300}, {108, 300}, {140, 300}, {180, 300}} {
		edges := c.edges
		h.late = nil
		boots, resets, clock, began := l.boots, l.board.Figures.Resets, l.newest.ClockMs, l.board.Figures.Ms
		for i := 0; i < c.last && l.board.Figures.Resets == resets && l.boots == boots; i++ {
			l.board.Edges = edges
			ms(1)
		}
		l.board.Edges = 0
		if l.board.Figures.Resets == resets {
			ms(20) // the last one may still run, and the watchdog takes 16 ms
		}
		lost := int(l.board.Figures.Ms-began) - int(l.newest.ClockMs-clock)
		gone := l.board.Figures.Resets > resets
		if gone {
			ended++
		} else if lost > 0 {
			lone++
		}
		if ms(3000); !gone && (lost > 3 || len(h.late) != lost) || gone && !slices.Equal(h.late[max(0, len(h.late)-1):], []uint32{2000}) {
			t.Errorf("%d edges in a millisecond: %d milliseconds lost, program ended %v, told %v", edges, lost, gone, h.late)
		}
		for _, took := range h.late {
			if took < 1000 || took > 2000 {
				t.Errorf("%d edges: a late millisecond took %d us", edges, took)
			}
		}
		t.Logf("%d edges in a millisecond: %d lost, ended %v, told %v", edges, lost, gone, h.late)
	}
	if ended < 3 || lone == 0 {
		t.Errorf("%d loads ended the program, %d lost a lone millisecond; both have to be seen", ended, lone)
	}
}
