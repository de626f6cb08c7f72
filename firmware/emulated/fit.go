package emulated

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"

	"pressrig/drivers/wire"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Fit puts the block for a rig behind the program. The ranges of the
// transmitters are invented.
func (img *Image) Fit(p *rig.Profile) error {
	if len(img.Flash) > blockAddress {
		img.Flash = img.Flash[:blockAddress]
	}
	c, le, table := p.WardenConfig(), binary.LittleEndian, crc32.MakeTable(crc32.Castagnoli)
	config := wire.EncodeConfig(&c)
	if len(config) != blockAnalog-16 {
		return fmt.Errorf("a configuration of %d bytes", len(config))
	}
	block := make([]byte, 0, blockBytes)
	block = append(block, "PRG1"...)
	block = le.AppendUint16(le.AppendUint16(block, p.Device), 1)
	block = le.AppendUint32(block, uint32(len(img.Flash)))
	block = le.AppendUint32(block, crc32.Checksum(img.Flash, table))
	block = append(block, config...)
	for _, r := range [warden.NumAnalog][2]int{
		warden.AiGlass: {3000, 12000}, warden.AiMouldLower: {0, 8000}, warden.AiMouldUpper: {0, 8000},
		warden.AiForce: {-1500, 6000}, warden.AiSpindle: {0, 2500},
		warden.AiFuelFlow: {0, 5000}, warden.AiOxygenFlow: {0, 20000},
		warden.AiFuelPressure: {0, 1600}, warden.AiOxygenPressure: {0, 4000},
	} {
		least, most, zero, gain := 172, 945, 180, (r[1]-r[0])*4096/721
		if r == [2]int{} { // travel: a count is 0.01 mm
			least, most, zero, gain = 0, 0xFFFF, 0, 4096
		}
		block = le.AppendUint16(le.AppendUint16(le.AppendUint16(block, uint16(least)), uint16(most)), uint16(zero))
		block = le.AppendUint32(le.AppendUint16(block, uint16(int16(r[0]))), uint32(gain))
	}
	for _, most := range []uint16{c.FuelMaxMl, c.OxygenMaxMl, c.SpindleMaxDrpm, c.SpeedMaxCmms, c.ForceMaxDN} {
		gain := uint32(0)
		if most > 0 {
			gain = fullWidth << 16 / uint32(most)
		}
		block = le.AppendUint32(block, gain)
	}
	block = le.AppendUint32(block, crc32.Checksum(block, table))
	img.Flash = append(append(img.Flash, make([]byte, blockAddress-len(img.Flash))...), block...)
	return nil
}
