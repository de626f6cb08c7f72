package safety

import "pressrig/safety/warden"

func (w *Watch) option(bit uint16) bool { return w.Config.Options&bit != 0 }

func (w *Watch) valid(t *Tick, ai uint8) bool {
	return w.Config.FittedAnalog&t.In.AnalogOK&(1<<ai) != 0
}

// open: the press is open, or where the profile says that heating is safe.
func (w *Watch) open(t *Tick) bool {
	return t.In.Bits&warden.InPressOpen != 0 ||
		(w.valid(t, warden.AiTravel) && t.In.Analog[warden.AiTravel] <= w.Config.HeatCmm)
}

// spindleReady: the spindle is in its press state.
func (w *Watch) spindleReady(t *Tick) bool {
	if !w.option(warden.OptSpindleFitted) {
		return true
	}
	if !w.valid(t, warden.AiSpindle) {
		return false
	}
	speed := t.In.Analog[warden.AiSpindle]
	switch {
	case w.option(warden.OptSpindleTurns):
		return speed >= int16(w.Config.PressLowDrpm) && speed <= int16(w.Config.PressHighDrpm)
	case w.option(warden.OptSpindleIndexed):
		return speed <= 10 && t.In.Bits&warden.InIndexed != 0
	}
	return speed <= 10
}

func (w *Watch) burnerReady(t *Tick) bool {
	if w.option(warden.OptBurnerFixed) {
		soft := !on(t.Out.Bits, warden.OutOxygen) && t.Out.FuelMl <= w.Config.SoftMaxMl
		return !on(t.Out.Bits, warden.OutFuel) || soft
	}
	return t.In.Bits&warden.InBurnerClear != 0 && t.In.Bits&warden.InBurnerAtBlank == 0
}

// glassReady: measured, extrapolated or declared soft, inside the window that
// was taken at arming.
func (w *Watch) glassReady(t *Tick) bool {
	if w.Config.FittedAnalog&(1<<warden.AiGlass) == 0 {
		return t.After.SoftMs < w.Config.SoftMs
	}
	glass := t.In.Analog[warden.AiGlass]
	if w.valid(t, warden.AiGlass) && t.In.GlassAgeMs <= w.Config.SampleMs && glass >= w.low && glass <= w.hi {
		return true
	}
	r := &t.In.Request
	return r.Flags&warden.ReqEstimate != 0 && r.EstAgeMs <= w.Config.EstimateMs &&
		int32(r.EstDC)-int32(r.EstUncDC) >= int32(w.low) &&
		int32(r.EstDC)+int32(r.EstUncDC) <= int32(w.hi)
}

// 9: the press leaves open only with every permit; all but temperature hold
// until contact.
func (w *Watch) stroke(t *Tick) Broken {
	closing := on(t.Out.Bits, warden.OutPressClose) && t.After.Press == warden.PressClosing
	if !closing {
		return Broken{}
	}
	leaves := w.prev.Press != warden.PressClosing && t.After.Touching == 0
	switch {
	case leaves && w.spent && t.In.Bits&warden.InDoorClosed == 0:
		return Broken{9, "a second stroke without releasing both hands"}
	case !w.spindleReady(t) && (leaves || t.In.Bits&warden.InPressOpen == 0):
		return Broken{9, "closing with the spindle not in its press state"}
	case !w.burnerReady(t) && leaves:
		return Broken{9, "leaving open with the burner in the way"}
	case leaves && !w.glassReady(t):
		return Broken{9, "leaving open with the glass outside the window"}
	case leaves && t.After.Homed == 0:
		return Broken{9, "leaving open before the press was seen open"}
	}
	return Broken{}
}

// 10: the burner comes in only with the press open.
func (w *Watch) heat(t *Tick) Broken {
	if on(w.rose(t), warden.OutBurnerIn) && !w.open(t) {
		return Broken{10, "burner sent in with the press not open"}
	}
	return Broken{}
}

// 11: sequenced: oxygen first, then fuel.
func (w *Watch) order(t *Tick) Broken {
	fuelFell := on(w.prevOut.Bits, warden.OutFuel) && !on(t.Out.Bits, warden.OutFuel)
	if fuelFell && on(t.Out.Bits, warden.OutOxygen) {
		return Broken{11, "fuel shut before oxygen"}
	}
	return Broken{}
}

// 12: several causes combine by the strongest reaction of each column.
func (w *Watch) strongest(t *Tick) Broken {
	s := t.After
	got := warden.Reaction{Gas: s.Gas, Spindle: s.Spin, Above: s.Above, Contact: s.Touch, Lock: s.Lock}
	if got != w.want(t) {
		return Broken{12, "the reaction in force is not the strongest of each column"}
	}
	return Broken{}
}

// 15: a trip has exactly one first cause: lowest priority number of its first
// tick, then lowest row; it stands until the trip is reset.
func (w *Watch) first(t *Tick) Broken {
	s := t.After
	if w.seen && w.prev.Trips != 0 && w.prev.First != s.First && w.prev.Trips&s.Trips == w.prev.Trips {
		return Broken{15, "the first cause changed"}
	}
	if !w.seen || w.prev.Trips != 0 || s.First == warden.CauseNone || s.Trips&(1<<s.First) == 0 {
		return Broken{}
	}
	best := s.First
	for cause := range warden.NumCauses {
		if s.Trips&(1<<cause) != 0 && typed[cause].Priority < typed[best].Priority {
			return Broken{15, "another cause of the same tick ranks before the first cause"}
		}
		if s.Trips&(1<<cause) != 0 && cause < best &&
			typed[cause].Priority == typed[best].Priority {
			return Broken{15, "another cause of the same tick has a lower number"}
		}
	}
	return Broken{}
}
