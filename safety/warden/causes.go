package warden

// Causes: the row numbers of the cause-and-effect matrix (docs/assessor.md), bit
// 1<<cause of a cause set. Written out, never renumbered. Rows that only the
// supervisor can see (18 to 20, 22, 24 to 29) are in package safety.
const (
	CauseNone           uint8 = 0
	CauseEstop          uint8 = 1
	CauseDoor           uint8 = 2
	CauseFlameLost      uint8 = 3
	CauseNoIgnition     uint8 = 4
	CauseFalseFlame     uint8 = 5
	CauseFuelLow        uint8 = 6
	CauseFuelHigh       uint8 = 7
	CauseOxygenLow      uint8 = 8
	CauseOxygenHigh     uint8 = 9
	CauseSpindleStill   uint8 = 10
	CausePressState     uint8 = 11
	CauseSpindleStall   uint8 = 12
	CauseOverForce      uint8 = 13
	CauseOverTravel     uint8 = 14
	CauseNotOpenForHeat uint8 = 15
	CauseLeftOpen       uint8 = 16
	CauseStuck          uint8 = 17
	CauseLinkLost       uint8 = 21
	CauseRestart        uint8 = 23
	CauseExtraction     uint8 = 30
	CauseGasAlarm       uint8 = 31
	CauseFlashback      uint8 = 32
	CauseFeedback       uint8 = 33
	CauseTwoHand        uint8 = 34
	CauseBadFrames      uint8 = 35
	CauseMains          uint8 = 36
	CauseButton         uint8 = 37
	CauseUnburnt        uint8 = 38 // ours: the unburnt-fuel budget is used up
	CauseSlide          uint8 = 39 // ours: the burner slide did not arrive
	CauseHostAbort      uint8 = 40 // ours: the supervisor or the operator aborts
	CauseNV             uint8 = 41 // ours: non-volatile memory does not take or give its byte

	CauseSetUp uint8 = 42 // ours: the key switch was turned to set-up during a cycle

	CauseForceLost  uint8 = 43 // ours: the force channel is broken, or feels nothing at the stop
	CauseTravelLost uint8 = 44 // ours: the travel channel is broken, or stands while the press is driven

	CauseSpindleFast  uint8 = 45 // ours: the spindle turns above its limit, or backwards
	CauseSpindleAsked uint8 = 46 // ours: the spindle is asked for in contact where it has to stand
	CauseHandFast     uint8 = 47 // ours: hold-to-run moves faster than it may
	CauseChuck        uint8 = 48 // ours: the chuck is not clamped while something moves

	CauseFlowOff   uint8 = 49 // a flow is not what is asked
	CauseFlowOver  uint8 = 50 // a flow is far above what is asked, or flows unasked
	CauseRatio     uint8 = 51 // oxygen to fuel outside its window (EN 746-2)
	CauseSharpLong uint8 = 52 // ours: a sharp flame stood at the blank too long

	NumCauses uint8 = 53
)

// Reactions of each column, weakest first: causes combine by the greatest.
const (
	GasKeep      uint8 = 0
	GasSequenced uint8 = 1 // oxygen, then fuel within OffMs
	GasShut      uint8 = 2 // both in one tick

	SpindleKeep    uint8 = 0
	SpindleToCreep uint8 = 1
	SpindleToRamp  uint8 = 2 // controlled stop, then power off
	SpindleToOff   uint8 = 3

	PressKeep    uint8 = 0
	PressInhibit uint8 = 1 // no new stroke
	PressRetract uint8 = 2 // open fully, if the safety door is closed
	PressToStay  uint8 = 3
	PressToEase  uint8 = 4 // ramp force down within EaseMs, then stay
	PressToPart  uint8 = 5 // ease, let the glass set for PartMs, then open slowly under the pull limit
	PressToOff   uint8 = 6

	LockNone    uint8 = 0
	LockHold    uint8 = 1 // resumable by the host's reset and a new START
	LockAbort   uint8 = 2 // host's or local reset once its causes are gone
	LockLockout uint8 = 3 // local RESET edge only
)

// Reaction is one row of the matrix, or the strongest of several.
type Reaction struct {
	Gas     uint8
	Spindle uint8
	Above   uint8 // press above contact
	Contact uint8 // press in contact
	Lock    uint8
}

// Strongest combines two reactions column by column. It is associative,
// commutative and idempotent, so singles and pairs of causes cover all sets.
func Strongest(a, b Reaction) Reaction {
	return Reaction{
		Gas:     max(a.Gas, b.Gas),
		Spindle: max(a.Spindle, b.Spindle),
		Above:   max(a.Above, b.Above),
		Contact: max(a.Contact, b.Contact),
		Lock:    max(a.Lock, b.Lock),
	}
}

// Row is what a cause does and how it ranks as a first cause.
type Row struct {
	Reaction
	Priority uint8 // 1 high, 2 medium, 3 low; 0 marks a number that is no cause of the warden
}

// Matrix holds the warden's rows, by cause. The reasons stand in docs/assessor.md.
var Matrix = [NumCauses]Row{
	CauseEstop:          {Reaction{GasShut, SpindleToRamp, PressToOff, PressToOff, LockLockout}, 1},
	CauseDoor:           {Reaction{GasShut, SpindleToRamp, PressToOff, PressToOff, LockAbort}, 1},
	CauseFlameLost:      {Reaction{GasShut, SpindleToCreep, PressRetract, PressToPart, LockLockout}, 1},
	CauseNoIgnition:     {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseFalseFlame:     {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseFuelLow:        {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseFuelHigh:       {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseOxygenLow:      {Reaction{GasSequenced, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 2},
	CauseOxygenHigh:     {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseSpindleStill:   {Reaction{GasShut, SpindleToOff, PressRetract, PressInhibit, LockAbort}, 1},
	CausePressState:     {Reaction{GasKeep, SpindleKeep, PressRetract, PressInhibit, LockHold}, 2},
	CauseSpindleStall:   {Reaction{GasShut, SpindleToOff, PressToOff, PressToOff, LockAbort}, 1},
	CauseOverForce:      {Reaction{GasSequenced, SpindleToCreep, PressToOff, PressToOff, LockAbort}, 1},
	CauseOverTravel:     {Reaction{GasShut, SpindleToCreep, PressToOff, PressToOff, LockLockout}, 1},
	CauseNotOpenForHeat: {Reaction{GasSequenced, SpindleKeep, PressRetract, PressToEase, LockHold}, 2},
	CauseLeftOpen:       {Reaction{GasShut, SpindleToCreep, PressToOff, PressToOff, LockLockout}, 1},
	CauseStuck:          {Reaction{GasSequenced, SpindleToCreep, PressToStay, PressToStay, LockAbort}, 2},
	CauseLinkLost:       {Reaction{GasShut, SpindleToCreep, PressToStay, PressToEase, LockAbort}, 1},
	CauseRestart:        {Reaction{GasShut, SpindleToOff, PressToOff, PressToOff, LockLockout}, 1},
	CauseExtraction:     {Reaction{GasSequenced, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 1},
	CauseGasAlarm:       {Reaction{GasShut, SpindleToCreep, PressRetract, PressInhibit, LockLockout}, 1},
	CauseFlashback:      {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseFeedback:       {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseTwoHand:        {Reaction{GasKeep, SpindleKeep, PressToOff, PressToOff, LockHold}, 3},
	CauseBadFrames:      {Reaction{GasShut, SpindleToCreep, PressToStay, PressToEase, LockAbort}, 1},
	CauseMains:          {Reaction{GasShut, SpindleToOff, PressToOff, PressToOff, LockLockout}, 1},
	CauseButton:         {Reaction{GasKeep, SpindleKeep, PressInhibit, PressInhibit, LockNone}, 2},
	CauseUnburnt:        {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseSlide:          {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 2},
	CauseHostAbort:      {Reaction{GasShut, SpindleToCreep, PressToStay, PressToEase, LockAbort}, 2},
	CauseNV:             {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseForceLost:      {Reaction{GasSequenced, SpindleToCreep, PressToStay, PressToEase, LockAbort}, 1},
	CauseTravelLost:     {Reaction{GasSequenced, SpindleToCreep, PressToStay, PressToEase, LockAbort}, 1},
	CauseSpindleFast:    {Reaction{GasShut, SpindleToOff, PressToStay, PressToEase, LockAbort}, 1},
	CauseSpindleAsked:   {Reaction{GasKeep, SpindleToRamp, PressToStay, PressToEase, LockAbort}, 2},
	CauseHandFast:       {Reaction{GasKeep, SpindleToOff, PressToOff, PressToOff, LockAbort}, 1},
	CauseChuck:          {Reaction{GasSequenced, SpindleToRamp, PressToStay, PressToEase, LockAbort}, 1},
	CauseFlowOff:        {Reaction{GasSequenced, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 1},
	CauseFlowOver:       {Reaction{GasShut, SpindleToCreep, PressInhibit, PressInhibit, LockLockout}, 1},
	CauseRatio:          {Reaction{GasSequenced, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 1},
	CauseSharpLong:      {Reaction{GasSequenced, SpindleToCreep, PressInhibit, PressInhibit, LockAbort}, 2},
	CauseSetUp:          {Reaction{GasSequenced, SpindleToRamp, PressToStay, PressToEase, LockAbort}, 2},
}
