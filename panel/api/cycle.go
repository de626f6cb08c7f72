package api

import (
	"encoding/hex"
	"time"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/trials"
)

// Cycle is one stored cycle. The list of cycles leaves out phases, measures
// and events.
type Cycle struct {
	Number    uint32     `json:"number"`
	Run       uint32     `json:"run"`
	Piece     uint16     `json:"piece"`
	Dummy     bool       `json:"dummy,omitempty"`
	Last      bool       `json:"last,omitempty"`
	Guarded   bool       `json:"guarded"`           // false: no warden stood behind it
	By        string     `json:"by"`                // as typed
	User      string     `json:"by_user,omitempty"` // as the kernel knew it
	Rig       string     `json:"rig"`
	Recipe    string     `json:"recipe"`
	Hash      string     `json:"recipe_sha256,omitempty"`
	Profile   string     `json:"profile_sha256,omitempty"`
	Firmware  string     `json:"firmware,omitempty"`
	Started   time.Time  `json:"started"`
	Ended     *time.Time `json:"ended"`
	State     string     `json:"state"` // complete | stopped | aborted | "" while it runs
	Reason    string     `json:"reason,omitempty"`
	Cause     uint8      `json:"first_cause,omitempty"`
	CauseText string     `json:"first_cause_text,omitempty"`
	Lockout   bool       `json:"lockout,omitempty"`
	Refired   bool       `json:"refired,omitempty"`
	Recovered bool       `json:"recovered,omitempty"` // closed for a daemon that had ended
	SavedS    float64    `json:"saved_s,omitempty"`   // trace of such a cycle
	Lost      uint32     `json:"lost_records,omitempty"`
	Phases    []Phase    `json:"phases,omitempty"`
	Measures  []Measure  `json:"measures,omitempty"`
	Events    []Event    `json:"events,omitempty"`
	// Ledger is of the journal when the cycle was read; the list leaves it out.
	Ledger *trials.Ledger `json:"ledger,omitempty"`
}

// Phase is one executed phase.
type Phase struct {
	Name   string  `json:"name"`
	Kind   string  `json:"kind"`
	BeginS float64 `json:"begin_s"`
	EndS   float64 `json:"end_s"`
	Reason string  `json:"reason,omitempty"`
}

// Measure is one figure that a cycle recorded about itself.
type Measure struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	AtS   float64 `json:"at_s"`
}

// Event is one line of a cycle's story.
type Event struct {
	AtS  float64 `json:"at_s"`
	Kind string  `json:"kind"`
	Text string  `json:"text"`
}

// Trace has the sampled channels of a cycle as the integers that were on the
// wire; a column says its unit and the size of one count.
type Trace struct {
	Ms      []uint32 `json:"ms"` // since the cycle's start
	Columns []Column `json:"columns"`
	OK      []uint16 `json:"ok"` // bit n: column n is valid
	In      []uint32 `json:"in"` // switches, bits in the order of Switches
	Out     []uint16 `json:"out"`
	Burner  []uint16 `json:"burner"` // phase numbers; bytes would travel as base64
	Press   []uint16 `json:"press"`
	Gaps    []Gap    `json:"gaps,omitempty"`
}

// Column is one measured channel.
type Column struct {
	Name   string  `json:"name"`
	Unit   string  `json:"unit"`
	Scale  float64 `json:"scale"` // units of one count
	Counts []int16 `json:"counts"`
}

// Gap marks steps that were dropped.
type Gap struct {
	AfterMs uint32 `json:"after_ms"`
	Steps   uint32 `json:"steps"`
}

// Recipe is a stored recipe; the list leaves out the text.
type Recipe struct {
	Name     string  `json:"name"`
	Note     string  `json:"note,omitempty"`
	Standing string  `json:"standing"` // how far its numbers are to be trusted
	Glass    string  `json:"glass"`
	Phases   int     `json:"phases"`
	LongestS float64 `json:"longest_s"`
	Hash     string  `json:"sha256"`
	Text     string  `json:"text,omitempty"`
}

// RecipeOf puts a recipe into the words of the API.
func RecipeOf(r *recipes.Recipe, withText bool) Recipe {
	out := Recipe{Name: r.Name, Note: r.Note, Standing: r.Standing, Glass: r.Glass,
		Phases: len(r.Phases), LongestS: r.Longest.Seconds(), Hash: hex.EncodeToString(r.Hash[:])}
	if withText {
		out.Text = string(r.Text)
	}
	return out
}

// CycleOf puts a stored cycle into the words of the API.
func CycleOf(c *trials.Cycle) Cycle {
	out := Cycle{
		Number: c.Number, Run: c.Run, Piece: c.Piece, Dummy: c.Dummy, Last: c.Last, Guarded: c.Guarded,
		By: c.By, User: c.User, Rig: c.Rig, Recipe: c.Recipe, Hash: c.Hash, Profile: c.Profile,
		Firmware: c.Firmware, Started: c.Started, State: c.State, Reason: c.Reason,
		Cause: c.Cause, CauseText: c.CauseText, Lockout: c.Lockout, Refired: c.Refired,
		Recovered: c.Recovered, SavedS: c.Saved.Seconds(), Lost: c.LostRecords,
	}
	if !c.Ended.IsZero() {
		ended := c.Ended
		out.Ended = &ended
	}
	if c.Ledger.Entries > 0 {
		ledger := c.Ledger
		out.Ledger = &ledger
	}
	for _, p := range c.Phases {
		out.Phases = append(out.Phases,
			Phase{p.Name, p.Kind, p.Begin.Seconds(), p.End.Seconds(), p.Reason})
	}
	for _, m := range c.Measures {
		out.Measures = append(out.Measures, Measure{m.Name, m.Value, m.Unit, m.At.Seconds()})
	}
	for _, e := range c.Events {
		out.Events = append(out.Events, Event{e.At.Seconds(), e.Kind, e.Text})
	}
	return out
}

// Trials gives the cycle back as CycleOf took it, times to the microsecond.
func (c *Cycle) Trials() trials.Cycle {
	out := trials.Cycle{
		Number: c.Number, Run: c.Run, Piece: c.Piece, Dummy: c.Dummy, Last: c.Last, Guarded: c.Guarded,
		By: c.By, User: c.User, Rig: c.Rig, Recipe: c.Recipe, Hash: c.Hash, Profile: c.Profile,
		Firmware: c.Firmware, Started: c.Started, State: c.State, Reason: c.Reason,
		Cause: c.Cause, CauseText: c.CauseText, Lockout: c.Lockout, Refired: c.Refired,
		Recovered: c.Recovered, Saved: duration(c.SavedS), LostRecords: c.Lost,
	}
	if c.Ended != nil {
		out.Ended = *c.Ended
	}
	if c.Ledger != nil {
		out.Ledger = *c.Ledger
	}
	for _, p := range c.Phases {
		out.Phases = append(out.Phases,
			trials.Phase{Name: p.Name, Kind: p.Kind, Begin: duration(p.BeginS), End: duration(p.EndS),
				Reason: p.Reason})
	}
	for _, m := range c.Measures {
		out.Measures = append(out.Measures,
			trials.Measure{Name: m.Name, Value: m.Value, Unit: m.Unit, At: duration(m.AtS)})
	}
	for _, e := range c.Events {
		out.Events = append(out.Events, trials.Event{At: duration(e.AtS), Kind: e.Kind, Text: e.Text})
	}
	return out
}

// TraceOf puts a trace into the words of the API; the columns share its memory.
func TraceOf(t *trials.Trace) Trace {
	out := Trace{Ms: t.Ms, OK: t.OK, In: t.In, Out: t.Out,
		Burner: cast[uint16](t.Burner), Press: cast[uint16](t.Press)}
	for i, counts := range t.Analog {
		if i < len(rig.Analogs) {
			c := rig.Analogs[i]
			out.Columns = append(out.Columns, Column{c.Name, c.Unit, c.Scale, counts})
		}
	}
	for _, g := range t.Gaps {
		out.Gaps = append(out.Gaps, Gap(g))
	}
	return out
}

// Trials gives the trace back as TraceOf took it, or says what does not fit:
// columns of unequal length would make a comparison read past an end.
func (t *Trace) Trials() (*trials.Trace, error) {
	out := &trials.Trace{Ms: t.Ms, OK: t.OK, In: t.In, Out: t.Out,
		Burner: cast[uint8](t.Burner), Press: cast[uint8](t.Press),
		Analog: make([][]int16, len(rig.Analogs))}
	n := len(t.Ms)
	for _, l := range []int{len(t.OK), len(t.In), len(t.Out), len(t.Burner), len(t.Press)} {
		if l != n {
			return nil, wrong("a trace of %d rows has a column of %d", n, l)
		}
	}
	for i, c := range rig.Analogs {
		if i >= len(t.Columns) || t.Columns[i].Name != c.Name || len(t.Columns[i].Counts) != n {
			return nil, wrong("a trace of %d rows lacks column %s or has it too short", n, c.Name)
		}
		out.Analog[i] = t.Columns[i].Counts
	}
	for _, g := range t.Gaps {
		out.Gaps = append(out.Gaps, trials.Gap(g))
	}
	return out, nil
}

func cast[To, From uint8 | uint16](in []From) []To {
	out := make([]To, len(in))
	for i, v := range in {
		out[i] = To(v)
	}
	return out
}

func duration(s float64) time.Duration {
	return time.Duration(s*1e6+0.5) * time.Microsecond
}
