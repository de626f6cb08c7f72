package rehearse

import (
	"pressrig/controller"
	"pressrig/drivers/bench"
	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// SoftC is when a rehearsed person calls the glass soft, above the middle of
// the stored windows because the soak after it only holds what it finds.
const SoftC = 920

// ByHand lets a person do what the rig does not drive: swing a burner moved by
// hand, press SOFT when the glass is soft. Call it after each step of the
// machine, from Steps.
func (h *Rehearsal) ByHand(p *rig.Profile, r *recipes.Recipe, out *controller.Output) {
	s := &out.Status
	if s.Phase < 0 || int(s.Phase) >= len(r.Phases) {
		return
	}
	ph := &r.Phases[s.Phase]
	if p.Burner.Slide == rig.HandWithSwitch {
		if ph.Flame.At == recipes.AtBlank {
			h.Rig.Hand(bench.HandBurnerIn)
		} else {
			h.Rig.Hand(bench.HandBurnerClear)
		}
	}
	if ph.End.Soft && h.Rig.Truth().MeanC > SoftC {
		h.Rig.Press(bench.ButtonSoft, 200)
	}
}

// lookEveryMs is how often a person on the way back to idle does something.
const lookEveryMs = 3000

// BackToIdle clears all faults and lets a person act correctly, one thing every
// three seconds, until the rig is idle: no lock, press open, burner in standby.
// It reports whether that was reached within mostMs, before stop held.
func (h *Rehearsal) BackToIdle(mostMs int, stop func() bool) bool {
	h.Rig.Clear("all")
	n := 0
	back := func() bool {
		return h.State() == controller.Idle && h.Snap.Lock == warden.LockNone &&
			h.Snap.In&warden.InPressOpen != 0 && h.Snap.Burner == warden.BurnerStandby
	}
	h.Run(mostMs, func() bool {
		if n++; n%lookEveryMs == 0 {
			h.unlock()
		}
		return stop() || back()
	})
	return back()
}

// unlock is the next thing that a person does to get the rig going again.
func (h *Rehearsal) unlock() {
	switch {
	case h.Snap.In&warden.InPressOpen == 0:
		h.Rig.Press(bench.ButtonOpen, 2500)
		h.Rig.Hand(bench.HandLeverOpen)
	case h.Snap.Lock == warden.LockLockout:
		h.Rig.Press(bench.ButtonReset, 200)
	case h.Out.Status.AckNeeded:
		h.Ack()
	case h.State() != controller.Idle || h.Snap.Lock != warden.LockNone:
		h.Command(controller.Reset)
	}
}
