package trials

import (
	"math"
	"time"

	"pressrig/safety/warden"
)

// All data here are invented: a made-up practice disc on a made-up rig.

type inventedPhase struct {
	name, kind string
	s          float64 // length
	glassC     float64 // at its end
	travelMM   float64 // at its end
	forceN     float64 // during
	fuelL      float64
	oxygenL    float64
	lit        bool
	reason     string
}

var inventedPhases = []inventedPhase{
	{"load", "load", 9, 20, 0, 0, 0, 0, false, "answered yes"},
	{"light", "light", 36, 22, 0, 0, 1.2, 0, true, "flame proven"},
	{"warm", "warm", 20, 310, 0, 0, 2.0, 0, true, "after 20 s"},
	{"fire", "fire", 34, 812, 0, 0, 3.2, 6.4, true, "glass at or above 810 C for 1 s"},
	{"soak", "soak", 6, 806, 0, 0, 2.8, 5.2, true, "after 6 s"},
	{"clear", "clear", 1.5, 800, 0, 0, 1.2, 0, true, "burner clear"},
	{"press", "press", 3.2, 742, 41.5, 46, 1.2, 0, true, "press at its target"},
	{"set", "set", 2, 700, 41.5, 12, 1.2, 0, true, "after 2 s"},
	{"part", "part", 4, 662, 0, -8, 1.2, 0, true, "press open"},
	{"soft flame", "soft_flame", 10, 640, 0, 0, 1.8, 0, true, "after 10 s"},
	{"flame-cool", "flame_cool", 28, 480, 0, 0, 0.9, 0, true, "glass at or below 480 C"},
	{"out", "out", 3, 470, 0, 0, 0, 0, false, "fuel shut"},
	{"unload", "unload", 11, 430, 0, 0, 0, 0, false, "answered yes"},
}

// invented makes a cycle and its trace at 100 Hz. vary stretches the firing
// and shifts temperature and force a little, 0 not at all; cut ends the cycle
// in the middle of that phase with the flame lost, "" does not.
func invented(number uint32, vary float64, cut string) (Cycle, *Trace) {
	c := Cycle{Number: number, Run: 1, Piece: uint16(number), Guarded: true, By: "Ada",
		Rig: "lathe-1", Recipe: "practice-disc", Hash: "c0ffee", Profile: "beef", Firmware: "bench 1",
		Started: time.Date(2026, 3, 4, 9, int(number), 0, 0, time.UTC), State: "complete"}
	t := &Trace{Analog: make([][]int16, warden.NumAnalog)}
	at, glass, travel := 0.0, 20.0, 0.0
	for _, p := range inventedPhases {
		length := p.s
		if p.kind == "fire" {
			length += 4 * vary
		}
		whole := length
		if p.name == cut {
			length /= 2
			p.reason = "flame lost"
		}
		end := math.Round((at+length)*100) / 100
		c.Phases = append(c.Phases, Phase{p.name, p.kind, seconds(at), seconds(end), p.reason})
		for ms := int(math.Round(at * 1000)); ms < int(math.Round(end*1000)); ms += 10 {
			share := (float64(ms)/1000 - at) / whole
			t.row(ms, p, glass+share*(p.glassC+6*vary-glass), travel+share*(p.travelMM-travel), vary)
		}
		glass, travel, at = p.glassC+6*vary, p.travelMM, end
		if p.name == cut {
			c.State, c.Lockout, c.Cause, c.CauseText = "aborted", true, warden.CauseFlameLost, "flame lost"
			c.Reason = "the warden tripped: flame lost"
			c.Events = append(c.Events, Event{seconds(end), "trip", "flame lost"})
			t.shut(int(end * 1000))
			break
		}
	}
	c.Ended = c.Started.Add(seconds(at))
	if cut == "" {
		c.Measures = []Measure{{"transfer time", 8.24 + vary, "s", seconds(at)},
			{"pull peak", 8.1 + vary, "N", seconds(at - 60)}}
	}
	return c, t
}

func seconds(s float64) time.Duration {
	return time.Duration(math.Round(s*1000)) * time.Millisecond
}

func (t *Trace) row(ms int, p inventedPhase, glassC, travelMM, vary float64) {
	wave := math.Sin(float64(ms) / 170)
	force := p.forceN
	if force > 0 {
		force += 3*vary + wave
	}
	ok := uint16(1<<warden.NumAnalog - 1)
	in := warden.InEstopOK | warden.InDoorClosed | warden.InMainsOK | warden.InExtraction
	out := warden.OutFan
	burner, press := warden.BurnerStandby, warden.PressStay
	if p.lit && (p.kind != "light" || ms > 42000) {
		in |= warden.InFlame
		out |= warden.OutFuel
		burner = warden.BurnerRun
	} else if p.kind == "light" {
		burner = warden.BurnerPurge
		p.fuelL = 0
	}
	if p.oxygenL > 0 {
		out |= warden.OutOxygen
	}
	switch {
	case p.kind == "press" && travelMM < 38:
		press, force = warden.PressClosing, 0
		out |= warden.OutPressClose
	case p.kind == "press" || p.kind == "set":
		press = warden.PressContact
		out |= warden.OutPressClose
	case p.kind == "part":
		press = warden.PressOpening
		out |= warden.OutPressOpen
	}
	switch p.kind {
	case "warm", "fire", "soak", "soft_flame", "flame_cool":
		in |= warden.InBurnerAtBlank
		out |= warden.OutBurnerIn
	default:
		in |= warden.InBurnerClear
	}
	if travelMM < 0.2 {
		in |= warden.InPressOpen
	}
	if p.kind == "press" && travelMM > 5 {
		ok &^= 1 << warden.AiGlass // the mould stands in the thermometer's view
	}
	t.Ms = append(t.Ms, uint32(ms))
	for ai, v := range []float64{glassC*10 + 4*wave, 2000 + 3*wave, 1900, travelMM * 100, force * 10,
		600 + 2*wave, p.fuelL*1000 + 8*wave, p.oxygenL * 1000, 40, 1500} {
		t.Analog[ai] = append(t.Analog[ai], int16(math.Round(v)))
	}
	t.OK = append(t.OK, ok)
	t.In = append(t.In, in)
	t.Out = append(t.Out, out)
	t.Burner = append(t.Burner, burner)
	t.Press = append(t.Press, press)
}

// shut adds a second in which the gases are shut and the warden is locked out.
func (t *Trace) shut(from int) {
	for ms := from; ms < from+1000; ms += 10 {
		t.row(ms, inventedPhase{kind: "out"}, 600, 0, 0)
		t.Burner[len(t.Burner)-1] = warden.BurnerLockout
	}
}
