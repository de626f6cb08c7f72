// Package trials compares cycles with each other: phase by phase, channel by
// channel, as text and as an overlay picture. It reads what the journal gives
// it and never opens a file. Start reading at Cycle, then compare.go.
package trials

import (
	"fmt"
	"strings"
	"time"
)

// Cycle is one stored cycle as people look at it.
type Cycle struct {
	Number    uint32
	Run       uint32
	Piece     uint16
	Dummy     bool
	Guarded   bool   // false: assisted mode, no warden stood behind it
	By        string // as typed
	User      string // as the kernel knew it; "" where it did not
	Rig       string
	Recipe    string
	Hash      string // of the recipe, hex
	Profile   string // hash of the rig profile, hex
	Firmware  string
	Started   time.Time // wall clock, for people
	Ended     time.Time
	State     string // complete | stopped | aborted | "" while it runs
	Reason    string
	Cause     uint8 // first cause, a row of the matrix; 0 none
	CauseText string
	Lockout   bool
	Refired   bool
	Saved     time.Duration // how much trace a cycle has that never ended
	Recovered bool          // closed as aborted by the journal: the daemon had ended
	Last      bool          // last piece of its run: the flame was shut at the end
	// LostRecords counts records that neither disk nor memory had room for.
	LostRecords uint32
	Phases      []Phase
	Measures    []Measure
	Events      []Event
	Ledger      Ledger // of the journal when the cycle was read from it
}

// Ledger is the head of the journal's ledger. Noted away from the journal it
// shows later whether the journal's end was cut off (pressrig journal check).
type Ledger struct {
	Entries int64  `json:"entries"`
	Head    string `json:"head"` // SHA-256 in hex, chained over all entries
}

// String tells it in a line for people, "" for none.
func (l Ledger) String() string {
	if l.Entries == 0 {
		return ""
	}
	return fmt.Sprintf("%d entries, head %s", l.Entries, l.Head)
}

// Who joins the name that a person typed and the user that the kernel knew, for
// people: "Ada (uid 1000)". Anybody can type any name.
func Who(by, user string) string {
	if user == "" {
		return by
	}
	return strings.TrimSpace(by + " (" + user + ")")
}

// Phase is one executed phase. Times are since the cycle's start.
type Phase struct {
	Name   string
	Kind   string
	Begin  time.Duration
	End    time.Duration
	Reason string // why it ended
}

// Measure is one figure that a cycle recorded about itself.
type Measure struct {
	Name  string
	Value float64
	Unit  string
	At    time.Duration
}

// Event is one line of the cycle's story.
type Event struct {
	At   time.Duration
	Kind string
	Text string
}

// Trace is the sampled channels of a cycle, one row a snapshot.
type Trace struct {
	Ms     []uint32  // since the cycle's start
	Analog [][]int16 // by warden.Ai..., each as long as Ms
	OK     []uint16  // validity bits
	In     []uint32
	Out    []uint16
	Burner []uint8
	Press  []uint8
	Flags  []uint16 // rig.Flag...; nil in a trace that has none
	Gaps   []Gap
}

// Gap marks steps that were dropped.
type Gap struct {
	AfterMs uint32
	Steps   uint32
}

// forecast tells a cycle that nobody ran: it has no day.
func (c *Cycle) forecast() bool { return c.Started.IsZero() }
