package drivers

import "time"

// Events of a board that are told: PROTOCOL.md, section 5, lets it send 10 a second.
// What comes beyond is counted and dropped, so that a board that storms fills no log.
const (
	eventsMost  = 10
	eventsEvery = time.Second / eventsMost
)

// rate lets eventsMost through at once and one more each eventsEvery. The zero value
// is full.
type rate struct {
	used int
	at   time.Time // up to when used has been worked off
}

func (r *rate) allow(now time.Time) bool {
	if n := now.Sub(r.at) / eventsEvery; r.used == 0 || n >= eventsMost {
		r.used, r.at = 0, now
	} else if n > 0 {
		r.used = max(0, r.used-int(n))
		r.at = r.at.Add(n * eventsEvery)
	}
	if r.used >= eventsMost {
		return false
	}
	r.used++
	return true
}
