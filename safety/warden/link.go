package warden

// The link machine: who may ask, and for how long. Every permission is a lease
// of its own; arming and START are edges that a dead link, a trip or the end
// of a cycle voids.

// errorPerFrame and errorTrip make one leaky integer of the rule "3 bad frames
// in 1 s or 10 in 6 min": three within 1 s leave at least 3 x 60,000 - 1,000,
// ten within 360 s at least 600,000 - 360,000.
const (
	errorPerFrame uint32 = 60000
	errorTrip     uint32 = 179000
	errorMax      uint32 = 600000 // saturation
)

func stepLink(c *Config, s *State, in *Input) {
	for i := range NumLeases {
		s.LeaseMs[i] = up(s.LeaseMs[i])
	}
	s.LinkMs = up(s.LinkMs)
	countErrors(s, in)
	if in.NewSession != 0 {
		expire(s)
	}
	if in.Fresh != 0 {
		s.LinkMs = 0
		for i := range NumLeases {
			if in.Request.Lease&(1<<i) != 0 {
				s.LeaseMs[i] = 0
			}
		}
	}
	stepArming(c, s, in)
	if s.LinkMs >= c.LeaseMs || dropped(s, in) {
		s.Started = 0
	}
	if s.Started != 0 && has(in, InSoft) {
		s.SoftMs = 0
	}
	s.Link = linkPhase(c, s)
}

func countErrors(s *State, in *Input) {
	if s.ErrorSum > 0 {
		s.ErrorSum--
	}
	s.ErrorSum = min(s.ErrorSum+errorPerFrame*uint32(in.BadFrames), errorMax)
}

// expire ends every lease: a new host session has no claim on the old one's.
func expire(s *State) {
	for i := range NumLeases {
		s.LeaseMs[i] = forever
	}
	s.LinkMs = forever
	void(s)
}

// void takes START and arming back.
func void(s *State) {
	if s.Armed != 0 {
		s.UsedArmID = s.ArmID
	}
	s.Armed = 0
	s.Started = 0
	s.SoftMs = forever
}

// leased: lease number i is alive.
func leased(c *Config, s *State, i uint8) bool { return s.LeaseMs[i] < c.LeaseMs }

const (
	iFuel    uint8 = 0
	iOxygen  uint8 = 1
	iPress   uint8 = 2
	iSpindle uint8 = 3
)

// dropped: the host no longer holds the cycle that START began.
func dropped(s *State, in *Input) bool {
	return in.Fresh != 0 &&
		(in.Request.Flags&(ReqArm|ReqCycle) == 0 || in.Request.ArmID != s.ArmID)
}

func stepArming(c *Config, s *State, in *Input) {
	if s.Armed != 0 {
		s.ArmMs = up32(s.ArmMs)
		if s.LinkMs >= c.LeaseMs || s.ArmMs >= c.ArmMs || armDropped(s, in) || setUp(c, in) {
			s.Armed = 0
			s.UsedArmID = s.ArmID
		}
	}
	if in.Fresh != 0 && s.Armed == 0 && s.Started == 0 && mayArm(c, s, in) {
		s.Armed = 1
		s.ArmID = in.Request.ArmID
		s.ArmMs = 0
		s.StartSeen = 0
		s.WindowLow = max(in.Request.GlassLowDC, c.GlassLowDC)
		s.WindowHi = min(in.Request.GlassHighDC, c.GlassHighDC)
	}
	if s.Armed == 0 {
		return
	}
	if !has(in, InStart) {
		s.StartSeen = 1
	} else if s.StartSeen != 0 {
		s.Armed = 0
		s.UsedArmID = s.ArmID
		s.Started = 1
		s.LitOnce = 0
		s.SoftMs = forever
	}
}

func armDropped(s *State, in *Input) bool {
	return in.Fresh != 0 && (in.Request.Flags&ReqArm == 0 || in.Request.ArmID != s.ArmID)
}

// mayArm: a new arming is asked for and nothing stands against it.
func mayArm(c *Config, s *State, in *Input) bool {
	return in.Request.Flags&ReqArm != 0 && in.Request.ArmID != 0 &&
		in.Request.ArmID != s.UsedArmID && s.Lock == LockNone &&
		s.Present == 0 && s.ErrorSum < errorTrip && has(in, InEstopOK) && !setUp(c, in)
}

func linkPhase(c *Config, s *State) uint8 {
	switch {
	case s.Started != 0:
		return LinkStarted
	case s.Armed != 0:
		return LinkArmed
	case s.LinkMs < c.LeaseMs:
		return LinkUp
	}
	return LinkDown
}
