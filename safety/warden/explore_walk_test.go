package warden

import "math/rand/v2"

// walk drives the whole warden at random: a plant that follows the outputs
// most of the time, a host that changes its mind, a person who presses things.
type walk struct {
	rnd   *rand.Rand
	c     Config
	s     State
	in    Input // with the lies of this tick
	truth uint32
	out   Output
	ms    uint32
	lies  uint32
	till  [32]uint32 // when the lie about an input ends
	quiet uint32     // the host is silent until then
	arm   uint16
}

func newWalk(rnd *rand.Rand, c Config) *walk {
	w := &walk{rnd: rnd, c: c, truth: quietInput.Bits &^ InExtraction}
	w.in = quietInput
	w.in.Analog[AiGlass] = 8800
	Init(&w.s, NVClear)
	return w
}

func (w *walk) once(in int) bool { return w.rnd.IntN(in) == 0 }

// ahead prepares the inputs of the next tick.
func (w *walk) ahead() {
	w.ms++
	w.in.NewSession, w.in.BadFrames = uint8(one(w.once(20000))), 0
	if w.once(3000) {
		w.in.BadFrames = uint8(w.rnd.IntN(3))
	}
	if w.once(3000) {
		w.quiet = w.ms + w.rnd.Uint32N(20)
	}
	w.in.Fresh = uint8(one(w.ms%2 == 0 && w.ms >= w.quiet))
	if w.in.Fresh != 0 && w.once(10) {
		w.host()
	}
	if w.once(400) {
		bit := w.rnd.IntN(29)
		w.lies |= 1 << bit
		w.till[bit] = w.ms + 1<<w.rnd.IntN(8)
	}
	for bit := range w.till {
		if w.till[bit] <= w.ms {
			w.lies &^= 1 << bit
		}
	}
	w.person()
	w.in.Bits = w.truth ^ w.lies
	if w.once(5000) {
		w.in.NV = NVClear
	}
}

func (w *walk) host() {
	r := &w.in.Request
	r.Lease = 15
	r.GlassLowDC, r.GlassHighDC = 8000, 9500
	if w.s.Started == 0 {
		if w.s.Armed == 0 {
			w.arm++
		}
		r.ArmID, r.Flags = max(1, w.arm), ReqArm|ReqFlame
		if w.s.Lock != LockNone && w.once(3) {
			r.Flags = ReqReset
		}
		return
	}
	if w.s.Burner > BurnerStandby && w.s.Burner < BurnerRun && !w.once(200) {
		return
	}
	if !w.once(8) {
		return
	}
	r.Flags = ReqFlame | ReqCycle
	r.SpindleDrpm, r.TravelCmm, r.SpeedCmms = 600, 5500, 2000
	r.FuelMl, r.OxygenMl = uint16(w.rnd.IntN(4000)), 4000
	r.Press, r.ForceDN = uint8(w.rnd.IntN(4)), 2501
	if r.Press == PressForce {
		r.ForceDN = 5000
	}
	if w.once(3) {
		r.Flags |= ReqOxygen
	}
	if w.once(3) {
		r.Flags |= ReqBurnerIn
	}
	switch w.rnd.IntN(30) {
	case 0:
		r.Flags &^= ReqFlame
	case 1:
		r.Flags |= ReqAbort
	case 2:
		r.Lease = uint8(w.rnd.IntN(16))
	case 3:
		r.SpindleDrpm = 0
	case 4:
		r.Flags = 0
	}
}

func (w *walk) put(bit uint32, on bool) {
	w.truth &^= bit
	if on {
		w.truth |= bit
	}
}

func (w *walk) person() {
	w.put(InStart, w.s.Armed != 0 && w.ms%7 < 3)
	w.put(InReset, w.s.Lock != LockNone && w.ms%50 < 5)
	w.put(InHoldOpen, w.s.Lock != LockNone && w.ms%300 < 150)
	w.put(InHoldClose, w.s.Lock == LockNone && w.ms%900 < 50)
	w.put(InSoft, w.ms%500 < 5)
	w.put(InTwoHandLeft, w.ms%700 < 300)
	w.put(InTwoHandRight, w.ms%1400 < 300)
	w.put(InHoldTurn, w.ms%2100 < 200)
	w.put(InSetUp, w.ms%6300 < 250 && w.s.Started == 0)
}

// tick steps the whole and lets the plant follow.
func (w *walk) tick() {
	explored(&w.c, &w.s, &w.in, &w.out)
	bits := w.out.Bits
	fuel := bits&OutFuel == OutFuel
	w.in.NV = w.out.NV
	lit := w.truth&InFlame != 0
	w.put(InFlame, fuel && (lit || bits&OutIgniter != 0 && w.once(4)) && !w.once(2000))
	w.put(InExtraction, bits&OutFan != 0)
	w.put(InFuelShut, !fuel)
	w.put(InOxygenShut, bits&OutOxygen == 0)
	w.put(InBurnerAtBlank, bits&OutBurnerIn != 0)
	w.put(InBurnerClear, bits&OutBurnerIn == 0)
	w.in.Analog[AiSpindle] = int16(w.out.SpindleDrpm)
	w.in.Analog[AiFuelFlow], w.in.Analog[AiOxygenFlow] = int16(w.out.FuelMl), int16(w.out.OxygenMl)
	travel := &w.in.Analog[AiTravel]
	w.in.Analog[AiForce] = 0
	switch {
	case bits&OutPressClose != 0 && *travel < 500:
		*travel += 50
	case bits&OutPressClose != 0:
		w.in.Analog[AiForce] = int16(min(w.out.ForceDN, 5000))
	case bits&OutPressOpen != 0:
		*travel = max(0, *travel-50)
	}
	w.put(InPressOpen, *travel <= 20)
}
