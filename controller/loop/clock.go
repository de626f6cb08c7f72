package loop

import "time"

// Clock is the time that the loop lives in. Only Mono steers anything; Wall is
// compared with it so that a step of the wall clock can be logged.
type Clock struct {
	Mono func() time.Duration // never goes back
	Wall func() time.Time     // no monotonic reading
}

// SystemClock is the machine's own clock; Mono counts from the call.
func SystemClock() Clock {
	start := time.Now()
	return Clock{
		Mono: func() time.Duration { return time.Since(start) },
		Wall: func() time.Time { return time.Now().Round(0) },
	}
}

// Limits of scaled time.
const (
	// aheadMs is how far scaled time may run past the newest snapshot, in
	// milliseconds of the rig, while the line is only briefly silent: a slow
	// computer must not look like a lost link.
	aheadMs = 200
	// silence is how long the line is really silent until scaled time runs on
	// by itself, so that a lost link is seen.
	silence = time.Second
	// leapMs is the largest step of the rig's clock between two snapshots that
	// is believed; more is a clock that began anew.
	leapMs = 10_000
)

// scaled turns real time into the rig's. At scale 1 it is the plain monotonic
// clock and looks at no stamp.
type scaled struct {
	scale  uint64
	at     time.Duration // real time of the newest snapshot
	base   uint64        // elapsed then, ms
	stamp  uint32        // its stamp, ms
	synced bool          // stamp is of this session
	last   uint64        // newest value given out, ms
}

// rescale changes the scale, as a new session announces it, without a jump.
func (s *scaled) rescale(now time.Duration, scale uint16) {
	s.base = s.elapsed(now)
	s.at = now
	s.scale = max(uint64(scale), 1)
	s.synced = false
}

// snapshot takes the stamp of a snapshot that came at now.
func (s *scaled) snapshot(now time.Duration, stampMs uint32) {
	if s.scale <= 1 {
		return
	}
	ran := s.elapsed(now)
	next := s.base + uint64(stampMs-s.stamp) // wraps as the stamp does
	if !s.synced || stampMs-s.stamp > leapMs || next+aheadMs < ran {
		next = ran
	}
	s.at, s.base, s.stamp, s.synced = now, next, stampMs, true
}

// elapsed is the time since the loop began, in milliseconds of the rig. It
// never goes back.
func (s *scaled) elapsed(now time.Duration) uint64 {
	since := now - s.at
	ms := s.base + uint64(since.Milliseconds())
	if s.scale > 1 {
		ms = s.base + s.run(since)
	}
	s.last = max(s.last, ms)
	return s.last
}

// run is how far scaled time has run when the newest snapshot is since old.
func (s *scaled) run(since time.Duration) uint64 {
	if s.synced && since < silence {
		return min(s.scaledMs(since), aheadMs)
	}
	if s.synced {
		return aheadMs + s.scaledMs(since-silence)
	}
	return s.scaledMs(since)
}

func (s *scaled) scaledMs(d time.Duration) uint64 {
	return uint64(d) * s.scale / uint64(time.Millisecond)
}

// Wall clock against monotonic clock.
const (
	// wallEvery is how often the two clocks are compared.
	wallEvery = time.Second
	// wallStep is the difference that counts as the wall clock having been
	// set; a time server slews by far less in wallEvery.
	wallStep = 500 * time.Millisecond
)

// wallWatch notices that somebody set the wall clock.
type wallWatch struct {
	begun bool
	mono  time.Duration
	wall  time.Time
}

// look returns by how much the wall clock was set since the last look, zero
// when it was not.
func (w *wallWatch) look(c Clock, now time.Duration) time.Duration {
	if w.begun && now-w.mono < wallEvery {
		return 0
	}
	wall := c.Wall()
	by := wall.Sub(w.wall) - (now - w.mono)
	first := !w.begun
	w.begun, w.mono, w.wall = true, now, wall
	if first || by.Abs() < wallStep {
		return 0
	}
	return by
}
