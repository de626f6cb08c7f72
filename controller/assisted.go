package controller

import "pressrig/recipes"

// Assisted mode: no microcontroller, or a recipe that says so. The machine
// calls the phases; the person works valves and lever and marks moments. There
// is no snapshot, no request goes out, and nobody guards but the person.

// endedAssisted is the reason for which a phase ends without a rig to watch:
// the operator's mark, or its time where hands are not in.
func (m *Machine) endedAssisted(p *recipes.Phase) string {
	if m.phase.answered {
		return endAnswer
	}
	timed := p.End.After > 0 && !handsIn(p.Kind)
	if timed && m.since(m.phase.activeAt) >= ms(p.End.After) {
		return endTime
	}
	return ""
}

// assistedWords tell the person what the machine cannot do.
func assistedWords(s State) string {
	switch s {
	case Holding, Held:
		return "unguarded: flame soft and clear, keep turning"
	case Stopping, Stopped:
		return "unguarded: shut oxygen, then fuel; open the press"
	case Aborting, Aborted:
		return "unguarded: shut both gases now"
	}
	return ""
}
