package safety

import (
	"fmt"
	"strings"

	"pressrig/safety/warden"
)

var gasWords = [...]string{"-", "sequenced", "shut"}
var spindleWords = [...]string{"keep", "creep", "ramp off", "off"}
var pressWords = [...]string{"-", "inhibit", "retract", "stay", "ease", "part", "off"}
var lockWords = [...]string{"-", "hold", "abort", "lockout"}

// MatrixMarkdown is the cause-and-effect matrix as the table of docs/assessor.md,
// made from the same data that acts.
func MatrixMarkdown() string {
	var b strings.Builder
	b.WriteString("| # | cause | owner | armed | within | gas | spindle | press above contact | " +
		"press in contact | lock | prio | why |\n")
	b.WriteString("|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for number := range uint8(64) {
		w := wordsOf(number)
		if w == nil {
			continue
		}
		owner, row := "supervisor", supervisorRow(number)
		if number < warden.NumCauses && warden.Matrix[number].Priority != 0 {
			owner, row = "warden", warden.Matrix[number]
		}
		fmt.Fprintf(&b, "| %d | %s | %s | %s | %s | %s | %s | %s | %s | %s | %d | %s |\n",
			number, w.Sentence, owner, w.Armed, w.Within, gasWords[row.Gas],
			spindleWords[row.Spindle], pressWords[row.Above], pressWords[row.Contact],
			lockWords[row.Lock], row.Priority, w.Reason)
	}
	return b.String()
}

func supervisorRow(number uint8) warden.Row {
	for i := range SupervisorRows {
		if SupervisorRows[i].Row == number {
			return SupervisorRows[i].Reacts
		}
	}
	return warden.Row{}
}

// Parts are the generated parts of pages in docs, by the name of their marker.
func Parts() map[string]map[string]string {
	return map[string]map[string]string{
		"assessor.md": {
			"matrix": MatrixMarkdown(), "invariants": promisesMarkdown(), "fmea": failuresMarkdown(),
			"line": lineMarkdown(), "figures": figuresMarkdown(),
			"claims": claimsMarkdown(), "contradictions": contradictionsMarkdown(),
		},
		"safety.md": {"unstarted": unstartedMarkdown()},
	}
}

func promisesMarkdown() string {
	var b strings.Builder
	b.WriteString("| # | holds always | checked by | tests |\n|---|---|---|---|\n")
	for i := range Promises {
		p := &Promises[i]
		fmt.Fprintf(&b, "| %d | %s | %s | %s |\n", p.Number, p.Holds, p.Checked, strings.Join(p.Tests, ", "))
	}
	return b.String()
}

func contradictionsMarkdown() string {
	var b strings.Builder
	b.WriteString("| # | cannot be so | invariant | judged by |\n|---|---|---|---|\n")
	for i := range Contradictions {
		k := &Contradictions[i]
		by := "watch, supervisor"
		if k.HostOnly {
			by = "supervisor"
		}
		fmt.Fprintf(&b, "| %d | %s | %d | %s |\n", k.Number, k.What, k.Promise, by)
	}
	return b.String()
}

func figuresMarkdown() string {
	var b strings.Builder
	b.WriteString("| command | run on | said |\n|---|---|---|\n")
	for _, f := range Figures {
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", f.Command, f.Date, f.Says)
	}
	return b.String()
}

func failuresMarkdown() string {
	var b strings.Builder
	b.WriteString("| id | item | failure mode | cause | local effect | end effect | S | O | D | RPN | " +
		"detection | action | owner | test | proof tests |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for i := range Failures {
		f := &Failures[i]
		test := f.Test
		if test == "" {
			test = "hardware"
		}
		fmt.Fprintf(&b, "| F%d | %s | %s | %s | %s | %s | %d | %d | %d | %d | %s | %s | %s | %s | %s |\n", i+1,
			f.Item, f.Mode, f.Cause, f.Local, f.End, f.S, f.O, f.D, f.RPN(), f.Detection, f.Action, f.Owner, test,
			strings.Join(f.Proofs, ", "))
	}
	return b.String()
}

func lineMarkdown() string {
	var b strings.Builder
	b.WriteString("| error | answered by | test |\n|---|---|---|\n")
	for _, e := range LineErrors {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", e.Error, e.Measures, e.Test)
	}
	return b.String()
}
