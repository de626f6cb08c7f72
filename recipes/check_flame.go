package recipes

import (
	"fmt"
	"time"

	"pressrig/glass/flame"
	"pressrig/rig"
	"pressrig/units"
	"pressrig/yamlfile"
)

// fixed reports whether the rig's burner cannot leave the blank.
func (d *reader) fixed() bool { return d.profile != nil && d.profile.Burner.Fixed }

// checkKind holds flame and place to what the kind is for.
func (d *reader) checkKind(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	where := or(at.place, at.flame, at.kind)
	heats := ph.Kind.atBlank()
	switch {
	case heats && ph.Flame.At != AtBlank:
		where.Fault(ph.Kind.phase()+" with the burner clear",
			"write flame: {at: blank, ...}")
	case heats && !ph.Flame.Lit && d.lit():
		where.Fault(ph.Kind.phase()+" without flame",
			"write flame: {at: blank, fuel: ...}")
	case !heats && ph.Flame.At == AtBlank && !d.fixed() && !d.toldBefore(i, at.flame.Present()):
		where.Fault(ph.Kind.phase()+" with the burner at the blank",
			"write flame: {at: clear, ...}"+
				reasonClear(ph.Kind))
	}
	if ph.Kind.handsIn() {
		d.checkHandsIn(i)
	}
}

// toldBefore reports whether what is wrong in phase i came with the phase
// before, which is no heating phase either and has been told of it.
func (d *reader) toldBefore(i int, written bool) bool {
	return !written && i > 0 && !d.r.Phases[i-1].Kind.atBlank()
}

func reasonClear(k Kind) string {
	switch {
	case k.handsIn():
		return ": hands are there"
	case k.strokes():
		return ": the stroke comes there"
	}
	return ""
}

// checkHandsIn: nothing turns, nothing presses, and a parked flame only where
// the rig's risk assessment allows it with the door open.
func (d *reader) checkHandsIn(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	if d.rpm[i] != 0 {
		or(at.spindle, at.kind).Fault("the spindle turns while hands are at the moulds",
			"write spindle: 0 rpm")
	}
	if ph.Prompt == "" {
		at.kind.Fault(ph.Kind.phase()+" without a prompt",
			"write prompt: what the person is to do")
	}
	if d.travelBefore(i) > d.openUpTo() {
		at.kind.Fault("hands at the moulds while the press is not open",
			"open the press in a part phase before")
	}
	if ph.Flame.Lit && d.onRig() && !d.profile.Burner.ParkedDoorOpen {
		or(at.flame, at.kind).Fault("a flame burns while the door may be open",
			"write flame: off; "+
				d.profile.Name+" does not allow a parked flame with the door open")
	}
	if ph.Flame.Lit && d.fixed() {
		or(at.flame, at.kind).Fault("a fixed burner burns where hands are", "write flame: off")
	}
}

// checkFlame holds flows to the rig and to what the phase is for.
func (d *reader) checkFlame(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	fl := &ph.Flame
	if !fl.Lit {
		return
	}
	if fl.Oxygen > 0 && fl.At == AtClear && at.flame.Present() {
		at.oxygen.Fault("oxygen while the burner is clear",
			"fuel alone: a parked flame is soft, and a sharp one is lost or heats what stands by")
	}
	if ph.Kind == Light && fl.Oxygen > 0 && fl.At != AtClear {
		at.oxygen.Fault("oxygen while lighting", "fuel alone: oxygen opens only on a proven flame")
	}
	if d.onRig() {
		d.checkFlows(i)
		d.checkLead(i)
	}
}

func (d *reader) checkFlows(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	g, fl := &d.profile.Gas, &ph.Flame
	most, which := g.SoftMax, "a flame outside fire is soft and has at most "
	if ph.Kind == Fire {
		most, which = g.FuelMax, "the rig gives at most "
	}
	fuel := fl.Fuel * units.LitrePerMinute(1+fl.Trim/100)
	if fuel > most {
		what := "fuel is " + units.Format(float64(fl.Fuel), units.Flow)
		if fl.HasHold {
			what += " and may be trimmed by " + units.Format(float64(fl.Trim), units.Share)
		}
		or(at.fuel, at.flame, at.kind).Fault(what, which+units.Format(float64(most), units.Flow))
	}
	d.checkLeast(i, fl.Fuel*units.LitrePerMinute(1-fl.Trim/100), or(at.fuel, at.flame, at.kind))
	switch {
	case fl.Oxygen > 0 && !g.Oxygen:
		or(at.oxygen, at.flame, at.kind).Fault("oxygen is not fitted on "+d.profile.Name,
			"fuel alone")
	case fl.Oxygen*units.LitrePerMinute(1+fl.Trim/100) > g.OxygenMax && g.Oxygen:
		or(at.oxygen, at.flame, at.kind).Fault("oxygen is "+units.Format(float64(fl.Oxygen),
			units.Flow),
			"the rig gives at most "+units.Format(float64(g.OxygenMax),
				units.Flow)+", trimming included")
	}
	if r := float64(fl.Oxygen) / float64(fl.Fuel); fl.Oxygen > 0 && g.RatioHigh > 0 && (r < g.RatioLow || r > g.RatioHigh) {
		or(at.oxygen, at.flame, at.kind).Fault("oxygen is "+units.Format(100*r, units.Share)+" of the fuel",
			"between "+units.Format(100*g.RatioLow, units.Share)+" and "+units.Format(100*g.RatioHigh, units.Share)+
				": the rig's ratio window, outside which the flame goes out (row 51)")
	}
	if fl.HasHold && !d.profile.Fits("glass") {
		at.hold.Fault("glass is not fitted on "+d.profile.Name, "hold by flow and time")
	}
	if fl.HasHold && d.r.Assisted {
		at.hold.Fault("a held temperature in an assisted cycle",
			"give flow and time; a person works the valves")
	}
}

// checkSharp holds each unbroken sharp flame at the blank to the rig's longest: its
// row 52 would end the cycle with the glass soft.
func (d *reader) checkSharp() {
	if !d.onRig() {
		return
	}
	g, unbroken := &d.profile.Gas, time.Duration(0)
	for i := range d.r.Phases {
		ph := &d.r.Phases[i]
		fl := &ph.Flame
		if !fl.Lit || fl.At != AtBlank || fl.Oxygen == 0 && fl.Fuel <= g.SoftMax {
			unbroken = 0
			continue
		}
		before := unbroken
		unbroken += ph.Longest
		if unbroken > g.SharpLongest && before <= g.SharpLongest {
			or(d.at[i].longest, d.at[i].kind).Fault("a sharp flame may stand at the blank for "+units.FormatTime(unbroken),
				"at most "+units.FormatTime(g.SharpLongest)+", the rig's sharp_longest (row 52)")
		}
	}
}

// checkLeast: less fuel than the profile's least is no flame to rely on.
func (d *reader) checkLeast(i int, fuel units.LitrePerMinute, n yamlfile.Node) {
	if least := d.profile.Gas.FuelMin; fuel < least-1e-9 {
		n.Fault(d.r.Phases[i].Kind.phase()+" may burn as little as "+units.Format(float64(fuel), units.Flow),
			"on "+d.profile.Name+" a flame stands from "+units.Format(float64(least), units.Flow)+
				" on (fuel_min), trimming included")
	}
}

// checkLead keeps lead glass out of a reducing flame, which turns it grey. In
// a fire phase it is an error: the piece is spoilt for certain and the metered
// ratio is all that the rig knows. In soft flames it is a warning: they draw
// room air, and whether they soot is seen by eye.
func (d *reader) checkLead(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	fl := &ph.Flame
	if d.r.Known == nil || !d.r.Known.Lead || fl.At != AtBlank || !ph.Kind.atBlank() || ph.Kind == WarmMould {
		return
	}
	burns, err := flame.Named(d.profile.Gas.Fuel)
	if err != nil {
		return // the profile's parser knows the fuels
	}
	least := flame.LeadLeast * burns.OxygenPerFuel() * float64(fl.Fuel)
	if float64(fl.Oxygen) >= least-1e-9 {
		return
	}
	n := or(at.oxygen, at.flame, at.kind)
	what := fmt.Sprintf("oxygen is %s, reducing for lead glass", units.Format(float64(fl.Oxygen),
		units.Flow))
	if ph.Kind == Fire {
		n.Fault(what, fmt.Sprintf("write at least %.3g L/min, %g of what burns the fuel, or "+
			"the glass turns grey",
			least, flame.LeadLeast))
		return
	}
	n.Warn(what, "watch that the flame does not soot or turn yellow, or add air or oxygen")
}

// checkSpindle: a flame at the blank needs the glass to turn.
func (d *reader) checkSpindle(i int) {
	ph, at := &d.r.Phases[i], &d.at[i]
	where := or(at.spindle, at.kind)
	rpm := d.rpm[i]
	least := 1.0
	if d.onRig() {
		s := &d.profile.Spindle
		if s.Fitted == rig.NotFitted {
			if rpm != 0 {
				where.Fault("no spindle is fitted on "+d.profile.Name,
					"write spindle: 0 rpm or leave it out")
			}
			return
		}
		least = float64(s.Heat)
		if rpm > float64(s.Max) {
			where.Fault("spindle is "+units.Format(rpm, units.Rotation),
				"the rig turns at most "+units.Format(float64(s.Max), units.Rotation))
		}
	}
	if ph.Flame.Lit && ph.Flame.At == AtBlank && ph.Kind.atBlank() && rpm < least {
		where.Fault("flame at the blank while the spindle is at "+units.Format(rpm, units.Rotation),
			"write at least "+units.Format(least, units.Rotation)+": one side would melt and crack")
	}
}
