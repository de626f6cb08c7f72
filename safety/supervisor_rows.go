package safety

import (
	"pressrig/safety/warden"
)

// remember takes one view into memory: when the newest snapshot came, how long
// the thermometer has looked wrong, and how far the two clocks have parted.
func (s *Supervisor) remember(v *SupervisorView) {
	if v.Session != s.sess {
		s.sess, s.seen, s.anchored, s.differ = v.Session, false, false, false
		s.seenAt = v.ElapsedMs
		s.second = opinion{}
	}
	if v.Snap == nil {
		return
	}
	s.seen, s.seenAt = true, v.ElapsedMs
	s.compareClocks(v)
	s.second.step(v)
	s.watchSample(v)
	s.watchRange(v)
}

// watchRange times rows 18 and 20. Both count only with the view free: a
// thermometer that looks into a flame says nothing about the glass.
func (s *Supervisor) watchRange(v *SupervisorView) {
	ok := v.Snap.OK(warden.AiGlass)
	watch := v.Sight && v.PressOpen
	s.bad, s.badAt = since(watch && v.Needed && !ok, s.bad, s.badAt, v.ElapsedMs)
	hot := watch && ok && v.HasLimit && v.Snap.Analog[warden.AiGlass] > v.LimitDC
	s.hot, s.hotAt = since(hot, s.hot, s.hotAt, v.ElapsedMs)
}

// watchSample times the three signs of row 19. It starts anew whenever the
// view is not free, so that swinging the burner aside is not a jump.
func (s *Supervisor) watchSample(v *SupervisorView) {
	now, g := v.ElapsedMs, v.Snap.Analog[warden.AiGlass]
	if !v.Sight || !v.PressOpen || !v.Needed || !v.Snap.OK(warden.AiGlass) {
		s.sampled, s.rising, s.stuck, s.jump, s.low = false, false, false, false, false
		return
	}
	if s.sampled && now-s.sampleAt <= ThermoJumpMs {
		s.jump = abs(int32(g)-int32(s.last)) > ThermoJumpDC
	} else {
		s.jump = false
	}
	if !s.sampled || g != s.last || !v.Heating {
		s.sameAt = now
	}
	s.stuck = now-s.sameAt >= ThermoStuckMs
	s.sampled, s.sampleAt, s.last = true, now, g
	s.watchRise(v, g)
}

// watchRise wants NoRiseDC more at least every NoRiseMs while heating up.
func (s *Supervisor) watchRise(v *SupervisorView, g int16) {
	now := v.ElapsedMs
	switch {
	case !v.Rising:
		s.rising, s.low = false, false
	case !s.rising || int32(g) >= int32(s.riseFrom)+NoRiseDC:
		s.rising, s.riseAt, s.riseFrom, s.low = true, now, g, false
	default:
		s.low = now-s.riseAt >= NoRiseMs
	}
}

// compareClocks measures how far host and microcontroller part within
// ClocksOverMs. A host that slept sees the stamp run ahead of its own clock.
func (s *Supervisor) compareClocks(v *SupervisorView) {
	if !s.anchored {
		s.anchored, s.anchorMs, s.anchorStamp = true, v.ElapsedMs, v.Snap.StampMs
		return
	}
	host := int64(v.ElapsedMs - s.anchorMs)
	board := int64(v.Snap.StampMs - s.anchorStamp) // wraps as the stamp does
	s.differ = abs(host-board) > ClocksMs
	if host >= ClocksOverMs || s.differ {
		s.anchorMs, s.anchorStamp = v.ElapsedMs, v.Snap.StampMs
	}
}

func (s *Supervisor) broken(v *SupervisorView) bool {
	return s.bad && v.ElapsedMs-s.badAt >= ThermoBrokenMs
}

func (s *Supervisor) nonsense(*SupervisorView) bool { return s.stuck || s.jump || s.low }

func (s *Supervisor) tooHot(v *SupervisorView) bool {
	return s.hot && v.ElapsedMs-s.hotAt >= TooHotMs
}

// linkLost holds as soon as the port says so, or when snapshots stay away.
func (s *Supervisor) linkLost(v *SupervisorView) bool {
	if !v.Guarded {
		return false
	}
	return v.Session == 0 || v.ElapsedMs-s.seenAt >= LinkLostMs
}

// clocks holds for the step in which it is found; the machine aborts on it.
func (s *Supervisor) clocks(v *SupervisorView) bool {
	return v.Guarded && v.Snap != nil && s.differ
}

func (s *Supervisor) journalAtStart(v *SupervisorView) bool {
	return v.Starting && !v.JournalWritable
}

func (s *Supervisor) journalRunning(v *SupervisorView) bool {
	return v.Cycle && !v.JournalWritable
}

// since keeps the moment from which on has held without a break.
func since(on, was bool, at, now uint64) (bool, uint64) {
	if on && !was {
		at = now
	}
	return on, at
}

func abs[T int32 | int64](v T) T {
	if v < 0 {
		return -v
	}
	return v
}
