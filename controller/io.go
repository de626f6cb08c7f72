package controller

import (
	"pressrig/recipes"
	"pressrig/rig"
)

// Job is all that a cycle starts from. Start makes the machine anew from it,
// so that a stored Job and a stored stream of Inputs replay the cycle exactly.
type Job struct {
	Cycle  uint32 // cycle number, given by the journal
	Run    uint32 // run number; cycles of one light-up share it
	Piece  uint16 // piece number in the run, from 1
	Dummy  bool   // a warming-up piece
	Last   bool   // shut the flame at the end instead of parking it
	By     string // who asked, as typed
	User   string // who asked, as the kernel knows it; "" where it does not
	Recipe *recipes.Recipe
}

// Input is everything the supervisor sees in one step. Time is the monotonic
// clock of the loop, never the wall clock.
type Input struct {
	Tick      uint64        // number of the step
	ElapsedMs uint64        // loop's monotonic clock, scaled with a simulated rig
	Snap      *rig.Snapshot // nil: none since the step before
	Session   uint32        // microcontroller's session, 0 while the link is down
	BadFrames uint8         // refused for corruption since the step before

	Command Command
	By      string // who gave the command, answer or acknowledgement, as typed
	User    string // the same as the kernel knows it; "" where it does not
	Job     *Job   // with Start
	Answer  Answer
	Ack     bool // operator acknowledges the trips and alarms on show

	Journal JournalHealth
}

// Answer is the operator's answer to the prompt numbered Prompt.
type Answer struct {
	Prompt uint16 // 0: none
	Yes    bool
}

// JournalHealth is what the loop knows of the journal.
type JournalHealth struct {
	Writable bool   // a new cycle may start
	Started  uint32 // newest cycle whose start record is committed
}

// RecordKind says what a Record tells. Numbers are in the journal.
type RecordKind uint8

// The records of a cycle, in the order they usually come.
const (
	RecStart      RecordKind = 1  // the cycle's start record; awaited before arming
	RecPhaseBegin RecordKind = 2  // Phase
	RecPhaseEnd   RecordKind = 3  // Phase, Reason
	RecState      RecordKind = 4  // State, Reason
	RecTrip       RecordKind = 5  // Cause, Causes, Reason: the first cause and all
	RecMark       RecordKind = 6  // Reason: "soft", "contact", ...
	RecMeasure    RecordKind = 7  // Name, Value, Unit: transfer time, pull peak, ...
	RecPrompt     RecordKind = 8  // Prompt, Reason: asked
	RecAnswer     RecordKind = 9  // Prompt, Yes in Value, By
	RecCommand    RecordKind = 10 // Command given and whether it was taken, By
	RecAlarm      RecordKind = 11 // Cause: a condition that needs a person
	RecEnd        RecordKind = 12 // State Complete, Stopped or Aborted, Reason, Cause
)

// Record is one line of a cycle's story. Strings are constants of the program
// or of the recipe, so that a step allocates nothing.
type Record struct {
	Kind      RecordKind
	Cycle     uint32 // 0: outside a cycle, before its start record or after its end record
	ElapsedMs uint64
	StampMs   uint32 // microcontroller's clock, newest snapshot
	Phase     int16  // index in the recipe, -1 outside
	State     State
	Command   Command
	Cause     uint8  // first cause: a warden or supervisor row
	Causes    uint64 // all rows that tripped
	Lockout   bool
	Prompt    uint16
	Name      string
	Value     float64
	Unit      string
	Reason    string
	By        string // as typed
	User      string // as the kernel knows it
}

// MaxRecords bounds the records of one step; more would be a bug.
const MaxRecords = 24

// Output is what a step wants done, in the order of its fields: persist the
// records (append to a bounded queue, never wait), send the request, then tell.
type Output struct {
	Records [MaxRecords]Record
	N       int // how many of Records are set

	Request rig.Request
	Send    bool // always true while the link is up

	// Refusal says why the command, answer or acknowledgement of this step was
	// not taken; "" when it was, or when there was none. The loop hands it to
	// whoever asked.
	Refusal string

	Status Status
}

// Status is what pages, the command line and telemetry show.
type Status struct {
	State     State
	Cycle     uint32 // the newest cycle, 0 before the first
	Run       uint32
	Piece     uint16
	Recipe    string
	Phase     int16 // -1 outside a phase
	PhaseName string
	PhaseKind recipes.Kind
	// Doing says what the machine waits for, in few words: "purge", "push START", ...
	Doing     string
	PhaseMs   uint64 // in this phase
	LeftMs    int64  // expected until the phase ends, -1 unknown
	CycleMs   uint64 // since Start
	Prompt    uint16 // 0: none open
	PromptTxt string
	Armed     bool
	Refired   bool
	Reason    string // of the last hold, stop, abort or refusal
	Cause     uint8  // first cause of the trip in force
	Lock      uint8  // warden.Lock...
	Alarms    uint64 // supervisor's and warden's rows on show
	AckNeeded bool
	// Line says what is wrong with the line to the rig, "" nothing. The loop fills it.
	Line string
	// Contradiction is the number of what the board said that cannot be so, 0 none
	// (safety.Contradictions); it stands until a person has seen to it.
	Contradiction uint8
}
