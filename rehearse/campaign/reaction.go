package campaign

import (
	"fmt"
	"slices"

	"pressrig/safety/oracle"
	"pressrig/safety/warden"
)

// reaction holds what the warden drives to the oracle's columns, in every tick
// in which a cause acts: the most that may be on. The least, what must stay on,
// is invariant 19 of package safety, which judges the same ticks by the same
// table typed by hand.
type reaction struct {
	set     uint64
	want    oracle.Row // the strongest of set
	seqMs   uint32     // fuel open in a sequenced shut-down
	pushMs  uint32     // closing force although a cause locks
	rampMs  uint32
	creepMs uint32
	partMs  uint32 // the press has waited to part, no hand moving it
}

// strongestOf combines the rows of a set.
func strongestOf(set uint64) oracle.Row {
	want := oracle.Row{Gas: "keep", Spindle: "keep", Above: "keep", Contact: "keep", Lock: "none"}
	for number := range uint8(64) {
		if set&(1<<number) != 0 {
			want = oracle.Strongest(want, rows[number])
		}
	}
	return want
}

// firstOf is the row of a set that ranks first: lowest priority number, then
// lowest row. Rows that lock nothing are no first cause.
func firstOf(set uint64) uint8 {
	first := uint8(0)
	for number := range uint8(64) {
		if set&(1<<number) == 0 || rows[number].Lock == "none" {
			continue
		}
		if first == 0 || rows[number].Priority < rows[first].Priority {
			first = number
		}
	}
	return first
}

// step says what is wrong with this tick, "" for nothing.
func (r *reaction) step(l *look) string {
	if set := l.after.Trips | l.after.Present; set != r.set || r.want.Lock == "" {
		r.set, r.want = set, strongestOf(set)
	}
	r.seqMs = count(r.want.Gas == "sequenced" && l.drives(warden.OutFuel), r.seqMs)
	locked := r.want.Lock != "none"
	hand := l.after.Press == warden.PressHandClose || l.after.Press == warden.PressHandOpen
	r.pushMs = count(locked && l.drives(warden.OutPressClose) && !hand, r.pushMs)
	r.rampMs = count(r.want.Spindle == "ramp" && l.drives(warden.OutSpindle), r.rampMs)
	r.creepMs = count(r.want.Spindle == "creep" && l.drives(warden.OutSpindle), r.creepMs)
	r.partMs = count(l.after.Touching != 0 && r.want.Contact == "part" && !hand, r.partMs)
	if r.set == 0 {
		return ""
	}
	if i := slices.Index(oracle.LockOrder, r.want.Lock); int(l.after.Lock) != i {
		return fmt.Sprintf("lock %s, want %s", oracle.LockOrder[l.after.Lock], r.want.Lock)
	}
	for _, wrong := range []string{r.gas(l), r.spindle(l), r.press(l, hand)} {
		if wrong != "" {
			return wrong
		}
	}
	return ""
}

func (l *look) drives(bits uint16) bool { return l.out.Bits&bits != 0 }

func (r *reaction) gas(l *look) string {
	switch r.want.Gas {
	case "shut":
		if l.drives(warden.OutFuel | warden.OutOxygen | warden.OutIgniter) {
			return "gas or igniter on in a tick whose gas column is shut"
		}
	case "sequenced":
		if l.drives(warden.OutOxygen | warden.OutIgniter) {
			return "oxygen or igniter on in a tick whose gas column is sequenced"
		}
		if r.seqMs > 1000 {
			return "fuel open 1 s after a sequenced reaction began"
		}
	}
	return ""
}

func (r *reaction) spindle(l *look) string {
	switch r.want.Spindle {
	case "off":
		if l.drives(warden.OutSpindle) {
			return "spindle powered in a tick whose spindle column is off"
		}
	case "ramp":
		if l.drives(warden.OutSpindle) && (l.out.SpindleDrpm > 0 || r.rampMs > 1000) {
			return "spindle driven in a tick whose spindle column is ramp"
		}
	case "creep":
		pressState := l.after.Touching != 0 && r.want.Contact == "part" && l.option(warden.OptSpindleTurns)
		if l.out.SpindleDrpm > l.c.CreepDrpm && !pressState || r.creepMs > l.c.CreepMs+2000 {
			return "spindle faster than creep, or creeping for too long"
		}
	}
	return ""
}

// mayPart: door closed, a drive, a known position, and the press felt.
func (l *look) mayPart() bool {
	_, travel := l.value(warden.AiTravel)
	_, force := l.value(warden.AiForce)
	const barred = uint64(1<<warden.CauseStuck | 1<<warden.CauseForceLost | 1<<warden.CauseTravelLost)
	return l.has(warden.InDoorClosed) && l.option(warden.OptPressDriven) && l.after.Homed != 0 && travel && force &&
		l.after.Trips&barred == 0 && !l.has(warden.InPressOpen)
}

// press holds the press to its column; above contact or in contact, as the
// warden has it. Hold-to-run is a person's own.
func (r *reaction) press(l *look, hand bool) string {
	word := r.want.Above
	if l.after.Touching != 0 {
		word = r.want.Contact
	}
	if r.pushMs > 1000 {
		return "closing force 1 s after a lock"
	}
	if hand {
		return ""
	}
	pushes, opens := l.drives(warden.OutPressClose), l.drives(warden.OutPressOpen)
	easing := l.after.Press == warden.PressEasing && l.out.ForceDN <= l.prevOut.ForceDN
	switch word {
	case "off", "stay":
		if pushes || opens || !l.drives(warden.OutBrake) {
			return "press moves in a tick whose press column is " + word
		}
	case "ease":
		if opens || pushes && !easing {
			return "press pushes on or opens in a tick whose press column is ease"
		}
	case "part":
		// Force eases away at once; the halves open only after their time, slowly.
		slow := l.out.SpeedCmms == l.c.PartCmms && l.out.ForceDN <= l.c.PullMaxDN
		if pushes && !easing || opens && (!slow || r.partMs <= uint32(l.c.PartMs) || !l.mayPart()) {
			return "press pushes on, or parts early, fast or unseen, in a tick whose press column is part"
		}
		if !opens && r.partMs > uint32(l.c.PartMs)+slackMs && l.mayPart() && l.prev.Press == warden.PressStay {
			return "press does not part"
		}
	case "retract":
		able := l.option(warden.OptPressDriven) && l.has(warden.InDoorClosed) &&
			!l.has(warden.InPressOpen) && l.after.Homed != 0 && l.prev.Press != warden.PressOff
		if pushes || able && !opens {
			return "press does not retract"
		}
	case "inhibit":
		if l.after.Press == warden.PressClosing && l.prev.Press != warden.PressClosing {
			return "a stroke begins in a tick whose press column is inhibit"
		}
	}
	return ""
}
