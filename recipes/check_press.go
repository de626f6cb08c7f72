package recipes

import (
	"fmt"
	"time"

	"pressrig/rig"
	"pressrig/units"
)

// openUpTo is the travel up to which the press counts as open, mm.
func (d *reader) openUpTo() float64 {
	if d.onRig() {
		return float64(d.profile.Press.OpenUpTo)
	}
	return 0
}

// heatUpTo is the travel up to which the burner may be at the blank, mm.
func (d *reader) heatUpTo() float64 {
	if d.onRig() {
		return float64(d.profile.Press.HeatUpTo)
	}
	return 300 // the rig says; nothing is refused without one
}

// checkStroke holds the press to its kind, its neighbours and the rig.
func (d *reader) checkStroke(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	d.checkDo(i)
	fresh := i == 0 || !d.r.Phases[i-1].Kind.atBlank() // else told before
	if fresh && ph.Flame.At == AtBlank && ph.Kind.atBlank() && d.travelBefore(i) > d.heatUpTo() {
		or(at.place, at.flame, at.kind).Fault("the burner comes to the blank while the press "+
			"is at "+
			units.Format(d.travelBefore(i), units.Length),
			"open the press to at most "+units.Format(d.heatUpTo(),
				units.Length)+" in a part phase before")
	}
	closes := ph.Press.Do == DoClose || ph.Press.Do == DoForce
	if closes && d.travel[i] >= 0 && d.travelBefore(i) > d.travel[i] {
		at.to.Fault(fmt.Sprintf("closes to %s from %s", units.Format(d.travel[i], units.Length),
			units.Format(d.travelBefore(i), units.Length)),
			"travel grows while closing; open in a part phase")
	}
	if ph.Press.Do == DoOpen && d.travelBefore(i) >= 0 && d.travel[i] > d.travelBefore(i) {
		at.to.Fault(fmt.Sprintf("opens to %s from %s", units.Format(d.travel[i], units.Length),
			units.Format(d.travelBefore(i), units.Length)), "travel shrinks while opening")
	}
	if d.onRig() && ph.Press.Do != DoStay {
		d.checkPressLimits(i)
	}
	if ph.Kind.strokes() {
		d.checkStrokeState(i)
	}
}

// checkDo holds the press action to the kind of the phase.
func (d *reader) checkDo(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	do := ph.Press.Do
	right := ""
	switch {
	case ph.Kind == Press && do != DoClose && do != DoForce:
		right = "write press: {do: close, ...} or {do: force, ...}"
	case ph.Kind == Set && do == DoOpen:
		right = "write press: stay, {do: force, ...} or {do: close, ...}; open in the part phase"
	case ph.Kind == Part && do != DoOpen:
		right = "write press: {do: open, ...}"
	case !ph.Kind.strokes() && do != DoStay:
		right = "leave press out; only press, set and part phases move it"
	default:
		return
	}
	or(at.press, at.kind).Fault(fmt.Sprintf("press %s in %s", do, ph.Kind.phase()), right)
}

func (d *reader) checkPressLimits(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	p, s := &d.profile.Press, &ph.Press
	if s.To > p.End {
		at.to.Fault("to is "+units.Format(float64(s.To), units.Length),
			"the press goes to "+units.Format(float64(p.End), units.Length)+" at most")
	}
	if s.Speed > p.SpeedMax {
		at.speed.Fault("speed is "+units.Format(float64(s.Speed), units.Speed),
			"the press moves at most "+units.Format(float64(p.SpeedMax), units.Speed))
	}
	most := p.ForceMax
	if s.Do == DoOpen {
		most = p.PullMax
	}
	if s.Force > most {
		at.force.Fault("force is "+units.Format(float64(s.Force), units.Force),
			"the rig allows at most "+units.Format(float64(most), units.Force)+" here")
	}
	if s.Do == DoForce && s.Force < p.Contact {
		at.force.Fault("force is "+units.Format(float64(s.Force),
			units.Force)+", less than means contact",
			"write at least "+units.Format(float64(p.Contact), units.Force))
	}
}

// checkStrokeState: what must hold while the press works.
func (d *reader) checkStrokeState(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	if !d.onRig() {
		return
	}
	n := or(at.flame, at.kind)
	switch f := d.profile.Burner.StrokeFlame; {
	case f == "off" && ph.Flame.Lit:
		n.Fault("a flame burns during the stroke",
			"write flame: off; "+d.profile.Name+" has stroke_flame: off")
	case f == "soft" && ph.Flame.Lit && ph.Flame.Oxygen > 0:
		or(at.oxygen, n).Fault("oxygen during the stroke",
			"fuel alone: the flame is soft and stays at the blank")
	}
	s := &d.profile.Spindle
	where, rpm := or(at.spindle, at.kind), d.rpm[i]
	if !at.spindle.Present() && i > 0 && d.r.Phases[i-1].Kind.strokes() {
		return // as in the phase before, where it was told
	}
	turning := s.AtPress == "turning"
	if turning && (rpm < float64(s.PressLow) || rpm > float64(s.PressHigh)) {
		where.Fault("spindle is "+units.Format(rpm, units.Rotation)+" in the stroke",
			fmt.Sprintf("write %s to %s",
				units.Format(float64(s.PressLow), units.Rotation), units.Format(float64(s.PressHigh),
					units.Rotation)))
	}
	if !turning && rpm != 0 {
		where.Fault("spindle is "+units.Format(rpm, units.Rotation)+" in the stroke",
			"write spindle: 0 rpm in the clear phase; "+d.profile.Name+" presses "+s.AtPress)
	}
}

// checkPressing holds the neighbours of each stroke together: clear before it,
// set and part after it, the flame back at the piece at once.
func (d *reader) checkPressing() {
	for i := range d.r.Phases {
		kind, at := d.r.Phases[i].Kind, &d.at[i]
		before := Load
		if i > 0 {
			before = d.r.Phases[i-1].Kind
		}
		switch {
		case kind == Press && before != Clear && before != Press:
			at.kind.Fault("a press phase without a clear phase before it",
				"clear the burner and bring the spindle to its press state first")
		case kind == Set && before != Press && before != Set:
			at.kind.Fault("a set phase without a press phase before it", "set follows press")
		case kind == Part && before != Press && before != Set && before != Part:
			at.kind.Fault("a part phase without a stroke before it", "part follows press or set")
		case (before == Press || before == Set) && !kind.strokes():
			at.kind.Fault(kind.phase()+" while the press is closed",
				"part the moulds first")
		case before == Part && kind != Part:
			d.checkFlameBack(i)
		}
	}
	if d.r.Strokes() {
		d.checkPermit()
	}
}

// mostDark is how long a pressed piece may be without flame, from parting to
// the soft flame: it cracks soon after (common practice, no source).
const mostDark = 5

// checkFlameBack follows the phases from i, the first after parting.
func (d *reader) checkFlameBack(i int) {
	if !d.lit() || d.onRig() && d.profile.Burner.StrokeFlame == "off" {
		return
	}
	dark := 0.0
	for k := i; k < len(d.r.Phases) && !d.r.Phases[k].Kind.handsIn(); k++ {
		if d.r.Phases[k].Kind.atBlank() {
			if dark > mostDark {
				d.at[k].kind.Fault(fmt.Sprintf("the flame may come back %g s after parting", dark),
					fmt.Sprintf("at most %d s, or the piece cracks: shorten what lies between",
						mostDark))
			}
			return
		}
		dark += d.r.Phases[k].Longest.Seconds()
	}
	d.at[i].kind.Fault("no soft flame after parting",
		"add a soft_flame phase right after part, or the piece cracks")
}

// checkPermit: the warden lets the stroke begin only by the glass temperature,
// or by SOFT where no thermometer is fitted.
func (d *reader) checkPermit() {
	if !d.onRig() || d.r.Assisted || d.profile.Thermometer.Fitted {
		return
	}
	stroke := d.r.FirstStroke()
	var after time.Duration
	for i := stroke - 1; i >= 0; i-- {
		if ph := &d.r.Phases[i]; ph.End.Soft {
			if after > rig.SoftPermit {
				d.at[stroke].kind.Fault("the stroke may come "+units.FormatTime(after)+" after "+
					"SOFT",
					"SOFT permits it for "+units.FormatTime(rig.SoftPermit)+": shorten what "+
						"lies between")
			}
			return
		}
		after += d.r.Phases[i].Longest
	}
	d.at[stroke].kind.Fault("a stroke without its permit",
		"no thermometer is fitted: end a fire or soak phase before by soft: true; the SOFT "+
			"button is the permit")
}
