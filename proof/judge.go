package proof

import (
	"math"

	"pressrig/rig"
)

// Result is how far a proof has come.
type Result string

// The results. Undone is no verdict: something that the proof stands on was
// missing, so nothing is known of the function.
const (
	Waiting Result = "waiting"
	Passed  Result = "passed"
	Failed  Result = "failed"
	Undone  Result = "not done"
)

// Ask says what a person is to answer.
type Ask string

// What may be asked.
const (
	AskNothing Ask = ""
	AskYesNo   Ask = "yes or no"
	AskReading Ask = "yes or no, and the reading"
)

// Answer is what a person says to a question.
type Answer struct {
	Yes   bool
	Value float64 // reading, NaN for none
}

// Input is one moment of the rig.
type Input struct {
	ElapsedMs uint64        // of a clock that only goes on
	Snap      *rig.Snapshot // nil: none came
	Session   uint32        // microcontroller's boot session, 0 while unknown
	Answer    *Answer       // nil: none given
}

// Progress is what the judge waits for, or what it found.
type Progress struct {
	Result Result
	Stage  int // from 0
	Stages int
	Act    Act    // what the person does now
	Awaits string // the same in words
	Ask    Ask
	Recipe string // to be armed by the person if no cycle runs, "" for none
	Live   string // the awaited signal as it reads now
	LeftMs uint64 // until it is too late

	Why   string  // failed or not done: what was wrong, and what would be right
	Value float64 // measured, NaN for nothing
	Unit  string
	ByEye bool // a person's reading decided, no signal did
}

// stage is one wait of a step.
type stage struct {
	act      Act
	says     string
	proves   bool // too late is a failed proof; else the proof was not done
	longestS uint64
	late     string               // what it means when it took too long
	lateIs   func(*Judge) verdict // the same where it depends on what was seen
	ask      Ask
	recipe   string
	bit      uint32 // switch to show live, 0 for none
	ai       int8   // channel to show live, below 0 for none
	look     func(*Judge) verdict
	silent   func(*Judge) verdict // while no snapshot comes
	answer   func(*Judge, Answer) verdict
}

// verdict is what a stage makes of one moment; the zero value is "go on waiting".
type verdict struct {
	result Result // Passed: this stage is done
	why    string
}

var (
	stay = verdict{}
	next = verdict{result: Passed}
)

func failed(why string) verdict { return verdict{Failed, why} }
func undone(why string) verdict { return verdict{Undone, why} }

// Judge follows one step. It is a plain value for one goroutine.
type Judge struct {
	step    *Step
	profile *rig.Profile
	at      int
	begun   bool
	beganMs uint64 // of the stage
	nowMs   uint64

	snap    rig.Snapshot // newest
	before  rig.Snapshot // the one before it, in the same session
	seenMs  uint64       // elapsed at the newest snapshot
	have    bool
	session uint32

	fromMs  uint32 // stamp at which the stage began to look
	looks   bool
	memory  memory
	outcome Progress
}

// memory is what a step keeps from one stage to the next.
type memory struct {
	session   uint32
	flameMs   uint32 // newest stamp with the flame seen
	leftMs    uint32 // newest stamp with the left actuator released
	renewedMs uint32 // stamp of the newest renewal of the fuel lease
	seen      bool
	sum       float64
	n         int
	startBar  float64

	placed    bool // the stage has its position
	fromMM    float64
	atMM      float64
	stirredMs uint32
}

// NewJudge begins a step of the rig that Steps was called with.
func NewJudge(p *rig.Profile, s *Step) *Judge {
	j := &Judge{step: s, profile: p, outcome: Progress{Result: Waiting, Value: math.NaN(), Unit: s.Unit}}
	if !s.Fitted() {
		j.outcome.Result, j.outcome.Why = Undone, "not fitted: this rig has not "+s.Lacks
	}
	return j
}

// Feed takes one moment. After the proof's end it does nothing.
func (j *Judge) Feed(in Input) {
	if j.outcome.Result != Waiting {
		return
	}
	if in.Session == 0 {
		in.Snap = nil // a rig that has not said hello
	}
	j.take(&in)
	s := &j.step.stages[j.at]
	v := stay
	switch {
	case in.Answer != nil && s.answer != nil:
		v = s.answer(j, *in.Answer)
	case in.Snap != nil && s.look != nil:
		if !j.looks {
			j.looks, j.fromMs = true, j.snap.StampMs
		}
		v = s.look(j)
	case in.Snap == nil && s.silent != nil:
		v = s.silent(j)
	}
	j.obey(s, v)
}

func (j *Judge) take(in *Input) {
	j.nowMs = in.ElapsedMs
	if !j.begun {
		j.begun, j.beganMs = true, in.ElapsedMs
	}
	if in.Snap == nil {
		return
	}
	if j.before = j.snap; in.Session != j.session {
		j.before = *in.Snap
	}
	j.session, j.snap, j.seenMs, j.have = in.Session, *in.Snap, in.ElapsedMs, true
}

// obey carries a verdict out, and the end of a stage that took too long.
func (j *Judge) obey(s *stage, v verdict) {
	if v == stay && j.nowMs-j.beganMs > s.longestS*1000 {
		switch v = undone(s.late); {
		case s.lateIs != nil:
			v = s.lateIs(j)
		case !j.have || j.quietMs() >= quietMs:
			v = undone("no word from the rig")
		case s.proves:
			v = failed(s.late)
		}
	}
	switch v.result {
	case Passed:
		j.at++
		j.beganMs, j.looks, j.memory.placed = j.nowMs, false, false
		if j.at == len(j.step.stages) {
			j.at--
			j.outcome.Result = Passed
		}
	case Failed, Undone:
		j.outcome.Result, j.outcome.Why = v.result, v.why
	}
}

// Progress says how far the proof is.
func (j *Judge) Progress() Progress {
	p, s := &j.outcome, &j.step.stages[j.at]
	p.Stage, p.Stages, p.Live = j.at, len(j.step.stages), j.live(s)
	p.Act, p.Awaits, p.Ask, p.Recipe, p.LeftMs = "", "", AskNothing, "", 0
	if p.Result == Waiting {
		p.Act, p.Awaits, p.Ask, p.Recipe = s.act, s.says, s.ask, s.recipe
		p.LeftMs = s.longestS*1000 - min(s.longestS*1000, j.nowMs-j.beganMs)
	}
	return *p
}

// snapshotMs is the time between two snapshots.
const snapshotMs = 10

// lookedMs is the time by the rig's stamps since this stage began to look.
func (j *Judge) lookedMs() uint32 { return j.snap.StampMs - j.fromMs }

// quietMs is how long no snapshot has come.
func (j *Judge) quietMs() uint64 {
	if !j.have {
		return 0
	}
	return j.nowMs - j.seenMs
}

// measured notes the value that the record will hold.
func (j *Judge) measured(v float64) { j.outcome.Value = v }

// tripped reports whether the row of the matrix is among the trips in force.
func (j *Judge) tripped(cause uint8) bool { return j.snap.Trips&(1<<cause) != 0 }

// bar is a pressure channel, calibrated; false when it carries no value.
func (j *Judge) bar(ai uint8) (float64, bool) {
	return j.profile.Calibrated(ai, j.snap.Analog[ai]), j.snap.OK(ai)
}
