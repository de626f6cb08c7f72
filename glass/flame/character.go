package flame

import "fmt"

// Character is what a flame does to glass chemically.
type Character int

// The three characters.
const (
	Reducing Character = iota
	Neutral
	Oxidising
)

// Bounds of the neutral flame and the least ratio for lead glass [common
// practice, no source].
const (
	neutralLeast = 0.95
	neutralMost  = 1.05
	LeadLeast    = 1.1
)

// CharacterOf is the character at an oxygen ratio, supplied over
// stoichiometric.
func CharacterOf(ratio float64) (Character, error) {
	switch {
	case !(ratio >= 0 && ratio <= 100):
		return 0, fmt.Errorf("oxygen ratio %g; give one from 0 to 100", ratio)
	case ratio < neutralLeast:
		return Reducing, nil
	case ratio <= neutralMost:
		return Neutral, nil
	}
	return Oxidising, nil
}

// String is the word of the trade.
func (c Character) String() string {
	switch c {
	case Reducing:
		return "reducing"
	case Neutral:
		return "neutral"
	case Oxidising:
		return "oxidising"
	}
	return "unknown"
}

// SpoilsLead says why a flame of this oxygen ratio may not touch lead glass,
// nil when it may: a reducing flame turns the lead to metal and the glass
// grey.
func SpoilsLead(ratio float64) error {
	if ratio >= LeadLeast {
		return nil
	}
	return fmt.Errorf("oxygen ratio %.3g greys lead glass; give at least %g of stoichiometric",
		ratio, LeadLeast)
}
