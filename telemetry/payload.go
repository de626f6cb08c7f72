package telemetry

import (
	"encoding/json"
	"math"
	"math/bits"
	"time"
	"unicode/utf8"

	"pressrig/controller"
)

// Limits of what leaves.
const (
	maxPayload = 64 << 10 // bytes; brokers take it, and a summary fits
	maxText    = 200      // bytes of one text; longer ones are cut at a rune
)

// wallForm is RFC 3339 in UTC with milliseconds.
const wallForm = "2006-01-02T15:04:05.000Z"

var lockNames = [...]string{"none", "hold", "abort", "lockout"} // by warden.Lock...

// head begins every payload but the status: whose, when by the wall clock, and
// when by the microcontroller's clock (ms since its boot, wraps).
type head struct {
	Rig   string `json:"rig"`
	Wall  string `json:"wall"`
	McuMs uint32 `json:"mcu_ms"`
}

// cause is a row of the cause-and-effect matrix with its words.
type cause struct {
	Row  uint8  `json:"row"`
	Text string `json:"text"`
}

type statusPayload struct {
	Rig       string `json:"rig"`
	Status    string `json:"status"` // online | offline
	Why       string `json:"why"`
	Connected string `json:"connected"` // wall: when this connection was made, also in the last will
}

type statePayload struct {
	head
	State      string  `json:"state"`
	Cycle      uint32  `json:"cycle"`
	Run        uint32  `json:"run"`
	Piece      uint16  `json:"piece"`
	Recipe     string  `json:"recipe"`
	PhaseIndex int16   `json:"phase_index"` // -1 outside
	Phase      string  `json:"phase"`
	PhaseKind  string  `json:"phase_kind"`
	Doing      string  `json:"doing"`
	Armed      bool    `json:"armed"`
	Refired    bool    `json:"refired"`
	Lock       string  `json:"lock"`
	Cause      *cause  `json:"cause"` // first cause of the trip in force
	Alarms     []cause `json:"alarms"`
	AckNeeded  bool    `json:"ack_needed"`
	Prompt     string  `json:"prompt"`
	Reason     string  `json:"reason"`
}

type phasePayload struct {
	head
	Cycle uint32 `json:"cycle"`
	Index int16  `json:"index"` // -1: outside a phase now
	Phase string `json:"phase"`
	Kind  string `json:"kind"`
	Left  string `json:"left"` // the phase before
	Why   string `json:"why"`  // why that one ended
}

// ledgerPayload is the head of the journal's ledger: away from the journal it
// shows later whether that was cut off or made anew.
type ledgerPayload struct {
	Rig     string `json:"rig"`
	Wall    string `json:"wall"`
	Cycle   uint32 `json:"cycle"` // that ended; 0: at a start or close of the daemon
	Entries int64  `json:"entries"`
	Head    string `json:"head"`
}

type tripPayload struct {
	head
	Cycle   uint32  `json:"cycle"`
	First   cause   `json:"first"`
	Causes  []cause `json:"causes"`
	Lockout bool    `json:"lockout"`
	Reason  string  `json:"reason"`
}

type alarmPayload struct {
	head
	Cycle  uint32 `json:"cycle"`
	Cause  cause  `json:"cause"`
	Reason string `json:"reason"`
}

// words renders what the loop told as payloads; it holds the rig's name and
// the causes' sentences, and nothing that changes.
type words struct {
	rig       string
	causeText func(uint8) string
}

func (w words) head(wall time.Time, stampMs uint32) head {
	return head{w.rig, wallText(wall), stampMs}
}

func wallText(t time.Time) string { return t.UTC().Format(wallForm) }

func (w words) cause(row uint8) cause { return cause{row, clip(w.causeText(row))} }

// causes lists the rows of a set, lowest first.
func (w words) causes(set uint64) []cause {
	list := make([]cause, 0, bits.OnesCount64(set))
	for ; set != 0; set &= set - 1 {
		list = append(list, w.cause(uint8(bits.TrailingZeros64(set))))
	}
	return list
}

// maybe is nil for no cause, so that JSON says null.
func (w words) maybe(row uint8) *cause {
	if row == 0 {
		return nil
	}
	c := w.cause(row)
	return &c
}

func (w words) status(status, why string, connected time.Time) message {
	return encode(topicStatus, statusPayload{w.rig, status, why, wallText(connected)})
}

func (w words) state(s *controller.Status, wall time.Time, stampMs uint32) message {
	return encode(topicState, statePayload{
		head: w.head(wall, stampMs), State: s.State.String(), Cycle: s.Cycle, Run: s.Run,
		Piece: s.Piece, Recipe: clip(s.Recipe), PhaseIndex: s.Phase, Phase: clip(s.PhaseName),
		PhaseKind: clip(string(s.PhaseKind)), Doing: clip(s.Doing), Armed: s.Armed,
		Refired: s.Refired, Lock: lockName(s.Lock), Cause: w.maybe(s.Cause),
		Alarms: w.causes(s.Alarms), AckNeeded: s.AckNeeded, Prompt: clip(s.PromptTxt),
		Reason: clip(s.Reason),
	})
}

func (w words) ledger(l *toldLedger) message {
	return encode(topicLedger, ledgerPayload{w.rig, wallText(l.wall), l.cycle, l.entries, l.head})
}

func lockName(lock uint8) string {
	if int(lock) < len(lockNames) {
		return lockNames[lock]
	}
	return "lock?"
}

// event renders what goes out at once, or reports that e is none of that.
func (w words) event(e *entry) (message, bool) {
	h := w.head(e.wall, e.stampMs)
	r := &e.rec
	switch {
	case e.phase:
		s := &e.status
		return encode(topicPhase, phasePayload{h, s.Cycle, s.Phase, clip(s.PhaseName),
			clip(string(s.PhaseKind)), clip(e.left), clip(e.why)}), true
	case r.Kind == controller.RecTrip:
		return encode(topicTrip, tripPayload{h, r.Cycle, w.cause(r.Cause), w.causes(r.Causes),
			r.Lockout, clip(r.Reason)}), true
	case r.Kind == controller.RecAlarm:
		return encode(topicAlarm, alarmPayload{h, r.Cycle, w.cause(r.Cause), clip(r.Reason)}), true
	}
	return message{}, false
}

// encode cannot fail: payloads hold strings, integers, booleans and finite
// numbers only (see number).
func encode(topic string, payload any) message {
	b, err := json.Marshal(payload)
	if err != nil {
		b = []byte(`{"error":"payload not encodable"}`)
	}
	return message{topic, b}
}

// number is a float that JSON can carry: null when it is none.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// clip cuts a text at maxText bytes, never inside a rune.
func clip(s string) string {
	if len(s) <= maxText {
		return s
	}
	n := maxText
	for n > maxText-utf8.UTFMax && !utf8.RuneStart(s[n]) {
		n--
	}
	return s[:n]
}
