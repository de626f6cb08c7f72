package safety

import (
	"runtime"
	"sync"
	"testing"

	"pressrig/safety/warden"
)

// moment says when a cause can be provoked and how the inputs lie then.
type moment struct {
	when func(*chaos) bool
	lie  func(*chaos)
}

func phase(from, to uint8) func(*chaos) bool {
	return func(x *chaos) bool { return x.s.Burner >= from && x.s.Burner <= to }
}

func pressIs(phases ...uint8) func(*chaos) bool {
	return func(x *chaos) bool {
		for _, p := range phases {
			if x.s.Press == p {
				return true
			}
		}
		return false
	}
}

func force(bit uint32, on bool) func(*chaos) {
	return func(x *chaos) {
		x.in.Bits &^= bit
		if on {
			x.in.Bits |= bit
		}
	}
}

func reading(ai uint8, value int16) func(*chaos) {
	return func(x *chaos) { x.in.Analog[ai] = value }
}

func heating(x *chaos) bool {
	return x.s.Burner == warden.BurnerRun && x.in.Bits&warden.InBurnerAtBlank != 0 &&
		x.in.Bits&warden.InPressOpen != 0 && x.s.Oxygen != 0
}

func always(*chaos) bool { return true }

func above(x *chaos) bool {
	return x.s.Press == warden.PressClosing && x.in.Bits&warden.InPressOpen == 0
}

// moments provoke each cause of the matrix at a time when it can be the first.
var moments = map[uint8]moment{
	warden.CauseEstop:          {always, force(warden.InEstopOK, false)},
	warden.CauseDoor:           {phase(warden.BurnerIgniter, warden.BurnerOff), force(warden.InDoorClosed, false)},
	warden.CauseFlameLost:      {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InFlame, false)},
	warden.CauseNoIgnition:     {phase(warden.BurnerTrial, warden.BurnerTrial), force(warden.InFlame, false)},
	warden.CauseFalseFlame:     {phase(warden.BurnerPurge, warden.BurnerIgniter), force(warden.InFlame, true)},
	warden.CauseFuelLow:        {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InFuelLow, true)},
	warden.CauseFuelHigh:       {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InFuelHigh, true)},
	warden.CauseOxygenLow:      {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InOxygenLow, true)},
	warden.CauseOxygenHigh:     {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InOxygenHigh, true)},
	warden.CauseSpindleStill:   {heating, reading(warden.AiSpindle, 100)},
	warden.CausePressState:     {above, reading(warden.AiSpindle, 200)},
	warden.CauseSpindleStall:   {pressIs(warden.PressContact), reading(warden.AiSpindle, 100)},
	warden.CauseOverForce:      {always, reading(warden.AiForce, 4600)},
	warden.CauseOverTravel:     {always, force(warden.InPressEnd, true)},
	warden.CauseNotOpenForHeat: {above, force(warden.InBurnerClear, false)},
	warden.CauseLeftOpen: {heating, func(x *chaos) {
		x.in.Bits &^= warden.InPressOpen
		x.in.Analog[warden.AiTravel] = 300
	}},
	warden.CauseStuck: {pressIs(warden.PressOpening), func(x *chaos) {
		x.in.Analog[warden.AiForce], x.in.Analog[warden.AiTravel] = -300, 3000
		x.in.Bits &^= warden.InPressOpen
	}},
	warden.CauseLinkLost:   {phase(warden.BurnerCheck, warden.BurnerRun), func(x *chaos) { x.wait[0] = x.ms + 800 }},
	warden.CauseRestart:    {phase(warden.BurnerTrial, warden.BurnerRun), func(x *chaos) { x.reboot = true }},
	warden.CauseExtraction: {phase(warden.BurnerRun, warden.BurnerRun), force(warden.InExtraction, false)},
	warden.CauseGasAlarm:   {always, force(warden.InGasAlarm, true)},
	warden.CauseFlashback:  {phase(warden.BurnerCheck, warden.BurnerPostPurge), force(warden.InFlashback, true)},
	warden.CauseFeedback:   {phase(warden.BurnerCheck, warden.BurnerPurge), force(warden.InFuelShut, false)},
	warden.CauseTwoHand: {func(x *chaos) bool {
		return above(x) && x.c.Options&(warden.OptSpindleTurns|warden.OptBurnerFixed) == 0
	}, func(x *chaos) { // take both, open the door, let go
		force(warden.InTwoHandLeft|warden.InTwoHandRight, x.aimMs > 5950)(x)
		force(warden.InDoorClosed, x.aimMs > 5970)(x)
	}},
	warden.CauseSetUp:     {phase(warden.BurnerCheck, warden.BurnerRun), force(warden.InSetUp, true)},
	warden.CauseBadFrames: {phase(warden.BurnerCheck, warden.BurnerRun), func(x *chaos) { x.in.BadFrames = 3 }},
	warden.CauseMains:     {always, force(warden.InMainsOK, false)},
	warden.CauseButton:    {always, force(warden.InStart, true)},
	warden.CauseUnburnt: {phase(warden.BurnerRun, warden.BurnerRun), func(x *chaos) {
		force(warden.InFlame, x.ms%600 < 40)(x)
	}},
	warden.CauseSlide:     {phase(warden.BurnerPurge, warden.BurnerPurge), force(warden.InBurnerClear, false)},
	warden.CauseHostAbort: {phase(warden.BurnerCheck, warden.BurnerRun), func(x *chaos) { x.in.Request.Flags |= warden.ReqAbort }},
	warden.CauseNV:        {phase(warden.BurnerPurge, warden.BurnerRun), func(x *chaos) { x.in.NV = 0 }},
}

// provoke lies for 6 s at a time, once the moment has come, then rests.
func (x *chaos) provoke() {
	m, ok := moments[x.aim]
	if !ok {
		return
	}
	if x.aimMs == 0 && x.s.Lock == warden.LockNone && m.when(x) && x.rnd.IntN(int(x.per(300))) == 0 {
		x.aimMs = 6000
	}
	if x.aimMs == 0 {
		return
	}
	x.aimMs--
	if x.s.Lock == warden.LockNone || x.aim == warden.CauseButton {
		m.lie(x)
	} else {
		x.aimMs = 0
	}
}

// reached counts what a walk came through.
type reached struct {
	burner [warden.NumBurner]int
	press  [warden.NumPress]int
	first  [warden.NumCauses]int
	button int
}

func (r *reached) add(o *reached) {
	for i := range r.burner {
		r.burner[i] += o.burner[i]
	}
	for i := range r.press {
		r.press[i] += o.press[i]
	}
	for i := range r.first {
		r.first[i] += o.first[i]
	}
	r.button += o.button
}

// walk runs one seed and counts entries into phases and first causes.
func walk(seed uint64, ms uint32, step stepFunc) (Broken, *reached, *chaos) {
	x, r := newChaos(seed), &reached{}
	if step != nil {
		x.step = step
	}
	prev := x.s
	b := x.run(ms, func(s *warden.State) {
		if s.Burner != prev.Burner {
			r.burner[s.Burner]++
		}
		if s.Press != prev.Press {
			r.press[s.Press]++
		}
		if s.First != prev.First && s.First != 0 {
			r.first[s.First]++
		}
		if s.Present&^prev.Present&(1<<warden.CauseButton) != 0 {
			r.button++
		}
		prev = *s
	})
	return b, r, x
}

type stepFunc func(*warden.Config, *warden.State, *warden.Input, *warden.Output)

// wanted is how often each phase and first cause has to be reached.
const wanted = 100

// walkMs is how long one walk takes: 100 s, but 25 s where a failed light-up
// would then only wait for the budget of unburnt fuel to drain.
func walkMs(cause uint8) uint32 {
	if cause == warden.CauseNoIgnition || cause == warden.CauseUnburnt {
		return 25000
	}
	return 100000
}

// The warden keeps every invariant of docs/safety.md on hostile inputs, and
// the walks are not vacuous: each phase and each first cause at least 100
// times. Walks that aim at a cause go on with new seeds until it was first
// often enough.
func TestInvariantsOnHostileInputs(t *testing.T) {
	var total reached
	var mu sync.Mutex
	try := func(seed uint64, ms uint32) {
		b, r, x := walk(seed, ms, nil)
		mu.Lock()
		defer mu.Unlock()
		total.add(r)
		if b.Number != 0 {
			t.Errorf("seed %d, %d ms: invariant %d: %s (first cause %d, burner %d, press %d, options %#x)",
				seed, x.ms, b.Number, b.What, x.s.First, x.s.Burner, x.s.Press, x.c.Options)
		}
	}
	enough := func(cause uint8) bool {
		mu.Lock()
		defer mu.Unlock()
		return total.first[cause] >= wanted || cause == warden.CauseButton && total.button >= wanted
	}
	jobs := make(chan uint8)
	var wg sync.WaitGroup
	for range runtime.NumCPU() {
		wg.Go(func() {
			for cause := range jobs {
				most := uint64(400)
				if _, aimed := moments[cause]; !aimed {
					most = 12 // nothing to aim at: noise alone
				}
				for k := uint64(0); k < most && (!enough(cause) || k < 4); k++ {
					try(uint64(cause)+k*uint64(warden.NumCauses), walkMs(cause))
				}
			}
		})
	}
	for cause := range warden.NumCauses {
		jobs <- cause
	}
	close(jobs)
	wg.Wait()
	total.check(t)
}

// check prints what was reached and fails where that is too little.
func (r *reached) check(t *testing.T) {
	t.Logf("burner phases entered %v; press phases %v; first causes %v; button stuck %d",
		r.burner, r.press, r.first, r.button)
	for phase, n := range r.burner {
		if n < wanted {
			t.Errorf("burner phase %d entered only %d times", phase, n)
		}
	}
	for phase, n := range r.press {
		if n < wanted {
			t.Errorf("press phase %d entered only %d times", phase, n)
		}
	}
	for cause, row := range warden.Matrix {
		if row.Priority != 0 && row.Lock != warden.LockNone && r.first[cause] < wanted {
			t.Errorf("%s was the first cause only %d times", Name(uint8(cause)), r.first[cause])
		}
	}
	if r.button < wanted {
		t.Errorf("%s only %d times", Name(warden.CauseButton), r.button)
	}
}

// lyingTo wraps a step with inputs, state or outputs bent, one rule at a time.
func lyingTo(before func(*warden.Config, *warden.State, *warden.Input), after func(*warden.State, *warden.Output)) stepFunc {
	return func(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
		bent, conf := *in, *c
		if before != nil {
			before(&conf, s, &bent)
		}
		warden.Step(&conf, s, &bent, out)
		if after != nil {
			after(s, out)
			s.Out = *out
		}
	}
}

// For each invariant at least one warden with a seeded fault that must not pass.
var brokenWardens = []struct {
	invariant uint8
	aim       uint8 // the cause whose provocation shows the fault soonest
	name      string
	step      stepFunc
}{
	{1, warden.CauseFlameLost, "believes in a flame in run", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if s.Burner == warden.BurnerRun {
			in.Bits |= warden.InFlame
			s.Unburnt = 0
		}
	}, nil)},
	{1, warden.CauseFlameLost, "igniter stays on in run", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Burner == warden.BurnerRun {
			out.Bits |= warden.OutIgniter
		}
	})},
	{1, warden.CauseNoIgnition, "trial of 6 s", lyingTo(func(c *warden.Config, s *warden.State, _ *warden.Input) {
		c.TrialMs = 6000
		s.Unburnt = 0
	}, nil)},
	{2, warden.CauseFlameLost, "oxygen with the first flame", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.OxygenAfterMs, c.ProveMs, c.ProveDarkMs = 0, 1, 1
	}, nil)},
	{3, warden.CauseUnburnt, "forgets unburnt fuel", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.Unburnt = 0 }, nil)},
	{4, warden.CauseEstop, "deaf to the emergency stop", lyingTo(func(_ *warden.Config, _ *warden.State, in *warden.Input) {
		in.Bits |= warden.InEstopOK
	}, nil)},
	{5, warden.CauseEstop, "host clears lockout", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if in.Fresh != 0 && in.Request.Flags&warden.ReqReset != 0 {
			s.Trips, s.First = 0, 0
		}
	}, nil)},
	{6, warden.CauseNone, "relights by itself", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.LitOnce = 0 }, nil)},
	{7, warden.CauseNone, "takes START as a level", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) { s.StartSeen = 1 }, nil)},
	{7, warden.CauseNone, "arming never ends", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		if s.Armed != 0 {
			s.ArmMs, s.LinkMs = 0, 0
		}
	}, nil)},
	{8, warden.CauseLinkLost, "leases never end", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		s.LeaseMs, s.LinkMs = [warden.NumLeases]uint16{}, 0
	}, nil)},
	{9, warden.CauseNone, "stroke at any temperature", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		in.Analog[warden.AiGlass] = s.WindowLow + 1
		s.SoftMs = 0
	}, nil)},
	{9, warden.CauseNone, "stroke over a still spindle", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.Options &^= warden.OptSpindleFitted
	}, nil)},
	{9, warden.CauseTwoHand, "two hands stay given", lyingTo(func(_ *warden.Config, s *warden.State, _ *warden.Input) {
		s.Hands[warden.HandsStroke].Given = 1
	}, func(s *warden.State, _ *warden.Output) {
		s.Hands[warden.HandsStroke].Given = 1
	})},
	{18, warden.CauseSetUp, "a cycle in set-up", lyingTo(func(_ *warden.Config, _ *warden.State, in *warden.Input) {
		in.Bits &^= warden.InSetUp
	}, nil)},
	{10, warden.CauseSpindleStill, "heats over a still spindle", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		s.StillMs = 0
	}, nil)},
	{10, warden.CauseExtraction, "blind to extraction", lyingTo(func(_ *warden.Config, s *warden.State, in *warden.Input) {
		if s.Burner >= warden.BurnerPurge {
			in.Bits |= warden.InExtraction
		}
	}, nil)},
	{11, warden.CauseOxygenLow, "sequenced takes 3 s", lyingTo(func(c *warden.Config, _ *warden.State, _ *warden.Input) {
		c.OffMs = 3000
	}, nil)},
	{11, warden.CauseFlameLost, "oxygen outlives a shut", lyingTo(nil, func(s *warden.State, out *warden.Output) {
		if s.Gas == warden.GasShut && s.Burner == warden.BurnerPostPurge && s.PhaseMs == 1 && s.LitOnce != 0 {
			out.Bits |= warden.OutFuel
		}
	})},
	{12, warden.CauseNone, "last rule wins", lyingTo(nil, func(s *warden.State, _ *warden.Output) {
		for cause := range warden.NumCauses {
			if (s.Trips|s.Present)&(1<<cause) != 0 {
				s.Gas = warden.Matrix[cause].Gas
			}
		}
	})},
	{15, warden.CauseEstop, "newest cause counts as first", lyingTo(nil, func(s *warden.State, _ *warden.Output) {
		for cause := range warden.NumCauses {
			if s.Trips&(1<<cause) != 0 {
				s.First = cause
			}
		}
	})},
}

// A check that a broken warden passes proves nothing.
func TestBrokenWardensAreCaught(t *testing.T) {
	for _, broken := range brokenWardens {
		t.Run(broken.name, func(t *testing.T) {
			t.Parallel()
			for k := range uint64(40) {
				seed := uint64(broken.aim) + k*uint64(warden.NumCauses)
				if b, _, _ := walk(seed, 300000, broken.step); b.Number == broken.invariant {
					return
				}
			}
			t.Errorf("invariant %d was never seen broken", broken.invariant)
		})
	}
}
