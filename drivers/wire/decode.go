package wire

import "pressrig/safety/warden"

// Each decode function reads one payload of checked length in the order of
// PROTOCOL.md and reports whether every value lies in its range.

func (f *Frame) decodeIndex(in *fields) bool {
	f.Index = in.u8()
	return true
}

func (f *Frame) decodeRequest(in *fields) bool {
	f.Request.EchoMs = in.u32()
	f.Request.Want = warden.Request{
		Lease:       in.u8(),
		Press:       in.u8(),
		Flags:       in.u16(),
		ArmID:       in.u16(),
		FuelMl:      in.u16(),
		OxygenMl:    in.u16(),
		SpindleDrpm: in.u16(),
		TravelCmm:   in.i16(),
		SpeedCmms:   in.u16(),
		ForceDN:     in.u16(),
		GlassLowDC:  in.i16(),
		GlassHighDC: in.i16(),
		EstDC:       in.i16(),
		EstUncDC:    in.u16(),
		EstAgeMs:    in.u16(),
	}
	w := &f.Request.Want
	return w.Lease&^allLeases == 0 && w.Press <= warden.PressOpen && w.Flags&^allAsks == 0
}

func (f *Frame) decodeHello(in *fields) bool {
	m := &f.Hello
	*m = Hello{
		StampMs:      in.u32(),
		ConfigHash:   in.u32(),
		FittedIn:     in.u32(),
		FittedAnalog: in.u16(),
		Scale:        in.u16(),
	}
	copy(m.Firmware[:], in.left)
	ended := false
	for _, b := range m.Firmware {
		if b != 0 && (ended || !printable(b)) {
			return false
		}
		ended = ended || b == 0
	}
	return m.Scale >= 1 && m.FittedIn&^allIn == 0 && m.FittedAnalog&^allAnalog == 0
}

func (f *Frame) decodeSnapshot(in *fields) bool {
	s := &f.Snapshot
	s.StampMs = in.u32()
	s.In = in.u32()
	for i := range s.Analog {
		s.Analog[i] = in.i16()
	}
	s.AnalogOK = in.u16()
	s.GlassAgeMs = in.u16()
	s.Flags = in.u16()
	s.Out = in.u16()
	s.FuelMl = in.u16()
	s.OxygenMl = in.u16()
	s.SpindleDrpm = in.u16()
	s.SpeedCmms = in.u16()
	s.ForceDN = in.u16()
	s.TravelCmm = in.i16()
	s.Burner, s.Press, s.Spindle = in.u8(), in.u8(), in.u8()
	s.Link, s.Lock, s.First = in.u8(), in.u8(), in.u8()
	s.Trips = in.u64()
	s.Present = in.u64()
	s.ArmID = in.u16()
	s.PhaseCs = in.u16()
	s.Unburnt = in.u32()
	for i := range s.LeaseCs {
		s.LeaseCs[i] = in.u8()
	}
	s.BadFrames = in.u16()
	s.Gaps = in.u16()
	s.EchoSeq = in.u16()
	return snapshotInRange(s)
}

func snapshotInRange(s *Snapshot) bool {
	return s.In&^allIn == 0 && s.AnalogOK&^allAnalog == 0 && s.Flags&^allFlags == 0 &&
		s.Out&^allOut == 0 && s.Trips&^allCauses == 0 && s.Present&^allCauses == 0 &&
		s.Burner < warden.NumBurner && s.Press < warden.NumPress &&
		s.Spindle < warden.NumSpindle && s.Link < warden.NumLink &&
		s.Lock <= warden.LockLockout && s.First < warden.NumCauses
}

func (f *Frame) decodeEvent(in *fields) bool {
	f.Event = Event{Code: in.u16(), Value: in.u32(), StampMs: in.u32()}
	return f.Event.Code >= EventBoot && f.Event.Code < NumEvent
}

func (f *Frame) decodeParameters(in *fields) bool {
	f.Parameters = Parameters{Index: in.u8(), Count: in.u8(), N: uint8(len(in.left))}
	copy(f.Parameters.Bytes[:], in.left)
	return f.Parameters.Index < f.Parameters.Count
}
