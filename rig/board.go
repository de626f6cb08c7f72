package rig

import (
	"encoding/binary"
	"fmt"
	"math"

	"pressrig/safety/warden"
)

// Layout of the record of one analog input in the board's block, as in
// firmware/boards/mega2560/block.h.
const (
	AnalogBytes = 12

	analogLeast = 0
	analogMost  = 2
	analogZero  = 4
	analogLow   = 6
	analogGain  = 8

	gainShift  = 12    // of an analog input's gain
	pulseSteps = 16000 // of a set-point's pulse at its full scale
	pulseShift = 16

	// Gains, in 1/4096 unit a count, that the board's 32 bits can hold with all
	// counts; it refuses a block with more.
	mostLoopGain = 1 << 17
	mostStepGain = 0x7FFF
)

// Encode is the board's part of its block, after the configuration: a record
// for each analog input and a gain for each set-point. What is not fitted is
// all zeros: it never reads anything but 0, and asks for no pulse.
func (s *Signals) Encode() []byte {
	b := make([]byte, AnalogBytes*int(warden.NumAnalog)+4*NumSetPoints)
	for ai := range warden.NumAnalog {
		s.putAnalog(b[AnalogBytes*int(ai):], ai)
	}
	gains := b[AnalogBytes*int(warden.NumAnalog):]
	for i, full := range s.Full {
		binary.LittleEndian.PutUint32(gains[4*i:], pulseGain(full/SetPoints[i].Scale))
	}
	return b
}

// Fault is what of the signals the board's 32 bits cannot hold, nil for none.
func (s *Signals) Fault() error {
	if gain := s.stepGain(); gain > mostStepGain {
		return fmt.Errorf("a step of %g mm of travel is too coarse for the board; write at most %g mm",
			float64(s.Step), math.Floor(mostStepGain*Analogs[warden.AiTravel].Scale*1000/(1<<gainShift))/1000)
	}
	for ai, l := range s.Loops {
		channel := &Analogs[ai]
		if _, gain := l.gain(channel.Scale); math.Abs(gain) > mostLoopGain {
			return fmt.Errorf("the range of %s, %g to %g, is too wide for the board; narrow it to a span of %g",
				channel.Name, l.At4, l.At20, mostLoopGain*(LoopFull-LoopZero)*channel.Scale/(1<<gainShift))
		}
	}
	return nil
}

func (s *Signals) stepGain() float64 {
	return math.Round(float64(s.Step) / Analogs[warden.AiTravel].Scale * (1 << gainShift))
}

// gain is the value at 4 mA, in units of scale, and the gain from there.
func (l Loop) gain(scale float64) (low, gain float64) {
	low = math.Round(l.At4 / scale)
	return low, math.Round((math.Round(l.At20/scale) - low) * (1 << gainShift) / (LoopFull - LoopZero))
}

func (s *Signals) putAnalog(b []byte, ai uint8) {
	le := binary.LittleEndian
	if ai == warden.AiTravel {
		gain := s.stepGain()
		if gain <= 0 {
			return
		}
		most := min(math.MaxInt16*(1<<gainShift)/gain, math.MaxUint16) // its value travels in 16 bits
		le.PutUint16(b[analogMost:], uint16(most))
		le.PutUint32(b[analogGain:], uint32(gain))
		return
	}
	l := s.Loops[ai]
	if l == (Loop{}) {
		return
	}
	low, gain := l.gain(Analogs[ai].Scale)
	le.PutUint16(b[analogLeast:], LoopLeast)
	le.PutUint16(b[analogMost:], LoopMost)
	le.PutUint16(b[analogZero:], LoopZero)
	le.PutUint16(b[analogLow:], uint16(int16(low)))
	le.PutUint32(b[analogGain:], uint32(int32(gain)))
}

// pulseGain makes full, in counts, a full pulse and never more: rounded down.
// The gain of a set-point that is not driven is 0: no pulse.
func pulseGain(full float64) uint32 {
	if full < 1 {
		return 0
	}
	return uint32(pulseSteps * (1 << pulseShift) / math.Round(full))
}
