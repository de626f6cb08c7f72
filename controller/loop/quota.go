package loop

import "time"

// Notes of one kind that are logged: so many at once, then one each quotaEvery. A board
// that greets or falters without end fills no log; what was left out is told with
// the next one.
const (
	quotaMost  = 10
	quotaEvery = time.Second
)

// quota bounds the notes of one kind. The zero value is full.
type quota struct {
	used    int
	at      time.Duration // up to when used has been worked off
	leftOut uint32
}

// allow reports whether a note may be logged now, and how many were left out before.
func (q *quota) allow(now time.Duration) (ok bool, leftOut uint32) {
	if n := (now - q.at) / quotaEvery; q.used == 0 || n >= quotaMost {
		q.used, q.at = 0, now
	} else if n > 0 {
		q.used = max(0, q.used-int(n))
		q.at += n * quotaEvery
	}
	if q.used >= quotaMost {
		q.leftOut++
		return false, 0
	}
	q.used++
	leftOut, q.leftOut = q.leftOut, 0
	return true, leftOut
}

// note logs n, unless too many of its kind have just been.
func (l *Loop) note(n Note) {
	ok, leftOut := l.quotas[n.Kind].allow(l.o.Clock.Mono())
	if !ok {
		return
	}
	n.LeftOut = leftOut
	l.o.Log(n)
}
