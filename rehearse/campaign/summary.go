package campaign

import (
	"fmt"
	"strings"
)

// Line is what all runs about one provocation came to.
type Line struct {
	Name     string `json:"name"`
	Cause    string `json:"cause"`
	Runs     int    `json:"runs"`
	Right    int    `json:"right"`
	Acted    int    `json:"acted"` // runs in which its row acted
	DetectMs int64  `json:"detect_ms_longest"`
	ReactMs  int64  `json:"react_ms_longest"`
	Unburnt  uint32 `json:"unburnt_ms_worst"`
}

// Summary is what a campaign came to.
type Summary struct {
	Lines   []Line `json:"singles"`
	Pairs   Line   `json:"pairs"`
	Random  Line   `json:"random"`
	Virtual uint64 `json:"virtual_ms"`
	Shared  uint64 `json:"shared_ms"`
	Failed  int    `json:"failed"`
}

// NewSummary has a line for each provocation.
func NewSummary() *Summary {
	s := &Summary{Pairs: Line{Name: "pairs", Cause: "two of the twelve worst"},
		Random: Line{Name: "random", Cause: "compound runs"}}
	for i := range provocations {
		p := &provocations[i]
		cause := "error of the line"
		if p.row() != 0 {
			cause = rows[p.row()].Cause
		}
		s.Lines = append(s.Lines, Line{Name: p.name, Cause: cause})
	}
	return s
}

// Add counts one result.
func (s *Summary) Add(r *Result) {
	line := &s.Random
	switch len(r.About) {
	case 0:
	case 1:
		for i := range s.Lines {
			if s.Lines[i].Name == r.About[0] {
				line = &s.Lines[i]
			}
		}
	default:
		line = &s.Pairs
	}
	line.Runs++
	s.Virtual += r.Virtual
	s.Shared += r.Shared
	if len(r.Wrong) == 0 {
		line.Right++
	} else {
		s.Failed++
	}
	if r.DetectMs >= 0 {
		line.Acted++
	}
	line.DetectMs, line.ReactMs = max(line.DetectMs, r.DetectMs), max(line.ReactMs, r.ReactMs)
	if !r.Blind {
		line.Unburnt = max(line.Unburnt, r.Unburnt)
	}
}

// Silent are the provocations of which whole campaigns never saw their row act:
// then nothing was shown about it.
func (s *Summary) Silent() []string {
	var names []string
	for _, l := range s.Lines {
		p, _ := provocationNamed(l.Name)
		if l.Runs == numPhases*len(Moments) && l.Acted == 0 && len(p.rows) > 0 {
			names = append(names, l.Name)
		}
	}
	return names
}

// Text is the table, and what it does not say.
func (s *Summary) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-11s %-44s %6s %6s %6s %9s %9s %9s\n", "provoked", "cause", "runs", "right", "acted",
		"detect ms", "react ms", "unburnt")
	for _, l := range append(append([]Line{}, s.Lines...), s.Pairs, s.Random) {
		if l.Runs == 0 {
			continue
		}
		detect, react := "-", "-"
		if l.Acted > 0 {
			detect, react = fmt.Sprint(l.DetectMs), fmt.Sprint(l.ReactMs)
		}
		cause := l.Cause
		if len(cause) > 44 {
			cause = cause[:43] + "…"
		}
		fmt.Fprintf(&b, "%-11s %-44s %6d %6d %6d %9s %9s %9d\n", l.Name, cause, l.Runs, l.Right, l.Acted, detect,
			react, l.Unburnt)
	}
	b.WriteString(Limits)
	return b.String()
}

// Limits says what a campaign shows and what it does not.
const Limits = `
Right: reaction, first cause, lock, end, records, invariants and the way back to idle were as the
hand-typed matrix says, whether the cause counted in that phase or not; acted: it counted.
Detect: from the fault, or from when it first counted, to the row. Unburnt: fuel without flame in the
worst 30 s, at the simulated burner; without the runs whose flame sensor says flame where none is,
since no program can count then: that is for the certified burner control.
This is a simulation. It shows nothing about real hardware, and nothing about faults that it does not
inject: a processor that computes wrongly, memory that decays, two sensors that lie alike, a relay
that welds, a person who bypasses a guard. The software is not the safety device.
`
