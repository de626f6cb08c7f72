package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// prompt is what the operator is asked or told. Numbers never repeat within
// 256 cycles, so that an answer meant for an old prompt meets no new one.
type prompt struct {
	base uint16 // from the cycle number
	n    uint8  // prompts so far, 0 skipped
	num  uint16 // open prompt, 0 none
	text string // asked, or told while num is 0
}

func (p *prompt) openSilently(text string) {
	p.n++
	if p.n == 0 {
		p.n = 1
	}
	p.num = p.base | uint16(p.n)
	p.text = text
}

func (p *prompt) close() { p.num, p.text = 0, "" }

// openPrompt asks and records it.
func (m *Machine) openPrompt(text string, out *Output) {
	m.prompt.openSilently(text)
	m.horn()
	m.record(out, Record{Kind: RecPrompt, Prompt: m.prompt.num, Reason: text})
}

// beginPrompt asks or tells what a phase begins with. In hands-in phases the
// question waits until everything stands still.
func (m *Machine) beginPrompt(p *recipes.Phase, out *Output) {
	m.prompt.close()
	switch {
	case !m.guarded:
		m.openPrompt(promptText(p), out)
	case handsIn(p.Kind):
		m.prompt.text = "wait: hands off until everything stands still"
	case p.End.Answer:
		m.openPrompt(promptText(p), out)
	case p.Prompt != "":
		m.prompt.text = p.Prompt
		m.record(out, Record{Kind: RecPrompt, Reason: p.Prompt})
	}
}

// settle lets the hands in: spindle still, press open, flame parked or out.
func (m *Machine) settle(p *recipes.Phase, out *Output) {
	if !m.guarded || !handsIn(p.Kind) || m.phase.settled || !m.still() {
		return
	}
	m.phase.settled = true
	text := promptText(p)
	if p.Kind == recipes.Hands && m.arm.started {
		text += "; then close the safety door and push START"
	}
	m.openPrompt(text, out)
}

// still: nothing moves or burns where hands go.
func (m *Machine) still() bool {
	s := &m.see.snap
	if s.Drives(warden.OutSpindle) || !m.home() || !m.see.clear {
		return false
	}
	if n, ok := m.channel(warden.AiSpindle); ok && n > standsDrpm {
		return false
	}
	burning := s.Out&warden.OutFuel != 0
	return !burning || (m.set.flame && s.Out&warden.OutOxygen == 0)
}

// promptText is the recipe's prompt, or what the kind of phase asks.
func promptText(p *recipes.Phase) string {
	if p.Prompt != "" {
		return p.Prompt
	}
	switch p.Kind {
	case recipes.Load:
		return "seat the blank, close the door: yes when done"
	case recipes.Hands:
		return "work at the piece"
	case recipes.WarmMould:
		return "warm the moulds: yes when in their band"
	case recipes.Light:
		return "light up: fuel, flame, then oxygen; yes when lit"
	case recipes.Warm, recipes.SoftFlame:
		return "soft flame at the piece: yes when done"
	case recipes.Fire, recipes.Soak:
		return "fire: yes when the glass is soft"
	case recipes.Clear:
		return "swing the burner clear: yes when clear"
	case recipes.Press:
		return "pull the lever now: yes when formed"
	case recipes.Part:
		return "part slowly: yes when open"
	case recipes.Out:
		return "burner clear or off, oxygen first: yes when done"
	case recipes.Unload:
		return "piece out, both mould halves empty: yes when seen"
	}
	return "yes when done"
}

// answerRefusal: what lets the cycle go on to motion or heat is not answered at
// the desk while hands may be at the moulds. What can only switch off or record
// (a no, the parked flame, the piece that is out) is taken at any time.
func (m *Machine) answerRefusal(yes bool) string {
	p := m.current()
	switch {
	case !yes || m.parked || !m.guarded || p == nil || p.Kind == recipes.Unload:
		return ""
	case p.Kind == recipes.Hands && m.arm.started:
		return pushStartWords
	case m.doorOpen():
		return closeDoorWords
	}
	return ""
}

// takeAnswer takes an answer to the open prompt; any other is refused.
func (m *Machine) takeAnswer(in *Input, out *Output) {
	a := in.Answer
	if a.Prompt == 0 {
		return
	}
	r := Record{Kind: RecAnswer, Prompt: a.Prompt, By: in.By, User: in.User}
	if a.Yes {
		r.Value = 1
	}
	if a.Prompt != m.prompt.num {
		r.Reason = "refused: that prompt is not open"
		out.Refusal = "that prompt is not open"
		m.record(out, r)
		return
	}
	if refusal := m.answerRefusal(a.Yes); refusal != "" {
		r.Reason, out.Refusal = "refused: "+refusal, refusal
		m.record(out, r)
		return
	}
	m.record(out, r)
	switch {
	case !a.Yes:
		m.openPrompt(m.prompt.text, out)
	case m.parked:
		m.unpark()
	default:
		m.phase.answered = true
		m.prompt.close()
	}
}
