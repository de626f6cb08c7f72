package image

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Layout of the block, as in firmware/boards/mega2560/block.h.
const (
	BlockAddress = 0xFE00
	BlockBytes   = 280

	blockMagic     = 0
	blockDevice    = 4
	blockLayout    = 6
	blockLength    = 8
	blockProgram   = 12
	blockConfig    = 16
	blockAnalog    = 136
	blockSetpoints = 256
	blockCRC       = 276

	analogLeast = 0
	analogMost  = 2
	analogZero  = 4
	analogLow   = 6
	analogGain  = 8
	analogBytes = 12

	magic      = "PRG1"
	layout     = 1
	gainShift  = 12    // of an analog input's gain
	pulseSteps = 16000 // of a set-point's pulse at its full scale
	pulseShift = 16
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// BuildHash is what a board says of its program in hello: CRC-32C of its bytes.
func BuildHash(program []byte) uint32 { return crc32.Checksum(program, castagnoli) }

// Fit puts the block for the rig behind the program: what is flashed.
func Fit(program []byte, p *rig.Profile) ([]Segment, error) {
	block, err := Block(program, p)
	if err != nil {
		return nil, err
	}
	return []Segment{{0, program}, {BlockAddress, block}}, nil
}

// Block makes the block for one rig and one program. The caller has checked the
// profile against the standards' limits.
func Block(program []byte, p *rig.Profile) ([]byte, error) {
	switch {
	case len(program) == 0:
		return nil, errors.New("the program is empty")
	case len(program) > BlockAddress:
		return nil, fmt.Errorf("the program has %d bytes; at most %d end below the block",
			len(program), BlockAddress)
	case !p.Board:
		return nil, fmt.Errorf("rig %s has no board (board: false); there is nothing to flash", p.Name)
	case !p.Signals.Given:
		return nil, fmt.Errorf("rig %s says nothing under signals; say what 4 and 20 mA of each "+
			"transmitter and the full pulse of each set-point mean (rig/FORMAT.md)", p.Name)
	}
	c := p.WardenConfig()
	config := wire.EncodeConfig(&c)
	if len(config) != blockAnalog-blockConfig {
		return nil, fmt.Errorf("the configuration has %d bytes; the block has room for %d",
			len(config), blockAnalog-blockConfig)
	}
	b := make([]byte, BlockBytes)
	le := binary.LittleEndian
	copy(b[blockMagic:], magic)
	le.PutUint16(b[blockDevice:], p.Device)
	le.PutUint16(b[blockLayout:], layout)
	le.PutUint32(b[blockLength:], uint32(len(program)))
	le.PutUint32(b[blockProgram:], BuildHash(program))
	copy(b[blockConfig:], config)
	for ai := range warden.NumAnalog {
		if err := putAnalog(b[blockAnalog+analogBytes*int(ai):], &p.Signals, ai); err != nil {
			return nil, err
		}
	}
	for i, full := range p.Signals.Full {
		le.PutUint32(b[blockSetpoints+4*i:], pulseGain(full/rig.SetPoints[i].Scale))
	}
	le.PutUint32(b[blockCRC:], crc32.Checksum(b[:blockCRC], castagnoli))
	return b, nil
}

// Gains, in 1/4096 unit a count, that the board's 32 bits can hold with all
// counts; it refuses a block with more.
const (
	mostGain     = 1 << 17
	mostStepGain = 0x7FFF
)

// putAnalog writes the record of one analog input. One that is not fitted is
// all zeros: it never reads anything but 0.
func putAnalog(b []byte, s *rig.Signals, ai uint8) error {
	le := binary.LittleEndian
	channel := &rig.Analogs[ai]
	if ai == warden.AiTravel {
		if s.Step == 0 {
			return nil
		}
		gain := math.Round(float64(s.Step) / channel.Scale * (1 << gainShift))
		if gain > mostStepGain {
			return fmt.Errorf("a step of %g mm of %s is too coarse for the board; write at most %g mm",
				float64(s.Step), channel.Name, math.Floor(mostStepGain*channel.Scale*1000/(1<<gainShift))/1000)
		}
		most := min(math.MaxInt16*(1<<gainShift)/gain, math.MaxUint16) // its value travels in 16 bits
		le.PutUint16(b[analogMost:], uint16(most))
		le.PutUint32(b[analogGain:], uint32(gain))
		return nil
	}
	l := s.Loops[ai]
	if l == (rig.Loop{}) {
		return nil
	}
	low, high := math.Round(l.At4/channel.Scale), math.Round(l.At20/channel.Scale)
	gain := math.Round((high - low) * (1 << gainShift) / (rig.LoopFull - rig.LoopZero))
	if math.Abs(gain) > mostGain {
		return fmt.Errorf("the range of %s, %g to %g, is too wide for the board; narrow it to a span of %g",
			channel.Name, l.At4, l.At20, mostGain*(rig.LoopFull-rig.LoopZero)*channel.Scale/(1<<gainShift))
	}
	le.PutUint16(b[analogLeast:], rig.LoopLeast)
	le.PutUint16(b[analogMost:], rig.LoopMost)
	le.PutUint16(b[analogZero:], rig.LoopZero)
	le.PutUint16(b[analogLow:], uint16(int16(low)))
	le.PutUint32(b[analogGain:], uint32(int32(gain)))
	return nil
}

// pulseGain makes full, in counts, a full pulse and never more: rounded down.
// The gain of a set-point that is not driven is 0: no pulse.
func pulseGain(full float64) uint32 {
	if full < 1 {
		return 0
	}
	return uint32(pulseSteps * (1 << pulseShift) / math.Round(full))
}
