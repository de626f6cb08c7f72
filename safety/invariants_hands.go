package safety

import "pressrig/safety/warden"

// Set-up limits: hold-to-run at no more than 10 mm/s and 50 rpm (practice of
// presses and lathes).
const (
	setUpCmms = 1000
	setUpDrpm = 500
)

// pair judges a two-hand control by the ages of its two signals.
type pair struct {
	aMs, bMs uint32 // pressed for this long
	free     bool   // both seen released since the last use
	held     bool
}

// step takes in one tick; apart is the longest time between the two actuators
// (ISO 13851: 500 ms).
func (p *pair) step(a, b bool, apart uint32) {
	p.aMs, p.bMs = age(a, p.aMs), age(b, p.bMs)
	switch {
	case !a && !b:
		p.free, p.held = true, false
	case a && b && p.free:
		p.held = max(p.aMs, p.bMs)-min(p.aMs, p.bMs) <= apart
		p.free = false
	case !a || !b:
		p.held = false
	}
}

func age(on bool, ms uint32) uint32 {
	if on {
		return ms + 1
	}
	return 0
}

func (w *Watch) pressed(t *Tick, bit uint32) bool {
	return w.Config.FittedIn&t.In.Bits&bit != 0
}

func (w *Watch) countHands(t *Tick) {
	left := w.pressed(t, warden.InTwoHandLeft)
	other := [warden.NumHands]uint32{warden.HandsStroke: warden.InTwoHandRight,
		warden.HandsClose: warden.InHoldClose,
		warden.HandsTurn:  warden.InHoldTurn}
	for i := range w.hands {
		w.hands[i].step(left, w.pressed(t, other[i]), uint32(w.Config.HandsMs))
	}
	door := t.In.Bits&warden.InDoorClosed != 0
	closing := t.After.Press == warden.PressClosing || t.After.Press == warden.PressContact
	switch {
	case w.hands[warden.HandsStroke].free:
		w.handUse, w.spent = false, false
	case w.handUse && !closing && t.In.Bits&warden.InPressOpen != 0:
		w.spent = true
	case closing && !door:
		w.handUse = true
	}
}
