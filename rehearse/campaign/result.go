package campaign

import (
	"fmt"
	"slices"
	"strings"
)

// Result is what a run came to. Its form is that of the campaign's JSON.
type Result struct {
	Name     string   `json:"name"`
	About    []string `json:"about,omitempty"` // provocations
	Moment   string   `json:"moment,omitempty"`
	Script   string   `json:"script"`
	First    uint8    `json:"first_cause"`          // of the first trip since the onset, 0 none
	Told     uint8    `json:"first_cause_recorded"` // of the cycle's first trip record
	Acted    []uint8  `json:"acted"`                // rows that acted since the onset
	DetectMs int64    `json:"detect_ms"`            // onset, or when it first counted, to the row; -1 it never acted
	ReactMs  int64    `json:"react_ms"`             // row to the outputs; -1 it never acted
	Lock     string   `json:"lock"`                 // strongest while the cycle ran
	End      string   `json:"end"`                  // state at the end
	Unburnt  uint32   `json:"unburnt_ms"`           // in the worst 30 s, at the burner
	Blind    bool     `json:"blind,omitempty"`      // the flame sensor lied: nothing can count unburnt fuel
	Starts   int      `json:"starts"`               // records that the journal would hold
	Ends     int      `json:"ends"`
	Trips    int      `json:"trips"`
	Alarms   int      `json:"alarms"`
	Virtual  uint64   `json:"virtual_ms"`
	Shared   uint64   `json:"shared_ms"` // of it computed once for several runs
	Digest   string   `json:"digest"`    // of all that the warden saw and drove
	Wrong    []string `json:"wrong,omitempty"`
}

// Player plays cases one after another. Cases of one rig and seed share what
// goes before their first action, as long as they come in the order of it. The
// zero value is ready; each goroutine needs its own.
type Player struct {
	base   *run
	head   Script            // of base: rig and seed
	driven map[string]digest // of scripts without their provocations
}

// Run plays a case from its first millisecond and judges it. step is nil for the
// real warden.
func Run(c *Case, step Step) Result { return Tell(c, step, nil) }

// Tell is Run for somebody who wants to hear what happens, when it does.
func Tell(c *Case, step Step, tell func(ms uint64, what string)) Result {
	r, err := begin(&c.Script, step)
	if err != nil {
		return c.failed(err)
	}
	r.tell = tell
	return c.judge(r, func(s *Script) (digest, error) {
		r, err := begin(s, step)
		if err != nil {
			return 0, err
		}
		r.play()
		return r.driven, nil
	})
}

// Run plays a case and judges it: the same result as Run's, sooner.
func (p *Player) Run(c *Case) Result {
	r, err := p.begin(&c.Script)
	if err != nil {
		return c.failed(err)
	}
	return c.judge(r, p.outputs)
}

// outputs sums what the warden drives in a run.
func (p *Player) outputs(s *Script) (digest, error) {
	name := s.String()
	if d, known := p.driven[name]; known {
		return d, nil
	}
	r, err := p.begin(s)
	if err != nil {
		return 0, err
	}
	r.play()
	if p.driven == nil {
		p.driven = map[string]digest{}
	}
	p.driven[name] = r.driven
	return r.driven, nil
}

// begin forks the run that has come as far as the script's first action.
func (p *Player) begin(s *Script) (*run, error) {
	flat := s.flat()
	if len(flat) == 0 {
		return begin(s, nil)
	}
	until := flat[0].AtMs
	head := Script{Rig: s.Rig, Seed: s.Seed}
	if p.base == nil || p.head.String() != head.String() || p.base.h.Rig.Ms() > until {
		base, err := begin(&head, nil)
		if err != nil {
			return nil, err
		}
		p.base, p.head = base, head
	}
	p.base.h.Run(int(until), func() bool { return p.base.h.Rig.Ms() >= until || p.base.done() })
	return p.base.fork(s), nil
}

func (c *Case) failed(err error) Result {
	return Result{Name: c.Name, Script: c.Script.String(), Wrong: []string{err.Error()}}
}

func (c *Case) judge(r *run, outputs func(*Script) (digest, error)) Result {
	r.story.onset = c.onset()
	r.play()
	res := r.result(c)
	if !c.same() || len(res.Wrong) > 0 {
		return res
	}
	without := c.without()
	driven, err := outputs(&without)
	if err != nil {
		return c.failed(err)
	}
	if driven != r.driven {
		res.Wrong = append(res.Wrong, "14: the outputs differ from those of a run without it")
	}
	return res
}

// onset is when the first provocation comes.
func (c *Case) onset() uint64 {
	for _, a := range c.Script.Actions {
		if strings.HasPrefix(a.What, wordProvoke+" ") {
			return a.AtMs
		}
	}
	return 0
}

// same: nothing that is driven may depend on what is provoked.
func (c *Case) same() bool {
	return len(c.About) > 0 && !slices.ContainsFunc(c.About, func(name string) bool {
		p, ok := provocationNamed(name)
		return !ok || !p.same
	})
}

// without is the script without its provocations.
func (c *Case) without() Script {
	s := c.Script
	s.Actions = slices.Clone(s.Actions)
	for i := range s.Actions {
		if strings.HasPrefix(s.Actions[i].What, wordProvoke+" ") {
			s.Actions[i].What = wordNothing
		}
	}
	return s
}

func (r *run) result(c *Case) Result {
	s := &r.story
	t := r.h.Rig.Truth()
	res := Result{Name: c.Name, About: c.About, Moment: c.Moment, Script: c.Script.String(), First: s.first,
		Told: s.hostFirst, DetectMs: -1, ReactMs: -1, Lock: s.worst, End: s.ended, Unburnt: t.WorstMs,
		Starts: s.starts, Ends: s.ends, Trips: s.trips, Alarms: s.alarms, Virtual: r.h.Rig.Ms(),
		Shared: r.forkedMs, Blind: c.blind(),
		Digest: fmt.Sprintf("%016x", uint64(r.all))}
	if res.Lock == "" {
		res.Lock = "none"
	}
	for row := range uint8(64) {
		if s.acted[row] != 0 {
			res.Acted = append(res.Acted, row)
		}
	}
	r.judgeFirst(c, &res)
	r.judgeEnd(c)
	if t.WorstMs > unburntMostMs && !res.Blind {
		s.fail(r, fmt.Sprintf("3: %d ms of unburnt fuel within 30 s", t.WorstMs))
	}
	res.Wrong = s.failures
	return res
}

// unburntMostMs: 4 s in any 30 s, valve closing included (EN 676 case study as
// docs/assessor.md has it); the flame sensor's own delay comes on top of what the
// signal shows.
const unburntMostMs = 4000

// blind: the flame sensor itself lies, or both blocks leak, so that no program
// can count unburnt fuel; that is the burner control's, in hardware.
func (c *Case) blind() bool {
	for _, a := range c.Script.flat() {
		if strings.Contains(a.What, "stuck flame on") {
			return true
		}
	}
	return false
}

// judgeFirst holds the first cause, its time and its reaction to what was
// provoked.
func (r *run) judgeFirst(c *Case, res *Result) {
	s := &r.story
	if len(c.About) == 0 {
		return
	}
	var allowed []uint8
	for _, name := range c.About {
		if p, ok := provocationNamed(name); ok {
			allowed = append(allowed, p.rows...)
		}
	}
	if s.first != 0 && !slices.Contains(allowed, s.first) {
		// The benign reaction that goes before may trip after a new onset only as
		// its own repetition.
		s.fail(r, fmt.Sprintf("first cause %d (%s); %v was provoked", s.first, rows[s.first].Cause, allowed))
	}
	for _, row := range allowed {
		if s.acted[row] != 0 && row == allowed[0] {
			res.DetectMs, res.ReactMs = int64(s.heldMs[row]), s.reactMs[row]
		}
	}
}

// judgeEnd: where no row has locked, the cycle completes, or waits in vain for a
// permit that what was provoked takes away.
func (r *run) judgeEnd(c *Case) {
	s := &r.story
	if len(c.About) != 1 || c.Moment == "reacting" || c.Moment == "resetting" || s.worst != "" && s.worst != "none" {
		return
	}
	if p, ok := provocationNamed(c.About[0]); ok && s.ended != "complete" && !slices.Contains(p.waits, s.ended) {
		s.fail(r, fmt.Sprintf("the cycle ended %s, and no row locked it", s.ended))
	}
}

// Sort puts results into the order of their names, whichever worker was first.
func Sort(results []Result) {
	slices.SortStableFunc(results, func(a, b Result) int { return strings.Compare(a.Name, b.Name) })
}
