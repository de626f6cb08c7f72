package proof

import (
	"fmt"
	"time"

	"pressrig/rig"
)

// Record is one proof that somebody signed. Records are appended, never changed.
type Record struct {
	Number      uint32 // of the journal, from 1
	Function    string
	Rig         string
	At          time.Time
	By          string  // as typed
	User        string  // as the kernel knows it; "" where it does not
	Result      Result  // Passed or Failed
	Value       float64 // measured or read, NaN for nothing
	Unit        string
	Limit       string
	ByEye       bool
	Why         string // failed: what was wrong
	Note        string
	ProfileHash [32]byte
}

// DueState is how a function stands between two proofs.
type DueState string

// The states, best first. Refused and DueFailed refuse to arm.
const (
	DueFine    DueState = "not yet due"
	DueSoon    DueState = "due soon"
	DueNow     DueState = "overdue"
	DueRefused DueState = "long overdue"
	DueFailed  DueState = "failed"
)

// Due is one function's state.
type Due struct {
	Function string
	State    DueState
	At       time.Time // when the next proof is or was due; zero for none
	Every    time.Duration
	Last     *Record // newest proof, nil for none
}

// share of an interval: so long before its end it is due soon, and so long
// after it the daemon only warns.
const share = 10

// clockSlack is how far ahead of the clock a record may be dated. One from
// further in the future was made with a clock that was wrong, and counts as none.
const clockSlack = time.Hour

// Dues tells how every function stands that the profile asks for, and every
// fitted one whose newest proof failed, in the order of the steps. newest holds
// the newest record of each function; what was never proven counts from began.
func Dues(p *rig.Profile, newest map[string]Record, began, now time.Time) []Due {
	var all []Due
	for _, name := range rig.ProofFunctions() {
		if p.LacksFor(name) != "" {
			continue
		}
		d := Due{Function: name, State: DueFine, Every: p.Proof[name]}
		from := began
		if from.After(now) {
			from = now
		}
		if last, ok := newest[name]; ok && last.At.Before(now.Add(clockSlack)) {
			d.Last, from = &last, last.At
		}
		if d.Every > 0 {
			d.At = from.Add(d.Every)
			d.State = stateAt(d.At, d.Every, now)
		}
		if d.Last != nil && d.Last.Result == Failed {
			d.State = DueFailed
		}
		if d.Every > 0 || d.State == DueFailed {
			all = append(all, d)
		}
	}
	return all
}

func stateAt(due time.Time, every time.Duration, now time.Time) DueState {
	switch grace := every / share; {
	case now.After(due.Add(grace)):
		return DueRefused
	case now.After(due):
		return DueNow
	case now.After(due.Add(-grace)):
		return DueSoon
	}
	return DueFine
}

// Refuses reports whether no cycle may be armed.
func (d *Due) Refuses() bool { return d.State == DueRefused || d.State == DueFailed }

// Warning says what is due, since when, and what to do, "" while nothing is.
func (d *Due) Warning() string {
	do := "; make it with: pressrig prove " + d.Function
	switch d.State {
	case DueFailed:
		return fmt.Sprintf("%s failed its proof test on %s; mend it, then prove it with: pressrig prove %s",
			d.Function, d.Last.At.Format(dayForm), d.Function)
	case DueSoon:
		return fmt.Sprintf("the proof test of %s is due on %s%s", d.Function, d.At.Format(timeForm), do)
	case DueNow:
		return fmt.Sprintf("the proof test of %s was due on %s; from %s on no cycle is armed%s", d.Function,
			d.At.Format(timeForm), d.At.Add(d.Every/share).Format(timeForm), do)
	case DueRefused:
		return fmt.Sprintf("the proof test of %s was due on %s%s", d.Function, d.At.Format(timeForm), do)
	}
	return ""
}

const (
	dayForm  = "2006-01-02"
	timeForm = "2006-01-02 15:04"
)
