package chaos

import "pressrig/safety/warden"

// Sound ends all lies: from here on nothing on the rig is broken.
func (x *Walk) Sound() {
	x.wait, x.In.AnalogOK = map[uint32]uint32{}, 1<<warden.NumAnalog-1
}

// NextArming is an arming id that was not used yet.
func (x *Walk) NextArming() uint16 {
	x.arm += 5
	return x.arm
}

// Person makes the inputs of tick n: a sound rig, a host that asks for r, and
// hands on the buttons as the lock and the press demand, START as told.
func (x *Walk) Person(n uint32, r warden.Request, start bool) {
	x.Ms++
	x.plant()
	x.In.Bits &^= warden.InStart | warden.InTwoHandLeft | warden.InTwoHandRight | warden.InSetUp | warden.InHoldTurn
	force(warden.InReset, x.State.Lock != warden.LockNone && n%300 > 250 && n%300 < 280)(x)
	force(warden.InHoldOpen, x.In.Bits&warden.InPressOpen == 0 && n%200 > 20)(x)
	force(warden.InStart, start)(x)
	x.In.Bits |= warden.InChuckClamped
	x.In.NewSession, x.In.BadFrames, x.In.GlassAgeMs = 0, 0, 0
	x.In.Fresh, x.In.Request = 0, r
	if n%5 == 0 {
		x.In.Fresh = 1
	}
}
