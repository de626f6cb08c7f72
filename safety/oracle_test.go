package safety

import (
	"fmt"
	"slices"
	"testing"

	"pressrig/safety/oracle"
	"pressrig/safety/warden"
)

// intended are the cells in which the tables that act differ from the one typed
// by hand, each with its reason. There is none.
var intended = map[string]string{}

func actingRow(number uint8) (warden.Row, bool, bool) {
	if number < warden.NumCauses && warden.Matrix[number].Priority != 0 {
		return warden.Matrix[number], true, true
	}
	row := supervisorRow(number)
	return row, false, row.Priority != 0
}

// differences lists the cells of one row that do not say the same.
func differences(r oracle.Row) []string {
	acts, inWarden, exists := actingRow(r.Number)
	if !exists {
		return []string{fmt.Sprintf("%d missing: no row acts", r.Number)}
	}
	var out []string
	for _, c := range []struct {
		column string
		order  []string
		want   string
		got    uint8
	}{
		{"gas", oracle.GasOrder, r.Gas, acts.Gas},
		{"spindle", oracle.SpindleOrder, r.Spindle, acts.Spindle},
		{"above", oracle.PressOrder, r.Above, acts.Above},
		{"contact", oracle.PressOrder, r.Contact, acts.Contact},
		{"lock", oracle.LockOrder, r.Lock, acts.Lock},
	} {
		if got := c.order[c.got]; got != c.want {
			out = append(out, fmt.Sprintf("%d %s: by hand %s, acting %s", r.Number, c.column, c.want, got))
		}
	}
	if r.Priority != acts.Priority || r.Warden != inWarden {
		out = append(out, fmt.Sprintf("%d priority and warden: by hand %d %v, acting %d %v", r.Number,
			r.Priority, r.Warden, acts.Priority, inWarden))
	}
	return out
}

// The matrix that acts equals the one typed by hand, cell by cell, save what
// is listed above.
func TestMatrixEqualsTheOneTypedByHand(t *testing.T) {
	found := map[string]bool{}
	for _, r := range oracle.Rows {
		for _, cell := range differences(r) {
			found[cell] = true
			if reason := intended[cell]; reason != "" {
				t.Logf("row %s; intended: %s", cell, reason)
			} else {
				t.Errorf("row %s", cell)
			}
		}
	}
	for cell := range intended {
		if !found[cell] {
			t.Errorf("row %s is listed as an intended difference but is none", cell)
		}
	}
	for number := range uint8(64) {
		_, _, acts := actingRow(number)
		if _, typed := oracle.Find(number); acts && !typed {
			t.Errorf("row %d acts but was never typed by hand", number)
		}
	}
}

// firstLater is the first row of the supervisor's later ones: the numbers before it are
// kept free for the warden, whose rows the wire carries.
const firstLater = RowImplausible

// Every word of the hand-typed table belongs to its column, and the rows stand
// in the order of their numbers, once each.
func TestHandTypedTableIsWellFormed(t *testing.T) {
	last := uint8(0)
	for _, r := range oracle.Rows {
		if r.Number != last+1 && (r.Number != firstLater || last >= firstLater) {
			t.Errorf("row %d follows row %d", r.Number, last)
		}
		last = r.Number
		for _, c := range []struct {
			order []string
			word  string
		}{{oracle.GasOrder, r.Gas}, {oracle.SpindleOrder, r.Spindle}, {oracle.PressOrder, r.Above},
			{oracle.PressOrder, r.Contact}, {oracle.LockOrder, r.Lock}} {
			if !slices.Contains(c.order, c.word) {
				t.Errorf("row %d: %q is no word of %v", r.Number, c.word, c.order)
			}
		}
		if !r.Warden && r.Lock == "lockout" {
			t.Errorf("row %d: a cause of the supervisor never locks out", r.Number)
		}
	}
}

// All pairs of the requirement's 37 rows combine to the strongest of each
// column: 37 x 36 / 2 = 666. SV-066
func TestAllPairsCombineToTheStrongest(t *testing.T) {
	pairs := 0
	for i, a := range oracle.Rows[:37] {
		for _, b := range oracle.Rows[i+1 : 37] {
			pairs++
			want := reactionOf(oracle.Strongest(a, b))
			got := warden.Strongest(reactionOf(a), reactionOf(b))
			back := warden.Strongest(reactionOf(b), reactionOf(a))
			if got != want || back != want {
				t.Errorf("rows %d and %d: %v and %v, want %v", a.Number, b.Number, got, back, want)
			}
			one, _, ok1 := actingRow(a.Number)
			two, _, ok2 := actingRow(b.Number)
			if !ok1 || !ok2 || len(differences(a))+len(differences(b)) > 0 {
				continue // listed in TestMatrixEqualsTheOneTypedByHand
			}
			if acting := warden.Strongest(one.Reaction, two.Reaction); acting != want {
				t.Errorf("acting rows %d and %d: %v, want %v", a.Number, b.Number, acting, want)
			}
		}
	}
	if pairs != 666 {
		t.Errorf("%d pairs, want 666", pairs)
	}
}
