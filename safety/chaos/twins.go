package chaos

import "pressrig/safety/warden"

// RampsWithTheRequest is the warden as it was before creep came first: where the
// lease of the spindle dies, or the request for it goes, in the very tick of a
// reaction that creeps, the spindle ramps to a stop and soft glass drops. What
// judges the least of a reaction has to find it.
func RampsWithTheRequest(c *warden.Config, s *warden.State, in *warden.Input, out *warden.Output) {
	ran := s.Spindle == warden.SpindleRun
	warden.Step(c, s, in, out)
	const spindle = warden.NumLeases - 1
	asked := s.LeaseMs[spindle] < c.LeaseMs && in.Request.SpindleDrpm > 0
	if ran && !asked && s.Spindle == warden.SpindleCreep {
		s.Spindle, s.SpinSet = warden.SpindleRamp, 0
		out.SpindleDrpm = 0
		s.Out = *out
	}
}
