package image

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Layout of the block, as in firmware/boards/mega2560/block.h.
const (
	BlockAddress = 0xFE00

	blockMagic   = 0
	blockDevice  = 4
	blockLayout  = 6
	blockLength  = 8
	blockProgram = 12
	blockConfig  = 16

	magic  = "PRG1"
	layout = 2
)

// What follows the configuration stands where its length puts it.
var (
	BlockAnalog    = blockConfig + wire.ConfigBytes()
	BlockSetpoints = BlockAnalog + rig.AnalogBytes*int(warden.NumAnalog)
	BlockBytes     = blockCRC() + 4
)

func blockCRC() int { return BlockSetpoints + 4*rig.NumSetPoints }

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
	if err := p.Signals.Fault(); err != nil {
		return nil, err
	}
	c := p.WardenConfig()
	b := make([]byte, BlockBytes)
	le := binary.LittleEndian
	copy(b[blockMagic:], magic)
	le.PutUint16(b[blockDevice:], p.Device)
	le.PutUint16(b[blockLayout:], layout)
	le.PutUint32(b[blockLength:], uint32(len(program)))
	le.PutUint32(b[blockProgram:], BuildHash(program))
	copy(b[blockConfig:], wire.EncodeConfig(&c))
	copy(b[BlockAnalog:], p.Signals.Encode())
	le.PutUint32(b[blockCRC():], crc32.Checksum(b[:blockCRC()], castagnoli))
	return b, nil
}
