package controller

import (
	"pressrig/recipes"
	"pressrig/safety/warden"
	"pressrig/units"
)

// startRefusal says why a cycle may not start now, "" when it may.
func (m *Machine) startRefusal(job *Job, in *Input) string {
	switch {
	case job == nil || job.Recipe == nil || len(job.Recipe.Phases) == 0:
		return "no recipe was given"
	case job.Cycle == 0:
		return "no cycle number was given"
	case job.Recipe.Resume < 0 || job.Recipe.Resume >= len(job.Recipe.Phases):
		return "the recipe's resume phase does not exist"
	}
	for i := range job.Recipe.Phases {
		if len(job.Recipe.Phases[i].Bands) > MaxBands {
			return "a phase of the recipe has more than 16 bands"
		}
	}
	if why := m.unready(job.Recipe.Assisted); why != "" || !m.cfg.guarded || job.Recipe.Assisted {
		return why
	}
	return m.mouldRefusal(job.Recipe)
}

const lockoutWords = "lockout: press RESET at the rig"

// mouldRefusal holds the moulds to their band, unless the recipe itself warms
// them. A mould without a thermometer is the operator's to judge.
func (m *Machine) mouldRefusal(r *recipes.Recipe) string {
	if r.Moulds.Band <= 0 {
		return ""
	}
	for i := range r.Phases {
		if r.Phases[i].Kind == recipes.WarmMould {
			return ""
		}
	}
	if m.cfg.mouldLower && !m.inBand(warden.AiMouldLower, r.Moulds.LowerC, r.Moulds.Band) {
		return "the lower mould half is outside its temperature band"
	}
	if m.cfg.mouldUpper && !m.inBand(warden.AiMouldUpper, r.Moulds.UpperC, r.Moulds.Band) {
		return "the upper mould half is outside its temperature band"
	}
	return ""
}

func (m *Machine) inBand(ai uint8, about units.Celsius, band units.Kelvin) bool {
	n, ok := m.channel(ai)
	off := m.cfg.trueOf(ai, n) - float64(about)
	return ok && off <= float64(band) && off >= -float64(band)
}
