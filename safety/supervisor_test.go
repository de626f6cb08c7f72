package safety

import (
	"testing"

	"pgregory.net/rapid"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// scene feeds a Supervisor views 20 ms apart.
type scene struct {
	s    Supervisor
	v    SupervisorView
	snap rig.Snapshot
	now  uint64
	last Verdict
}

func newScene() *scene {
	c := &scene{now: 1_000, v: SupervisorView{Session: 7, Guarded: true, Cycle: true, Sight: true,
		Needed: true, PressOpen: true, JournalWritable: true}}
	c.snap.AnalogOK = 1 << warden.AiGlass
	c.snap.StampMs = 50_000
	return c
}

// run feeds views for ms milliseconds with the glass as given by the time since
// now; it stops at the first view in which row holds and tells when.
func (c *scene) run(ms uint64, row uint8, glassDC func(ms uint64) int16) (at uint64, found bool) {
	for t := uint64(0); t < ms; t += 20 {
		c.now += 20
		c.snap.StampMs += 20
		c.v.ElapsedMs = c.now
		c.snap.Analog[warden.AiGlass] = glassDC(t)
		c.v.Snap = &c.snap
		c.last = c.s.Step(&c.v)
		if row != 0 && c.last.Causes&(1<<row) != 0 {
			return t + 20, true
		}
	}
	return 0, false
}

// noisy is a glass temperature with 0.2 K of noise that rises by rate DC a
// second.
func noisy(from int16, rate int) func(uint64) int16 {
	return func(ms uint64) int16 { return from + int16(int(ms)*rate/1000) + int16(ms/20%3) }
}

func steady(dC int16) func(uint64) int16 { return func(uint64) int16 { return dC } }

// TestQuiet: nothing holds on a live, heating thermometer.
func TestQuiet(t *testing.T) {
	c := newScene()
	c.v.Heating, c.v.Rising = true, true
	if c.run(60_000, 0, noisy(4_000, 100)); c.last.Causes != 0 {
		t.Errorf("%x", c.last.Causes)
	}
}

// TestThermometerRows: each sign of rows 18 to 20 comes at its time and not
// without what arms it.
func TestThermometerRows(t *testing.T) {
	for _, tt := range []struct {
		name   string
		row    uint8
		set    func(*scene)
		glass  func(uint64) int16
		lo, hi uint64 // ms to the verdict; 0, 0: never
	}{
		{"broken", RowThermoBroken, func(c *scene) { c.snap.AnalogOK = 0 }, steady(0), 500, 540},
		{"broken, not needed", RowThermoBroken,
			func(c *scene) { c.snap.AnalogOK, c.v.Needed = 0, false }, steady(0), 0, 0},
		{"broken, view blocked", RowThermoBroken,
			func(c *scene) { c.snap.AnalogOK, c.v.Sight = 0, false }, steady(0), 0, 0},
		{"broken, press in the way", RowThermoBroken,
			func(c *scene) { c.snap.AnalogOK, c.v.PressOpen = 0, false }, steady(0), 0, 0},
		{"stuck", RowThermoNonsense, func(c *scene) { c.v.Heating = true }, steady(6_000), 5_000, 5_040},
		{"stuck, no flame", RowThermoNonsense, func(*scene) {}, steady(6_000), 0, 0},
		{"stuck, view blocked", RowThermoNonsense,
			func(c *scene) { c.v.Heating, c.v.Sight = true, false }, steady(6_000), 0, 0},
		{"jump", RowThermoNonsense, func(*scene) {}, func(ms uint64) int16 {
			if ms >= 1_000 {
				return 6_600
			}
			return 6_000
		}, 1_020, 1_020},
		{"no jump", RowThermoNonsense, func(*scene) {}, noisy(6_000, 500), 0, 0},
		{"no rise", RowThermoNonsense, func(c *scene) { c.v.Heating, c.v.Rising = true, true },
			noisy(5_000, 2), 20_000, 20_100},
		{"slow rise", RowThermoNonsense, func(c *scene) { c.v.Heating, c.v.Rising = true, true },
			noisy(5_000, 6), 0, 0},
		{"no rise at the plateau", RowThermoNonsense, func(c *scene) { c.v.Heating = true },
			noisy(8_900, 0), 0, 0},
		{"too hot", RowTooHot, func(c *scene) { c.v.HasLimit, c.v.LimitDC = true, 9_700 },
			noisy(9_720, 0), 500, 540},
		{"at the limit", RowTooHot, func(c *scene) { c.v.HasLimit, c.v.LimitDC = true, 9_700 },
			steady(9_700), 0, 0},
		{"no limit", RowTooHot, func(*scene) {}, noisy(11_000, 0), 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := newScene()
			tt.set(c)
			at, found := c.run(45_000, tt.row, tt.glass)
			if found != (tt.hi != 0) || (found && (at < tt.lo || at > tt.hi)) {
				t.Fatalf("found %v after %d ms, want %d to %d", found, at, tt.lo, tt.hi)
			}
			if found && c.last.Reaction != holdRow.Reaction {
				t.Errorf("reaction %+v", c.last.Reaction)
			}
		})
	}
}

// TestViewStartsAnew: what the thermometer showed before the flame crossed its
// view is not compared with what it shows after.
func TestViewStartsAnew(t *testing.T) {
	c := newScene()
	c.run(1_000, 0, noisy(6_000, 0))
	c.v.Sight = false
	c.run(400, 0, steady(11_000))
	c.v.Sight = true
	if _, found := c.run(1_000, RowThermoNonsense, noisy(7_000, 0)); found {
		t.Error("a jump across a blocked view")
	}
}

// TestLinkRow: row 22 holds 500 ms after the last snapshot, at once when the
// port says that the line is gone, and never in assisted mode.
func TestLinkRow(t *testing.T) {
	c := newScene()
	c.run(1_000, 0, noisy(6_000, 0))
	c.v.Snap = nil
	for silent := uint64(10); silent <= 600; silent += 10 {
		c.v.ElapsedMs = c.now + silent
		got := c.s.Step(&c.v)
		if lost := got.Causes&(1<<RowLinkLost) != 0; lost != (silent >= LinkLostMs) {
			t.Fatalf("lost %v after %d ms", lost, silent)
		}
	}
	c = newScene()
	c.run(1_000, 0, noisy(6_000, 0))
	c.v.Session = 0
	if got := c.s.Step(&c.v); got.First != RowLinkLost || got.Reaction.Lock != warden.LockAbort {
		t.Errorf("%+v", got)
	}
	c.v.Guarded = false
	if got := c.s.Step(&c.v); got.Causes != 0 {
		t.Errorf("assisted: %+v", got)
	}
}

// TestClockRow: row 26 holds when the clocks part by more than 1 s, not when a
// quartz is off by a tenth of a percent for an hour, nor when the stamp wraps.
func TestClockRow(t *testing.T) {
	c := newScene()
	c.snap.StampMs = 0xFFFFFFFF - 5_000
	c.run(20_000, 0, noisy(6_000, 0))
	if c.last.Causes != 0 {
		t.Fatalf("the wrap: %x", c.last.Causes)
	}
	c.snap.StampMs += 1_100 // the host slept
	if _, found := c.run(20, RowClocksDiffer, noisy(6_000, 0)); !found {
		t.Error("a suspended host is not seen")
	}
	if c.last.Reaction.Gas != warden.GasShut {
		t.Errorf("%+v", c.last.Reaction)
	}
	c = newScene()
	for range 3_600 {
		c.snap.StampMs++
		if _, found := c.run(1_000, RowClocksDiffer, noisy(6_000, 0)); found {
			t.Fatal("a quartz that is 0.1 % fast trips")
		}
	}
}

// TestJournalRows: 27 refuses a start, 28 tells of a running cycle; neither
// moves anything.
func TestJournalRows(t *testing.T) {
	c := newScene()
	c.v.JournalWritable = false
	c.run(20, 0, noisy(6_000, 0))
	if c.last.Causes != 1<<RowJournalRunning || c.last.Reaction != (warden.Reaction{}) {
		t.Errorf("running: %+v", c.last)
	}
	c.v.Cycle, c.v.Starting = false, true
	c.run(20, 0, noisy(6_000, 0))
	if c.last.Causes != 1<<RowJournalAtStart || c.last.Reaction != (warden.Reaction{}) {
		t.Errorf("starting: %+v", c.last)
	}
}

// TestSupervisorCombines: whatever holds together, the reaction is the column
// maximum of the rows, none locks out, and the first cause is the one with the
// lowest priority number, then the lowest row (invariants 12 and 15).
func TestSupervisorCombines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newScene()
		for range rapid.IntRange(1, 40).Draw(t, "scenes") {
			v := &c.v
			for _, p := range []*bool{&v.Cycle, &v.Sight, &v.Needed, &v.Heating, &v.Rising,
				&v.HasLimit, &v.PressOpen, &v.JournalWritable, &v.Starting} {
				*p = rapid.Bool().Draw(t, "view")
			}
			v.Session = rapid.SampledFrom([]uint32{7, 7, 7, 0}).Draw(t, "session")
			v.LimitDC = rapid.Int16().Draw(t, "limit")
			c.snap.AnalogOK = rapid.Uint16().Draw(t, "ok")
			glass := rapid.Int16().Draw(t, "glass")
			c.run(rapid.SampledFrom([]uint64{20, 600, 6_000}).Draw(t, "ms"), 0, steady(glass))
			checkVerdict(t, c.last)
		}
	})
}

func checkVerdict(t *rapid.T, got Verdict) {
	var want warden.Reaction
	first, best := uint8(0), uint8(255)
	for _, r := range SupervisorRows {
		if got.Causes&(1<<r.Row) == 0 {
			continue
		}
		want = warden.Strongest(want, r.Reacts.Reaction)
		if r.Reacts.Priority < best {
			first, best = r.Row, r.Reacts.Priority
		}
	}
	if got.Reaction != want || got.First != first || got.Reaction.Lock >= warden.LockLockout {
		t.Fatalf("%+v, want reaction %+v and first %d", got, want, first)
	}
}

// TestSupervisorRowsAreTheMatrix: numbers as in the matrix of safety.md section
// 6, in order, none of them the warden's, each with its words.
func TestSupervisorRowsAreTheMatrix(t *testing.T) {
	want := []uint8{18, 19, 20, 22, 24, 25, 26, 27, 28, 29, 60}
	if len(want) != len(SupervisorRows) {
		t.Fatalf("%d rows, want %d", len(SupervisorRows), len(want))
	}
	for i, r := range SupervisorRows {
		if r.Row != want[i] || Sentence(r.Row) == "" || r.Reacts.Priority == 0 {
			t.Errorf("row %d is %d, %q, priority %d", want[i], r.Row, Sentence(r.Row), r.Reacts.Priority)
		}
		if r.Row < warden.NumCauses && warden.Matrix[r.Row].Priority != 0 {
			t.Errorf("row %d is the warden's too", r.Row)
		}
	}
}
