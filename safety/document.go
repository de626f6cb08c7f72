package safety

import (
	"fmt"
	"strings"

	"pressrig/safety/warden"
)

var gasWords = [...]string{"-", "sequenced", "shut"}
var spindleWords = [...]string{"keep", "creep", "ramp off", "off"}
var pressWords = [...]string{"-", "inhibit", "retract", "stay", "ease", "off"}
var lockWords = [...]string{"-", "hold", "abort", "lockout"}

// MatrixMarkdown is the cause-and-effect matrix as the table of docs/safety.md,
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
