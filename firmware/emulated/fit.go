package emulated

import (
	"pressrig/firmware/image"
	"pressrig/rig"
)

// Fit puts the block for a rig behind the program.
func (img *Image) Fit(p *rig.Profile) error {
	if len(img.Flash) > image.BlockAddress {
		img.Flash = img.Flash[:image.BlockAddress]
	}
	segments, err := image.Fit(img.Flash, p)
	if err != nil {
		return err
	}
	for _, s := range segments {
		img.Flash = append(img.Flash, make([]byte, int(s.Address)+len(s.Bytes)-len(img.Flash))...)
		copy(img.Flash[s.Address:], s.Bytes)
	}
	return nil
}
