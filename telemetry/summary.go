package telemetry

import (
	"encoding/json"
	"fmt"
	"time"

	"pressrig/controller"
)

// Limits of one summary, far above any recipe; more is cut and said so.
const (
	maxPhases   = 64
	maxMeasures = 128
)

// entry is one thing that the loop told, on its way to the collector: a
// record, or (phase true) that status entered another phase.
type entry struct {
	wall    time.Time
	stampMs uint32
	phase   bool
	left    string // the phase before
	why     string // why it ended
	rec     controller.Record
	status  controller.Status // as last told, without its times
}

type summaryPhase struct {
	Name   string   `json:"name"`
	Kind   string   `json:"kind"`
	BeginS float64  `json:"begin_s"` // since the cycle's start
	EndS   *float64 `json:"end_s"`
	Why    string   `json:"why"`
	index  int16
}

type summaryMeasure struct {
	Name  string   `json:"name"`
	Value *float64 `json:"value"` // null: not a number
	Unit  string   `json:"unit"`
	AtS   float64  `json:"at_s"`
}

// summaryPayload is a cycle in short. Where it and the journal differ, the
// journal stands.
type summaryPayload struct {
	ID string `json:"id"` // the same in every delivery of this summary
	head
	Cycle     uint32           `json:"cycle"`
	Run       uint32           `json:"run"`
	Piece     uint16           `json:"piece"`
	Recipe    string           `json:"recipe"`
	State     string           `json:"state"` // complete | stopped | aborted
	Reason    string           `json:"reason"`
	Cause     *cause           `json:"cause"`  // first cause; null when it never tripped
	Causes    []cause          `json:"causes"` // all rows that tripped in the cycle
	Lockout   bool             `json:"lockout"`
	Refired   bool             `json:"refired"`
	Began     string           `json:"began"` // wall
	Ended     string           `json:"ended"` // wall
	DurationS float64          `json:"duration_s"`
	Whole     bool             `json:"whole"` // false: the start was not seen, or something was cut
	Phases    []summaryPhase   `json:"phases"`
	Measures  []summaryMeasure `json:"measures"`
}

// builder gathers the entries of one cycle into its summary. It is pure.
type builder struct {
	words
	p       summaryPayload
	first   uint8
	causes  uint64
	beganMs uint64
	began   time.Time
	open    bool
}

// add takes one entry; at the cycle's end it gives the encoded summary.
func (b *builder) add(e *entry) ([]byte, bool) {
	r := &e.rec
	if e.phase {
		b.name(&e.status)
		return nil, false
	}
	if r.Kind == controller.RecStart || !b.open || r.Cycle != b.p.Cycle {
		if !inCycle(r) {
			return nil, false
		}
		b.begin(e)
	}
	b.note(e)
	switch r.Kind {
	case controller.RecPhaseBegin:
		b.beginPhase(e)
	case controller.RecPhaseEnd:
		b.endPhase(r)
	case controller.RecMeasure:
		b.measure(r)
	case controller.RecTrip:
		b.trip(r)
	case controller.RecEnd:
		return b.end(e), true
	}
	return nil, false
}

// inCycle reports whether a record belongs to a cycle's story; trips and
// commands in standby do not begin one.
func inCycle(r *controller.Record) bool {
	return r.Cycle != 0 && r.Kind != controller.RecCommand && r.Kind != controller.RecAlarm
}

func (b *builder) begin(e *entry) {
	*b = builder{words: b.words, began: e.wall, beganMs: e.rec.ElapsedMs, open: true}
	b.p.Cycle = e.rec.Cycle
	b.p.Whole = e.rec.Kind == controller.RecStart
	b.p.Phases = []summaryPhase{}
	b.p.Measures = []summaryMeasure{}
}

// note keeps what only the status knows, if it is of this cycle.
func (b *builder) note(e *entry) {
	s := &e.status
	if s.Cycle != b.p.Cycle {
		return
	}
	b.p.Run, b.p.Piece, b.p.Recipe, b.p.Refired = s.Run, s.Piece, clip(s.Recipe), s.Refired
}

func (b *builder) seconds(elapsedMs uint64) float64 {
	if elapsedMs < b.beganMs {
		return 0
	}
	return float64(elapsedMs-b.beganMs) / 1000
}

func (b *builder) beginPhase(e *entry) {
	if len(b.p.Phases) == maxPhases {
		b.p.Whole = false
		return
	}
	p := summaryPhase{Name: clip(e.rec.Name), BeginS: b.seconds(e.rec.ElapsedMs), index: e.rec.Phase}
	b.p.Phases = append(b.p.Phases, p)
	b.name(&e.status) // in case it was told before
}

// name gives phases their kinds (and names, where the record had none), which
// the status tells a little after the record.
func (b *builder) name(s *controller.Status) {
	if !b.open || s.Cycle != b.p.Cycle {
		return
	}
	for i := range b.p.Phases {
		p := &b.p.Phases[i]
		if p.index == s.Phase && p.Kind == "" {
			p.Name, p.Kind = clip(s.PhaseName), clip(string(s.PhaseKind))
		}
	}
}

// endPhase closes the newest open run of the phase; it may have been entered
// more than once.
func (b *builder) endPhase(r *controller.Record) {
	for i := len(b.p.Phases) - 1; i >= 0; i-- {
		p := &b.p.Phases[i]
		if p.index == r.Phase && p.EndS == nil {
			p.EndS, p.Why = number(b.seconds(r.ElapsedMs)), clip(r.Reason)
			return
		}
	}
}

func (b *builder) measure(r *controller.Record) {
	if len(b.p.Measures) == maxMeasures {
		b.p.Whole = false
		return
	}
	b.p.Measures = append(b.p.Measures, summaryMeasure{clip(r.Name), number(r.Value),
		clip(r.Unit), b.seconds(r.ElapsedMs)})
}

// trip keeps the first cause of the cycle's first trip; rows gather.
func (b *builder) trip(r *controller.Record) {
	if b.first == 0 {
		b.first = r.Cause
	}
	b.causes |= r.Causes
	b.p.Lockout = b.p.Lockout || r.Lockout
}

func (b *builder) end(e *entry) []byte {
	r, p := &e.rec, &b.p
	if b.first == 0 {
		b.first = r.Cause
	}
	b.causes |= r.Causes
	p.head = b.words.head(e.wall, e.stampMs)
	p.ID = fmt.Sprintf("%s-%d-%d", b.rig, p.Cycle, b.began.UnixMilli())
	p.State, p.Reason = r.State.String(), clip(r.Reason)
	p.Lockout = p.Lockout || r.Lockout
	p.Cause, p.Causes = b.maybe(b.first), b.words.causes(b.causes)
	p.Began, p.Ended = wallText(b.began), wallText(e.wall)
	p.DurationS = b.seconds(r.ElapsedMs)
	data, err := json.Marshal(p)
	if err != nil || len(data) > maxPayload {
		p.Phases, p.Measures, p.Whole = p.Phases[:0], p.Measures[:0], false
		data = encode(topicCycle, p).payload
	}
	*b = builder{words: b.words}
	return data
}
