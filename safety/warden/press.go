package warden

// The press machine. Closing force is energising: it needs START, a lease and,
// to leave open, every permit of mayLeaveOpen. Opening and easing are safing.

func stepPress(c *Config, s *State, in *Input) {
	if !pressReact(c, s, in) {
		pressPhase(c, s, in)
	}
	markHandStroke(s, in)
}

func pressPhase(c *Config, s *State, in *Input) {
	switch s.Press {
	case PressOff:
		s.Press = PressStay
	case PressStay:
		pressStay(c, s, in)
	case PressClosing, PressContact:
		pressClose(c, s, in)
	case PressOpening:
		asked := in.Request.Press == PressOpen && leased(c, s, iPress) && mayMove(s)
		if has(in, InPressOpen) || !asked {
			s.Press = PressStay
		}
	case PressEasing:
		ease(c, s)
	case PressHandOpen, PressHandClose:
		if hand(c, s, in) != s.Press {
			s.Press = PressStay
		}
	}
}

// pressReact carries out the press column that applies. It reports whether
// that decided the phase.
func pressReact(c *Config, s *State, in *Input) bool {
	reaction := pressColumn(s)
	if !parting(s) {
		s.PartMs = 0
	}
	switch {
	case reaction == PressToOff && pushing(s):
		s.Press = PressOff
		return true
	case handOpens(c, s, in) && !pushing(s):
		s.Press = PressHandOpen
		s.PartMs = 0 // a hand at the rig has taken over: parting waits anew
		return true
	case reaction == PressToOff:
		s.Press = PressOff
		return true
	case s.Press == PressHandOpen || s.Press == PressHandClose:
		return false // hold-to-run stops itself when the button or a permit goes
	case reaction == PressToEase || reaction == PressToStay:
		soften(c, s, reaction == PressToEase)
	case reaction == PressToPart:
		partHalves(c, s, in)
	case reaction == PressRetract:
		retract(c, s, in)
	case s.Lock != LockNone && (s.Press == PressClosing || s.Press == PressContact):
		soften(c, s, s.Touching != 0) // closing force ends with START
	default:
		return false
	}
	return s.Press != PressStay || hand(c, s, in) == PressStay
}

// pressColumn is the reaction of the column that applies: above contact or in
// contact.
func pressColumn(s *State) uint8 {
	if s.Touching != 0 {
		return s.Touch
	}
	return s.Above
}

// soften takes closing or opening force away: ramped where asked and where
// there is a drive to ramp, else at once.
func soften(c *Config, s *State, ramp bool) {
	switch s.Press {
	case PressClosing, PressContact:
		if ramp && option(c, OptPressDriven) {
			s.Press = PressEasing
			s.EaseDN = s.Out.ForceDN
		} else {
			s.Press = PressStay
		}
	case PressOpening:
		s.Press = PressStay
	case PressEasing:
		ease(c, s)
	case PressOff:
		s.Press = PressStay
	}
}

func ease(c *Config, s *State) {
	if s.EaseDN <= c.EaseStepDN {
		s.EaseDN = 0
		s.Press = PressStay
		return
	}
	s.EaseDN -= c.EaseStepDN
}

// parting: the reaction of a lost flame in contact.
func parting(s *State) bool { return pressColumn(s) == PressToPart }

// noParting are the causes after which nobody knows how the halves part.
const noParting uint64 = 1<<CauseStuck | 1<<CauseForceLost | 1<<CauseTravelLost

// partHalves saves piece and mould after a lost flame: shut halves that cool shrink on
// to the glass. The force is eased, the glass sets for PartMs, then the halves open
// slowly under the pull limit, with no host and no START, but only with the safety
// door closed, a drive, a known position, and both travel and force felt.
func partHalves(c *Config, s *State, in *Input) {
	able := has(in, InDoorClosed) && option(c, OptPressDriven) && s.Homed != 0 &&
		analogOK(c, in, AiTravel) && analogOK(c, in, AiForce) && s.Trips&noParting == 0
	s.PartMs = min(s.PartMs, c.PartMs) + 1
	switch {
	case !able || s.PartMs <= c.PartMs || s.Press != PressStay && s.Press != PressOpening:
		soften(c, s, true)
	default:
		s.Press = PressOpening
	}
}

// retract opens fully as a reaction, only with the safety door closed and only
// where there is a drive: a released weight would fall, not lift.
func retract(c *Config, s *State, in *Input) {
	able := has(in, InDoorClosed) && !has(in, InPressOpen) && option(c, OptPressDriven) &&
		s.Homed != 0
	if able && s.Press != PressOff {
		s.Press = PressOpening
		return
	}
	s.Press = PressStay
}

func pressStay(c *Config, s *State, in *Input) {
	if wanted := hand(c, s, in); wanted != PressStay {
		s.Press = wanted
		return
	}
	if !leased(c, s, iPress) {
		return
	}
	switch in.Request.Press {
	case PressOpen:
		if mayMove(s) && !has(in, InPressOpen) {
			s.Press = PressOpening
		}
	case PressClose, PressForce:
		if s.Touching != 0 {
			if mayMove(s) {
				s.Press = PressContact
			}
		} else if mayLeaveOpen(c, s, in) {
			s.Press = PressClosing
		}
	}
}

// pressClose goes on closing. A dead lease is a cause and never comes here.
func pressClose(c *Config, s *State, in *Input) {
	asked := in.Request.Press == PressClose || in.Request.Press == PressForce
	switch {
	case !mayMove(s):
		soften(c, s, s.Touching != 0)
	case in.Request.Press == PressOpen:
		s.Press = PressOpening
	case !asked:
		soften(c, s, s.Touching != 0)
	case s.Touching == 0 && touched(c, in):
		s.Touching = 1
		s.Press = PressContact
	}
}

// pushing: the press pushes, before or in contact.
func pushing(s *State) bool { return s.Press == PressClosing || s.Press == PressContact }

// touched: force says contact. Without a force sensor every position but open
// counts as contact, the more cautious column.
func touched(c *Config, in *Input) bool {
	if c.FittedAnalog&(1<<AiForce) == 0 {
		return !has(in, InPressOpen)
	}
	return in.AnalogOK&(1<<AiForce) != 0 && in.Analog[AiForce] >= int16(c.ContactDN) &&
		!has(in, InPressOpen)
}

// mayMove: the host may close or open at all: START stands, which an opened door
// takes back, or a person holds two hands on this stroke. Any lock
// has voided START, and over-force and over-travel are causes that take the
// force before anybody asks.
func mayMove(s *State) bool {
	return goes(s) || s.Started != 0 && s.Hands[HandsStroke].Given != 0
}

// mayLeaveOpen is invariant 9: lease, door, spindle, burner, glass temperature and
// what feels the press all right together, no stroke inhibited, position known.
func mayLeaveOpen(c *Config, s *State, in *Input) bool {
	return mayMove(s) && leased(c, s, iPress) && s.Above == PressKeep && s.Homed != 0 &&
		sensed(c, in) && !chuckOpen(c, in) && spindleAtPress(c, in) && strokeFlameOK(c, s, in) && glassInWindow(c, s, in)
}

// strokeFlameOK: the burner cannot meet the stroke, and what still burns is a
// soft flame of fuel alone where the rig allows one.
func strokeFlameOK(c *Config, s *State, in *Input) bool {
	if option(c, OptBurnerFixed) {
		soft := s.Oxygen == 0 && s.Out.FuelMl <= c.SoftMaxMl && option(c, OptStrokeFlameSoft)
		return !fuelOpen(s) || soft
	}
	if !has(in, InBurnerClear) || has(in, InBurnerAtBlank) || s.Out.Bits&OutBurnerIn != 0 {
		return false
	}
	return !fuelOpen(s) || (s.Oxygen == 0 && option(c, OptStrokeFlameClear))
}

// viewFree: the thermometer sees the glass and nothing else.
func viewFree(c *Config, s *State, in *Input) bool {
	aside := option(c, OptViewAlways) || s.ClearMs >= c.ViewMs
	return aside && heatOpen(c, in)
}

// glassInWindow: measured in time, or extrapolated with its whole uncertainty
// inside, or declared soft by the operator where no thermometer is fitted.
func glassInWindow(c *Config, s *State, in *Input) bool {
	if s.WindowHi <= s.WindowLow {
		return false
	}
	if c.FittedAnalog&(1<<AiGlass) == 0 {
		return s.SoftMs < c.SoftMs
	}
	glass := in.Analog[AiGlass]
	if analogOK(c, in, AiGlass) && viewFree(c, s, in) && in.GlassAgeMs <= c.SampleMs {
		return glass >= s.WindowLow && glass <= s.WindowHi
	}
	if in.Request.Flags&ReqEstimate == 0 || in.Request.EstAgeMs > c.EstimateMs {
		return false
	}
	estimate := int32(in.Request.EstDC)
	unsure := int32(in.Request.EstUncDC)
	return estimate-unsure >= int32(s.WindowLow) && estimate+unsure <= int32(s.WindowHi)
}

// powered: nothing has taken the drives' power away.
func powered(c *Config, in *Input) bool {
	return has(in, InEstopOK) && (!fitted(c, InMainsOK) || has(in, InMainsOK))
}

// handOpens: a person frees a hand or a piece. One hand is enough, with the
// safety door open or closed, in every state that has drive power; a running
// stroke of the host it ends first (row 40).
func handOpens(c *Config, s *State, in *Input) bool {
	return pressed(c, in, InHoldOpen) && s.HoldSeen&1 != 0 && !has(in, InPressOpen) && powered(c, in)
}

// hand is the hold-to-run that a person asks for now: PressStay for none.
// Closing, which is force, works in standby with fuel shut, the daemon alive or
// dead, only without any lock and never blind.
func hand(c *Config, s *State, in *Input) uint8 {
	if pressed(c, in, InHoldOpen) {
		if handOpens(c, s, in) {
			return PressHandOpen
		}
		return PressStay
	}
	felt := feels(c, in) && !touched(c, in)
	idle := s.Started == 0 && s.Lock == LockNone && !fuelOpen(s) && !gasActive(s)
	if pressed(c, in, InHoldClose) && s.HoldSeen&2 != 0 && handGuarded(s, in, HandsClose) && idle && felt {
		return PressHandClose
	}
	return PressStay
}
