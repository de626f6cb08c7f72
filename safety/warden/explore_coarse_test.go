package warden

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// Shortening constants must not hide what the 1 kHz machine does. The same
// random scripts, stretched tenfold for the real constants, lead both machines
// through the same phases, locks and reactions in the same order. Lies that
// stand on numbers written into the code are left out here: in the product
// those timers may end at any tick.
func TestExploreShortening(t *testing.T) {
	t.Parallel()
	scripts, phases := 4, map[string]bool{}
	if *full {
		scripts = 200
	}
	for seed := range uint64(scripts) {
		real, short := coarseTrace(seed, 10), coarseTrace(seed, 1)
		for _, p := range real {
			phases[p] = true
		}
		for i := range max(len(real), len(short)) {
			if i >= len(real) || i >= len(short) || real[i] != short[i] {
				t.Fatalf("script %d: the machines part at step %d:\nreal  %v\nshort %v", seed, i,
					real[max(0, i-2):min(len(real), i+3)], short[max(0, i-2):min(len(short), i+3)])
			}
		}
	}
	t.Logf("%d scripts, %d different combinations of phases", scripts, len(phases))
	if len(phases) < 20 {
		t.Errorf("only %d combinations of phases seen", len(phases))
	}
}

// coarseTrace runs script seed at the real constants (scale 10) or a tenth of
// them (scale 1) and gives the phases in order.
func coarseTrace(seed uint64, scale uint32) []string {
	c := testConfig()
	c.FittedAnalog &^= 1<<AiFuelFlow | 1<<AiOxygenFlow // this plant has no flows
	if scale == 1 {
		for _, ms := range []*uint16{&c.CheckMs, &c.IgniterMs, &c.TrialMs, &c.FlameOnMs, &c.ProveMs, &c.ProveDarkMs,
			&c.FlameOffMs, &c.OxygenAfterMs, &c.OffMs, &c.LeaseMs, &c.RampMs, &c.EaseMs, &c.RetractMs, &c.ViewMs,
			&c.SpindleStallMs, &c.ExtractionMs, &c.ExtractionWaitMs, &c.PressureMs, &c.SlideMs, &c.ButtonMs, &c.HandsMs} {
			*ms /= 10
		}
		for _, ms := range []*uint32{&c.PurgeMs, &c.PostPurgeMs, &c.ArmMs, &c.CreepMs, &c.ParkMs} {
			*ms /= 10
		}
		c.EaseStepDN *= 10
	}
	rnd := rand.New(rand.NewPCG(seed, 11))
	p := newProduct(c, 0, 1)
	n := p.first()
	var seen []string
	wait := func(ticks uint32) {
		for range ticks {
			p.sense(&n)
			p.ask(&n)
			explored(&c, &n.s, &p.in, &p.out)
			p.plant(&n)
			s := &n.s
			now := fmt.Sprintf("burner %d press %d spindle %d link %d lock %d gas %d first %d oxygen %d",
				s.Burner, s.Press, s.Spindle, s.Link, s.Lock, s.Gas, s.First, s.Oxygen)
			if len(seen) == 0 || seen[len(seen)-1] != now {
				seen = append(seen, now)
			}
		}
	}
	press := func(button uint32) {
		n.away |= 1 << button
		wait(10 * scale)
		n.away &^= 1 << button
		wait(10 * scale)
	}
	faults := []uint32{xEstop, xDoor, xNoFlow, xStill, xCold, xSilent, xOxygenLow, xOverForce, xMains, xSetUp}
	upTo := 1 + rnd.IntN(6) // how far the cycle comes
	for range 2 {
		n.intent = iReset
		wait(50 * scale)
		n.intent = iArm
		wait(10 * scale)
		press(xStart)
		for i, intent := range []uint8{iLight, iHeat, iPressing, iOpen, iHeat, iLight}[:upTo] {
			n.intent = intent
			wait([]uint32{5000, 400, 100, 100, 400, 200}[i] * scale)
		}
		fault := faults[rnd.IntN(len(faults))]
		n.away |= 1 << fault
		wait((20 + 200*rnd.Uint32N(8)) * scale)
		n.away &^= 1 << fault
		wait((20 + 200*rnd.Uint32N(8)) * scale)
		n.intent = iReset
		press(xReset)
		press(xReset)
		n.away |= 1 << xHoldOpen
		wait(100 * scale)
		n.away &^= 1 << xHoldOpen
		wait(16000 * scale)
	}
	return seen
}
