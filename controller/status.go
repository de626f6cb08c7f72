package controller

import (
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// tell fills the status that pages show. Nothing that it says is stale: what
// the rig reported is shown only while it still reports.
func (m *Machine) tell(out *Output) {
	s := &out.Status
	*s = Status{
		State: m.state, Cycle: m.job.Cycle, Run: m.job.Run, Piece: m.job.Piece,
		Phase: int16(m.phase.index), LeftMs: -1, Doing: m.doing(),
		Prompt: m.prompt.num, PromptTxt: m.prompt.text,
		Armed:   m.arm.asking && m.live() && m.see.snap.Link == warden.LinkArmed,
		Refired: m.refired, Reason: m.reason, Cause: m.alarm.cause,
		Alarms: m.alarm.shown, AckNeeded: m.alarm.unacked != 0 || m.doubt.rows() != 0,
		Contradiction: m.doubt.board,
	}
	if s.Cause == 0 {
		s.Cause = m.doubt.row()
	}
	if m.guarded {
		s.Lock = m.see.snap.Lock
	}
	if m.rec != nil {
		s.Recipe = m.rec.Name
	}
	if m.open {
		s.CycleMs = m.since(m.beganAt)
	}
	if p := m.current(); p != nil {
		s.PhaseName, s.PhaseKind = p.Name, p.Kind
		s.PhaseMs = m.since(m.phase.at)
		s.LeftMs = m.left(p)
	}
}

// left is the time until the phase should end, ms; -1 when nothing tells.
func (m *Machine) left(p *recipes.Phase) int64 {
	longest := max(0, int64(ms(p.Longest))-int64(m.since(m.phase.at)))
	e := &p.End
	left := int64(-1)
	if e.After > 0 && !handsIn(p.Kind) {
		left = max(0, int64(ms(e.After))-int64(m.since(m.phase.activeAt)))
	}
	if by := m.leftToCondition(p); by >= 0 && (left < 0 || by < left) {
		left = by
	}
	if left < 0 {
		if onlyAnswer(e) || e.Soft {
			return -1 // a person decides
		}
		return longest
	}
	return min(left, longest)
}

// leftToCondition draws the glass's slope out to the temperature that ends the
// phase.
func (m *Machine) leftToCondition(p *recipes.Phase) int64 {
	dC, ok := m.glass()
	if !ok || !endsOnGlass(p) {
		return -1
	}
	slope, ok := m.est.slopeDCs(m.now)
	off := int64(p.End.When.Count) - int64(dC)
	if !ok || slope == 0 || (off > 0) != (slope > 0) {
		return -1
	}
	return 1000*off/slope + int64(ms(p.End.When.For))
}

// doing says what the machine waits for, in few words.
func (m *Machine) doing() string {
	if m.doubt.board != 0 {
		return distrustWords
	}
	if !m.guarded && m.state != Running && m.state != Pausing {
		if w := assistedWords(m.state); w != "" {
			return w
		}
	}
	switch m.state {
	case Idle:
		return m.doingIdle()
	case Running, Pausing:
		return m.doingRunning()
	case Restarting:
		return m.doingRestart()
	case Holding:
		return "holding"
	case Held:
		return m.doingHeld()
	case Stopping:
		return m.doingStopping()
	}
	return m.state.String()
}

func (m *Machine) doingIdle() string {
	why := m.unready(!m.guarded)
	switch {
	case m.guarded && !m.live():
		return "no word from the rig: state unknown"
	case m.resetting:
		return "resetting the rig"
	case m.parked:
		return "flame parked"
	case why != "":
		return why
	}
	return "ready"
}

func (m *Machine) doingHeld() string {
	handClear := m.guarded && m.cfg.slide == rig.HandWithSwitch && !m.cfg.fixed && !m.see.clear
	switch {
	case handClear && (m.contacted || m.hold.cooling):
		return "held: swing the burner clear"
	case m.contacted:
		return "held: restart to unload"
	case m.hold.cooling && m.hot:
		return "held: cooling, turning"
	case m.hold.cooling:
		return "held"
	}
	return "held: keeping the piece warm"
}

func (m *Machine) doingStopping() string {
	if m.hot {
		return "stopping: turning until the glass is stiff"
	}
	return "stopping"
}

const (
	pushStart   = "push START at the rig"
	armingWords = "arming"
)

func (m *Machine) doingArm() string {
	if m.see.snap.Link == warden.LinkArmed {
		return pushStart
	}
	return armingWords
}

func (m *Machine) doingRestart() string {
	switch m.hold.step {
	case restartArm:
		return m.doingArm()
	case restartLight:
		return burnerWords(m.burner())
	}
	return "restarting"
}

func (m *Machine) doingRunning() string {
	switch m.stage {
	case stageJournal:
		return "writing the start record"
	case stageArm:
		return m.doingArm()
	}
	p := m.current()
	if p == nil {
		return m.state.String()
	}
	if m.guarded && p.Kind == recipes.Light {
		return burnerWords(m.burner())
	}
	if w := m.handWords(p); w != "" {
		return w
	}
	if m.guarded && closes(p) && !m.touching && m.see.snap.Flags&rig.FlagWindow == 0 {
		return "waiting for the stroke's permits"
	}
	if m.guarded && (p.End.Soft || m.hasSoftPermit(p)) {
		return "push SOFT when the glass is soft"
	}
	return kindWords(p.Kind)
}

// handWords call what a person does on a rig where a drive is not fitted.
func (m *Machine) handWords(p *recipes.Phase) string {
	if !m.guarded {
		return ""
	}
	if m.cfg.slide == rig.HandWithSwitch && !m.cfg.fixed && !m.burnerThere() {
		if m.set.in {
			return "swing the burner to the blank"
		}
		return "swing the burner clear"
	}
	if m.cfg.pressDriven || !moves(p.Press.Do) {
		return ""
	}
	switch {
	case p.Press.Do == recipes.DoOpen:
		return "lift the lever slowly"
	case m.touching || m.see.snap.Flags&rig.FlagWindow != 0:
		return "pull the lever now"
	}
	return ""
}

// burnerWords name the burner's phase.
func burnerWords(phase uint8) string {
	switch phase {
	case warden.BurnerCheck:
		return "burner check"
	case warden.BurnerPurge:
		return "purge"
	case warden.BurnerIgniter, warden.BurnerTrial:
		return "trial for ignition"
	case warden.BurnerProve, warden.BurnerProveDark:
		return "proving the flame"
	case warden.BurnerRun:
		return "flame proven"
	case warden.BurnerOff, warden.BurnerPostPurge:
		return "post-purge"
	case warden.BurnerLockout:
		return lockoutWords
	}
	return "light-up asked for"
}

// kindWords are a phase's one word for the page.
func kindWords(k recipes.Kind) string {
	switch k {
	case recipes.Load:
		return "load"
	case recipes.Hands:
		return "hands in"
	case recipes.WarmMould:
		return "warming the moulds"
	case recipes.Light:
		return "light up"
	case recipes.Warm:
		return "warming"
	case recipes.Fire:
		return "firing"
	case recipes.Soak:
		return "soaking"
	case recipes.Clear:
		return "burner aside"
	case recipes.Press:
		return "pressing"
	case recipes.Set:
		return "setting"
	case recipes.Part:
		return "parting"
	case recipes.SoftFlame:
		return "soft flame"
	case recipes.FlameCool:
		return "flame-cooling"
	case recipes.Out:
		return "burner out"
	case recipes.Unload:
		return "unload"
	}
	return string(k)
}
