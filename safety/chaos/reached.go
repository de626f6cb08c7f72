package chaos

import (
	"fmt"

	"pressrig/safety/warden"
)

// Reached counts what walks came through, so that no check of them is vacuous.
type Reached struct {
	Burner [warden.NumBurner]int // entries into each phase
	Press  [warden.NumPress]int
	First  [warden.NumCauses]int // how often each cause came first
	Button int                   // how often a button counted as stuck
}

// Count takes in one tick, from the state before it to the state after.
func (r *Reached) Count(before, after *warden.State) {
	if after.Burner != before.Burner {
		r.Burner[after.Burner]++
	}
	if after.Press != before.Press {
		r.Press[after.Press]++
	}
	if after.First != before.First && after.First != 0 {
		r.First[after.First]++
	}
	if after.Present&^before.Present&(1<<warden.CauseButton) != 0 {
		r.Button++
	}
}

// Add takes in another count.
func (r *Reached) Add(o *Reached) {
	for i := range r.Burner {
		r.Burner[i] += o.Burner[i]
	}
	for i := range r.Press {
		r.Press[i] += o.Press[i]
	}
	for i := range r.First {
		r.First[i] += o.First[i]
	}
	r.Button += o.Button
}

// Times is how often the cause acted: as the first one, or at all where it
// does not latch.
func (r *Reached) Times(cause uint8) int {
	if cause == warden.CauseButton {
		return r.Button
	}
	return r.First[cause]
}

// Missing says what was reached fewer than least times.
func (r *Reached) Missing(least int) []string {
	var missing []string
	for phase, n := range r.Burner {
		if n < least {
			missing = append(missing, fmt.Sprintf("burner phase %d entered only %d times", phase, n))
		}
	}
	for phase, n := range r.Press {
		if n < least {
			missing = append(missing, fmt.Sprintf("press phase %d entered only %d times", phase, n))
		}
	}
	for cause, row := range warden.Matrix {
		if n := r.Times(uint8(cause)); row.Priority != 0 && n < least {
			missing = append(missing, fmt.Sprintf("cause %d came first only %d times", cause, n))
		}
	}
	return missing
}
