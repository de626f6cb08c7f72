package safety

import (
	"slices"
	"strings"
	"testing"

	"pressrig/safety/warden"
)

// stage is a sequence of ticks of a warden that does what no warden may: the
// last one is judged.
type stage struct {
	t     *testing.T
	w     Watch
	in    warden.Input
	out   warden.Output
	after warden.State
}

func newStage(t *testing.T) *stage {
	s := &stage{t: t, w: Watch{Config: builtin(t, "driven").WardenConfig()}}
	s.in.Bits = warden.InEstopOK | warden.InDoorClosed | warden.InExtraction | warden.InPressOpen |
		warden.InBurnerClear | warden.InMainsOK
	s.in.AnalogOK = 1<<warden.NumAnalog - 1
	s.in.Analog[warden.AiGlass] = 8000
	s.in.Fresh, s.in.Request.Lease = 1, 15
	s.after.Homed = 1
	s.after.Press, s.out.Bits = warden.PressStay, warden.OutBrake
	s.ticks(1) // power-up
	s.w.low, s.w.hi = 7000, 9000
	return s
}

func (s *stage) ticks(n int) {
	for range n {
		s.w.Step(&Tick{In: &s.in, Out: &s.out, After: &s.after})
	}
}

// said is all that the checks say to one more tick.
func (s *stage) said() []string {
	tick := &Tick{In: &s.in, Out: &s.out, After: &s.after}
	s.w.count(tick)
	var all []string
	for i, k := range Contradictions {
		if s.w.heldMs[i] > k.Longest(&s.w.Config) {
			all = append(all, k.What)
		}
	}
	for _, check := range watchChecks {
		if b := check(&s.w, tick); b.Number != 0 {
			all = append(all, b.What)
		}
	}
	return all
}

// closes makes the press close with everything right.
func (s *stage) closes() {
	s.after.Started, s.after.Press = 1, warden.PressClosing
	s.out.Bits = warden.OutPressClose
}

// trips makes causes trip with their own first.
func (s *stage) trips(first uint8, causes ...uint8) {
	s.after.First, s.after.Trips = first, 0
	for _, c := range causes {
		s.after.Trips |= 1 << c
	}
	r := strongestTyped(s.after.Trips)
	s.after.Gas, s.after.Spin, s.after.Above, s.after.Touch, s.after.Lock = r.Gas, r.Spindle, r.Above, r.Contact, r.Lock
}

const (
	fuelOut = warden.OutFuel
	flameIn = warden.InFlame
)

// Every sentence of the watch is said to the tick that deserves it, and not to
// the tick before the fault.
func TestWatchSaysWhatIsBroken(t *testing.T) {
	for words, play := range map[string]func(*stage){
		"one fuel valve open, the other not": func(s *stage) { s.out.Bits = warden.OutFuel1 },
		"fuel open unlit":                    func(s *stage) { s.out.Bits = fuelOut; s.ticks(3000) },
		"fuel open for longer after": func(s *stage) {
			s.out.Bits = fuelOut
			s.in.Bits |= flameIn
			s.ticks(3000)
			s.in.Bits &^= flameIn
			s.ticks(int(s.w.Config.FlameOffMs))
		},
		"igniter on in run": func(s *stage) {
			s.in.Bits |= flameIn
			s.out.Bits, s.after.Burner = fuelOut|warden.OutIgniter, warden.BurnerRun
		},
		"oxygen opened before": func(s *stage) { s.out.Bits = fuelOut | warden.OutOxygen },
		"oxygen open without fuel": func(s *stage) {
			s.in.Bits |= flameIn
			s.ticks(1001)
			s.out.Bits = warden.OutOxygen
		},
		"oxygen outlived the flame": func(s *stage) {
			s.in.Bits |= flameIn
			s.ticks(1001)
			s.out.Bits = fuelOut | warden.OutOxygen
			s.ticks(1)
			s.in.Bits &^= flameIn
			s.ticks(int(s.w.Config.FlameOffMs))
		},
		"more than 4 s of unburnt fuel":   func(s *stage) { s.out.Bits = fuelOut; s.ticks(4000) },
		"with the emergency stop open":    func(s *stage) { s.in.Bits &^= warden.InEstopOK; s.out.Bits = fuelOut },
		"closing force after START":       func(s *stage) { s.out.Bits = warden.OutPressClose; s.ticks(1001) },
		"is on in lockout":                func(s *stage) { s.trips(1, 1); s.out.Bits = fuelOut },
		"lockout ended without an edge":   func(s *stage) { s.trips(1, 1); s.ticks(1); s.trips(0) },
		"fuel opened again without":       func(s *stage) { s.out.Bits = fuelOut },
		"started without an edge":         func(s *stage) { s.after.Started = 1 },
		"an energising output rose":       func(s *stage) { s.out.Bits = warden.OutIgniter },
		"START not voided by a trip":      func(s *stage) { s.after.Started = 1; s.ticks(1); s.trips(1, 1) },
		"outlived the fuel lease":         func(s *stage) { s.in.Fresh = 0; s.out.Bits = fuelOut; s.ticks(501) },
		"oxygen outlived its lease":       func(s *stage) { s.in.Fresh = 0; s.out.Bits = warden.OutOxygen; s.ticks(501) },
		"closing force outlived":          func(s *stage) { s.closes(); s.in.Fresh = 0; s.ticks(501) },
		"the spindle outlived":            func(s *stage) { s.after.Spindle = warden.SpindleRun; s.in.Fresh = 0; s.ticks(501) },
		"closing with the door open":      func(s *stage) { s.closes(); s.in.Bits &^= warden.InDoorClosed },
		"spindle not in its press state":  func(s *stage) { s.closes(); s.in.AnalogOK &^= 1 << warden.AiSpindle },
		"with the burner in the way":      func(s *stage) { s.closes(); s.in.Bits &^= warden.InBurnerClear },
		"the glass outside the window":    func(s *stage) { s.closes(); s.in.Analog[warden.AiGlass] = 9001 },
		"before the press was seen open":  func(s *stage) { s.closes(); s.after.Homed = 0 },
		"sent in with the press not open": func(s *stage) { s.notOpen(); s.out.Bits = warden.OutBurnerIn },
		"at the blank with the press not": func(s *stage) { s.notOpen(); s.flameAtBlank(); s.ticks(710) },
		"over a still spindle":            func(s *stage) { s.flameAtBlank(); s.ticks(2010) },
		"fuel open without extraction": func(s *stage) {
			s.out.Bits = fuelOut
			s.in.Bits &^= warden.InExtraction
			s.ticks(1010)
		},
		"fuel shut before oxygen": func(s *stage) {
			s.out.Bits = fuelOut | warden.OutOxygen
			s.ticks(1)
			s.out.Bits = warden.OutOxygen
		},
		"not shut in the tick of a shut": func(s *stage) { s.trips(1, 1); s.out.Bits = fuelOut },
		"oxygen not shut at once":        func(s *stage) { s.trips(8, 8); s.out.Bits = fuelOut | warden.OutOxygen },
		"longer into a sequenced":        func(s *stage) { s.trips(8, 8); s.out.Bits = fuelOut; s.ticks(501) },
		"not the strongest":              func(s *stage) { s.trips(1, 1); s.after.Gas = warden.GasKeep },
		"a first cause without a trip":   func(s *stage) { s.after.First = 3 },
		"a trip without a first cause":   func(s *stage) { s.trips(3, 1) },
		"the first cause changed":        func(s *stage) { s.trips(1, 1, 3); s.ticks(1); s.after.First = 3 },
		"ranks before the first cause":   func(s *stage) { s.trips(8, 1, 8) },
		"has a lower number":             func(s *stage) { s.trips(3, 1, 3) },
		"hold-to-run without its button": func(s *stage) { s.after.Press = warden.PressHandOpen },
		"outside set-up or faster": func(s *stage) {
			s.in.Bits |= warden.InHoldTurn
			s.after.Spindle = warden.SpindleHand
		},
		"faster than 10 mm/s": func(s *stage) {
			s.in.Bits |= warden.InHoldOpen
			s.after.Press, s.out.SpeedCmms = warden.PressHandOpen, 1001
		},
		"a cycle goes on in set-up": func(s *stage) { s.in.Bits |= warden.InSetUp; s.after.Armed = 1 },
		"fuel open in set-up": func(s *stage) {
			s.in.Bits |= warden.InSetUp
			s.out.Bits = fuelOut
			s.ticks(1001)
		},
		"closing force in set-up": func(s *stage) {
			s.in.Bits |= warden.InSetUp
			s.out.Bits = warden.OutPressClose
			s.ticks(1001)
		},
		"a second stroke without": func(s *stage) {
			s.in.Bits |= warden.InTwoHandLeft | warden.InTwoHandRight
			s.in.Bits &^= warden.InDoorClosed
			s.closes()
			s.ticks(2)
			s.after.Press, s.out.Bits = warden.PressStay, 0
			s.ticks(2)
			s.closes()
		},
		"soft glass does not creep": func(s *stage) {
			s.turns()
			s.trips(21, 21)
			s.after.Spindle, s.out.SpindleDrpm = warden.SpindleCreep, s.w.Config.CreepDrpm
			s.ticks(int(s.w.Config.CreepMs) - 1) // and one more is due
			s.out.SpindleDrpm--
		},
		"that no row takes was stopped": func(s *stage) { s.turns(); s.trips(34, 34); s.out.SpindleDrpm-- },
		"no row takes was shut": func(s *stage) {
			s.burns()
			s.trips(34, 34)
			s.out.Bits &^= fuelOut
		},
		"or starved": func(s *stage) { s.burns(); s.out.FuelMl-- },
		"stopped by a leak": func(s *stage) {
			s.out.Bits |= warden.OutFan
			s.ticks(1)
			s.trips(31, 31)
			s.out.Bits &^= warden.OutFan
		},
		"for the whole post-purge": func(s *stage) {
			s.burns()
			s.ticks(1)
			s.out.Bits &^= fuelOut
			s.ticks(int(s.w.Config.PostPurgeMs) - 2)
			s.out.Bits &^= warden.OutFan
		},
		"the brake does not hold":  func(s *stage) { s.out.Bits = 0 },
		"the horn is silent":       func(s *stage) { s.trips(33, 33) },
		"the lockout lamp is dark": func(s *stage) { s.trips(1, 1) },
		"started with the link dead": func(s *stage) {
			s.after.Armed = 1
			s.ticks(600)
			s.in.Bits |= warden.InStart
			s.after.Armed, s.after.Started = 0, 1
		},
	} {
		t.Run(words, func(t *testing.T) {
			s := newStage(t)
			if all := s.said(); len(all) != 0 {
				t.Fatalf("before: %q", all)
			}
			s = newStage(t)
			play(s)
			all := s.said()
			if !slices.ContainsFunc(all, func(what string) bool { return strings.Contains(what, words) }) {
				t.Errorf("said %q", all)
			}
		})
	}
}

// turns makes the spindle turn for a cycle, asked for.
func (s *stage) turns() {
	s.after.Started, s.after.Spindle = 1, warden.SpindleRun
	s.in.Request.SpindleDrpm, s.out.SpindleDrpm = 600, 600
	s.out.Bits |= warden.OutSpindle
	s.ticks(1)
	s.after.Started = 0
}

// burns makes a soft flame burn, asked for.
func (s *stage) burns() {
	s.after.Burner = warden.BurnerRun
	s.in.Bits |= flameIn
	s.in.Request.Flags |= warden.ReqFlame
	s.in.Request.FuelMl, s.out.FuelMl = 800, 800
	s.out.Bits |= fuelOut | warden.OutFan
	s.ticks(1)
}

func (s *stage) notOpen() {
	s.in.Bits &^= warden.InPressOpen
	s.in.Analog[warden.AiTravel] = 3000
}

func (s *stage) flameAtBlank() {
	s.out.Bits = fuelOut
	s.in.Bits |= flameIn | warden.InBurnerAtBlank
}
