package campaign

import "pressrig/safety/warden"

// digest sums numbers so that two runs can be compared bit for bit: FNV-1a, in
// words of 64 bits.
type digest uint64

func (d *digest) add(v uint64) {
	if *d == 0 {
		*d = 14695981039346656037
	}
	*d = (*d ^ digest(v)) * 1099511628211
}

// input adds all that the warden was given in one tick.
func (d *digest) input(in *warden.Input) {
	q := &in.Request
	d.add(uint64(in.Bits)<<32 | uint64(in.AnalogOK)<<16 | uint64(in.GlassAgeMs))
	a := &in.Analog
	d.add(word(a[0], a[1], a[2], a[3]))
	d.add(word(a[4], a[5], a[6], a[7]))
	d.add(word(a[8], a[9], q.TravelCmm, q.GlassLowDC))
	d.add(word(q.GlassHighDC, q.EstDC, int16(q.EstUncDC), int16(q.EstAgeMs)))
	d.add(uint64(q.Lease)<<56 | uint64(q.Press)<<48 | uint64(q.Flags)<<32 | uint64(q.ArmID)<<16 | uint64(q.FuelMl))
	d.add(uint64(q.OxygenMl)<<48 | uint64(q.SpindleDrpm)<<32 | uint64(q.SpeedCmms)<<16 | uint64(q.ForceDN))
	d.add(uint64(in.Fresh)<<24 | uint64(in.NewSession)<<16 | uint64(in.BadFrames)<<8 | uint64(in.NV))
}

// output adds all that it drove.
func (d *digest) output(out *warden.Output) {
	d.add(uint64(out.Bits)<<48 | uint64(out.FuelMl)<<32 | uint64(out.OxygenMl)<<16 | uint64(out.SpindleDrpm))
	d.add(uint64(out.SpeedCmms)<<48 | uint64(out.ForceDN)<<32 | uint64(uint16(out.TravelCmm))<<16 | uint64(out.NV))
}

func word(a, b, c, d int16) uint64 {
	return uint64(uint16(a))<<48 | uint64(uint16(b))<<32 | uint64(uint16(c))<<16 | uint64(uint16(d))
}
