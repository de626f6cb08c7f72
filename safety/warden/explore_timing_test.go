package warden

import "testing"

// The exact tick of every timed cause at production constants: present with
// the timer at its constant and absent in every tick before. Exploration at
// shortened constants would not see a wrong number.
func TestExploreTimers(t *testing.T) {
	t.Parallel()
	c := testConfig()
	burning := func(s *State, in *Input) {
		s.Burner, s.Out.Bits, s.FlameMs, s.NV, in.NV = BurnerRun, OutFuel, 5000, NVRunning, NVRunning
		in.Bits = in.Bits&^InFuelShut | InFlame
		in.Request.Flags = ReqFlame
		s.Started = 1
	}
	opening := func(s *State, in *Input) {
		s.Press, in.Request.Press, s.Started = PressOpening, PressOpen, 1
		in.Bits &^= InPressOpen
	}
	for name, r := range map[string]struct {
		cause uint8
		ms    uint32 // ticks until the cause is present
		setup func(*State, *Input)
		wrong func(*State, *Input) // in every tick
	}{
		// SV-021: at most 1 s (EN 298); ours 0.6 s and a sensor delay.
		"flame lost": {CauseFlameLost, 600, burning, func(_ *State, in *Input) { in.Bits &^= InFlame }},
		// SV-028: EN 746-2:2010 5.2.6.1.
		"flame in purge": {CauseFalseFlame, 100, func(s *State, in *Input) { s.Burner, s.Started, in.Request.Flags = BurnerPurge, 1, ReqFlame },
			func(_ *State, in *Input) { in.Bits |= InFlame; in.NV = NVRunning }},
		"flame after fuel":    {CauseFalseFlame, 2000, func(s *State, _ *Input) { s.FuelOffMs = 0 }, func(_ *State, in *Input) { in.Bits |= InFlame }},
		"fuel pressure low":   {CauseFuelLow, 200, burning, func(_ *State, in *Input) { in.Bits |= InFuelLow }},
		"fuel pressure high":  {CauseFuelHigh, 200, burning, func(_ *State, in *Input) { in.Bits |= InFuelHigh }},
		"oxygen low":          {CauseOxygenLow, 200, burning, func(_ *State, in *Input) { in.Bits |= InOxygenLow }},
		"oxygen high":         {CauseOxygenHigh, 200, burning, func(_ *State, in *Input) { in.Bits |= InOxygenHigh }},
		"extraction lost":     {CauseExtraction, 500, burning, func(_ *State, in *Input) { in.Bits &^= InExtraction }},
		"no flow in purge":    {CauseExtraction, 10000, func(s *State, in *Input) { s.Burner, s.Started, in.Request.Flags = BurnerPurge, 1, ReqFlame }, func(_ *State, in *Input) { in.Bits &^= InExtraction; in.NV = NVRunning }},
		"valve feedback":      {CauseFeedback, 1000, burning, func(_ *State, in *Input) { in.Bits |= InFuelShut }},
		"oxygen feedback":     {CauseFeedback, 1000, burning, func(_ *State, in *Input) { in.Bits &^= InOxygenShut }},
		"marker":              {CauseNV, 1000, func(*State, *Input) {}, func(_ *State, in *Input) { in.NV = NVLockout }},
		"START stuck":         {CauseButton, 3000, func(*State, *Input) {}, func(_ *State, in *Input) { in.Bits |= InStart }},
		"RESET stuck":         {CauseButton, 3000, func(*State, *Input) {}, func(_ *State, in *Input) { in.Bits |= InReset }},
		"spindle still":       {CauseSpindleStill, 2000, burning, func(_ *State, in *Input) { in.Bits |= InBurnerAtBlank }},
		"press does not open": {CauseStuck, 15000, opening, func(*State, *Input) {}},
		"flame and press": {CauseNotOpenForHeat, 200, burning, func(_ *State, in *Input) {
			in.Bits |= InBurnerAtBlank
			in.Bits &^= InPressOpen
			in.Analog[AiTravel] = 3000
		}},
		"slide": {CauseSlide, 2000, burning, func(_ *State, in *Input) { in.Bits &^= InBurnerClear }},
	} {
		ticks := func() uint32 {
			s, in, out := quiet, quietInput, Output{}
			for i := range s.LeaseMs {
				s.LeaseMs[i] = 0
			}
			r.setup(&s, &in)
			good := in
			for n := uint32(1); n <= 3*r.ms; n++ {
				in = good
				in.NV, in.Fresh, in.Request.Lease = s.NV, 1, 15
				in.Request.Flags |= ReqCycle
				r.wrong(&s, &in)
				explored(&c, &s, &in, &out)
				if s.Present&(1<<r.cause) != 0 {
					return n
				}
			}
			return 0
		}
		if got := ticks(); got != r.ms {
			t.Errorf("%s: cause %d present in tick %d; want %d", name, r.cause, got, r.ms)
		}
	}
}

// Invariant 3, SV-023, exactly: over every pattern of unburnt and other
// milliseconds in 30 s, the least sum that u unburnt ones leave. The least sum
// of all is enough, since a greater one stays greater; so the largest u whose
// least sum does not trip bounds all patterns.
func TestExploreUnburntBudget(t *testing.T) {
	t.Parallel()
	c := testConfig()
	const window, most = 30000, 4100
	least := make([]uint32, most+1)
	for u := range least {
		least[u] = none
	}
	least[0] = 0
	s := State{}
	step := func(sum uint32, fuel bool) uint32 {
		s.Unburnt, s.Out.Bits = sum, 0
		if fuel {
			s.Out.Bits = OutFuel
		}
		senseUnburnt(&s, false)
		return s.Unburnt
	}
	for range window - uint32(c.ValveCloseMs) { // the window holds the closing too
		for u := most; u >= 0; u-- {
			next := none
			if least[u] != none {
				next = step(least[u], false)
			}
			if u > 0 && least[u-1] != none && least[u-1] < unburntLimit(&c) {
				next = min(next, step(least[u-1], true))
			}
			least[u] = next
		}
	}
	worst := 0
	for u, sum := range least {
		if sum != none && sum < unburntLimit(&c) {
			worst = u
		}
	}
	// The tick that trips is unburnt too, then the valves close.
	total := worst + 1 + int(c.ValveCloseMs)
	t.Logf("at most %d ms of unburnt fuel in any 30 s, closing included", total)
	if total != 3967 {
		t.Errorf("%d ms of unburnt fuel in 30 s; docs/assessor.md promises 3,967, the limit is 4,000", total)
	}
}
