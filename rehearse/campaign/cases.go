package campaign

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Case is one run of the campaign with its name.
type Case struct {
	Name   string
	About  []string // provocations that it is about
	Moment string
	Script Script
}

// Seed of the singles and pairs: one cycle, the same for all, so that the
// moments of its phases are known.
const Seed = 7

// Timelines are the phases of an undisturbed cycle on each rig that needs one.
type Timelines map[string]Timeline

// Observe runs the undisturbed cycles.
func Observe() (Timelines, error) {
	lines := Timelines{}
	for _, p := range provocations {
		rig := rigFor(&p)
		if _, known := lines[rig]; known {
			continue
		}
		line, err := observe(Script{Rig: rig, Seed: Seed})
		if err != nil {
			return nil, err
		}
		lines[rig] = line
	}
	return lines, nil
}

func rigFor(p *provocation) string {
	if p.rig == "" {
		return "driven"
	}
	return p.rig
}

// When the operator deals with the benign reaction that goes before.
const (
	secondMs = 50   // the fault comes while the first reaction acts
	ackMs    = 1000 // acknowledged
	resetMs  = 1200 // RESET pushed and reset commanded
	underMs  = 5    // the fault comes while both are under way
)

// single is a provocation at a moment of a phase.
func single(p *provocation, phase int, moment string, line Timeline) Case {
	at := line[phase].at(moment)
	s := Script{Rig: rigFor(p), Seed: Seed}
	if p.name == "34" && Phases[phase] == "close" {
		at = max(at, line[phase].From+afterDoorMs)
	}
	switch moment {
	case "reacting": // an abort by the operator is under way
		s.add(at, "command abort")
		at += secondMs
	case "resetting":
		s.add(at, "command abort")
		s.add(at+ackMs, wordAck)
		s.add(at+resetMs, wordReset)
		s.add(at+resetMs, "command reset")
		at += resetMs + underMs
	}
	if p.name == "27" && Phases[phase] == "load" && moment != "reacting" && moment != "resetting" {
		at = startMs - 10 // no cycle may start
	}
	if p.name == "34" {
		s.held(at, phase, line)
	}
	s.add(at, wordProvoke+" "+p.name)
	return Case{Name: fmt.Sprintf("single %s %s %s", p.name, Phases[phase], moment), About: []string{p.name},
		Moment: moment, Script: s}
}

// Times of a stroke under two hands: how long they are held, when the door opens
// in it (the spindle drive is still powered down before), and when the hands may
// be let go at the earliest.
const (
	handsMs     = 500
	doorMs      = 500
	afterDoorMs = 560
)

// held holds both actuators until at; once the press closes, the door is open
// and the hands stand in for it.
func (s *Script) held(at uint64, phase int, line Timeline) {
	for _, button := range []string{"LEFT", "RIGHT"} {
		s.add(at-handsMs, fmt.Sprintf("fault press %s for %d ms", button, handsMs))
	}
	if name := Phases[phase]; name == "close" || name == "contact" {
		begun := line[slices.Index(Phases[:], "close")].From
		s.add(max(at-handsMs+100, begun+doorMs), "fault door_open")
	}
}

func (s *Script) add(atMs uint64, what string) {
	s.Actions = append(s.Actions, Action{AtMs: atMs, What: what})
}

// Singles are all provocations in all phases at all moments.
func Singles(lines Timelines) []Case {
	var cases []Case
	for i := range provocations {
		p := &provocations[i]
		for phase := range numPhases {
			for _, moment := range Moments {
				cases = append(cases, single(p, phase, moment, lines[rigFor(p)]))
			}
		}
	}
	return cases
}

// worst are the twelve causes whose reactions reach farthest, one of each way in
// which a rig can hurt: person near, gas, motion, line, power.
var worst = []string{"1", "2", "3", "5", "10", "13", "14", "21", "23", "30", "31", "36"}

// Pairs are all pairs of the twelve worst, in the middle of each phase: both in
// one millisecond.
func Pairs(lines Timelines) []Case {
	var cases []Case
	for i, a := range worst {
		for _, b := range worst[i+1:] {
			for phase := range numPhases {
				s := Script{Rig: "driven", Seed: Seed}
				at := lines["driven"][phase].at("middle")
				s.add(at, wordProvoke+" "+a)
				s.add(at, wordProvoke+" "+b)
				cases = append(cases, Case{Name: fmt.Sprintf("pair %s+%s %s", a, b, Phases[phase]),
					About: []string{a, b}, Moment: "middle", Script: s})
			}
		}
	}
	return cases
}

// InOrder puts cases into the order in which a Player shares most.
func InOrder(cases []Case) {
	first := func(c *Case) uint64 {
		if flat := c.Script.flat(); len(flat) > 0 {
			return flat[0].AtMs
		}
		return 0
	}
	slices.SortStableFunc(cases, func(a, b Case) int {
		return cmp.Or(cmp.Compare(a.Script.Rig, b.Script.Rig), cmp.Compare(a.Script.Seed, b.Script.Seed),
			cmp.Compare(first(&a), first(&b)))
	})
}

// flat is the script's actions with every provocation spelled out, in order of
// time; of one millisecond in the order given.
func (s *Script) flat() []Action {
	var all []Action
	for _, a := range s.Actions {
		if name, ok := strings.CutPrefix(a.What, wordProvoke+" "); ok {
			p, _ := provocationNamed(name)
			if len(p.steps) == 0 {
				all = append(all, Action{a.AtMs, wordNothing})
			}
			for _, st := range p.steps {
				all = append(all, Action{a.AtMs + st.afterMs, st.what})
			}
			continue
		}
		all = append(all, a)
	}
	slices.SortStableFunc(all, func(a, b Action) int { return cmp.Compare(a.AtMs, b.AtMs) })
	return all
}
