package safety

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Rows of the cause-and-effect matrix that only the supervisor can see. The
// numbers are the matrix's own, so they never meet the warden's: bit 1<<row of
// a cause set. Written out, never renumbered.
const (
	RowThermoBroken    uint8 = 18 // open, short or out of range
	RowThermoNonsense  uint8 = 19 // stuck, jumping, or no rise with flame on
	RowTooHot          uint8 = 20
	RowLinkLost        uint8 = 22 // as the daemon sees it
	RowDaemonRestarted uint8 = 24 // raised when the journal finds an open cycle
	RowWallClock       uint8 = 25 // raised by the loop: an event, nothing more
	RowClocksDiffer    uint8 = 26
	RowJournalAtStart  uint8 = 27
	RowJournalRunning  uint8 = 28
	RowBrokerLost      uint8 = 29 // raised by telemetry: information
	RowImplausible     uint8 = 60 // the board says what cannot be so: Contradictions
)

// Limits of the supervisor's rows, each with its reason.
const (
	// ThermoBrokenMs: one lost snapshot or a flicker is not a broken wire.
	ThermoBrokenMs = 500
	// ThermoStuckMs: a live thermometer over a flame shows noise of some tenths
	// of a kelvin; the same count this long is a frozen converter.
	ThermoStuckMs = 5_000
	// ThermoJumpDC: glass in the hottest flame gains some 50 K/s, so 50 K from
	// one sample to the next is not glass.
	ThermoJumpDC = 500
	// ThermoJumpMs: samples farther apart than this are not compared.
	ThermoJumpMs = 250
	// NoRiseMs and NoRiseDC: matrix row 19, "no rise in 20 s with flame on".
	NoRiseMs = 20_000
	NoRiseDC = 100
	// TooHotMs: a reflection when the burner swings is not hot glass.
	TooHotMs = 500
	// LinkLostMs: as long as a lease lives, so both ends agree.
	LinkLostMs = 500
	// ClocksMs: matrix row 26; within ClocksOverMs, so that the quartz of a
	// board (0.01 %) never adds up to it but a suspended host does.
	ClocksMs     = 1_000
	ClocksOverMs = 10_000
)

// SupervisorRow is one row of the matrix that the supervisor owns: the same
// form as warden.Matrix, with its condition as data. Its words stand in Rows.
type SupervisorRow struct {
	Row    uint8
	Holds  func(*Supervisor, *SupervisorView) bool
	Reacts warden.Row
}

// SupervisorRows are the supervisor's rows in order of number. No row locks
// out: that is the warden's and the hardware's alone (invariant 12). Rows
// without a condition are raised elsewhere and stand here for their words.
var SupervisorRows = [...]SupervisorRow{
	{RowThermoBroken, (*Supervisor).broken, holdRow},
	{RowThermoNonsense, (*Supervisor).nonsense, holdRow},
	{RowTooHot, (*Supervisor).tooHot, holdRow},
	{RowLinkLost, (*Supervisor).linkLost,
		row(1, warden.GasKeep, warden.SpindleKeep, warden.PressKeep, warden.LockAbort)},
	{RowDaemonRestarted, nil,
		row(2, warden.GasKeep, warden.SpindleKeep, warden.PressKeep, warden.LockAbort)},
	{RowWallClock, nil, noteRow(3)},
	{RowClocksDiffer, (*Supervisor).clocks,
		row(1, warden.GasShut, warden.SpindleToCreep, warden.PressToStay, warden.LockAbort)},
	{RowJournalAtStart, (*Supervisor).journalAtStart, noteRow(2)},
	{RowJournalRunning, (*Supervisor).journalRunning, noteRow(2)},
	{RowBrokerLost, nil, noteRow(3)},
	{RowImplausible, (*Supervisor).implausible,
		row(1, warden.GasShut, warden.SpindleToCreep, warden.PressToStay, warden.LockAbort)},
}

// holdRow is the reaction of rows 18 to 20: no explosion is near, so the shut
// down is orderly and the piece keeps turning.
var holdRow = row(2, warden.GasSequenced, warden.SpindleKeep, warden.PressInhibit, warden.LockHold)

func row(priority, gas, spindle, press, lock uint8) warden.Row {
	return warden.Row{Reaction: warden.Reaction{Gas: gas, Spindle: spindle, Above: press,
		Contact: press, Lock: lock}, Priority: priority}
}

func noteRow(priority uint8) warden.Row { return row(priority, 0, 0, 0, warden.LockNone) }

// SupervisorView is what the rows look at in one step. The cycle machine fills
// it: package safety knows nothing of recipes.
type SupervisorView struct {
	ElapsedMs uint64        // loop's monotonic clock
	Snap      *rig.Snapshot // nil: none since the step before
	Session   uint32        // 0: link down
	Guarded   bool          // a microcontroller belongs to this cycle
	Cycle     bool          // a cycle runs
	Starting  bool          // a start is being asked for

	Sight     bool // the thermometer's line of sight is free of the flame
	Needed    bool // the phase relies on the glass temperature
	Heating   bool // a proven flame is at the glass
	Rising    bool // and the glass is still well below what it is heated to
	HasLimit  bool
	LimitDC   int16 // over-temperature limit of this phase, 0.1 C
	PressOpen bool  // nothing stands between glass and thermometer

	JournalWritable bool

	// The second opinion judges every snapshot, in a cycle or outside.
	Config *warden.Config // limits of the board; nil: there is none
	Asked  rig.Request    // what was last sent to it
}

// Verdict is what a step of the supervisor's interlocks finds. It latches
// nothing: the cycle machine does, by leaving its state.
type Verdict struct {
	Causes   uint64 // rows that hold now, bit 1<<row
	First    uint8  // lowest priority number, then lowest row; 0 without one
	Reaction warden.Reaction
	// Contradiction is the number of what row 60 saw, 0 without it.
	Contradiction uint8
}

// Supervisor remembers what the rows need from one step to the next. The zero
// value is ready; copying it copies its memory, so replay can start from it.
type Supervisor struct {
	seen   bool // a snapshot of this session came
	seenAt uint64
	sess   uint32

	badAt, hotAt     uint64 // since when, valid with the flags
	bad, hot         bool
	sameAt, riseAt   uint64
	sampleAt         uint64
	last, riseFrom   int16
	sampled, rising  bool
	stuck, jump, low bool

	anchorMs    uint64
	anchorStamp uint32
	anchored    bool
	differ      bool

	second opinion
}

// Step looks at one view and combines all rows that hold by the strongest
// reaction of each column.
func (s *Supervisor) Step(v *SupervisorView) Verdict {
	s.remember(v)
	out := Verdict{Contradiction: s.second.found}
	best := uint8(255)
	for i := range SupervisorRows {
		r := &SupervisorRows[i]
		if r.Holds == nil || !r.Holds(s, v) {
			continue
		}
		out.Causes |= 1 << r.Row
		out.Reaction = warden.Strongest(out.Reaction, r.Reacts.Reaction)
		if r.Reacts.Priority < best {
			best, out.First = r.Reacts.Priority, r.Row
		}
	}
	return out
}
