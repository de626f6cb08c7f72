package warden

// The link machine: who may ask, and for how long. Every permission is a lease
// of its own; arming and START are edges that a dead link, a trip or the end
// of a cycle voids. Within a cycle an opened door or the host takes motion and
// heat back, and START alone gives them again.

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
	stepWaiting(c, s, in)
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
	s.Wait = 0
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
	if startEdge(s, in) {
		s.Armed = 0
		s.UsedArmID = s.ArmID
		s.Started = 1
		s.LitOnce = 0
		s.SoftMs = forever
	}
}

// startEdge: START goes down, after it was seen released, with the safety door
// closed all that time.
func startEdge(s *State, in *Input) bool {
	if !has(in, InDoorClosed) {
		s.StartSeen = 0
		return false
	}
	if !has(in, InStart) {
		s.StartSeen = 1
		return false
	}
	return s.StartSeen != 0
}

// stepWaiting: an opened door, and the host where hands are at the moulds, a
// pause or a hold, take motion and heat back; START at the rig alone gives them
// again, within ArmMs of the door's closing or of the host's leave.
func stepWaiting(c *Config, s *State, in *Input) {
	if s.Started == 0 {
		s.Wait = 0
		return
	}
	if !has(in, InDoorClosed) || in.Request.Flags&ReqHands != 0 {
		s.Wait = 1
		s.ArmMs = 0
		s.StartSeen = 0
		return
	}
	if s.Wait == 0 {
		return
	}
	s.ArmMs = up32(s.ArmMs)
	if startEdge(s, in) && s.ArmMs < c.ArmMs {
		s.Wait = 0
		s.SoftMs = forever
	}
}

// startCounts: a START at the rig would be taken now: the armed lamp says so.
func startCounts(c *Config, s *State) bool {
	return s.Armed != 0 || s.Wait != 0 && s.ArmMs > 0 && s.ArmMs < c.ArmMs
}

// goes: START was pressed, and nothing has taken motion and heat back since. So
// the safety door is closed.
func goes(s *State) bool { return s.Started != 0 && s.Wait == 0 }

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
	case s.Started != 0 && s.Wait != 0:
		return LinkWaiting
	case s.Started != 0:
		return LinkStarted
	case s.Armed != 0:
		return LinkArmed
	case s.LinkMs < c.LeaseMs:
		return LinkUp
	}
	return LinkDown
}
