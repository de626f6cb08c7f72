package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// phase is the phase that runs.
type phase struct {
	index    int    // in the recipe, -1 outside
	last     int    // the phase that ran before, for what a hold does
	at       uint64 // begun
	activeAt uint64 // After and Least count from here: a hand-swung burner arrives first
	active   bool
	condAt   uint64
	cond     bool
	soft     bool
	answered bool
	settled  bool // hands-in: everything stands still, the person was asked
	handed   bool // hands in a cycle: the rig has taken motion and heat back
	bandAt   [MaxBands]uint64
	bandOut  [MaxBands]bool
}

// want is what a step asks of the rig, before the request is built of it.
type want struct {
	flame   bool
	light   bool // a light-up may begin
	in      bool // burner at the blank
	fuelMl  uint16
	oxyMl   uint16
	spinRPM uint16 // 0.1 rpm
	press   uint8
	toCmm   int16
	cmms    uint16
	forceDN uint16
	stroke  bool // the press is to leave open: window and estimate matter
	hands   bool // motion and heat are to wait for START at the rig
}

// Reasons for the end of a phase. They are in the journal.
const (
	endTime     = "time"
	endWhen     = "condition"
	endSoft     = "soft"
	endAnswer   = "answer"
	endLit      = "flame proven"
	endThere    = "in place"
	endLongest  = "longest"
	endBoundary = "hold"
)

// current is the phase that runs, nil outside.
func (m *Machine) current() *recipes.Phase {
	if m.phase.index < 0 || m.rec == nil {
		return nil
	}
	return &m.rec.Phases[m.phase.index]
}

// actRunning does one step of Running or Pausing.
func (m *Machine) actRunning(in *Input, out *Output) {
	if m.rec.Longest > 0 && m.since(m.beganAt) >= ms(m.rec.Longest) {
		m.fault(Stop, "the cycle took its longest", out)
		return
	}
	switch m.stage {
	case stageJournal:
		m.keepParked()
		m.awaitJournal(in, out)
	case stageArm:
		m.keepParked()
		if m.hot { // a blank that was fired goes on turning
			m.want.spinRPM = m.set.spinRPM
		}
		m.awaitStart(out)
	case stagePhase:
		m.runPhase(out)
	case stageNone:
	}
}

// awaitJournal holds everything until the start record is committed.
func (m *Machine) awaitJournal(in *Input, out *Output) {
	if in.Journal.Started == m.job.Cycle {
		m.toPhase(0, out)
		return
	}
	if m.since(m.stateAt) >= JournalWaitMs {
		m.fault(Stop, "the journal did not take the start record", out)
	}
}

// toPhase goes to phase i: by way of START where the rig must be energised for
// it, to the end of the cycle when there is none.
func (m *Machine) toPhase(i int, out *Output) {
	m.next = i
	switch {
	case i >= len(m.rec.Phases):
		m.stage = stageNone
		m.become(NoCommand, "done", out)
	case m.guarded && !m.arm.started && energises(&m.rec.Phases[i]):
		m.stage = stageArm
		m.armNow(out)
	default:
		m.beginPhase(i, out)
	}
}

// energises: the phase asks for fuel, spindle or press.
func energises(p *recipes.Phase) bool {
	if handsIn(p.Kind) {
		return false
	}
	return p.Flame.Lit || p.Flame.At == recipes.AtBlank || p.SpindleRPM > 0 || moves(p.Press.Do)
}

func moves(d recipes.Do) bool {
	return d == recipes.DoClose || d == recipes.DoForce || d == recipes.DoOpen
}

// closes: the phase pushes the press.
func closes(p *recipes.Phase) bool {
	return p.Press.Do == recipes.DoClose || p.Press.Do == recipes.DoForce
}

// handsIn are the phases in which a person reaches in: spindle still, no
// stroke, burner parked or off.
func handsIn(k recipes.Kind) bool {
	return k == recipes.Load || k == recipes.Hands || k == recipes.Unload
}

// heats are the phases in which the flame is at glass that is not yet pressed.
func heats(k recipes.Kind) bool {
	return k == recipes.Warm || k == recipes.Fire || k == recipes.Soak
}

// beginPhase enters phase i and asks for its set-points in this very step.
func (m *Machine) beginPhase(i int, out *Output) {
	p := &m.rec.Phases[i]
	m.stage = stagePhase
	m.phase = phase{index: i, last: i, at: m.now, activeAt: m.now}
	m.set = m.setFor(i)
	m.trim = newTrimmer(&m.cfg, p, m.set)
	m.dark = false
	if heats(p.Kind) && p.Flame.Lit {
		m.hot, m.fired = true, true
	}
	if p.Kind == recipes.Part {
		m.see.pullDN = 0
	}
	m.record(out, Record{Kind: RecPhaseBegin, Name: p.Name})
	m.beginPrompt(p, out)
	m.apply(p)
}

// endPhase closes the phase that runs, with its measures.
func (m *Machine) endPhase(out *Output, reason string) {
	p := m.current()
	if p == nil {
		return
	}
	m.record(out, Record{Kind: RecPhaseEnd, Name: p.Name, Reason: reason})
	m.measureEnd(p, out)
	if !m.guarded && closes(p) {
		m.contacted = true // nothing but the phase's end tells of it
	}
	m.phase.index = -1
	m.prompt.close()
}

// measureEnd records the glass at a phase's end, the mould halves once the flame
// is proven, at the stroke and at the end, and the pull of parting.
func (m *Machine) measureEnd(p *recipes.Phase, out *Output) {
	moulds := p.Kind == recipes.Light || p.Kind == recipes.Clear || p.Kind == recipes.Unload ||
		p.Kind == recipes.WarmMould
	for _, c := range phaseMeasures {
		if c.ai != warden.AiGlass && !moulds {
			continue
		}
		if n, ok := m.channel(c.ai); ok && m.guarded {
			m.measure(out, c.name, m.cfg.trueOf(c.ai, n), "C")
		}
	}
	if p.Kind == recipes.Part && m.see.pullDN < 0 {
		m.measure(out, "retract_peak_N", -m.cfg.trueOf(warden.AiForce, m.see.pullDN), "N")
	}
}

// phaseMeasures are the channels that measureEnd notes.
var phaseMeasures = [...]struct {
	ai   uint8
	name string
}{{warden.AiGlass, "glass_C"}, {warden.AiMouldLower, "mould_lower_C"},
	{warden.AiMouldUpper, "mould_upper_C"}}

// runPhase does one step of the phase that runs and leaves it when it ends.
func (m *Machine) runPhase(out *Output) {
	p := m.current()
	if p == nil {
		return
	}
	m.arrive(p)
	m.settle(p, out)
	m.apply(p)
	m.handsPhase(p, out)
	m.noteContact(out)
	if m.phaseFaults(p, out) {
		return
	}
	if reason := m.ended(p, out); reason != "" {
		m.endPhase(out, reason)
		m.advance(out)
		return
	}
	if m.since(m.phase.at) >= ms(p.Longest) {
		m.late(p, out)
	}
}

// late does what the recipe says when a phase takes its longest. Once holding
// finishes a piece, late phases just give way to the next.
func (m *Machine) late(p *recipes.Phase, out *Output) {
	if m.state == Holding || p.Late == recipes.LateNext {
		m.endPhase(out, endLongest)
		m.advance(out)
		return
	}
	m.horn()
	m.fault(commandOf(p.Late), "a phase took its longest", out)
}

// commandOf is the command that a recipe's word stands for.
func commandOf(l recipes.Late) Command {
	switch l {
	case recipes.LateAbort:
		return Abort
	case recipes.LateStop:
		return Stop
	}
	return Hold
}

// advance leaves a phase boundary: to the next phase, to a pause, or, while
// holding, to the next phase that finishes the piece.
func (m *Machine) advance(out *Output) {
	next := m.phase.last + 1
	switch {
	case m.state == Holding:
		m.finishNext(next, out)
	case m.state == Pausing && (m.pausable(next) || next >= len(m.rec.Phases)):
		m.next = next
		m.stage = stageNone
		m.become(NoCommand, "at a phase boundary", out)
	default:
		m.toPhase(next, out)
	}
}

// pausable: a pause may stand before phase i: burner clear and no step that
// the glass would not wait for.
func (m *Machine) pausable(i int) bool {
	if i >= len(m.rec.Phases) {
		return true
	}
	switch m.rec.Phases[i].Kind {
	case recipes.Press, recipes.Set, recipes.Part, recipes.SoftFlame, recipes.FlameCool,
		recipes.Soak, recipes.Clear:
		return false
	}
	return !m.set.in && (!m.guarded || m.see.clear || !m.lit())
}

// enterRunning goes on after a pause, by way of a new START where the next phase
// moves or heats; a restart goes on by itself.
func (m *Machine) enterRunning(by Command, out *Output) {
	if by == Resume {
		m.arm.release()
		m.toPhase(m.next, out)
	}
}

// actPaused keeps what turns turning; a pause that nobody ends becomes a hold.
func (m *Machine) actPaused(out *Output) {
	m.want = m.set
	m.want.press, m.want.stroke, m.want.in = 0, false, false
	m.want.hands = true
	if m.want.flame {
		m.want.oxyMl = 0
		m.want.fuelMl = m.softFuel()
	}
	if m.since(m.stateAt) >= PausedLongestMs {
		m.fault(Hold, "paused for the longest", out)
	}
}
