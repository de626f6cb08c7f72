package bench

import (
	"fmt"

	"pressrig/safety/warden"
	"pressrig/units"
)

// MaxFaults is how many faults may wait or act at once: twice the most that
// the campaign needs, and few enough to look at each every millisecond.
const MaxFaults = 32

// Fault is one thing that goes wrong: what, when, and for how long.
type Fault struct {
	Name   string  // of the table FaultKinds
	Target string  // switch, channel or button that it is about, "" for none
	On     bool    // stuck switches: which way
	Value  float64 // base unit of the kind or channel
	When   Trigger
	ForMs  uint32 // 0: until cleared
}

// TriggerKind says what a Trigger waits for.
type TriggerKind uint8

// What a fault may wait for.
const (
	TriggerNow     TriggerKind = 0
	TriggerAt      TriggerKind = 1 // AtMs since the rig began
	TriggerBurner  TriggerKind = 2 // burner phase Phase
	TriggerPress   TriggerKind = 3 // press phase Phase
	TriggerChannel TriggerKind = 4 // true value of channel AI at least or at most Value
)

// Trigger is when a fault begins: AfterMs after its condition is first true
// since the fault was given.
type Trigger struct {
	Kind    TriggerKind
	AtMs    uint64
	Phase   uint8
	AI      uint8
	AtLeast bool
	Value   float64 // base unit of the channel
	AfterMs uint32
}

// Takes says what follows a fault's name.
type Takes uint8

// What may follow.
const (
	TakesNothing Takes = 0
	TakesInput   Takes = 1 // a switch and on or off, or a channel
	TakesChannel Takes = 2 // a channel
	TakesAmount  Takes = 3 // a channel and an amount in its unit
	TakesValue   Takes = 4 // an amount
	TakesButton  Takes = 5 // a button
	TakesSwitch  Takes = 6 // a switch
)

// FaultKind is a row of the table of faults.
type FaultKind struct {
	Name      string
	Takes     Takes
	Dim       units.Dimension // of the amount, for TakesValue
	Low, High float64         // of the amount, base unit
	PulseMs   uint32          // how long it lasts where no time is given; 0: until cleared
	Help      string

	apply func(u *upsets, f *Fault)
}

// FaultKinds are all faults that can be injected.
var FaultKinds = []FaultKind{
	{Name: "stuck", Takes: TakesInput,
		Help:  "a switch stays on or off, a channel stays as it is",
		apply: stick},
	{Name: "lost", Takes: TakesChannel,
		Help:  "a channel's wire breaks",
		apply: func(u *upsets, f *Fault) { u.lost |= 1 << channelIndex(f.Target) }},
	{Name: "noisy", Takes: TakesAmount, High: 10000,
		Help:  "a channel jumps about by up to the amount",
		apply: func(u *upsets, f *Fault) { addCounts(&u.noise, f) }},
	{Name: "offset", Takes: TakesAmount, Low: -10000, High: 10000,
		Help:  "a channel reads wrong by the amount",
		apply: func(u *upsets, f *Fault) { addCounts(&u.offset, f) }},

	{Name: "line_flip", Takes: TakesValue, Dim: units.Share, High: 100,
		Help:  "this share of bytes has a bit flipped, both ways",
		apply: func(u *upsets, f *Fault) { u.line.flip = f.Value / 100 }},
	{Name: "line_drop", Takes: TakesValue, Dim: units.Share, High: 100,
		Help:  "this share of frames is lost, both ways",
		apply: func(u *upsets, f *Fault) { u.line.drop = f.Value / 100 }},
	{Name: "line_repeat", Takes: TakesValue, Dim: units.Share, High: 100,
		Help:  "this share of frames comes twice, both ways",
		apply: func(u *upsets, f *Fault) { u.line.repeat = f.Value / 100 }},
	{Name: "line_swap", Takes: TakesValue, Dim: units.Share, High: 100,
		Help:  "this share of frames changes places with the next",
		apply: func(u *upsets, f *Fault) { u.line.swap = f.Value / 100 }},
	{Name: "line_delay", Takes: TakesValue, Dim: units.Time, High: 10,
		Help:  "every frame is this late, both ways",
		apply: func(u *upsets, f *Fault) { u.line.delayMs = uint16(f.Value * 1000) }},
	{Name: "line_cut", Takes: TakesNothing,
		Help:  "no byte passes either way",
		apply: func(u *upsets, _ *Fault) { u.line.cut = true }},
	{Name: "mcu_reset", Takes: TakesNothing, PulseMs: 1,
		Help:  "the microcontroller restarts",
		apply: func(u *upsets, _ *Fault) { u.reset = true }},
	{Name: "mcu_hang", Takes: TakesNothing,
		Help:  "the microcontroller's program stands still, its own watchdog with it; it restarts when this ends",
		apply: func(u *upsets, _ *Fault) { u.hang = true }},
	{Name: "watchdog_dead", Takes: TakesNothing,
		Help:  "the outside watchdog's relay is welded and never opens",
		apply: func(u *upsets, _ *Fault) { u.watchdogDead = true }},
	{Name: "nv_dead", Takes: TakesNothing,
		Help:  "the non-volatile byte cannot be written",
		apply: func(u *upsets, _ *Fault) { u.nvDead = true }},

	{Name: "flame_out", Takes: TakesNothing,
		Help:  "the true flame goes out and cannot burn",
		apply: func(u *upsets, _ *Fault) { u.flameOut = true }},
	{Name: "igniter_dead", Takes: TakesNothing,
		Help:  "no spark",
		apply: func(u *upsets, _ *Fault) { u.igniterDead = true }},
	{Name: "fuel1_stuck_open", Takes: TakesNothing,
		Help:  "the first fuel valve stays open",
		apply: func(u *upsets, _ *Fault) { u.fuel1Open = true }},
	{Name: "fuel2_stuck_open", Takes: TakesNothing,
		Help:  "the second fuel valve stays open",
		apply: func(u *upsets, _ *Fault) { u.fuel2Open = true }},
	{Name: "oxygen_stuck_open", Takes: TakesNothing,
		Help:  "the oxygen valve stays open",
		apply: func(u *upsets, _ *Fault) { u.oxygenOpen = true }},
	{Name: "fuel_pressure", Takes: TakesValue, Dim: units.Share, High: 400,
		Help:  "fuel pressure, share of the usual",
		apply: func(u *upsets, f *Fault) { u.fuelPressure = f.Value / 100 }},
	{Name: "oxygen_pressure", Takes: TakesValue, Dim: units.Share, High: 400,
		Help:  "oxygen pressure, share of the usual",
		apply: func(u *upsets, f *Fault) { u.oxygenPressure = f.Value / 100 }},
	{Name: "fuel1_leaks", Takes: TakesValue, Dim: units.Flow, High: 10,
		Help:  "the seat of the first fuel valve leaks, at the usual pressure",
		apply: func(u *upsets, f *Fault) { u.fuel1Leak = f.Value }},
	{Name: "fuel2_leaks", Takes: TakesValue, Dim: units.Flow, High: 10,
		Help:  "the seat of the second fuel valve leaks, at the usual pressure",
		apply: func(u *upsets, f *Fault) { u.fuel2Leak = f.Value }},
	{Name: "oxygen_leaks", Takes: TakesValue, Dim: units.Flow, High: 10,
		Help:  "the seat of the oxygen valve leaks, at the usual pressure",
		apply: func(u *upsets, f *Fault) { u.oxygenLeak = f.Value }},
	{Name: "fuel_flow_gain", Takes: TakesValue, Dim: units.Share, High: 1000,
		Help:  "the fuel's flow controller gives this share of what it is asked for",
		apply: func(u *upsets, f *Fault) { u.fuelFlow.gain = f.Value / 100 }},
	{Name: "oxygen_flow_gain", Takes: TakesValue, Dim: units.Share, High: 1000,
		Help:  "the oxygen's flow controller gives this share of what it is asked for",
		apply: func(u *upsets, f *Fault) { u.oxygenFlow.gain = f.Value / 100 }},
	{Name: "fuel_flow_fixed", Takes: TakesValue, Dim: units.Flow, High: 30,
		Help:  "the fuel's flow controller gives this flow whatever it is asked for, while its valves are open",
		apply: func(u *upsets, f *Fault) { u.fuelFlow.fix(f.Value * 1000) }},
	{Name: "oxygen_flow_fixed", Takes: TakesValue, Dim: units.Flow, High: 30,
		Help:  "the oxygen's flow controller gives this flow whatever it is asked for, while its valve is open",
		apply: func(u *upsets, f *Fault) { u.oxygenFlow.fix(f.Value * 1000) }},
	{Name: "extraction_fail", Takes: TakesNothing,
		Help:  "the extraction fan stops",
		apply: func(u *upsets, _ *Fault) { u.extractionFail = true }},

	{Name: "glass_stuck", Takes: TakesNothing,
		Help:  "the glass sticks in the upper half and does not let go",
		apply: func(u *upsets, _ *Fault) { u.glassStuck = true }},
	{Name: "spindle_stall", Takes: TakesNothing,
		Help:  "the spindle is held fast",
		apply: func(u *upsets, _ *Fault) { u.spindleStall = true }},
	{Name: "spindle_backwards", Takes: TakesNothing,
		Help:  "the spindle turns the other way",
		apply: func(u *upsets, _ *Fault) { u.spindleBackwards = true }},
	{Name: "spindle_gain", Takes: TakesValue, Dim: units.Share, High: 1000,
		Help:  "the spindle turns at this share of what its drive is asked for",
		apply: func(u *upsets, f *Fault) { u.spindleSpeed.gain = f.Value / 100 }},
	{Name: "spindle_fixed", Takes: TakesValue, Dim: units.Rotation, High: 3000,
		Help:  "the spindle turns at this speed whatever is asked for, also when nothing is",
		apply: func(u *upsets, f *Fault) { u.spindleSpeed.fix(f.Value) }},
	{Name: "chuck_open", Takes: TakesNothing,
		Help:  "the chuck lets go of the glass",
		apply: func(u *upsets, _ *Fault) { u.off |= warden.InChuckClamped }},
	{Name: "press_gain", Takes: TakesValue, Dim: units.Share, High: 1000,
		Help:  "a driven press moves at this share of the speed that it is told, by hold-to-run too",
		apply: func(u *upsets, f *Fault) { u.pressGain = f.Value / 100 }},
	{Name: "press_jam", Takes: TakesNothing,
		Help:  "the press does not move",
		apply: func(u *upsets, _ *Fault) { u.pressJam = true }},
	{Name: "slide_jam", Takes: TakesNothing,
		Help:  "the burner slide does not move",
		apply: func(u *upsets, _ *Fault) { u.slideJam = true }},

	{Name: "press", Takes: TakesButton, PulseMs: pressMs,
		Help:  "a button is pressed",
		apply: pressIt},
	{Name: "bounce", Takes: TakesSwitch, PulseMs: bounceMs,
		Help:  "a contact bounces: from the first millisecond on, every second one reads the other way",
		apply: func(u *upsets, f *Fault) { u.bounce |= switchBit(f.Target) }},
	{Name: "by_hand", Takes: TakesInput,
		Help:  "a person holds a switch on or off with a finger",
		apply: byHand},
	{Name: "pulse_lost", Takes: TakesNothing,
		Help:  "the pulse wire to the outside watchdog is pulled",
		apply: func(u *upsets, _ *Fault) { u.pulseOut = true }},
	{Name: "bus_a_bridged", Takes: TakesNothing,
		Help:  "bus A has 24 V past the contact of the emergency stop relay",
		apply: func(u *upsets, _ *Fault) { u.busBridged = true }},
	{Name: "bus_a_short", Takes: TakesNothing,
		Help:  "bus A is shorted to 24 V behind all contacts",
		apply: func(u *upsets, _ *Fault) { u.busShort = true }},
	{Name: "door_relay_welded", Takes: TakesNothing,
		Help:  "the door's safety relay does not drop, its contact to the board does",
		apply: func(u *upsets, _ *Fault) { u.doorWelded = true }},
	{Name: "key_welded", Takes: TakesNothing,
		Help:  "the set-up key's contact in the gas limits stays made",
		apply: func(u *upsets, _ *Fault) { u.keyWelded = true }},
	{Name: "brake_slips", Takes: TakesNothing,
		Help:  "the press brake does not hold: the press sinks slowly",
		apply: func(u *upsets, _ *Fault) { u.brakeSlips = true }},
	{Name: "brake_late", Takes: TakesValue, Dim: units.Time, High: 10,
		Help:  "the press brake grips so much later",
		apply: func(u *upsets, f *Fault) { u.brakeLateMs = uint32(f.Value * 1000) }},
	{Name: "sto_open", Takes: TakesNothing,
		Help:  "the safe torque off circuit of the spindle drive is opened at its terminal",
		apply: func(u *upsets, _ *Fault) { u.stoOpen = true }},
	{Name: "sto_dead", Takes: TakesNothing,
		Help:  "the spindle drive turns in spite of safe torque off",
		apply: func(u *upsets, _ *Fault) { u.stoDead = true }},
	{Name: "spindle_overruns", Takes: TakesValue, Dim: units.Time, High: 60,
		Help:  "the spindle goes on turning so much longer",
		apply: func(u *upsets, f *Fault) { u.overrunMs = uint32(f.Value * 1000) }},
	{Name: "spindle_shown", Takes: TakesValue, Dim: units.Share, High: 400,
		Help:  "the spindle sensor shows this share of the speed",
		apply: func(u *upsets, f *Fault) { u.spindleShown = f.Value / 100 }},
	{Name: "fan_run_on_dead", Takes: TakesNothing,
		Help:  "the fan's timer relay drops at once",
		apply: func(u *upsets, _ *Fault) { u.runOnDead = true }},
	{Name: "horn_dead", Takes: TakesNothing,
		Help:  "the horn is silent",
		apply: func(u *upsets, _ *Fault) { u.hornDead = true }},
	{Name: "lamp_dead", Takes: TakesNothing,
		Help:  "the lockout lamp stays dark",
		apply: func(u *upsets, _ *Fault) { u.lampDead = true }},
	{Name: "relief_stuck", Takes: TakesNothing,
		Help:  "the relief valve of the press opens at twice its pressure",
		apply: func(u *upsets, _ *Fault) { u.reliefStuck = true }},

	{Name: "door_open", Takes: TakesNothing,
		Help:  "the safety door stands open",
		apply: func(u *upsets, _ *Fault) { u.off |= warden.InDoorClosed }},
	{Name: "set_up", Takes: TakesNothing,
		Help:  "the key switch stands at set-up",
		apply: func(u *upsets, _ *Fault) { u.on |= warden.InSetUp }},
	{Name: "estop", Takes: TakesNothing,
		Help:  "the emergency stop is pressed",
		apply: func(u *upsets, _ *Fault) { u.off |= warden.InEstopOK }},
}

// upsets are all acting faults put together, as the plant and the sensors see
// them. The zero value is not healthy: use healthy.
type upsets struct {
	on, off       uint32                    // switches that read so whatever is true
	handOn        uint32                    // switches that a person holds on
	handOff       uint32                    // or off
	stuck, lost   uint16                    // channels
	noise, offset [warden.NumAnalog]float64 // counts
	line          lineUpsets

	flameOut, igniterDead             bool
	fuel1Open, fuel2Open, oxygenOpen  bool
	fuelPressure, oxygenPressure      float64 // share of the usual
	extractionFail, glassStuck        bool
	spindleStall, pressJam, slideJam  bool
	reset, nvDead, hang, watchdogDead bool
	fuel1Leak, fuel2Leak, oxygenLeak  float64 // L/min past the seat at the usual pressure

	fuelFlow, oxygenFlow, spindleSpeed follower // flow controllers, mL/min; spindle drive, rpm
	spindleBackwards                   bool
	pressGain                          float64
	bounce                             uint32 // contacts that bounce
	flipped                            uint32 // those that read the other way this millisecond

	pulseOut, busShort, busBridged, doorWelded, keyWelded bool
	brakeSlips, stoOpen, stoDead, runOnDead               bool
	hornDead, lampDead, reliefStuck                       bool
	brakeLateMs, overrunMs                                uint32
	spindleShown                                          float64 // share of the true speed
}

// bounceMs is how long a contact bounces where no time is given [common
// practice, no source: some milliseconds].
const bounceMs = 5

func healthy() upsets {
	obeys := follower{gain: 1}
	return upsets{fuelPressure: 1, oxygenPressure: 1, fuelFlow: obeys, oxygenFlow: obeys,
		spindleSpeed: obeys, pressGain: 1, spindleShown: 1}
}

// follower is what makes a flow or a speed of what it is asked for.
type follower struct {
	gain  float64
	stuck bool
	at    float64 // while stuck
}

func (f *follower) fix(at float64) { f.stuck, f.at = true, at }

func (f *follower) gives(asked float64) float64 {
	if f.stuck {
		return f.at
	}
	return asked * f.gain
}

func stick(u *upsets, f *Fault) {
	if b := switchBit(f.Target); b != 0 {
		if f.On {
			u.on |= b
		} else {
			u.off |= b
		}
		return
	}
	u.stuck |= 1 << channelIndex(f.Target)
}

func addCounts(to *[warden.NumAnalog]float64, f *Fault) {
	i := channelIndex(f.Target)
	to[i] += f.Value / analogScale(i)
}

func pressIt(u *upsets, f *Fault) {
	if b, ok := ButtonNamed(f.Target); ok {
		u.on |= buttonBits[b]
	}
}

// injected is a fault with how far it has come.
type injected struct {
	fault Fault
	kind  *FaultKind
	due   bool // its condition has been true
	dueMs uint64
	acts  bool
	endMs uint64 // 0: until cleared
}

// faults are all that wait or act. n is how many of list are in use.
type faults struct {
	list [MaxFaults]injected
	n    int
}

// Inject adds a fault. It fails when the fault is no row of FaultKinds, names
// something that does not exist, or MaxFaults are waiting or acting.
func (r *Rig) Inject(f Fault) error {
	kind, err := checkFault(&f)
	if err != nil {
		return err
	}
	if r.faults.n == MaxFaults {
		return fmt.Errorf("%d faults wait or act already; clear some first", MaxFaults)
	}
	if f.ForMs == 0 {
		f.ForMs = kind.PulseMs
	}
	r.faults.list[r.faults.n] = injected{fault: f, kind: kind}
	r.faults.n++
	return nil
}

// Clear ends every fault of that name, "all" for every fault, and returns how
// many there were.
func (r *Rig) Clear(name string) int {
	cleared := r.faults.remove(func(i *injected) bool { return name == "all" || i.fault.Name == name })
	r.up = r.faults.together()
	return cleared
}

// Faults lists the faults that wait or act, in the order given.
func (r *Rig) Faults() []Fault {
	list := make([]Fault, r.faults.n)
	for i := range list {
		list[i] = r.faults.list[i].fault
	}
	return list
}

func (fs *faults) remove(gone func(*injected) bool) int {
	kept := 0
	for i := 0; i < fs.n; i++ {
		if gone(&fs.list[i]) {
			continue
		}
		fs.list[kept] = fs.list[i]
		kept++
	}
	removed := fs.n - kept
	fs.n = kept
	return removed
}

// step begins and ends faults and reports whether what acts has changed.
func (fs *faults) step(r *Rig) bool {
	changed, ended := false, false
	now := r.plant.ms
	for i := 0; i < fs.n; i++ {
		f := &fs.list[i]
		if !f.due && r.triggered(&f.fault.When) {
			f.due = true
			f.dueMs = now + uint64(f.fault.When.AfterMs)
		}
		if f.due && !f.acts && now >= f.dueMs {
			f.acts, changed = true, true
			f.endMs = 0
			if f.fault.ForMs > 0 {
				f.endMs = now + uint64(f.fault.ForMs)
			}
		}
		ended = ended || f.over(now)
	}
	if ended {
		fs.remove(func(f *injected) bool { return f.over(now) })
	}
	return changed || ended
}

func (f *injected) over(now uint64) bool { return f.acts && f.endMs > 0 && now >= f.endMs }

func (fs *faults) together() upsets {
	u := healthy()
	for i := 0; i < fs.n; i++ {
		if f := &fs.list[i]; f.acts {
			f.kind.apply(&u, &f.fault)
		}
	}
	return u
}

// triggered looks at the condition of t now.
func (r *Rig) triggered(t *Trigger) bool {
	switch t.Kind {
	case TriggerNow:
		return true
	case TriggerAt:
		return r.plant.ms >= t.AtMs
	case TriggerBurner:
		return r.mcu.state.Burner == t.Phase
	case TriggerPress:
		return r.mcu.state.Press == t.Phase
	}
	v := r.trueValue(t.AI)
	if t.AtLeast {
		return v >= t.Value
	}
	return v <= t.Value
}

// apply puts the acting faults between the sensors and the microcontroller.
func (u *upsets) apply(in, before *warden.Input, rnd *chance) {
	in.Bits = (in.Bits&^u.off | u.on) ^ u.flipped
	if u.stuck|u.lost == 0 && u.noise == ([warden.NumAnalog]float64{}) &&
		u.offset == ([warden.NumAnalog]float64{}) {
		return
	}
	for i := range in.Analog {
		if u.stuck&(1<<i) != 0 {
			in.Analog[i] = before.Analog[i]
			in.AnalogOK |= before.AnalogOK & (1 << i)
			continue
		}
		in.Analog[i] = clampInt16(float64(in.Analog[i]) + u.offset[i] + u.noise[i]*rnd.spread())
	}
	in.AnalogOK &^= u.lost
	if u.stuck&(1<<warden.AiGlass) != 0 {
		in.GlassAgeMs = 0 // a stuck sensor lies about its age too
	}
}
