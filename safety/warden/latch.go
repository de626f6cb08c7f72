package warden

// The latch machine: what is wrong now, what has tripped, which came first,
// and who may clear it.

// latches: the cause stays until reset; the others act only while present.
func latches(cause uint8) bool { return Matrix[cause].Lock != LockNone }

func stepLatch(c *Config, s *State, in *Input) {
	s.Present = detect(c, s, in)
	latch(s, in)
}

// latch takes in what is present now, whatever detected it.
func latch(s *State, in *Input) {
	fresh := s.Present &^ s.Trips
	first := CauseNone
	for cause := range NumCauses {
		if fresh&(1<<cause) == 0 || !latches(cause) {
			continue
		}
		s.Trips |= 1 << cause
		if first == CauseNone || Matrix[cause].Priority < Matrix[first].Priority {
			first = cause
		}
	}
	if s.First == CauseNone {
		s.First = first
	}
	stepReset(s, in)
	react(s)
	if s.Lock != LockNone {
		void(s)
	}
}

// trip latches a cause outside detect: only at power-up.
func trip(s *State, cause uint8) {
	s.Trips |= 1 << cause
	s.First = cause
	react(s)
}

// react combines all that has tripped or is present by the strongest of each
// column.
func react(s *State) {
	var r Reaction
	acting := s.Trips | s.Present
	for cause := range NumCauses {
		if acting&(1<<cause) != 0 {
			r = Strongest(r, Matrix[cause].Reaction)
		}
	}
	s.Gas, s.Spin, s.Above, s.Touch, s.Lock = r.Gas, r.Spindle, r.Above, r.Contact, r.Lock
}

// stepReset clears what has tripped once no cause of it is present: a local
// RESET edge clears all, the host's request everything but lockout.
func stepReset(s *State, in *Input) {
	edge := has(in, InReset) && s.ResetSeen != 0
	s.ResetSeen = 1
	if has(in, InReset) {
		s.ResetSeen = 0
	}
	host := in.Fresh != 0 && in.Request.Flags&ReqReset != 0 && s.Lock != LockLockout
	if (edge || host) && s.Trips != 0 && s.Present&s.Trips == 0 {
		s.Trips = 0
		s.First = CauseNone
		s.ErrorSum = 0
	}
}
