// Package span refuses quantities that no bench has, so that a wrong unit is
// noticed before it becomes a figure.
//
// It never corrects a value and never warns: what lies in its span passes,
// anything else, NaN too, is an error that says what would be right. Start
// reading at Of.
package span

import "fmt"

// Of is a quantity that must lie between two values, both included. What names
// it with its unit.
type Of struct {
	What        string
	Value       float64
	Least, Most float64
}

// Check refuses the first quantity that does not lie in its span.
func Check(list ...Of) error {
	for _, s := range list {
		if !(s.Value >= s.Least && s.Value <= s.Most) {
			return fmt.Errorf("%s is %g; it must lie between %g and %g", s.What, s.Value, s.Least, s.Most)
		}
	}
	return nil
}
