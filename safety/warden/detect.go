package warden

// The conditions of the matrix's rows. Each is a question about this tick; the
// timers that it stands on are kept here too.

func mark(set uint64, cause uint8, on bool) uint64 {
	if on {
		return set | 1<<cause
	}
	return set
}

// detect gives the causes that are present in this tick.
func detect(c *Config, s *State, in *Input) uint64 {
	var set uint64
	set = mark(set, CauseEstop, !has(in, InEstopOK))
	set = mark(set, CauseMains, fitted(c, InMainsOK) && !has(in, InMainsOK))
	set = mark(set, CauseGasAlarm, fitted(c, InGasAlarm) && has(in, InGasAlarm))
	set = mark(set, CauseDoor, !has(in, InDoorClosed) && doorMatters(c, s, in))
	set = mark(set, CauseTwoHand, handsReleased(s))
	set = mark(set, CauseSetUp, setUp(c, in) && working(s))
	set = mark(set, CauseButton, s.StartMs >= c.ButtonMs || s.ResetMs >= c.ButtonMs)
	set = mark(set, CauseLinkLost, leaseInUseDead(c, s))
	set = mark(set, CauseBadFrames, s.ErrorSum >= errorTrip && active(s))
	set = mark(set, CauseHostAbort, in.Fresh != 0 && in.Request.Flags&ReqAbort != 0 && active(s))
	set = mark(set, CauseHostAbort, handOpens(c, s, in) && s.Started != 0 && (pushing(s) || hostOpening(s)))
	set = mark(set, CauseNV, nvFails(s, in))
	set |= detectFlame(c, s)
	set |= detectGas(c, s, in)
	set |= detectFlow(c, s, in)
	set |= detectMotion(c, s, in)
	set |= detectSensing(c, s, in)
	set |= detectRunaway(c, s, in)
	return set
}

// active: something is energised or about to be.
func active(s *State) bool {
	return s.Started != 0 || gasActive(s) || s.Spindle != SpindleOff ||
		s.Press == PressClosing || s.Press == PressContact || s.Press == PressOpening
}

// gasActive: a light-up is under way or fuel is open.
func gasActive(s *State) bool { return s.Burner >= BurnerCheck && s.Burner <= BurnerOff }

// gasArmed: from check to post-purge.
func gasArmed(s *State) bool { return s.Burner >= BurnerCheck && s.Burner <= BurnerPostPurge }

// doorMatters: a person at the open door could be hurt. Loading is not a trip.
func doorMatters(c *Config, s *State, in *Input) bool {
	if moving(c, s, in) && !turningSlowly(c, s, in) || s.Out.Bits&(OutIgniter|OutBurnerIn) != 0 {
		return true
	}
	if !handsOnPress(c, s, in) && pressMoves(c, s, in) {
		return true
	}
	if !fuelOpen(s) {
		return false
	}
	parked := (s.Burner == BurnerRun || s.Burner == BurnerOff) && s.Oxygen == 0 && has(in, InBurnerClear)
	return !(parked && option(c, OptParkedDoorOpen))
}

// pressMoves: the press is not open, or is driven.
func pressMoves(c *Config, s *State, in *Input) bool {
	driven := s.Out.Bits&(OutPressClose|OutPressOpen) != 0 && option(c, OptPressDriven)
	return !has(in, InPressOpen) || driven
}

func leaseInUseDead(c *Config, s *State) bool {
	if gasActive(s) && s.Burner != BurnerOff && !leased(c, s, iFuel) {
		return true
	}
	if s.Oxygen != 0 && !leased(c, s, iOxygen) {
		return true
	}
	if s.Spindle == SpindleRun && !leased(c, s, iSpindle) {
		return true
	}
	pressing := s.Press == PressClosing || s.Press == PressContact || hostOpening(s)
	return pressing && !leased(c, s, iPress)
}

// hostOpening: the press opens because the host asked, not as a reaction.
func hostOpening(s *State) bool { return s.Press == PressOpening && pressColumn(s) < PressRetract }

// nvFails: the non-volatile byte has not become what it should hold within 1 s.
func nvFails(s *State, in *Input) bool {
	s.NVMs = while(in.NV != s.NV, s.NVMs)
	return s.NVMs >= 1000
}

// proveLongestMs bounds the proof of a flame that flickers.
const proveLongestMs uint32 = 5000

func detectFlame(c *Config, s *State) uint64 {
	var set uint64
	lost := s.DarkMs >= c.FlameOffMs
	proving := s.Burner == BurnerProve || s.Burner == BurnerProveDark
	set = mark(set, CauseFlameLost, lost && (s.Burner == BurnerRun || s.Burner == BurnerOff))
	set = mark(set, CauseNoIgnition, s.Burner == BurnerTrial && s.TrialMs >= c.TrialMs)
	set = mark(set, CauseNoIgnition, proving && (lost || s.PhaseMs >= proveLongestMs))
	set = mark(set, CauseUnburnt, fuelOpen(s) && s.Unburnt >= unburntLimit(c))
	// A flame without fuel: 2 s after shut-off, or at any time before fuel opens.
	early := s.Burner == BurnerPurge || s.Burner == BurnerIgniter
	unfuelled := s.FuelOffMs >= 2000 || (early && !fuelOpen(s))
	set = mark(set, CauseFalseFlame, unfuelled && s.FlameMs >= c.FlameOnMs)
	return set
}

func detectGas(c *Config, s *State, in *Input) uint64 {
	var set uint64
	armed := gasArmed(s)
	oxygen := armed && option(c, OptOxygenFitted)
	set = mark(set, CauseFuelLow, pressure(c, s, in, 0, InFuelLow) && armed)
	set = mark(set, CauseFuelHigh, pressure(c, s, in, 1, InFuelHigh) && armed)
	set = mark(set, CauseOxygenLow, pressure(c, s, in, 2, InOxygenLow) && oxygen)
	set = mark(set, CauseOxygenHigh, pressure(c, s, in, 3, InOxygenHigh) && oxygen)
	set = mark(set, CauseFlashback, fitted(c, InFlashback) && has(in, InFlashback) && armed)
	set = mark(set, CauseFeedback, feedbackWrong(c, s, in))
	set = mark(set, CauseExtraction, extractionFails(c, s, in))
	return set
}

// pressure debounces pressure switch i.
func pressure(c *Config, s *State, in *Input, i uint8, bit uint32) bool {
	s.SwitchMs[i] = while(fitted(c, bit) && has(in, bit), s.SwitchMs[i])
	return s.SwitchMs[i] >= c.PressureMs
}

// feedbackWrong: a valve's proof of closure says other than its output, for
// longer than the valve needs. Only a fitted feedback can say so.
func feedbackWrong(c *Config, s *State, in *Input) bool {
	fuelShut := has(in, InFuelShut)
	s.FeedMs = while(fitted(c, InFuelShut) && fuelShut == fuelOpen(s), s.FeedMs)
	oxygenShut := has(in, InOxygenShut)
	oxygenOpen := s.Out.Bits&OutOxygen != 0
	s.FeedOxMs = while(fitted(c, InOxygenShut) && oxygenShut == oxygenOpen, s.FeedOxMs)
	longest := c.ValveCloseMs + 500
	return s.FeedMs >= longest || s.FeedOxMs >= longest
}

// extractionFails: not proven for long enough to be a fault. In check the fan
// stands, and a switch that does not show its rest position within the time for
// which purge would wait for flow cannot be believed afterwards; in purge the clock
// just waits at first, since the fan has to spin up.
func extractionFails(c *Config, s *State, in *Input) bool {
	missing := s.Burner >= BurnerPurge && s.Burner <= BurnerPostPurge && !has(in, InExtraction)
	unseen := s.Burner == BurnerCheck && s.SawStill == 0
	s.NoFlowMs = while(missing || unseen, s.NoFlowMs)
	if fuelOpen(s) || s.Burner == BurnerIgniter {
		return s.NoFlowMs >= c.ExtractionMs
	}
	return s.NoFlowMs >= c.ExtractionWaitMs
}

func detectMotion(c *Config, s *State, in *Input) uint64 {
	var set uint64
	heating := fuelOpen(s) && atBlank(c, in)
	soft := s.Out.FuelMl <= c.SoftMaxMl && s.Oxygen == 0
	fixedSoft := option(c, OptBurnerFixed) && soft

	s.StillMs = while(heating && !fixedSoft && !turning(c, in), s.StillMs)
	set = mark(set, CauseSpindleStill, s.StillMs >= c.SpindleStallMs)

	closing := s.Press == PressClosing && !has(in, InPressOpen)
	set = mark(set, CausePressState, closing && s.Touching == 0 && !spindleAtPress(c, in))
	inContact := s.Press == PressContact && option(c, OptSpindleTurns)
	s.StallMs = while(inContact && !turning(c, in), s.StallMs)
	set = mark(set, CauseSpindleStall, s.StallMs >= c.SpindleStallMs>>2)

	set = mark(set, CauseOverForce, overForce(c, in))
	set = mark(set, CauseOverTravel, overTravel(c, in))
	set = mark(set, CauseLeftOpen, heating && !fixedSoft && !heatOpen(c, in) &&
		s.BurnerWasOpen != 0)
	s.BurnerWasOpen = 0
	if heating && heatOpen(c, in) {
		s.BurnerWasOpen = 1
	}
	s.BlockMs = while(blocked(c, s, in), s.BlockMs)
	set = mark(set, CauseNotOpenForHeat, s.BlockMs >= 200)
	set = mark(set, CauseStuck, stuck(c, s, in))
	set = mark(set, CauseSlide, slideFails(c, s, in))
	return set
}

func overForce(c *Config, in *Input) bool {
	if fitted(c, InOverForce) && has(in, InOverForce) {
		return true
	}
	return analogOK(c, in, AiForce) && in.Analog[AiForce] > int16(c.OverForceDN)
}

// overTravel: past the last position, or both end switches at once.
func overTravel(c *Config, in *Input) bool {
	if fitted(c, InPressEnd) && has(in, InPressEnd) {
		return true
	}
	return analogOK(c, in, AiTravel) && in.Analog[AiTravel] > c.EndCmm+100
}

// blocked: heat is wanted, or a flame stands at the blank, while the press is
// not where heating is safe; or the press closes with the burner in its way.
func blocked(c *Config, s *State, in *Input) bool {
	if fuelOpen(s) && !heatOpen(c, in) {
		wanted := in.Request.Flags&ReqBurnerIn != 0 && leased(c, s, iFuel) && goes(s)
		sharp := s.Oxygen != 0 || s.Out.FuelMl > c.SoftMaxMl
		if option(c, OptBurnerFixed) {
			if sharp {
				return true
			}
		} else if wanted || has(in, InBurnerAtBlank) {
			return true
		}
	}
	closing := s.Press == PressClosing && !has(in, InPressOpen) && s.Touching == 0
	return closing && !strokeFlameOK(c, s, in)
}

// stuck: the opening press does not arrive, or pulls at its limit. A reading
// hovers about the limit that the drive keeps, so 7/8 of it count as there.
func stuck(c *Config, s *State, in *Input) bool {
	opening := s.Press == PressOpening && option(c, OptPressDriven)
	s.PressMs = while(opening, s.PressMs)
	limit := -int16(c.PullMaxDN - c.PullMaxDN>>3)
	pull := analogOK(c, in, AiForce) && in.Analog[AiForce] <= limit
	s.PullMs = while(opening && pull, s.PullMs)
	longest := c.RetractMs
	if parting(s) {
		longest = c.PartOpenMs
	}
	return s.PressMs >= longest || s.PullMs >= 500
}

// slideFails: a driven burner slide is not where it was sent.
func slideFails(c *Config, s *State, in *Input) bool {
	if !option(c, OptBurnerDriven) || option(c, OptBurnerFixed) {
		return false
	}
	sent := s.Out.Bits&OutBurnerIn != 0
	arrived := has(in, InBurnerClear) && !has(in, InBurnerAtBlank)
	if sent {
		arrived = has(in, InBurnerAtBlank) && !has(in, InBurnerClear)
	}
	s.SlideMs = while(!arrived, s.SlideMs)
	if s.SlideSent != s.Out.Bits&OutBurnerIn {
		s.SlideSent = s.Out.Bits & OutBurnerIn
		s.SlideMs = 0
	}
	return s.SlideMs >= c.SlideMs && (active(s) || sent)
}
