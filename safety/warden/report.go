package warden

// ViewFree reports whether the thermometer is to be believed in this tick: the
// flame aside long enough (or never in its view) and the press open.
func ViewFree(c *Config, s *State, in *Input) bool { return viewFree(c, s, in) }

// MayStroke reports whether every permit to leave open holds in this tick.
func MayStroke(c *Config, s *State, in *Input) bool { return mayLeaveOpen(c, s, in) }

// UnburntLimit is the value of State.Unburnt that trips.
func UnburntLimit(c *Config) uint32 { return unburntLimit(c) }
