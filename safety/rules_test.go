package safety

import (
	"math/bits"

	w "pressrig/safety/warden"
)

// rules states every rule of the warden once more, from docs/assessor.md and the
// comments on its types, for one tick from any memory: what must be true
// afterwards, and what must not have changed. The cells of the matrix come
// from the table typed by hand. A rule that the warden forgets, adds or bends
// shows as a difference. It was written by people who know the warden, so it
// finds slips, not misunderstandings.
type rules struct {
	c   *w.Config
	in  *w.Input
	was w.State
	now w.State
}

// saturated is where every timer of 16 bits stays.
const saturated = 65535

// after predicts the state that one tick leaves, outputs included.
func after(c *w.Config, was *w.State, in *w.Input) w.State {
	r := rules{c: c, in: in, was: *was}
	if decayed(was) {
		r.was = booted(w.NVLockout)
	}
	r.now = r.was
	r.senses()
	r.link()
	r.latch()
	r.burner()
	r.press()
	r.spindle()
	r.outputs()
	return r.now
}

// decayed: memory that no tick could have left. The answer is lockout.
func decayed(s *w.State) bool {
	for _, flag := range []uint8{s.Started, s.Wait, s.Armed, s.Oxygen, s.Touching} {
		if flag > 1 {
			return true
		}
	}
	return s.Burner > w.BurnerLockout || s.Press > w.PressHandClose || s.Spindle > w.SpindleHand ||
		s.Link > w.LinkWaiting || s.Lock > w.LockLockout || s.First >= w.NumCauses
}

// booted: all off, no lease, no timer that could vouch for anything; a byte
// other than clear locks out.
func booted(nv uint8) w.State {
	s := w.State{LinkMs: saturated, FuelOffMs: saturated, SoftMs: saturated, NV: w.NVClear,
		LeaseMs: [w.NumLeases]uint16{saturated, saturated, saturated, saturated}}
	if nv != w.NVClear {
		s.Trips, s.First = 1<<w.CauseRestart, w.CauseRestart
		setReactions(&s)
	}
	return s
}

func setReactions(s *w.State) {
	all := strongestTyped(s.Trips | s.Present)
	s.Gas, s.Spin, s.Above, s.Touch, s.Lock = all.Gas, all.Spindle, all.Above, all.Contact, all.Lock
}

// What a tick sees.

func (r *rules) sees(bit uint32) bool { return r.in.Bits&bit != 0 }

// alarm: an input that has to be fitted to mean anything.
func (r *rules) alarm(bit uint32) bool { return r.in.Bits&r.c.FittedIn&bit != 0 }

// denied: a fitted input that should be on and is off.
func (r *rules) denied(bit uint32) bool { return r.c.FittedIn&^r.in.Bits&bit != 0 }

func (r *rules) opt(bit uint16) bool { return r.c.Options&bit != 0 }

// reads gives an analog value and whether it may be believed.
func (r *rules) reads(ai uint8) (int16, bool) {
	return r.in.Analog[ai], r.c.FittedAnalog&r.in.AnalogOK&(1<<ai) != 0
}

func (r *rules) asks(flags uint16) bool { return r.in.Request.Flags&flags == flags }

// held counts a timer of 16 bits while on holds.
func held(on bool, ms uint16) uint16 {
	switch {
	case !on:
		return 0
	case ms == saturated:
		return ms
	}
	return ms + 1
}

func longer(ms uint32) uint32 {
	if ms == 1<<32-1 {
		return ms
	}
	return ms + 1
}

func bit01(on bool) uint8 {
	if on {
		return 1
	}
	return 0
}

// burning: either fuel valve was open in the last tick.
func (r *rules) burning() bool { return r.was.Out.Bits&w.OutFuel != 0 }

func (r *rules) clear() bool { return r.opt(w.OptBurnerFixed) || r.sees(w.InBurnerClear) }

// safeForHeat: open, or at a position named as safe.
func (r *rules) safeForHeat() bool {
	travel, ok := r.reads(w.AiTravel)
	return r.sees(w.InPressOpen) || ok && travel <= r.c.HeatCmm
}

func (r *rules) turns() bool {
	speed, ok := r.reads(w.AiSpindle)
	return !r.opt(w.OptSpindleFitted) || ok && speed >= int16(r.c.SpindleHeatDrpm)
}

func (r *rules) spindleReady() bool {
	speed, ok := r.reads(w.AiSpindle)
	stands := speed <= 10 // 1 rpm
	switch {
	case !r.opt(w.OptSpindleFitted):
		return true
	case !ok:
		return false
	case r.opt(w.OptSpindleTurns):
		return speed >= int16(r.c.PressLowDrpm) && speed <= int16(r.c.PressHighDrpm)
	case r.opt(w.OptSpindleIndexed):
		return stands && r.sees(w.InIndexed)
	}
	return stands
}

// softFlame: fuel alone, little of it, as last driven.
func (r *rules) softFlame() bool { return r.now.Oxygen == 0 && r.was.Out.FuelMl <= r.c.SoftMaxMl }

func (r *rules) alive(lease uint8) bool {
	return r.now.LeaseMs[bits.TrailingZeros8(lease)] < r.c.LeaseMs
}

func (r *rules) senses() {
	s, was := &r.now, &r.was
	s.FlameMs = held(r.sees(w.InFlame), was.FlameMs)
	s.DarkMs = held(!r.sees(w.InFlame), was.DarkMs)
	s.FuelOffMs = held(!r.burning(), was.FuelOffMs)
	s.ClearMs = held(r.clear(), was.ClearMs)
	s.StartMs = held(r.sees(w.InStart), was.StartMs)
	s.ResetMs = held(r.sees(w.InReset), was.ResetMs)
	s.SoftMs = held(true, was.SoftMs)
	if r.sees(w.InPressOpen) {
		s.Homed, s.Touching = 1, 0
	}
	// The flow switch counts as seen at rest only with the fan off.
	s.SawStill |= bit01(was.Out.Bits&w.OutFan == 0 && !r.sees(w.InExtraction))
	if r.burning() { // each light-up wants to see it anew
		s.SawStill = 0
	}
	s.HoldSeen |= bit01(!r.sees(w.InHoldOpen)) | bit01(!r.sees(w.InHoldClose))<<1 |
		bit01(!r.sees(w.InHoldTurn))<<2
	r.twoHands()
	// Invariant 3: +120 for each unburnt millisecond, -1 for each other.
	switch {
	case r.burning() && !r.sees(w.InFlame):
		s.Unburnt += 120
	case was.Unburnt != 0:
		s.Unburnt = was.Unburnt - 1
	}
}

// twoHands: each pair after ISO 13851, type III. Both within HandsMs, both
// held, and both released before the next time.
func (r *rules) twoHands() {
	left := r.alarm(w.InTwoHandLeft)
	for i, bit := range [w.NumHands]uint32{w.InTwoHandRight, w.InHoldClose, w.InHoldTurn} {
		other, h := r.alarm(bit), &r.now.Hands[i]
		switch {
		case left && other:
			h.Given |= bit01(h.Ready == 1 && h.Ms <= r.c.HandsMs)
			h.Ready = 0
		case left || other:
			h.Given, h.Ms = 0, held(true, h.Ms)
		default:
			*h = w.Hands{Ready: 1}
		}
	}
}

// shielded: no hand can be between the halves: the door, or both hands held.
func (r *rules) shielded(pair uint8) bool {
	return r.sees(w.InDoorClosed) || r.now.Hands[pair].Given == 1
}

// link: leases, error budget, arming and START (invariants 7 and 8).
func (r *rules) link() {
	s, q, fresh := &r.now, &r.in.Request, r.in.Fresh != 0
	gone := r.in.NewSession != 0
	for i := range s.LeaseMs {
		s.LeaseMs[i] = held(true, s.LeaseMs[i])
		if gone {
			s.LeaseMs[i] = saturated
		}
		if fresh && q.Lease>>i&1 == 1 {
			s.LeaseMs[i] = 0
		}
	}
	s.LinkMs = held(!fresh, s.LinkMs)
	if gone && !fresh {
		s.LinkMs = saturated
	}
	// 3 bad frames in 1 s or 10 in 6 min: 60,000 each, -1 a ms, at most 600,000.
	if s.ErrorSum > 0 {
		s.ErrorSum--
	}
	s.ErrorSum = min(s.ErrorSum+60000*uint32(r.in.BadFrames), 600000)
	if gone {
		r.void()
	}
	r.arm()
	silent := s.LinkMs >= r.c.LeaseMs
	ended := fresh && (!r.asks(w.ReqArm) && !r.asks(w.ReqCycle) || q.ArmID != s.ArmID)
	if silent || ended {
		s.Started = 0
	}
	r.wait()
	if s.Started == 1 && r.sees(w.InSoft) {
		s.SoftMs = 0
	}
	switch {
	case r.granted():
		s.Link = w.LinkStarted
	case s.Started == 1:
		s.Link = w.LinkWaiting
	case s.Armed == 1:
		s.Link = w.LinkArmed
	case !silent:
		s.Link = w.LinkUp
	default:
		s.Link = w.LinkDown
	}
}

// void: START and arming are used up, the SOFT button forgotten.
func (r *rules) void() {
	if r.now.Armed == 1 {
		r.now.UsedArmID = r.now.ArmID
	}
	r.now.Armed, r.now.Started, r.now.Wait, r.now.SoftMs = 0, 0, 0, saturated
}

func (r *rules) arm() {
	s, q, fresh := &r.now, &r.in.Request, r.in.Fresh != 0
	if s.Armed == 1 {
		s.ArmMs = longer(s.ArmMs)
		dropped := fresh && (!r.asks(w.ReqArm) || q.ArmID != s.ArmID)
		if r.alarm(w.InSetUp) || dropped || s.ArmMs >= r.c.ArmMs || s.LinkMs >= r.c.LeaseMs {
			s.Armed, s.UsedArmID = 0, s.ArmID
		}
	}
	anew := fresh && r.asks(w.ReqArm) && q.ArmID != 0 && q.ArmID != s.UsedArmID
	quiet := s.Lock == w.LockNone && s.Present == 0 && s.ErrorSum < 179000 && r.sees(w.InEstopOK) && !r.alarm(w.InSetUp)
	if anew && quiet && s.Armed == 0 && s.Started == 0 {
		s.Armed, s.ArmID, s.ArmMs, s.StartSeen = 1, q.ArmID, 0, 0
		s.WindowLow = max(q.GlassLowDC, r.c.GlassLowDC)
		s.WindowHi = min(q.GlassHighDC, r.c.GlassHighDC)
	}
	if s.Armed == 1 && r.startPushed() {
		s.Armed, s.UsedArmID = 0, s.ArmID
		s.Started, s.LitOnce, s.SoftMs = 1, 0, saturated
	}
}

// startPushed: an edge of START, all of it with the door closed.
func (r *rules) startPushed() bool {
	s, down, door := &r.now, r.sees(w.InStart), r.sees(w.InDoorClosed)
	edge := down && door && s.StartSeen == 1
	s.StartSeen = bit01(door && (!down || s.StartSeen == 1))
	return edge
}

// wait: an opened door, or the host where hands are near, takes motion and heat
// of the cycle back until START, for which there is as long as for the first.
func (r *rules) wait() {
	s := &r.now
	switch {
	case s.Started == 0:
		s.Wait = 0
	case r.asks(w.ReqHands) || !r.sees(w.InDoorClosed):
		s.Wait, s.ArmMs, s.StartSeen = 1, 0, 0
	case s.Wait == 1:
		s.ArmMs = longer(s.ArmMs)
		if r.startPushed() && s.ArmMs < r.c.ArmMs {
			s.Wait, s.SoftMs = 0, saturated
		}
	}
}

// granted: motion and heat are the cycle's to ask for.
func (r *rules) granted() bool { return r.now.Started == 1 && r.now.Wait == 0 }

// latch: what trips, what comes first, who may clear it (invariants 5, 12, 15).
func (r *rules) latch() {
	s := &r.now
	s.Present = r.causes()
	first, rank := w.CauseNone, uint8(255)
	for cause := range w.NumCauses {
		if s.Present&^r.was.Trips>>cause&1 == 0 || typed[cause].Lock == w.LockNone {
			continue
		}
		s.Trips |= 1 << cause
		if typed[cause].Priority < rank {
			first, rank = cause, typed[cause].Priority
		}
	}
	if s.First == w.CauseNone {
		s.First = first
	}
	edge := r.sees(w.InReset) && r.was.ResetSeen == 1
	host := r.in.Fresh != 0 && r.asks(w.ReqReset) && r.was.Lock != w.LockLockout
	s.ResetSeen = bit01(!r.sees(w.InReset))
	if (edge || host) && s.Trips != 0 && s.Trips&s.Present == 0 {
		s.Trips, s.First, s.ErrorSum = 0, w.CauseNone, 0
	}
	setReactions(s)
	if s.Lock != w.LockNone {
		r.void()
	}
}
