package safety

import (
	"slices"

	"pressrig/safety/oracle"
	"pressrig/safety/warden"
)

// typed is the matrix typed by hand, in the warden's numbers, by row. The
// invariants judge by it and never by the matrix that acts, so that a slip in
// one of the two shows.
var typed = func() (rows [64]warden.Row) {
	for _, r := range oracle.Rows {
		rows[r.Number] = warden.Row{Reaction: reactionOf(r), Priority: r.Priority}
	}
	return rows
}()

// reactionOf gives a row's words in the warden's numbers; the orders are the
// same in both.
func reactionOf(r oracle.Row) warden.Reaction {
	at := func(order []string, word string) uint8 { return uint8(slices.Index(order, word)) }
	return warden.Reaction{Gas: at(oracle.GasOrder, r.Gas), Spindle: at(oracle.SpindleOrder, r.Spindle),
		Above: at(oracle.PressOrder, r.Above), Contact: at(oracle.PressOrder, r.Contact),
		Lock: at(oracle.LockOrder, r.Lock)}
}

// strongestTyped combines a set of rows column by column.
func strongestTyped(set uint64) warden.Reaction {
	var all warden.Reaction
	for cause := range typed {
		if set>>cause == 0 {
			break
		}
		if set>>cause&1 == 1 {
			row := &typed[cause]
			all.Gas, all.Spindle = max(all.Gas, row.Gas), max(all.Spindle, row.Spindle)
			all.Above, all.Contact = max(all.Above, row.Above), max(all.Contact, row.Contact)
			all.Lock = max(all.Lock, row.Lock)
		}
	}
	return all
}
