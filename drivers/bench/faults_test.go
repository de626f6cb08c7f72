package bench

import (
	"math"
	"strconv"
	"testing"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// lit is a host with the burner running.
func lit(t *testing.T) *host {
	h := newHost(t, "driven", nil)
	h.light()
	h.ms(100)
	return h
}

func idle(t *testing.T) *host {
	h := newHost(t, "driven", nil)
	h.ms(100)
	return h
}

// sharp is a host with the burner at the blank, oxygen open.
func sharp(t *testing.T) *host {
	h := lit(t)
	h.heat(900, 1200, 100, 20000)
	h.ms(500)
	return h
}

// cocksShut is an idle host whose cocks at the supplies are shut.
func cocksShut(t *testing.T) *host {
	h := idle(t)
	h.r.Hand(HandFuelCockShut)
	h.r.Hand(HandOxygenCockShut)
	return h
}

// with is h with a fault that ends after so many milliseconds, 0 for not.
func with(t *testing.T, h *host, name string, afterMs, forMs uint32) *host {
	t.Helper()
	if err := h.r.Inject(Fault{Name: name, When: Trigger{AfterMs: afterMs}, ForMs: forMs}); err != nil {
		t.Fatal(err)
	}
	return h
}

// hanging is a lit host whose microcontroller will stand still for half a second.
func hanging(t *testing.T) *host { return with(t, lit(t), "mcu_hang", 50, 500) }

// dangerous is what bus A carries, and the spindle.
const dangerous = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn | warden.OutSpindle |
	warden.OutPressClose | warden.OutPressOpen

func stopped(t *testing.T) *host {
	h := idle(t)
	h.r.SetEstop(true)
	h.ms(20)
	return h
}

func doorOpen(t *testing.T) *host {
	h := idle(t)
	h.r.SetDoor(false)
	h.ms(20)
	return h
}

// keyUnread is a host about to light up with the key at set-up and its wire to
// the board pulled: the warden does not know.
func keyUnread(t *testing.T) *host {
	h := idle(t)
	h.r.SetSetUp(true)
	if err := h.r.Inject(Fault{Name: "by_hand", Target: "set_up", ForMs: 60_000}); err != nil {
		t.Fatal(err)
	}
	h.ms(20)
	h.start()
	return h
}

// handClosing is a host whose press closes by hold-to-run for another half second.
func handClosing(t *testing.T) *host {
	h := idle(t)
	h.r.Press(ButtonClose, 1500)
	h.ms(1000)
	return h
}

func halfClosed(t *testing.T) *host {
	h := handClosing(t)
	h.ms(1000)
	return h
}

// handTurning is a host whose spindle turns by hold-to-run for another second.
func handTurning(t *testing.T) *host {
	h := idle(t)
	h.r.SetSetUp(true)
	h.ms(100)
	h.r.Press(ButtonTurn, 3000)
	h.ms(2000)
	return h
}

func torqueOff(t *testing.T) *host {
	return with(t, handTurning(t), "sto_open", 0, 1000)
}

// restarted is a host whose board restarted while the fan ran.
func restarted(t *testing.T) *host {
	h := lit(t)
	h.r.Reset()
	h.ms(2000)
	if h.r.Truth().Extraction < 0.9 || h.r.asked().Bits&warden.OutFan != 0 {
		t.Fatal("the fan does not run on")
	}
	return h
}

// leaking is a host whose gas detector alarms.
func leaking(t *testing.T) *host {
	h := idle(t)
	if err := h.r.Inject(Fault{Name: "by_hand", Target: "gas_alarm", On: true, ForMs: 3000}); err != nil {
		t.Fatal(err)
	}
	h.ms(50)
	if truth := h.r.Truth(); !truth.Horn || !truth.LockLamp {
		t.Fatalf("horn %v, lockout lamp %v at a gas alarm", truth.Horn, truth.LockLamp)
	}
	return h
}

// closing is a host whose press is on its way down to hot glass, burner clear.
func closing(t *testing.T) *host {
	h := lit(t)
	h.r.plant.glass.Load(880)
	h.r.plant.state = h.r.plant.glass.State()
	h.aside()
	h.until("spindle still", 3000, func() bool { return h.r.plant.spindle.rpm == 0 })
	h.stroke(warden.PressClose, 6000, 3000, 2500)
	h.until("under way", 2000, func() bool { return h.r.Truth().TravelMM > 20 })
	return h
}

// faultCases is one case a row of FaultKinds, or more: how it shows in what is
// true or in what the warden sees, and that it goes away again.
var faultCases = []struct {
	kind, line string
	rig        func(*testing.T) *host
	ms         int // until it must show
	shows      func(*host) bool
	stays      bool // does not go away by itself when cleared
}{
	{"stuck", "stuck flame on", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InFlame != 0 && !h.r.Truth().Flame
	}, false},
	{"stuck", "stuck extraction off", lit, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InExtraction == 0 && h.r.Truth().Extraction > 0.9
	}, true},
	{"stuck", "stuck spindle", lit, 50, func(h *host) bool {
		before := h.r.mcu.in.Analog[warden.AiSpindle]
		for range 20 {
			h.ms(1)
			if h.r.mcu.in.Analog[warden.AiSpindle] != before {
				return false
			}
		}
		return before > 500
	}, false},
	{"lost", "lost mould_lower", idle, 20, func(h *host) bool {
		return h.r.mcu.in.AnalogOK&(1<<warden.AiMouldLower) == 0
	}, false},
	{"noisy", "noisy force 20 N", idle, 50, func(h *host) bool {
		return math.Abs(float64(h.r.mcu.in.Analog[warden.AiForce])) > 50
	}, false},
	{"offset", "offset mould_upper 40 K", idle, 5, func(h *host) bool {
		return float64(h.r.mcu.in.Analog[warden.AiMouldUpper]) > 10*h.r.Truth().UpperC+380
	}, false},
	{"line_flip", "line_flip 2 %", idle, 500, func(h *host) bool {
		return h.recv.Bad()+h.r.mcu.receiver.Bad() > 2
	}, true},
	{"line_drop", "line_drop 50 %", idle, 500, func(h *host) bool { return h.recv.Gaps > 10 }, true},
	{"line_repeat", "line_repeat 50 %", idle, 500, func(h *host) bool {
		return h.recv.Counts[wire.Repeated] > 10
	}, true},
	{"line_swap", "line_swap 50 %", idle, 500, func(h *host) bool {
		return h.recv.Counts[wire.OutOfOrder] > 5
	}, true},
	{"line_delay", "line_delay 300 ms", idle, 400, func(h *host) bool {
		return uint32(h.r.Ms())-h.snap.StampMs > 290
	}, false},
	{"line_cut", "line_cut", idle, 600, func(h *host) bool {
		before := h.snaps
		h.ms(100)
		return h.snaps == before && h.r.mcu.state.Link == warden.LinkDown
	}, true}, // until a new hello: TestLineCutHeals
	{"mcu_reset", "mcu_reset", lit, 5, func(h *host) bool { return h.r.Truth().Session == 2 }, true},
	{"nv_dead", "nv_dead", idle, 20000, func(h *host) bool {
		if h.r.mcu.state.Started == 0 && h.r.mcu.state.Trips == 0 {
			h.start()
		}
		return h.r.mcu.state.Trips&(1<<warden.CauseNV) != 0
	}, true},
	{"flame_out", "flame_out", lit, 2, func(h *host) bool { return !h.r.Truth().Flame }, true},
	{"igniter_dead", "igniter_dead", idle, 20000, func(h *host) bool {
		if h.r.mcu.state.Started == 0 && h.r.mcu.state.Trips == 0 {
			h.start()
		}
		return h.r.mcu.state.First == warden.CauseNoIgnition
	}, true},
	{"fuel1_stuck_open", "fuel1_stuck_open", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InFuelShut == 0 && h.r.Truth().FuelMl == 0
	}, false},
	{"fuel2_stuck_open", "fuel2_stuck_open", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InFuelShut == 0 && h.r.Truth().FuelMl == 0
	}, false},
	{"oxygen_stuck_open", "oxygen_stuck_open", idle, 300, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InOxygenShut == 0 && h.r.Truth().OxygenMl > 100
	}, false},
	{"fuel_pressure", "fuel_pressure 30 %", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InFuelLow != 0
	}, false},
	{"fuel_pressure", "fuel_pressure 200 %", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InFuelHigh != 0
	}, false},
	{"oxygen_pressure", "oxygen_pressure 30 %", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InOxygenLow != 0
	}, false},
	{"oxygen_pressure", "oxygen_pressure 200 %", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InOxygenHigh != 0
	}, false},
	{"extraction_fail", "extraction_fail", lit, 1500, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InExtraction == 0
	}, true},
	{"fuel1_leaks", "fuel1_leaks 0.1 L/min", cocksShut, 60_000, func(h *host) bool {
		h.r.Hand(HandTestCockOpen)
		return h.r.trueValue(warden.AiFuelPressure) < 0.5*fuelBar && h.r.Truth().BetweenBar == 0
	}, true},
	{"fuel2_leaks", "fuel2_leaks 0.01 L/min", cocksShut, 60_000, func(h *host) bool {
		return h.r.Truth().BetweenBar < 0.5*fuelBar && h.r.trueValue(warden.AiFuelPressure) == fuelBar
	}, true},
	{"oxygen_leaks", "oxygen_leaks 1 L/min", cocksShut, 20_000, func(h *host) bool {
		return h.r.trueValue(warden.AiOxygenPressure) < 0.5*oxygenBar
	}, true},
	{"stuck", "stuck fuel_flow", lit, 900, func(h *host) bool {
		h.want.FuelMl = 500
		return h.r.Truth().FuelMl < 510 && h.r.mcu.in.Analog[warden.AiFuelFlow] > 850
	}, false},
	{"fuel_flow_gain", "fuel_flow_gain 600 %", lit, 600, func(h *host) bool {
		return h.r.Truth().FuelMl > 5300 && h.r.mcu.in.Analog[warden.AiFuelFlow] > 5200
	}, false},
	{"oxygen_flow_gain", "oxygen_flow_gain 30 %", sharp, 600, func(h *host) bool {
		return h.r.Truth().OxygenMl < 400 && h.r.mcu.out.OxygenMl == 1200
	}, false},
	{"fuel_flow_fixed", "fuel_flow_fixed 1.5 L/min", lit, 600, func(h *host) bool {
		h.want.FuelMl = 0
		return h.r.Truth().FuelMl > 1490 && h.r.mcu.out.FuelMl == 0
	}, false},
	{"oxygen_flow_fixed", "oxygen_flow_fixed 3 L/min", sharp, 600, func(h *host) bool {
		return h.r.Truth().OxygenMl > 2900 && h.r.mcu.out.OxygenMl == 1200
	}, false},
	{"spindle_backwards", "spindle_backwards", lit, 1000, func(h *host) bool {
		return h.r.Truth().SpindleRPM < -20 && h.r.mcu.in.Analog[warden.AiSpindle] < -200
	}, false},
	{"spindle_gain", "spindle_gain 300 %", lit, 1000, func(h *host) bool {
		return h.r.Truth().SpindleRPM > 170 && h.r.mcu.out.SpindleDrpm == 600
	}, false},
	{"spindle_fixed", "spindle_fixed 250 rpm", idle, 1000, func(h *host) bool {
		return h.r.Truth().SpindleRPM > 240 && h.r.mcu.out.Bits&warden.OutSpindle == 0
	}, true}, // runs down in some seconds
	{"chuck_open", "chuck_open", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InChuckClamped == 0
	}, false},
	{"press_gain", "press_gain 300 %", closing, 300, func(h *host) bool {
		return h.r.plant.press.speedMMs > 1.5*float64(h.r.mcu.out.SpeedCmms)/100
	}, false},
	{"bounce", "bounce door_closed", idle, 2, func(h *host) bool {
		return h.r.RawBits()&warden.InDoorClosed == 0
	}, false},
	{"by_hand", "by_hand press_end on", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InPressEnd != 0 && h.r.Truth().TravelMM < 1
	}, false},
	{"mcu_hang", "mcu_hang", lit, 1000, func(h *host) bool {
		truth := h.r.Truth()
		return h.r.asked().Bits&warden.OutFuel != 0 && truth.BusAV == 0 && !truth.FuelOpen && truth.Session == 1
	}, false},
	{"watchdog_dead", "watchdog_dead", hanging, 1000, func(h *host) bool {
		return h.r.plant.chains.quietMs == watchdogMs && h.r.Truth().FuelOpen
	}, false},
	{"pulse_lost", "pulse_lost", lit, 110, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InWatchdogOK == 0 && h.r.Truth().BusAV == 0 && h.r.driven().Bits&dangerous == 0
	}, false},
	{"bus_a_bridged", "bus_a_bridged", stopped, 5, func(h *host) bool { return h.r.Truth().BusAV > 20 }, false},
	{"bus_a_short", "bus_a_short", stopped, 5, func(h *host) bool { return h.r.Truth().BusAV > 20 }, false},
	{"door_relay_welded", "door_relay_welded", doorOpen, 5, func(h *host) bool { return h.r.Truth().DoorPower }, false},
	{"key_welded", "key_welded", keyUnread, 40_000, func(h *host) bool { return h.r.Truth().FuelOpen }, false},
	{"brake_slips", "brake_slips", halfClosed, 3000, func(h *host) bool {
		before := h.r.Truth().TravelMM
		h.ms(100)
		return h.r.Truth().TravelMM > before && h.r.Truth().Out&warden.OutBrake != 0
	}, false},
	{"brake_late", "brake_late 300 ms", handClosing, 2000, func(h *host) bool {
		before := h.r.Truth().TravelMM
		h.ms(50)
		return h.r.Truth().TravelMM > before+0.3 && h.r.Truth().Out&warden.OutBrake != 0
	}, false},
	{"sto_open", "sto_open", handTurning, 10, func(h *host) bool {
		return h.r.asked().Bits&warden.OutSpindle != 0 && h.r.driven().Bits&warden.OutSpindle == 0
	}, false},
	{"sto_dead", "sto_dead", torqueOff, 100, func(h *host) bool {
		return h.r.up.stoOpen && h.r.driven().Bits&warden.OutSpindle != 0
	}, false},
	{"spindle_overruns", "spindle_overruns 3 s", handTurning, 4000, func(h *host) bool {
		return h.r.driven().Bits&warden.OutSpindle == 0 && h.r.Truth().SpindleRPM > 19
	}, false},
	{"spindle_shown", "spindle_shown 50 %", handTurning, 10, func(h *host) bool {
		return float64(h.r.mcu.in.Analog[warden.AiSpindle]) < 6*h.r.Truth().SpindleRPM
	}, false},
	{"fan_run_on_dead", "fan_run_on_dead", restarted, 3000, func(h *host) bool { return h.r.Truth().Extraction < 0.5 }, true},
	{"horn_dead", "horn_dead", leaking, 5, func(h *host) bool {
		return h.r.asked().Bits&warden.OutHorn != 0 && !h.r.Truth().Horn
	}, false},
	{"lamp_dead", "lamp_dead", leaking, 5, func(h *host) bool {
		return h.r.asked().Bits&warden.OutLockLamp != 0 && !h.r.Truth().LockLamp
	}, false},
	{"relief_stuck", "relief_stuck", idle, 5, func(h *host) bool { return h.r.Truth().ReliefBar > 10 }, false},
	{"glass_stuck", "glass_stuck", closing, 20000, func(h *host) bool {
		if h.want.Press != warden.PressOpen && h.r.Truth().HeightMM < 6 {
			h.stroke(warden.PressOpen, 0, 1000, 300)
		}
		return h.r.mcu.state.Trips&(1<<warden.CauseStuck) != 0 && h.r.Truth().TravelMM > 40
	}, true},
	{"spindle_stall", "spindle_stall", lit, 200, func(h *host) bool {
		return h.r.Truth().SpindleRPM < 1 && h.r.mcu.out.Bits&warden.OutSpindle != 0
	}, false},
	{"press_jam", "press_jam", closing, 500, func(h *host) bool {
		before := h.r.Truth().TravelMM
		h.ms(100)
		return h.r.Truth().TravelMM == before && h.r.mcu.out.Bits&warden.OutPressClose != 0
	}, false},
	{"slide_jam", "slide_jam", lit, 3000, func(h *host) bool {
		h.want.Flags |= warden.ReqBurnerIn
		return h.r.Truth().Slide == 0 && h.r.mcu.state.Trips&(1<<warden.CauseSlide) != 0
	}, true},
	{"press", "press OPEN for 1 s", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InHoldOpen != 0
	}, false},
	{"door_open", "door_open", idle, 10, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InDoorClosed == 0
	}, false},
	{"set_up", "set_up", idle, 5, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InSetUp != 0
	}, false},
	{"estop", "estop", idle, 10, func(h *host) bool {
		return h.r.mcu.in.Bits&warden.InEstopOK == 0 && h.r.mcu.state.First == warden.CauseEstop
	}, true},
}

func TestEachFaultShows(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range faultCases {
		seen[c.kind] = true
		t.Run(c.line, func(t *testing.T) {
			h := c.rig(t)
			if c.shows(h) {
				t.Fatal("shows before it is injected")
			}
			f, err := ParseFault(c.line)
			if err != nil {
				t.Fatal(err)
			}
			if f.Name != c.kind {
				t.Fatalf("is a %q", f.Name)
			}
			if err := h.r.Inject(f); err != nil {
				t.Fatal(err)
			}
			h.until("shows", c.ms, func() bool { return c.shows(h) })
			if c.kind != "mcu_reset" && h.r.Clear(c.kind) != 1 {
				t.Error("not cleared")
			}
			h.ms(1200)
			h.r.Clear("all")
			if !c.stays && c.shows(h) {
				t.Errorf("still shows after it was cleared: %+v", h.r.Truth())
			}
			if h.r.up != healthy() {
				t.Errorf("still upset: %+v", h.r.up)
			}
		})
	}
	for i := range FaultKinds {
		if !seen[FaultKinds[i].Name] {
			t.Errorf("no case shows fault %s", FaultKinds[i].Name)
		}
	}
}

// A contact that bounces for a millisecond reads the other way for exactly
// that one, longer every second millisecond, and whichever way it stood.
func TestContactBounces(t *testing.T) {
	for _, c := range []struct {
		line string
		bit  uint32
		want string // one digit a millisecond, before the filter
	}{
		{"bounce start for 1 ms", warden.InStart, "01000000"},
		{"bounce door_closed for 1 ms", warden.InDoorClosed, "10111111"},
		{"bounce estop_ok for 4 ms", warden.InEstopOK, "10101111"},
		{"bounce hold_open", warden.InHoldOpen, "01010100"},
	} {
		h := idle(t)
		got := ""
		for i := range 8 {
			if i == 1 {
				h.inject(c.line)
			}
			h.ms(1)
			got += strconv.Itoa(int(h.r.RawBits() & c.bit / c.bit))
		}
		if got != c.want {
			t.Errorf("%s: seen %s; %s", c.line, got, c.want)
		}
		h.ms(40)
		if c.bit != warden.InHoldOpen && h.r.mcu.state.Trips != 0 || h.r.mcu.state.Started != 0 || h.r.mcu.state.Armed != 0 {
			t.Errorf("%s: the warden takes it for meant: trips %#x", c.line, h.r.mcu.state.Trips)
		}
	}
}

// Hold-to-run moves faster than the warden tells the drive.
func TestHoldToRunTooFast(t *testing.T) {
	fastest := func(lines ...string) float64 {
		h := idle(t)
		for _, line := range append(lines, "press CLOSE for 5 s") {
			h.inject(line)
		}
		most := 0.0
		h.each = func() { most = max(most, h.r.plant.press.speedMMs) }
		h.until("moves", 4000, func() bool { return h.r.Truth().TravelMM > 1.5 })
		return most
	}
	within(t, "hold-to-run as told, mm/s", fastest(), 9, 10.01) // hand_speed of the profile
	within(t, "hold-to-run with press_gain 300 %, mm/s", fastest("press_gain 300 %"), 27, 30.01)
}

// A drive that pulls at its limit reads a little less as often as not; row 17
// still comes 500 ms after the limit is reached.
func TestStuckGlassIsNoticedThroughANoisyReading(t *testing.T) {
	h := closing(t)
	if err := h.r.Inject(Fault{Name: "glass_stuck"}); err != nil {
		t.Fatal(err)
	}
	h.until("pressed", 20000, func() bool { return h.r.Truth().HeightMM < 6 })
	h.stroke(warden.PressOpen, 0, 1000, 300)
	limitN := float64(h.cfg.PullMaxDN) / 10
	h.until("at the limit", 5000, func() bool { return h.r.Truth().ForceN <= -limitN })
	h.until("row 17", 510, func() bool { return h.r.mcu.state.First == warden.CauseStuck })
}

// Every switch of the channel list can be stuck both ways and every channel
// can be lost.
func TestEachInputCanBeStuck(t *testing.T) {
	h := idle(t)
	for _, s := range rig.Switches {
		if h.cfg.FittedIn&s.Bit == 0 {
			continue
		}
		for _, on := range []bool{true, false} {
			if err := h.r.Inject(Fault{Name: "stuck", Target: s.Name, On: on}); err != nil {
				t.Fatal(err)
			}
			h.ms(1)
			if got := h.r.RawBits()&s.Bit != 0; got != on { // the filter is the warden's
				t.Errorf("%s stuck %v reads %v", s.Name, on, got)
			}
			h.r.Clear("all")
		}
	}
	for _, c := range rig.Analogs {
		if err := h.r.Inject(Fault{Name: "lost", Target: c.Name}); err != nil {
			t.Fatal(err)
		}
		h.ms(1)
		if h.r.mcu.in.AnalogOK&(1<<c.AI) != 0 {
			t.Errorf("%s is lost and valid", c.Name)
		}
		h.r.Clear("all")
	}
}

func TestTriggers(t *testing.T) {
	for _, c := range []struct {
		line string
		at   func(h *host) (ok bool) // true when the fault should just have begun
	}{
		{"stuck flashback on @ burner=run+1s", func(h *host) bool {
			return h.r.mcu.state.Burner == warden.BurnerRun && h.r.mcu.state.PhaseMs >= 1000
		}},
		{"stuck flashback on @ fuel_flow>=0.5",
			func(h *host) bool { return h.r.plant.gas.fuelMl >= 500 }},
		{"stuck flashback on @ 6s", func(h *host) bool { return h.r.Ms() >= 6000 }},
	} {
		t.Run(c.line, func(t *testing.T) {
			h := newHost(t, "driven", nil)
			f, err := ParseFault(c.line)
			if err != nil {
				t.Fatal(err)
			}
			if err := h.r.Inject(f); err != nil {
				t.Fatal(err)
			}
			h.start()
			at := h.until("due", 20000, func() bool { return c.at(h) })
			got := h.until("acts", 3, func() bool { return h.r.RawBits()&warden.InFlashback != 0 })
			if got-at > 2 {
				t.Errorf("acts %d ms late", got-at)
			}
		})
	}
}

func TestFaultEndsByItself(t *testing.T) {
	h := idle(t)
	f, err := ParseFault("door_open for 250 ms")
	if err != nil {
		t.Fatal(err)
	}
	if err := h.r.Inject(f); err != nil {
		t.Fatal(err)
	}
	open := 0
	h.each = func() {
		if h.r.mcu.in.Bits&warden.InDoorClosed == 0 {
			open++
		}
	}
	h.ms(600)
	if open != 250 || len(h.r.Faults()) != 0 {
		t.Errorf("door open for %d ms; 250; %d faults left", open, len(h.r.Faults()))
	}
}

func TestInjectIsBounded(t *testing.T) {
	h := idle(t)
	for range MaxFaults {
		if err := h.r.Inject(Fault{Name: "door_open"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := h.r.Inject(Fault{Name: "door_open"}); err == nil {
		t.Errorf("fault %d was taken; at most %d", MaxFaults+1, MaxFaults)
	}
	for _, f := range []Fault{
		{}, {Name: "stuck", Target: "nose"}, {Name: "line_drop", Value: 101},
		{Name: "line_drop", Value: math.NaN()}, {Name: "flame_out", Target: "glass"},
		{Name: "estop", When: Trigger{Kind: 9}},
		{Name: "estop", When: Trigger{Kind: TriggerChannel, AI: 10}},
		{Name: "estop", When: Trigger{Kind: TriggerBurner, Phase: 11}},
		{Name: "estop", When: Trigger{Kind: TriggerPress, Phase: 8}},
		{Name: "estop", When: Trigger{Value: math.Inf(1)}},
	} {
		if _, err := checkFault(&f); err == nil {
			t.Errorf("%+v was taken", f)
		}
	}
}
