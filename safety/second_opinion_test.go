package safety

import (
	"testing"

	"pressrig/rig"
	"pressrig/safety/warden"
)

const (
	snapshotMs = 20
	opinionAt  = 5_000 // of the host's clock
)

// board feeds an opinion snapshots of a warden in one state, snapshotMs apart.
type board struct {
	o    opinion
	v    SupervisorView
	snap rig.Snapshot
	lie  func(*rig.Snapshot, *rig.Request)
	mute bool // no request is taken
}

// newBoard is a sound board: idle, or with a soft flame and a turning spindle.
func newBoard(t *testing.T, lit bool) *board {
	config := builtin(t, "driven").WardenConfig()
	b := &board{v: SupervisorView{ElapsedMs: opinionAt, Session: 7, Config: &config}}
	s := &b.snap
	s.In = warden.InEstopOK | warden.InDoorClosed | warden.InPressOpen | warden.InBurnerClear |
		warden.InFuelShut | warden.InOxygenShut | warden.InChuckClamped | warden.InMainsOK
	s.AnalogOK = 1<<warden.NumAnalog - 1
	s.Out, s.Press, s.Link = warden.OutBrake, warden.PressStay, warden.LinkUp
	s.LeaseCs = [warden.NumLeases]uint8{255, 255, 255, 255}
	if !lit {
		return b
	}
	s.In = s.In&^warden.InFuelShut | warden.InExtraction | warden.InFlame
	s.Out |= warden.OutFuel | warden.OutFan | warden.OutSpindle
	s.FuelMl, s.SpindleDrpm, s.Burner, s.Spindle, s.Link = 800, 600, warden.BurnerRun, warden.SpindleRun, warden.LinkStarted
	s.Analog[warden.AiFuelFlow], s.Analog[warden.AiSpindle] = 800, 600
	s.LeaseCs = [warden.NumLeases]uint8{1, 255, 255, 1}
	b.v.Asked = rig.Request{Lease: warden.LeaseFuel | warden.LeaseSpindle, Flags: warden.ReqCycle | warden.ReqFlame,
		FuelMl: 800, SpindleDrpm: 600}
	return b
}

// look is the next snapshot.
func (b *board) look() {
	b.v.ElapsedMs += snapshotMs
	b.snap.StampMs += snapshotMs
	if !b.mute {
		b.snap.EchoSeq += 2
	}
	view, snap := b.v, b.snap
	if b.lie != nil {
		b.lie(&snap, &view.Asked)
	}
	view.Snap = &snap
	b.o.step(&view)
}

// closing makes the board press, as it was asked.
func closing(s *rig.Snapshot, r *rig.Request) {
	s.Press, s.Out = warden.PressClosing, s.Out&^warden.OutBrake|warden.OutPressClose
	s.LeaseCs[2], r.Press = 1, warden.PressClose
	r.Lease |= warden.LeasePress
}

// lies are, for each contradiction, what a lying board or a rig that does not obey
// shows, and whether with a flame.
var lies = []struct {
	number uint8
	lit    bool
	lie    func(*rig.Snapshot, *rig.Request)
}{
	{1, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out &^= warden.OutFuel2 }},
	{2, true, func(s *rig.Snapshot, _ *rig.Request) { s.Burner = warden.BurnerTrial }},
	{3, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InFlame }},
	{4, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutIgniter }},
	{5, false, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutOxygen }},
	{6, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutOxygen; s.In &^= warden.InFlame }},
	{7, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InEstopOK }},
	{8, true, func(s *rig.Snapshot, _ *rig.Request) { s.Lock = warden.LockLockout }},
	{9, false, func(s *rig.Snapshot, r *rig.Request) { closing(s, r) }},
	{10, true, func(s *rig.Snapshot, _ *rig.Request) { s.LeaseCs[0] = 255 }},
	{11, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutOxygen }},
	{12, true, func(s *rig.Snapshot, r *rig.Request) { closing(s, r); s.LeaseCs[2] = 255 }},
	{13, true, func(s *rig.Snapshot, _ *rig.Request) { s.LeaseCs[3] = 255 }},
	{15, true, func(s *rig.Snapshot, r *rig.Request) { closing(s, r); s.In &^= warden.InDoorClosed }},
	{16, true, func(s *rig.Snapshot, _ *rig.Request) {
		s.In |= warden.InBurnerAtBlank
		s.In &^= warden.InPressOpen
		s.Analog[warden.AiTravel] = 3000
	}},
	{17, true, func(s *rig.Snapshot, _ *rig.Request) {
		s.In |= warden.InBurnerAtBlank
		s.Analog[warden.AiSpindle] = 0
	}},
	{18, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InExtraction }},
	{19, true, func(s *rig.Snapshot, _ *rig.Request) { tripped(s, warden.CauseEstop) }},
	{20, true, func(s *rig.Snapshot, _ *rig.Request) { tripped(s, warden.CauseOxygenLow); s.Out |= warden.OutOxygen }},
	{21, true, func(s *rig.Snapshot, _ *rig.Request) { tripped(s, warden.CauseOxygenLow) }},
	{22, false, func(s *rig.Snapshot, _ *rig.Request) { tripped(s, warden.CauseEstop); s.Lock = warden.LockNone }},
	{23, false, func(s *rig.Snapshot, _ *rig.Request) { s.First = warden.CauseEstop }},
	{24, false, func(s *rig.Snapshot, _ *rig.Request) { tripped(s, warden.CauseEstop); s.First = 0 }},
	{25, false, func(s *rig.Snapshot, _ *rig.Request) { s.Press = warden.PressHandOpen }},
	{26, false, func(s *rig.Snapshot, _ *rig.Request) { s.Spindle = warden.SpindleHand }},
	{27, false, func(s *rig.Snapshot, _ *rig.Request) { s.Press, s.SpeedCmms = warden.PressHandOpen, 1001 }},
	{28, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InSetUp }},
	{29, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InSetUp }},
	{30, true, func(s *rig.Snapshot, r *rig.Request) { closing(s, r); s.In |= warden.InSetUp }},
	{32, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out = 0 }},
	{33, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutIgniter }},
	{34, false, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutOxygen }},
	{35, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out &^= warden.OutFan }},
	{36, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out &^= warden.OutSpindle }},
	{37, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out &^= warden.OutBrake }},
	{38, false, func(s *rig.Snapshot, _ *rig.Request) { s.FuelMl = 100 }},
	{40, false, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InEstopOK }},
	{41, false, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InMainsOK }},
	{42, false, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InGasAlarm }},
	{43, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InDoorClosed }},
	{44, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InFlame }},
	{45, false, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InFlame }},
	{46, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InFuelLow }},
	{47, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InFuelHigh }},
	{48, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InOxygenLow }},
	{49, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InOxygenHigh }},
	{50, true, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InFlashback }},
	{51, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InExtraction }},
	{52, false, func(s *rig.Snapshot, _ *rig.Request) { s.Analog[warden.AiForce] = 32_000 }},
	{53, false, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InPressEnd }},
	{54, true, func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InChuckClamped }},
	{55, true, func(s *rig.Snapshot, _ *rig.Request) { s.Analog[warden.AiSpindle] = -600 }},
	{56, true, func(s *rig.Snapshot, _ *rig.Request) { s.Unburnt = 600_000 }},
	{57, false, func(s *rig.Snapshot, _ *rig.Request) { s.In |= warden.InStart }},
	{60, true, func(_ *rig.Snapshot, r *rig.Request) { *r = rig.Request{} }},
	{61, true, func(s *rig.Snapshot, r *rig.Request) { *r = rig.Request{}; s.Burner = warden.BurnerPurge }},
	{62, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutOxygen }},
	{63, true, func(_ *rig.Snapshot, r *rig.Request) { r.SpindleDrpm = 0 }},
	{64, true, func(s *rig.Snapshot, r *rig.Request) { closing(s, r); r.Press = warden.PressOpen }},
	{65, true, func(s *rig.Snapshot, _ *rig.Request) { s.Out |= warden.OutBurnerIn }},
	{66, false, func(s *rig.Snapshot, _ *rig.Request) { s.Link = warden.LinkArmed }},
	{67, true, func(s *rig.Snapshot, _ *rig.Request) { s.FuelMl = 1401 }},
	{68, true, func(s *rig.Snapshot, _ *rig.Request) { s.OxygenMl = 201 }},
	{69, true, func(s *rig.Snapshot, _ *rig.Request) { s.Analog[warden.AiFuelFlow] = 32_700 }},
	{70, true, func(s *rig.Snapshot, r *rig.Request) {
		s.Out |= warden.OutOxygen
		s.Analog[warden.AiOxygenFlow] = 32_700
	}},
}

// Each contradiction is found by its lie within its rule's own time and 300 ms and
// two snapshots, and no sooner; nothing is said before the lie.
func TestEachContradictionIsFound(t *testing.T) {
	told := map[uint8]bool{14: true, 31: true} // tests of their own
	for _, tt := range lies {
		told[tt.number] = true
		k := ContradictionOf(tt.number)
		if k == nil {
			t.Fatalf("%d: no such contradiction", tt.number)
		}
		t.Run(k.What, func(t *testing.T) {
			b := newBoard(t, tt.lit)
			for range 500 {
				b.look()
			}
			if b.o.found != 0 {
				t.Fatalf("a sound board: %q", ContradictionOf(b.o.found).What)
			}
			b.lie = tt.lie
			least := uint64(k.Longest(b.v.Config)) + SecondOpinionMs
			from := b.v.ElapsedMs
			for !b.finds(tt.number) {
				b.look()
				if b.v.ElapsedMs-from > least+3*snapshotMs {
					t.Fatalf("not found %d ms after", b.v.ElapsedMs-from)
				}
			}
			if took := b.v.ElapsedMs - from; took < least {
				t.Errorf("found after %d ms, %d are its own", took, least)
			}
			if b.o.found == 0 {
				t.Error("and not said")
			}
		})
	}
	for _, k := range Contradictions {
		if !told[k.Number] {
			t.Errorf("%d, %s: no lie provokes it", k.Number, k.What)
		}
	}
}

// finds: this very contradiction is due, whichever is said.
func (b *board) finds(number uint8) bool {
	for i := range Contradictions {
		if k := &Contradictions[i]; k.Number == number {
			return b.o.heldMs[i] > k.Longest(b.v.Config)+SecondOpinionMs
		}
	}
	return false
}

// The table's numbers rise, its words and its promises exist.
func TestContradictionsAreATable(t *testing.T) {
	last, promised := uint8(0), map[uint8]bool{}
	for _, p := range Promises {
		promised[p.Number] = true
	}
	for _, k := range Contradictions {
		if k.Number <= last || k.What == "" || !promised[k.Promise] {
			t.Errorf("%d after %d, %q, promise %d", k.Number, last, k.What, k.Promise)
		}
		last = k.Number
	}
}

// A board that takes no request any more and calls the link alive.
func TestStuckEchoIsFound(t *testing.T) {
	for _, lit := range []bool{false, true} {
		b := newBoard(t, lit)
		for range 50 {
			b.look()
		}
		b.mute = true
		least := uint64(b.v.Config.LeaseMs) + SecondOpinionMs
		from := b.v.ElapsedMs
		for b.o.found == 0 && b.v.ElapsedMs-from < 2*least {
			b.look()
		}
		if took := b.v.ElapsedMs - from; b.o.found != 14 || took < least || took > least+4*snapshotMs {
			t.Errorf("lit %v: %d after %d ms", lit, b.o.found, took)
		}
	}
}

// A purge that is shorter than configured is found when the burner goes on; one of
// its whole time is not, however many snapshots are lost, nor one that began before
// anybody looked.
func TestShortPurgeIsFound(t *testing.T) {
	for _, tt := range []struct {
		name    string
		purgeMs uint32 // 0: the whole
		lost    int    // of so many snapshots one comes
		seen    bool   // from standby on
		want    uint8
	}{
		{"2 s", 2_000, 1, true, 31},
		{"whole", 0, 1, true, 0},
		{"whole, snapshots lost", 0, 7, true, 0},
		{"half of it seen", 2_000, 1, false, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := newBoard(t, true)
			phase := func(burner uint8, ms uint32) {
				for n := range int(ms / snapshotMs) {
					if n%tt.lost != 0 {
						b.v.ElapsedMs += snapshotMs
						b.snap.StampMs += snapshotMs
						continue
					}
					b.snap.Burner = burner
					b.snap.Out = b.snap.Out&^(warden.OutFuel|warden.OutIgniter) | warden.OutFan
					if burner == warden.BurnerIgniter {
						b.snap.Out |= warden.OutIgniter
					}
					b.snap.In = b.snap.In&^warden.InFlame | warden.InExtraction
					b.snap.FuelMl = 0
					b.look()
				}
			}
			if tt.seen {
				phase(warden.BurnerStandby, 500)
			}
			if tt.purgeMs == 0 {
				tt.purgeMs = b.v.Config.PurgeMs
			}
			phase(warden.BurnerPurge, tt.purgeMs)
			phase(warden.BurnerIgniter, 900)
			if b.o.found != tt.want {
				t.Errorf("found %d, want %d", b.o.found, tt.want)
			}
		})
	}
}

// Snapshots that hardly come tell too little: a contradiction in two of them, a
// second apart, is not one that stood for a second.
func TestLostSnapshotsTellLittle(t *testing.T) {
	b := newBoard(t, false)
	b.look()
	b.lie = func(s *rig.Snapshot, _ *rig.Request) { s.In &^= warden.InEstopOK }
	for n := range 7 {
		b.v.ElapsedMs += 1_000
		b.snap.StampMs += 1_000
		b.look()
		if b.o.found != 0 {
			t.Fatalf("found in snapshot %d", n)
		}
	}
	for range 5 {
		b.look()
	}
	if b.o.found != 40 {
		t.Errorf("found %d", b.o.found)
	}
}

// Row 60 outside a cycle, and nothing of one session in the next.
func TestImplausibleRow(t *testing.T) {
	b := newBoard(t, false)
	var s Supervisor
	step := func() Verdict {
		b.v.ElapsedMs += snapshotMs
		b.snap.StampMs += snapshotMs
		b.snap.EchoSeq++
		b.v.Snap, b.v.JournalWritable = &b.snap, true
		return s.Step(&b.v)
	}
	b.snap.In &^= warden.InEstopOK
	var got Verdict
	for range 20 {
		got = step()
	}
	if got.First != RowImplausible || got.Contradiction != 40 || got.Reaction.Lock != warden.LockAbort ||
		got.Reaction.Gas != warden.GasShut {
		t.Errorf("%+v", got)
	}
	b.v.Session++
	if got = step(); got.Causes != 0 || got.Contradiction != 0 {
		t.Errorf("in another session: %+v", got)
	}
}

// tripped makes a board say that a cause has tripped, with the latch that it calls
// for.
func tripped(s *rig.Snapshot, cause uint8) {
	s.First, s.Trips = cause, 1<<cause
	s.Lock = strongestTyped(s.Trips).Lock
}
