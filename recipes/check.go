package recipes

import (
	"fmt"
	"time"

	"pressrig/units"
)

// handsIn reports whether a person's hands are at the moulds in a phase of
// this kind: the door may be open, nothing moves, nothing presses.
func (k Kind) handsIn() bool { return k == Load || k == Hands || k == Unload }

// atBlank reports whether a phase of this kind has the burner at the blank.
func (k Kind) atBlank() bool {
	switch k {
	case WarmMould, Warm, Fire, Soak, SoftFlame, FlameCool:
		return true
	}
	return false
}

// phase names a phase of this kind with its article, for messages.
func (k Kind) phase() string {
	if k == Out || k == Unload {
		return "an " + string(k) + " phase"
	}
	return "a " + string(k) + " phase"
}

// strokes reports whether the press works in a phase of this kind.
func (k Kind) strokes() bool { return k == Press || k == Set || k == Part }

// check is all that can be said of the whole recipe without running it.
func (d *reader) check() {
	d.states()
	d.checkHead()
	d.checkTimes()
	for i := range d.r.Phases {
		d.checkKind(i)
		d.checkEnds(i)
		d.checkFlame(i)
		d.checkSpindle(i)
		d.checkStroke(i)
		d.checkOnHold(i)
		d.checkGlass(i)
	}
	d.checkOrder()
	d.checkLight()
	d.checkSharp()
	d.checkHeating()
	d.checkPressing()
	d.checkEnd()
	d.checkResume()
}

// states follows spindle and press through the phases.
func (d *reader) states() {
	rpm, travel := 0.0, 0.0
	for i := range d.r.Phases {
		ph := &d.r.Phases[i]
		if !ph.SpindleKeep {
			rpm = float64(ph.SpindleRPM)
		}
		if ph.Press.Do != DoStay {
			travel = float64(ph.Press.To)
			word := d.at[i].to.Word()
			if !d.onRig() && word != "" && (word[0] < '0' || word[0] > '9') {
				travel = -1 // a named position of a rig that is not known here
			}
		}
		d.rpm = append(d.rpm, rpm)
		d.travel = append(d.travel, travel)
	}
}

// travelBefore is the press travel at which a phase begins.
func (d *reader) travelBefore(i int) float64 {
	if i == 0 {
		return 0
	}
	return d.travel[i-1]
}

func (d *reader) lit() bool {
	for i := range d.r.Phases {
		if d.r.Phases[i].Flame.Lit {
			return true
		}
	}
	return false
}

func (d *reader) has(k Kind) bool { return d.first(k) < len(d.r.Phases) }

// first is the index of the first phase of the kind, or the number of phases.
func (d *reader) first(k Kind) int {
	for i := range d.r.Phases {
		if d.r.Phases[i].Kind == k {
			return i
		}
	}
	return len(d.r.Phases)
}

func (d *reader) checkHead() {
	top := d.root.Node()
	if d.profile != nil && !d.profile.Board && !d.r.Assisted {
		top.Fault(d.profile.Name+" has no microcontroller",
			"write assisted: true; a person then works valves and lever")
	}
	piece := d.has(Fire) || d.r.Strokes()
	for _, key := range []string{"glass", "blank", "moulds", "window"} {
		if n := d.root.Get(key); piece && !n.Present() && (key != "window" || d.r.Strokes()) {
			top.Fault(fmt.Sprintf("a recipe that heats or presses a blank lacks the key %q", key),
				"write "+key)
		}
	}
	if d.root.Get("window").Present() && !d.r.Strokes() {
		d.root.Get("window").Fault("a press window, but no phase presses",
			"remove it, or add a press phase")
	}
	if n := d.root.Get("moulds"); d.has(WarmMould) && !n.Present() {
		top.Fault(`a recipe that warms moulds lacks the key "moulds"`, "write moulds")
	}
}

func (d *reader) checkTimes() {
	var sum time.Duration
	for i := range d.r.Phases {
		sum += d.r.Phases[i].Longest
		ph, at := &d.r.Phases[i], &d.at[i]
		if ph.End.After > ph.Longest {
			at.after.Fault("after is longer than longest",
				"write at most "+units.FormatTime(ph.Longest))
		}
		if ph.End.Least >= ph.Longest {
			at.ends.Fault("least is not below longest",
				"write less than "+units.FormatTime(ph.Longest))
		}
	}
	if sum > d.r.Longest {
		d.root.Get("longest").Fault("longest is "+units.FormatTime(d.r.Longest)+
			", the phases may take "+units.FormatTime(sum), "write at least "+units.FormatTime(sum))
	}
}

// checkEnds holds the ways to end to what the kind and the rig allow.
func (d *reader) checkEnds(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	e := &ph.End
	if e.Answer && ph.Prompt == "" {
		at.answer.Fault("an answer without a prompt", "write prompt: what the operator is asked")
	}
	byItself := e.After > 0 || e.When != nil || e.Soft || e.There || e.Lit
	if ph.Kind.handsIn() && (!e.Answer || byItself) {
		at.ends.Fault("a phase with hands at the moulds ends by something else than the "+
			"person's answer",
			"write ends: {answer: true} alone; only the person knows that the hands are out")
	}
	switch {
	case d.r.Assisted && (e.Lit || ph.Kind == Light && !e.Answer):
		at.ends.Fault("nobody sees the flame for an assisted cycle",
			"end the light phase by answer: true")
	case !d.r.Assisted && (ph.Kind == Light) != e.Lit:
		at.ends.Fault("lit belongs to the light phase, and a light phase ends by it",
			"write ends: {lit: true} in the light phase and nowhere else")
	}
	if e.There && ph.Press.Do == DoStay && !d.slideMoves(i) {
		at.there.Fault("there, but nothing moves in this phase", "end it by a time or a condition")
	}
	if ph.Late == LateNext && (ph.Kind.handsIn() || ph.Kind == Light || ph.Kind == Clear) {
		at.late.Fault("late: next in a phase that must be done before the next may begin",
			"write hold, stop or abort")
	}
	d.checkSensed(i)
}

// checkSensed refuses ends that need a sensor or button nobody has.
func (d *reader) checkSensed(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	e := &ph.End
	if d.r.Assisted {
		if e.When != nil || e.There {
			or(at.when, at.there).Fault("an assisted cycle has nobody to read a sensor",
				"end by after, soft: true (the person's mark) or answer: true")
		}
		for _, b := range at.bands {
			b.Fault("a band in an assisted cycle, where nothing reads it", "remove it")
		}
		return
	}
	if d.onRig() && e.Soft && !d.profile.Fits("soft") {
		at.soft.Fault("soft is not fitted on "+d.profile.Name,
			"end by a condition or a time, or fit the SOFT button")
	}
	blind := d.onRig() && d.profile.Thermometer.View == "flame_aside" &&
		ph.Flame.Lit && ph.Flame.At == AtBlank
	if !blind {
		return
	}
	const right = "the thermometer sees past the flame only when it is aside; end by time or " +
		"soft: true"
	if e.When != nil && e.When.Channel == "glass" {
		at.when.Fault("glass is not seen while the flame is at the blank", right)
	}
	if ph.Flame.HasHold {
		at.hold.Fault("glass cannot be held while the flame hides it", right)
	}
	for k := range ph.Bands {
		if ph.Bands[k].Channel == "glass" {
			at.bands[k].Fault("glass is not seen while the flame is at the blank",
				"remove the band")
		}
	}
}

// slideMoves reports whether the burner changes its place in a phase.
func (d *reader) slideMoves(i int) bool {
	before := AtClear
	if i > 0 {
		before = d.r.Phases[i-1].Flame.At
	}
	return d.r.Phases[i].Flame.At != before
}

func (d *reader) checkOnHold(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	if !ph.OnHold.KeepWarm {
		return
	}
	switch ph.Kind {
	case Warm, Fire, Soak, Clear:
		if d.onRig() && ph.OnHold.Fuel > d.profile.Gas.SoftMax {
			at.onHold.Fault("keep_warm is "+units.Format(float64(ph.OnHold.Fuel), units.Flow),
				"a soft flame on "+d.profile.Name+" has at most "+
					""+units.Format(float64(d.profile.Gas.SoftMax), units.Flow))
		}
		if d.onRig() {
			d.checkLeast(i, ph.OnHold.Fuel, at.onHold)
		}
	case Press, Set, Part, SoftFlame, FlameCool:
		at.onHold.Fault("keep_warm from the stroke on",
			"remove it: a hold then finishes set, part and flame-cool")
	default:
		at.onHold.Fault("keep_warm in "+ph.Kind.phase()+", where no soft glass is",
			"remove it")
	}
}

// checkResume finds the phase that Restart re-enters: never past warming, so
// that a piece that cooled in the hold is warmed again and does not crack.
func (d *reader) checkResume() {
	n := d.root.Get("resume")
	last := min(d.first(Fire), d.first(Soak), d.r.FirstStroke())
	if !n.Present() {
		if w := d.first(Warm); w < last {
			d.r.Resume = w
		}
		return
	}
	for i := range d.r.Phases {
		if d.r.Phases[i].Name != n.Word() {
			continue
		}
		if i >= last {
			n.Fault(fmt.Sprintf("resume at %q is past warming", n.Word()),
				"name a warm phase or an earlier one: a piece that cooled in the hold would crack")
		}
		d.r.Resume = i
		return
	}
	var names []string
	for i := range d.r.Phases {
		names = append(names, d.r.Phases[i].Name)
	}
	n.Fault(fmt.Sprintf("no phase is called %q", n.Word()), "name the warm phase"+nearest(n.Word(),
		names))
}
