// Package steptest makes up the steps of a cycle for tests of the journal: a
// stream that depends on its seed alone, with the trends of a heat, press and
// cool cycle and the noise of real sensors. All figures are invented. It knows
// no physics: the simulated rig is drivers/bench.
package steptest

import (
	"math"
	"math/rand/v2"

	"pressrig/controller"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// noise is one standard deviation of each analog channel, in counts: 0.4 C on
// the glass, 0.15 C on the moulds, 7 um, 0.3 N, 0.2 rpm, 8 and 10 mL/min while
// gas flows and a fifth of it at rest, 3 and 4 mbar. Common practice for such
// sensors, no source.
var noise = [warden.NumAnalog]float64{4, 1.5, 1.5, 0.7, 3, 2, 8, 10, 3, 4}

// Source gives one step after the other at 100 Hz.
type Source struct {
	rng  *rand.Rand
	in   controller.Input
	snap rig.Snapshot
	req  rig.Request
	n    int
	// Actions makes a person act now and then: commands, answers, names.
	Actions bool
}

// New makes a source whose first step has tick 1.
func New(seed uint64) *Source {
	return &Source{rng: rand.New(rand.NewPCG(seed, seed^0x9E3779B97F4A7C15))}
}

// Next is the next step. Both are valid until the next call.
func (s *Source) Next() (*controller.Input, *rig.Request) {
	s.n++
	s.in = controller.Input{
		Tick:      s.in.Tick + 1,
		ElapsedMs: s.in.ElapsedMs + uint64(10+s.jitter()),
		Session:   0xC0FFEE01,
		Journal:   controller.JournalHealth{Writable: true, Started: 7},
	}
	if s.rng.IntN(200) == 0 {
		s.in.BadFrames = 1
	}
	if s.rng.IntN(50) != 0 { // a snapshot is late now and then
		s.snapshot(float64(s.n) / 100)
		s.in.Snap = &s.snap
	}
	if s.Actions {
		s.act()
	}
	s.request(float64(s.n) / 100)
	return &s.in, &s.req
}

// jitter is the loop's lateness: mostly none.
func (s *Source) jitter() int {
	switch s.rng.IntN(10) {
	case 0:
		return -1
	case 1:
		return 1
	}
	return 0
}

func (s *Source) snapshot(t float64) {
	p := &s.snap
	p.StampMs = uint32(4_294_960_000 + s.n*10) // wraps in the eighth second
	p.In = warden.InEstopOK | warden.InDoorClosed | warden.InExtraction | warden.InMainsOK |
		warden.InChuckClamped
	p.Out = warden.OutFan | warden.OutSpindle | warden.OutBrake
	p.Burner, p.Spindle, p.Link, p.Press = warden.BurnerPurge, 1, 2, warden.PressOff
	heat := t > 35 && t < 95
	press := t >= 95 && t < 110
	if t > 35 {
		p.In |= warden.InFlame | warden.InBurnerAtBlank
		p.Out |= warden.OutFuel
		p.Burner = warden.BurnerRun
	}
	if press {
		p.Press = warden.PressContact
	}
	level := [warden.NumAnalog]float64{
		200 + 6000*ramp(t, 35, 60) - 2500*ramp(t, 95, 60), 4200 + 150*ramp(t, 35, 60),
		4100 + 120*ramp(t, 35, 60), 6500 * (ramp(t, 95, 4) - ramp(t, 108, 5)), 0, 600,
		gate(heat, 3000), gate(heat, 5200), 1500, 4000,
	}
	if press {
		level[warden.AiForce] = 450
	}
	for ai, v := range level {
		n := noise[ai]
		if !heat && (ai == int(warden.AiFuelFlow) || ai == int(warden.AiOxygenFlow)) {
			n /= 5
		}
		p.Analog[ai] = int16(math.Round(v + s.rng.NormFloat64()*n))
	}
	p.AnalogOK = 1<<warden.NumAnalog - 1
	p.GlassAgeMs = uint16(s.n%5) * 10
	p.Flags = rig.FlagHomed
	p.FuelMl, p.OxygenMl = uint16(gate(heat, 3000)), uint16(gate(heat, 5200))
	p.SpindleDrpm, p.PhaseCs = 600, uint16(s.n)
	lease := uint8(s.n%10 + s.rng.IntN(2))
	p.LeaseCs = [warden.NumLeases]uint8{lease, lease, lease, lease}
	p.EchoSeq++
	p.ArmID = 7
}

func (s *Source) request(t float64) {
	s.req = rig.Request{Lease: warden.LeaseFuel | warden.LeaseSpindle, ArmID: 7,
		Flags: warden.ReqCycle | warden.ReqFlame, FuelMl: s.snap.FuelMl, OxygenMl: s.snap.OxygenMl,
		SpindleDrpm: 600, TravelCmm: int16(6500 * ramp(t, 95, 4)), SpeedCmms: 1500,
		ForceDN: 450, GlassLowDC: 6800, GlassHighDC: 7600}
}

func (s *Source) act() {
	if s.n == 1 {
		s.in.Command, s.in.By = controller.Start, "Ada"
		s.in.Job = &controller.Job{Cycle: 7, Run: 2, Piece: 3, Last: true, By: "Ada"}
		return
	}
	switch s.rng.IntN(150) {
	case 0:
		s.in.Command, s.in.By = controller.Command(1+s.rng.IntN(8)), "Ada"
	case 1:
		s.in.Answer, s.in.By = controller.Answer{Prompt: uint16(s.n), Yes: s.n%2 == 0}, "Grace"
	case 2:
		s.in.Ack = true
	}
}

// ramp goes from 0 to 1 within length seconds from begin on.
func ramp(t, begin, length float64) float64 {
	return min(1, max(0, (t-begin)/length))
}

func gate(on bool, v float64) float64 {
	if on {
		return v
	}
	return 0
}

// ElapsedMs is the loop's clock at the newest step.
func (s *Source) ElapsedMs() uint64 { return s.in.ElapsedMs }
