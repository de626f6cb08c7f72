package wire

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"reflect"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// ConfigBytes is the length of an encoded warden.Config: its fields in the
// order of the struct, little-endian, without padding. PROTOCOL.md lists them.
func ConfigBytes() int { return binary.Size(warden.Config{}) }

// ConfigPieces is how many Parameters frames carry a configuration.
func ConfigPieces() uint8 { return uint8((ConfigBytes() + PieceBytes - 1) / PieceBytes) }

// EncodeConfig is the configuration as it travels and as it is hashed.
func EncodeConfig(c *warden.Config) []byte {
	var b bytes.Buffer
	// A struct of sized integers into memory: cannot fail, and the config test
	// holds warden.Config to sized integers.
	_ = binary.Write(&b, binary.LittleEndian, c)
	return b.Bytes()
}

// DecodeConfig reads an encoded configuration. It checks the length only;
// package safety checks the values.
func DecodeConfig(b []byte) (warden.Config, error) {
	var c warden.Config
	if len(b) != ConfigBytes() {
		return c, fmt.Errorf("configuration of %d bytes; %d are wanted", len(b), ConfigBytes())
	}
	err := binary.Read(bytes.NewReader(b), binary.LittleEndian, &c)
	return c, err
}

// BlockHash is the plain CRC-32C (no salt) of all that fits a board to its rig:
// the encoded configuration, then the scaling of its signals. The
// microcontroller says it in hello; the daemon compares it with its profile's:
// a limit means nothing when the signal that it judges is scaled otherwise.
func BlockHash(c *warden.Config, s *rig.Signals) uint32 {
	return crc32.Update(crc32.Checksum(EncodeConfig(c), castagnoli), castagnoli, s.Encode())
}

// ConfigHash is the plain CRC-32C (no salt) of the encoded configuration alone.
func ConfigHash(c warden.Config) uint32 {
	return crc32.Checksum(EncodeConfig(&c), castagnoli)
}

// ConfigDiffers lists the fields in which two configurations differ, as
// "PurgeMs 30000, wanted 35000", in the order of section 7 of PROTOCOL.md.
func ConfigDiffers(have, want *warden.Config) []string {
	var list []string
	h, w := reflect.ValueOf(have).Elem(), reflect.ValueOf(want).Elem()
	for i := range h.NumField() {
		if a, b := h.Field(i).Interface(), w.Field(i).Interface(); a != b {
			list = append(list, fmt.Sprintf("%s %v, wanted %v", h.Type().Field(i).Name, a, b))
		}
	}
	return list
}

// ConfigPiece cuts piece index out of an encoded configuration. It reports
// false when there is no such piece.
func ConfigPiece(encoded []byte, index uint8) (Parameters, bool) {
	from := int(index) * PieceBytes
	if from >= len(encoded) {
		return Parameters{}, false
	}
	p := Parameters{Index: index, Count: uint8((len(encoded) + PieceBytes - 1) / PieceBytes)}
	p.N = uint8(copy(p.Bytes[:], encoded[from:]))
	return p, true
}

// ConfigReader puts the pieces together again. The zero value waits for all.
type ConfigReader struct {
	buf  []byte
	have uint32 // bit 1<<index
}

// Take stores one piece. Pieces of another layout are ignored.
func (r *ConfigReader) Take(p *Parameters) {
	from := int(p.Index) * PieceBytes
	if p.Count != ConfigPieces() || int(p.N) != min(PieceBytes, ConfigBytes()-from) {
		return
	}
	if r.buf == nil {
		r.buf = make([]byte, ConfigBytes())
	}
	copy(r.buf[from:], p.Bytes[:p.N])
	r.have |= 1 << p.Index
}

// Missing is the first piece not here yet; false when all are.
func (r *ConfigReader) Missing() (uint8, bool) {
	for i := range ConfigPieces() {
		if r.have&(1<<i) == 0 {
			return i, true
		}
	}
	return 0, false
}

// Config is the configuration once nothing is missing. Each piece came in a
// frame with a checksum of its own; hello's hash covers more than these bytes.
func (r *ConfigReader) Config() (warden.Config, error) {
	if i, missing := r.Missing(); missing {
		return warden.Config{}, fmt.Errorf("piece %d of the configuration is missing", i)
	}
	return DecodeConfig(r.buf)
}
