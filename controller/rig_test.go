package controller

import (
	"math"
	"testing"
	"time"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
)

// fake is a rig for tests: the real warden at 1 kHz over a plant so simple that
// a person can do it in the head. Its figures are invented. The true plant is
// package bench's.
type fake struct {
	t    testing.TB
	m    *Machine
	cfg  warden.Config
	st   warden.State
	in   warden.Input
	now  uint64 // ms
	tick uint64
	out  Output

	glassC  float64
	travel  float64 // mm
	slideMs int     // 0 clear ... 400 at the blank
	swung   bool    // where the slide is a person: the burner is swung to the blank
	lever   int     // where the press is a person: -1 lifts, 1 pulls, against the brake
	fanMs   int
	lightMs int
	rpm     float64

	noFlame    bool // the flame does not light, or goes out
	stuckGlass bool // the thermometer repeats its count
	noGlass    bool // the thermometer's wire is cut
	held       uint32
	heldUntil  uint64
	session    uint32
	silent     bool // no snapshots
	journal    JournalHealth
	commit     bool // the journal commits start records
	req        rig.Request
	fresh      bool
	echo       uint16              // newest request taken
	lie        func(*rig.Snapshot) // what the board says otherwise than it is; nil: nothing
	next       Input               // people's part of the next step
	bend       func(*rig.Request)  // what a host that is not the machine asks for instead
	driven     warden.Output
	each       func(was *warden.Output) // after each tick of the warden
	warden     func(*warden.Config, *warden.State, *warden.Input, *warden.Output)
	log        func(*Input, *Output)
}

func driven(t testing.TB) *rig.Profile {
	t.Helper()
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func newFake(t testing.TB, p *rig.Profile) *fake {
	f := &fake{t: t, cfg: p.WardenConfig(), session: 7,
		glassC: 25, commit: true, journal: JournalHealth{Writable: true}, warden: warden.Step}
	f.cfg.PurgeMs, f.cfg.PostPurgeMs, f.cfg.CheckMs = 5_000, 2_000, 1_000 // tests are short
	f.m = New(Config{Profile: p, Board: &f.cfg})
	warden.Init(&f.st, warden.NVClear)
	f.in.Bits = warden.InEstopOK | warden.InDoorClosed | warden.InChuckClamped | warden.InMainsOK
	f.in.NV = warden.NVClear
	return f
}

// run advances ms milliseconds; the controller steps every 10, a snapshot
// comes every 20.
func (f *fake) run(ms int) {
	for range ms {
		f.now++
		f.plant()
		f.in.Request, f.in.Fresh = f.req, 0
		if f.fresh {
			f.in.Fresh, f.fresh = 1, false
			f.echo++
		}
		was := f.st.Out
		f.warden(&f.cfg, &f.st, &f.in, &f.driven)
		if f.each != nil {
			f.each(&was)
		}
		if f.now%10 == 0 {
			f.step()
		}
	}
}

func (f *fake) step() {
	f.tick++
	in := f.next
	f.next = Input{}
	in.Tick, in.ElapsedMs, in.Session, in.Journal = f.tick, f.now, f.session, f.journal
	if f.session != 0 && f.now%20 == 0 && !f.silent {
		s := f.snapshot()
		if f.lie != nil {
			f.lie(&s)
		}
		in.Snap = &s
	}
	f.m.Step(&in, &f.out)
	for i := range f.out.N {
		if r := f.out.Records[i]; r.Kind == RecStart && f.commit {
			f.journal.Started = r.Cycle
		}
	}
	if f.out.Send && f.session != 0 {
		f.req, f.fresh = f.out.Request, true
		if f.bend != nil {
			f.bend(&f.req)
		}
	}
	if f.log != nil {
		f.log(&in, &f.out)
	}
}

func (f *fake) snapshot() rig.Snapshot {
	o := &f.st.Out
	s := rig.Snapshot{StampMs: uint32(f.now), In: f.in.Bits, Analog: f.in.Analog,
		AnalogOK: f.in.AnalogOK, Out: o.Bits, FuelMl: o.FuelMl, OxygenMl: o.OxygenMl,
		SpindleDrpm: o.SpindleDrpm, SpeedCmms: o.SpeedCmms, ForceDN: o.ForceDN,
		TravelCmm: o.TravelCmm, Burner: f.st.Burner, Press: f.st.Press, Spindle: f.st.Spindle,
		Link: f.st.Link, Lock: f.st.Lock, First: f.st.First, Trips: f.st.Trips,
		Present: f.st.Present, ArmID: f.st.ArmID, Unburnt: f.st.Unburnt,
		PhaseCs: uint16(min(f.st.PhaseMs/10, math.MaxUint16)), EchoSeq: f.echo, GlassAgeMs: f.in.GlassAgeMs}
	for i, ms := range f.st.LeaseMs {
		s.LeaseCs[i] = uint8(min(ms/10, math.MaxUint8))
	}
	aside := f.cfg.Options&warden.OptViewAlways != 0 || f.st.ClearMs >= f.cfg.ViewMs
	if f.in.AnalogOK&(1<<warden.AiGlass) != 0 && aside {
		s.Flags |= rig.FlagViewFree
	}
	if f.st.Touching != 0 {
		s.Flags |= rig.FlagTouching
	}
	return s
}

// plant moves the fake by one millisecond.
func (f *fake) plant() {
	o := &f.st.Out
	f.in.NV = o.NV
	f.burn(o)
	f.slide(o)
	f.move(o)
	f.fanMs = limit(f.fanMs+sign(o.Bits&warden.OutFan != 0), 300)
	f.set(warden.InExtraction, f.fanMs >= 200)
	f.rpm += (float64(o.SpindleDrpm)/10 - f.rpm) / 100
	if o.SpindleDrpm == 0 && f.rpm < 0.3 {
		f.rpm = 0
	}
	if f.heldUntil != 0 && f.now >= f.heldUntil {
		f.in.Bits &^= f.held
		f.held, f.heldUntil = 0, 0
	}
	f.measure(o)
}

func (f *fake) set(bit uint32, on bool) {
	f.in.Bits &^= bit
	if on {
		f.in.Bits |= bit
	}
}

func sign(on bool) int {
	if on {
		return 1
	}
	return -1
}

func limit(v, most int) int { return max(0, min(v, most)) }

func (f *fake) burn(o *warden.Output) {
	fuel := o.Bits&warden.OutFuel == warden.OutFuel
	lit := f.in.Bits&warden.InFlame != 0
	if fuel && o.Bits&warden.OutIgniter != 0 {
		f.lightMs++
	} else if !fuel {
		f.lightMs = 0
	}
	f.set(warden.InFlame, fuel && !f.noFlame && (lit || f.lightMs > 300))
	f.set(warden.InFuelShut, !fuel)
	f.set(warden.InOxygenShut, o.Bits&warden.OutOxygen == 0)
	hot := 25.0
	if f.in.Bits&warden.InFlame != 0 && f.slideMs == 400 {
		hot += 0.35*float64(o.FuelMl) + 0.15*float64(o.OxygenMl)
	}
	tau := 20_000.0
	f.glassC += (hot - f.glassC) / tau
}

func (f *fake) slide(o *warden.Output) {
	in := o.Bits&warden.OutBurnerIn != 0
	if f.cfg.Options&warden.OptBurnerDriven == 0 {
		in = f.swung
	}
	f.slideMs = limit(f.slideMs+sign(in), 400)
	f.set(warden.InBurnerClear, f.slideMs == 0)
	f.set(warden.InBurnerAtBlank, f.slideMs == 400)
}

func (f *fake) move(o *warden.Output) {
	step := float64(o.SpeedCmms) / 100_000
	switch byHand := f.cfg.Options&warden.OptPressDriven == 0; {
	case byHand && o.Bits&warden.OutBrake != 0:
	case byHand:
		f.travel = max(0, min(f.travel+0.05*float64(f.lever), 60))
	case o.Bits&warden.OutPressClose != 0:
		f.travel = min(f.travel+step, 60)
	case o.Bits&warden.OutPressOpen != 0:
		f.travel = max(f.travel-step, 0)
	}
	f.set(warden.InPressOpen, f.travel < 0.5)
}

func (f *fake) measure(o *warden.Output) {
	a := &f.in.Analog
	f.in.AnalogOK = f.cfg.FittedAnalog
	if f.glassC < 300 || f.noGlass {
		f.in.AnalogOK &^= 1 << warden.AiGlass
	}
	if !f.stuckGlass {
		a[warden.AiGlass] = int16(f.glassC*10) + int16(f.now/20%3) // 0.2 K of noise
	}
	f.in.GlassAgeMs = uint16(f.now % 20)
	a[warden.AiMouldLower], a[warden.AiMouldUpper] = 4500, 4300
	a[warden.AiTravel] = int16(f.travel * 100)
	a[warden.AiForce] = 0
	switch {
	case o.Bits&warden.OutPressClose != 0 && f.travel > 57:
		a[warden.AiForce] = int16(min(o.ForceDN, 600+uint16((f.travel-57)*500)))
	case o.Bits&warden.OutPressOpen != 0 && f.travel > 56:
		a[warden.AiForce] = -120
	}
	a[warden.AiSpindle] = int16(f.rpm * 10)
	a[warden.AiFuelFlow], a[warden.AiOxygenFlow] = int16(o.FuelMl), int16(o.OxygenMl)
	a[warden.AiFuelPressure], a[warden.AiOxygenPressure] = 340, 900
}

// press holds a button at the rig for ms milliseconds.
func (f *fake) press(bit uint32, ms uint64) {
	f.in.Bits |= bit
	f.held, f.heldUntil = f.held|bit, f.now+ms
}

func (f *fake) command(c Command) {
	f.next.Command, f.next.By = c, "test"
	f.run(10)
}

func (f *fake) start(j Job) {
	f.next.Job = &j
	f.command(Start)
	f.run(20)
}

func (f *fake) answer(yes bool) {
	f.next.Answer = Answer{Prompt: f.out.Status.Prompt, Yes: yes}
	f.run(10)
}

// until runs at most s seconds until done.
func (f *fake) until(s int, done func() bool) bool {
	for range s * 100 {
		if done() {
			return true
		}
		f.run(10)
	}
	return done()
}

func (f *fake) untilState(s int, want State) {
	f.t.Helper()
	if !f.until(s, func() bool { return f.m.state == want }) {
		f.t.Fatalf("state is %v after %d s, want %v: doing %q, reason %q, phase %q, burner %d, trips %x",
			f.m.state, s, want, f.out.Status.Doing, f.m.reason, f.out.Status.PhaseName,
			f.st.Burner, f.st.Trips)
	}
}

func (f *fake) untilPhase(s int, name string) {
	f.t.Helper()
	if !f.until(s, func() bool { return f.out.Status.PhaseName == name }) {
		f.t.Fatalf("no phase %q after %d s: %v, doing %q, reason %q, phase %q, glass %.0f", name, s,
			f.m.state, f.out.Status.Doing, f.m.reason, f.out.Status.PhaseName, f.glassC)
	}
}

// pushStart waits until armed and presses START.
func (f *fake) pushStart() {
	f.t.Helper()
	if !f.until(5, func() bool { return f.out.Status.Armed }) {
		f.t.Fatalf("not armed: %v, doing %q, reason %q, lock %d, present %x", f.m.state,
			f.out.Status.Doing, f.m.reason, f.st.Lock, f.st.Present)
	}
	f.press(warden.InStart, 200)
	f.run(300)
}

// stem is a normal cycle with invented figures.
func stem() *recipes.Recipe {
	s := time.Second
	blank, clear := recipes.AtBlank, recipes.AtClear
	flame := func(at recipes.Place, fuel, oxygen float64) recipes.Flame {
		return recipes.Flame{Lit: true, At: at, Fuel: units.LitrePerMinute(fuel),
			Oxygen: units.LitrePerMinute(oxygen)}
	}
	glass := func(c float64, least bool) *recipes.Condition {
		return &recipes.Condition{Channel: "glass", AI: warden.AiGlass, AtLeast: least, Value: c,
			Count: int16(c * 10), For: 200 * time.Millisecond}
	}
	warm := recipes.OnHold{KeepWarm: true, Fuel: 1, For: 20 * s}
	return &recipes.Recipe{Name: "stem", Glass: "soda-lime", Resume: 2, Longest: 600 * s,
		Window: recipes.Window{Low: 820, High: 930},
		Phases: []recipes.Phase{
			{Name: "seat", Kind: recipes.Load, Longest: 120 * s, Late: recipes.LateStop,
				End: recipes.End{Answer: true}},
			{Name: "light", Kind: recipes.Light, Longest: 90 * s, Late: recipes.LateStop,
				Flame: flame(clear, 1, 0), SpindleRPM: 60, End: recipes.End{Lit: true}},
			{Name: "warm", Kind: recipes.Warm, Longest: 90 * s, Late: recipes.LateHold,
				Flame: flame(blank, 1, 1.5), SpindleRPM: 60, End: recipes.End{When: glass(400, true)},
				OnHold: warm},
			{Name: "fire", Kind: recipes.Fire, Longest: 90 * s, Late: recipes.LateHold,
				Flame: flame(blank, 2.2, 3.6), SpindleRPM: 60, OnHold: warm,
				End: recipes.End{When: glass(890, true), Soft: true, Least: 2 * s}},
			{Name: "aside", Kind: recipes.Clear, Longest: 10 * s, Late: recipes.LateHold,
				Flame: flame(clear, 0.8, 0), End: recipes.End{There: true}},
			{Name: "form", Kind: recipes.Press, Longest: 10 * s, Late: recipes.LateHold,
				Flame: flame(clear, 0.8, 0), End: recipes.End{There: true},
				Press: recipes.Stroke{Do: recipes.DoForce, To: 60, Speed: 50, Force: 250}},
			{Name: "set", Kind: recipes.Set, Longest: 10 * s, Late: recipes.LateNext,
				Flame: flame(clear, 0.8, 0), End: recipes.End{After: 3 * s},
				Press: recipes.Stroke{Do: recipes.DoForce, To: 60, Speed: 10, Force: 50}},
			{Name: "part", Kind: recipes.Part, Longest: 30 * s, Late: recipes.LateHold,
				Flame: flame(clear, 0.8, 0), End: recipes.End{There: true},
				Press: recipes.Stroke{Do: recipes.DoOpen, To: 0, Speed: 10}},
			{Name: "soft", Kind: recipes.SoftFlame, Longest: 30 * s, Late: recipes.LateNext,
				Flame: flame(blank, 0.8, 0), SpindleRPM: 60, End: recipes.End{After: 5 * s}},
			{Name: "out", Kind: recipes.Out, Longest: 20 * s, Late: recipes.LateHold,
				Flame: flame(clear, 0.8, 0), End: recipes.End{There: true}},
			{Name: "unload", Kind: recipes.Unload, Longest: 120 * s, Late: recipes.LateHold,
				End: recipes.End{Answer: true}},
		}}
}
