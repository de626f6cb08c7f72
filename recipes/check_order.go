package recipes

import (
	"fmt"
	"time"

	"pressrig/units"
)

// checkOrder keeps loading at the front and unloading at the end.
func (d *reader) checkOrder() {
	begun := false
	for i := range d.r.Phases {
		switch kind := d.r.Phases[i].Kind; {
		case kind == Load && begun:
			d.at[i].kind.Fault("a load phase after the cycle has begun",
				"loading comes first; use kind hands within a cycle")
		case kind == Unload && i+1 < len(d.r.Phases) && d.r.Phases[i+1].Kind != Unload:
			d.at[i].kind.Fault("an unload phase before the end",
				"unloading comes last; use kind hands within a cycle")
		case kind != Load:
			begun = true
		}
	}
}

// Times of the warden before a flame is proven, without the purge: check,
// igniter, trial, two proofs, and two seconds for a slide.
const lightBesidePurge = 5*time.Second + time.Second + 3*time.Second + 2*time.Second + 2*time.Second

// checkLight: one light-up, before all that needs a flame, long enough for the
// purge; what was shut is not lit again.
func (d *reader) checkLight() {
	alight, shut := false, false
	for i := range d.r.Phases {
		ph, at := &d.r.Phases[i], &d.at[i]
		if ph.Kind == Light {
			if alight || shut {
				at.kind.Fault("a second light phase",
					"one light-up in a cycle: keep the flame alive, clear and soft")
			}
			if !ph.Flame.Lit {
				or(at.flame, at.kind).Fault("a light phase without fuel",
					"write flame: {at: clear, fuel: ...}")
			}
			d.checkLightTime(i)
			alight = true
			continue
		}
		switch {
		case ph.Flame.Lit && !alight && !shut:
			or(at.flame, at.kind).Fault("a flame before the light phase",
				"add a phase of kind light before it")
			alight = true // told once
		case ph.Flame.Lit && shut:
			or(at.flame, at.kind).Fault("the flame was shut before and would need a second "+
				"light-up",
				"one light-up in a cycle: keep the flame alive, clear and soft")
			alight, shut = true, false // told once
		}
		if alight && !ph.Flame.Lit {
			alight, shut = false, true
		}
	}
}

func (d *reader) checkLightTime(i int) {
	if !d.onRig() || d.r.Assisted {
		return
	}
	least := d.profile.Gas.Purge + lightBesidePurge
	if d.r.Phases[i].Longest < least {
		d.at[i].longest.Fault("longest is "+units.FormatTime(d.r.Phases[i].Longest),
			"write at least "+units.FormatTime(least)+": purge, trial and proof take that long")
	}
}

// checkHeating: warm before fire, fire before pressing.
func (d *reader) checkHeating() {
	warm, fire := d.first(Warm), d.first(Fire)
	if fire < len(d.r.Phases) && warm > fire {
		d.at[fire].kind.Fault("a fire phase without a warm phase before it",
			"warm the blank on a soft flame first, or it cracks")
	}
	if soak := d.first(Soak); soak < len(d.r.Phases) && soak < fire {
		d.at[soak].kind.Fault("a soak phase without a fire phase before it", "soak follows fire")
	}
	stroke := d.r.FirstStroke()
	if stroke < len(d.r.Phases) && fire > stroke {
		d.at[stroke].kind.Fault("a stroke without a fire phase before it",
			"the stroke's permit is soft glass; move an empty press by hold-to-run")
	}
}

// checkEnd: a recipe leaves the rig with the press open, the burner aside and
// a piece that was cooled in the flame.
func (d *reader) checkEnd() {
	last := len(d.r.Phases) - 1
	if last < 0 {
		return
	}
	at := &d.at[last]
	if d.travel[last] > d.openUpTo() {
		at.kind.Fault("the recipe ends with the press at "+units.Format(d.travel[last],
			units.Length),
			"open the press in a part phase")
	}
	if ph := &d.r.Phases[last]; ph.Flame.At == AtBlank && ph.Flame.Lit {
		at.kind.Fault("the recipe ends with the flame at the blank", "add a phase of kind out")
	}
	if d.rpm[last] != 0 {
		or(d.at[last].spindle, at.kind).Fault("the recipe ends with the spindle turning",
			"write spindle: 0 rpm")
	}
	if !d.has(Fire) {
		return
	}
	if !d.has(Unload) {
		at.kind.Fault("a heated piece is never unloaded", "end with a phase of kind unload")
	}
	// Where the flame is off during the stroke it cannot come back in time.
	if d.onRig() && d.profile.Burner.StrokeFlame == "off" && d.r.Strokes() {
		return
	}
	if cool := d.lastOf(FlameCool); cool < 0 || cool < d.lastOf(Part) || cool < d.lastOf(Fire) {
		at.kind.Fault("the piece is not cooled in the flame", fmt.Sprintf(
			"add a %s phase after the last %s phase, or it cracks", FlameCool, lastHot(d)))
	}
}

func lastHot(d *reader) Kind {
	if d.lastOf(Part) > d.lastOf(Fire) {
		return SoftFlame
	}
	return Fire
}

func (d *reader) lastOf(k Kind) int {
	for i := len(d.r.Phases) - 1; i >= 0; i-- {
		if d.r.Phases[i].Kind == k {
			return i
		}
	}
	return -1
}
