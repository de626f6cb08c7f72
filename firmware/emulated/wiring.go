package emulated

import (
	"encoding/binary"
	"math"

	"pressrig/drivers/bench"
	"pressrig/firmware/image"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// scale is what the block says of one analog input.
type scale struct {
	least, most, zero uint16 // counts
	low               int16  // value at zero
	gain              int32  // 1/4096 unit a count
}

// counts is what the converter, or the encoder, counts at value.
func (s *scale) counts(value int16) int32 {
	if s.gain == 0 {
		return int32(s.zero)
	}
	away := float64(int32(value)-int32(s.low)) * 4096 / float64(s.gain)
	return int32(s.zero) + int32(math.Round(away))
}

// value is what the image makes of counts.
func (s *scale) value(counts int32) int16 {
	v := int64(s.low) + (int64(counts)-int64(s.zero))*int64(s.gain)>>12
	return int16(min(math.MaxInt16, max(math.MinInt16, v)))
}

// wiring is how the rig's values look at the board's pins.
type wiring struct {
	analog    [warden.NumAnalog]scale
	setpoints [5]uint32
}

func readWiring(flash []byte) (w wiring, ok bool) {
	if len(flash) < image.BlockAddress+image.BlockBytes {
		return w, false
	}
	block, le := flash[image.BlockAddress:], binary.LittleEndian
	for i := range w.analog {
		r := block[image.BlockAnalog+i*rig.AnalogBytes:]
		w.analog[i] = scale{le.Uint16(r), le.Uint16(r[2:]), le.Uint16(r[4:]), int16(le.Uint16(r[6:])),
			int32(le.Uint32(r[8:]))}
	}
	for i := range w.setpoints {
		w.setpoints[i] = le.Uint32(block[image.BlockSetpoints+4*i:])
	}
	return w, true
}

// millivolts is what a transmitter of 4 to 20 mA puts at its pin. It does not
// leave the range that counts as intact; a broken wire is no current.
func (w *wiring) millivolts(ai int, value int16, ok bool) uint16 {
	s := &w.analog[ai]
	if !ok || s.gain == 0 {
		return 0
	}
	counts := min(int32(s.most), max(int32(s.least), s.counts(value)))
	return uint16((counts*5000 + 1022) / 1023) // the least voltage that gives these counts
}

// asRead is Board.AsRead.
func (w *wiring) asRead(in *warden.Input, ageMs *uint16) {
	for ai := range in.Analog {
		s := &w.analog[ai]
		if in.AnalogOK&(1<<ai) == 0 || s.gain == 0 {
			continue
		}
		counts := s.counts(in.Analog[ai])
		if ai != int(warden.AiTravel) {
			counts = min(int32(s.most), max(int32(s.least), counts))
		}
		in.Analog[ai] = s.value(counts)
	}
	if *ageMs = min(*ageMs, math.MaxUint16-1) + 1; in.AnalogOK&(1<<warden.AiGlass) != 0 {
		*ageMs = 0
	}
	in.GlassAgeMs = *ageMs
}

// setpoint is the value that a pulse of so many steps stands for.
func (w *wiring) setpoint(i int, steps uint16) uint16 {
	gain := uint64(w.setpoints[i])
	if gain == 0 {
		return 0
	}
	return uint16(min(math.MaxUint16, (uint64(steps)<<16+gain-1)/gain))
}

// pins is what the actuators feel. The board slows the press on its way and
// stops it: where it is sent to cannot be seen at a pin.
func (w *wiring) pins(bits uint16, steps *[5]uint16, out *warden.Output) {
	*out = warden.Output{
		Bits: bits, FuelMl: w.setpoint(0, steps[0]), OxygenMl: w.setpoint(1, steps[1]),
		SpindleDrpm: w.setpoint(2, steps[2]), SpeedCmms: w.setpoint(3, steps[3]),
		ForceDN: w.setpoint(4, steps[4]),
	}
	switch {
	case bits&warden.OutPressClose != 0:
		out.TravelCmm = math.MaxInt16
	case bits&warden.OutPressOpen != 0:
		out.TravelCmm = math.MinInt16
	}
}

// unpowered is what the pins do in reset: nothing, and the brake holds.
func unpowered(out *bench.BoardOutput) {
	out.Pins = warden.Output{Bits: warden.OutBrake}
}
