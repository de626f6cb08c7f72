package controller

import "pressrig/safety/warden"

// ask builds the request of this step. A lease is renewed only for what is
// asked for; nothing here energises anything.
func (m *Machine) ask(in *Input, out *Output) {
	r := &out.Request
	*r = request{}
	out.Send = in.Session != 0 && m.guarded
	if m.guarded {
		m.fill(r)
	}
	if m.doubt.board != 0 {
		out.Send = in.Session != 0
		m.askDoubted(r)
	}
	m.asked = request{}
	if out.Send {
		m.asked = *r
	}
}

// fill is the request by state and wants.
func (m *Machine) fill(r *request) {
	if m.now < m.hornUntil {
		r.Flags |= warden.ReqHorn
	}
	if m.state == Aborting {
		if m.see.snap.Lock < warden.LockAbort {
			r.Flags |= warden.ReqAbort
		}
		return
	}
	m.askReset(r)
	m.askStart(r)
	m.askBurner(r)
	m.askMotion(r)
}

// askReset repeats the reset until the rig is unlocked or does not want to be.
func (m *Machine) askReset(r *request) {
	if !m.resetting {
		return
	}
	lock := m.see.snap.Lock
	if lock == warden.LockNone || lock == warden.LockLockout || m.since(m.resetAt) >= ResetWaitMs {
		m.resetting = false
		return
	}
	r.Flags |= warden.ReqReset
}

// askStart keeps START armed, or holds the cycle that it began.
func (m *Machine) askStart(r *request) {
	switch {
	case m.arm.asking:
		r.Flags |= warden.ReqArm
	case m.arm.started:
		r.Flags |= warden.ReqCycle
	default:
		return
	}
	r.ArmID = m.arm.id
	if m.want.hands && m.arm.started {
		r.Flags |= warden.ReqHands
	}
	m.window(r)
}

// askBurner asks for the flame: to keep what is lit, or to light up where the
// cycle still may.
func (m *Machine) askBurner(r *request) {
	w := &m.want
	flame := w.flame && w.fuelMl > 0 &&
		(m.alive() || (w.light && m.lights > 0 && m.arm.started))
	if flame {
		r.Lease |= warden.LeaseFuel
		r.Flags |= warden.ReqFlame
		r.FuelMl = w.fuelMl
	}
	if flame && w.oxyMl > 0 && m.lit() {
		r.Lease |= warden.LeaseOxygen
		r.Flags |= warden.ReqOxygen
		r.OxygenMl = w.oxyMl
	}
	if w.in && (m.lit() || !w.flame) && !m.cfg.fixed { // !w.flame: a dry cycle
		r.Lease |= warden.LeaseFuel
		r.Flags |= warden.ReqBurnerIn
	}
}

// askMotion asks for spindle and press.
func (m *Machine) askMotion(r *request) {
	w := &m.want
	if w.spinRPM > 0 {
		r.Lease |= warden.LeaseSpindle
		r.SpindleDrpm = w.spinRPM
	}
	if w.press == warden.PressNone {
		return
	}
	r.Lease |= warden.LeasePress
	r.Press, r.TravelCmm, r.SpeedCmms, r.ForceDN = w.press, w.toCmm, w.cmms, w.forceDN
	m.estimate(r)
}
