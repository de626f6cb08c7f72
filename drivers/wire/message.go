package wire

import (
	"encoding/binary"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// Bits that exist; any other set bit is refused, so that a later meaning of a
// spare bit can never be half understood.
const (
	allIn     = warden.InWatchdogOK<<1 - 1
	allAnalog = uint16(1)<<warden.NumAnalog - 1
	allOut    = warden.OutLockLamp<<1 - 1
	allFlags  = rig.FlagWindow<<1 - 1
	allAsks   = warden.ReqHands<<1 - 1
	allLeases = uint8(1)<<warden.NumLeases - 1
	allCauses = uint64(1)<<warden.NumCauses - 1
)

// FirmwareBytes is the room for the firmware's name in hello.
const FirmwareBytes = 24

// PieceBytes is the most that one Parameters frame carries of the encoded
// configuration.
const PieceBytes = 40

// Snapshot is rig.Snapshot, sent whole 100 times a second.
type Snapshot = rig.Snapshot

// Hello is what the microcontroller says of itself, at boot and when asked.
type Hello struct {
	StampMs      uint32 // its clock, ms since boot, wraps
	ConfigHash   uint32 // BlockHash of its configuration and scaling
	FittedIn     uint32 // warden.In... that exist
	FittedAnalog uint16 // 1<<warden.Ai... that exist
	Scale        uint16 // clock scale, >= 1; 1 on a board
	Firmware     [FirmwareBytes]byte
}

// SetFirmware takes name, printable ASCII, cut to FirmwareBytes; what is not
// printable becomes '?'.
func (m *Hello) SetFirmware(name string) {
	m.Firmware = [FirmwareBytes]byte{}
	for i := 0; i < len(name) && i < FirmwareBytes; i++ {
		m.Firmware[i] = name[i]
		if !printable(name[i]) {
			m.Firmware[i] = '?'
		}
	}
}

// Capabilities gives header and hello in the words of package rig.
func (f *Frame) Capabilities() rig.Capabilities {
	n := 0
	for n < FirmwareBytes && f.Hello.Firmware[n] != 0 {
		n++
	}
	return rig.Capabilities{
		Protocol:     Version,
		Device:       f.Device,
		Firmware:     string(f.Hello.Firmware[:n]),
		ConfigHash:   f.Hello.ConfigHash,
		FittedIn:     f.Hello.FittedIn,
		FittedAnalog: f.Hello.FittedAnalog,
		Scale:        f.Hello.Scale,
		Session:      f.MCUSession,
	}
}

// HelloOf is the hello that says c of a microcontroller whose clock shows
// stampMs. Device and session travel in the header.
func HelloOf(c *rig.Capabilities, stampMs uint32) Hello {
	m := Hello{
		StampMs:      stampMs,
		ConfigHash:   c.ConfigHash,
		FittedIn:     c.FittedIn,
		FittedAnalog: c.FittedAnalog,
		Scale:        c.Scale,
	}
	m.SetFirmware(c.Firmware)
	return m
}

// Request is a request as it travels: what is wanted, and the newest stamp
// that the host has of the microcontroller's clock, which gives its age.
type Request struct {
	EchoMs uint32
	Want   rig.Request
}

// Event is what the microcontroller tells of itself once.
type Event struct {
	Code    uint16 // Event...
	Value   uint32
	StampMs uint32
}

// Event codes. Written out, never renumbered.
const (
	EventBoot    uint16 = 1 // value: reset cause, EventBoot... bits
	EventTrip    uint16 = 2 // value: warden cause that came first
	EventReset   uint16 = 3 // value: 1 local RESET, 2 the host's
	EventStorage uint16 = 4 // value: address in non-volatile memory that failed
	EventOverrun uint16 = 5 // value: microseconds a tick took, more than 1,000
	EventMemory  uint16 = 6 // value: least free stack seen, bytes

	NumEvent uint16 = 7
)

// Bits of an EventBoot's value.
const (
	BootPower    uint32 = 1 << 0 // power came on
	BootPin      uint32 = 1 << 1 // reset pin
	BootBrownOut uint32 = 1 << 2 // supply sagged
	BootWatchdog uint32 = 1 << 3 // watchdog ran out
)

// Parameters is one piece of the encoded configuration (EncodeConfig).
type Parameters struct {
	Index uint8 // of this piece, from 0
	Count uint8 // pieces in all
	N     uint8 // bytes used of Bytes, 1 to PieceBytes
	Bytes [PieceBytes]byte
}

func printable(b byte) bool { return b >= ' ' && b <= '~' }

// AppendHelloRequest appends a whole frame, delimiter included, to dst. So do
// the other Append functions; h.Class is theirs to set.
func AppendHelloRequest(dst []byte, h *Header) []byte {
	dst, start := begin(dst, h, ClassHelloRequest)
	return finish(dst, start, FromHost)
}

// AppendParametersRequest asks for piece index of the configuration.
func AppendParametersRequest(dst []byte, h *Header, index uint8) []byte {
	dst, start := begin(dst, h, ClassParametersRequest)
	return finish(append(dst, index), start, FromHost)
}

// AppendRequest appends a request frame.
func AppendRequest(dst []byte, h *Header, m *Request) []byte {
	dst, start := begin(dst, h, ClassRequest)
	le, w := binary.LittleEndian, &m.Want
	dst = le.AppendUint32(dst, m.EchoMs)
	dst = append(dst, w.Lease, w.Press)
	dst = le.AppendUint16(dst, w.Flags)
	dst = le.AppendUint16(dst, w.ArmID)
	dst = le.AppendUint16(dst, w.FuelMl)
	dst = le.AppendUint16(dst, w.OxygenMl)
	dst = le.AppendUint16(dst, w.SpindleDrpm)
	dst = le.AppendUint16(dst, uint16(w.TravelCmm))
	dst = le.AppendUint16(dst, w.SpeedCmms)
	dst = le.AppendUint16(dst, w.ForceDN)
	dst = le.AppendUint16(dst, uint16(w.GlassLowDC))
	dst = le.AppendUint16(dst, uint16(w.GlassHighDC))
	dst = le.AppendUint16(dst, uint16(w.EstDC))
	dst = le.AppendUint16(dst, w.EstUncDC)
	dst = le.AppendUint16(dst, w.EstAgeMs)
	return finish(dst, start, FromHost)
}

// AppendHello appends a hello frame.
func AppendHello(dst []byte, h *Header, m *Hello) []byte {
	dst, start := begin(dst, h, ClassHello)
	le := binary.LittleEndian
	dst = le.AppendUint32(dst, m.StampMs)
	dst = le.AppendUint32(dst, m.ConfigHash)
	dst = le.AppendUint32(dst, m.FittedIn)
	dst = le.AppendUint16(dst, m.FittedAnalog)
	dst = le.AppendUint16(dst, m.Scale)
	dst = append(dst, m.Firmware[:]...)
	return finish(dst, start, FromMCU)
}

// AppendSnapshot appends a snapshot frame.
func AppendSnapshot(dst []byte, h *Header, s *Snapshot) []byte {
	dst, start := begin(dst, h, ClassSnapshot)
	le := binary.LittleEndian
	dst = le.AppendUint32(dst, s.StampMs)
	dst = le.AppendUint32(dst, s.In)
	for _, v := range s.Analog {
		dst = le.AppendUint16(dst, uint16(v))
	}
	dst = le.AppendUint16(dst, s.AnalogOK)
	dst = le.AppendUint16(dst, s.GlassAgeMs)
	dst = le.AppendUint16(dst, s.Flags)
	dst = le.AppendUint16(dst, s.Out)
	dst = le.AppendUint16(dst, s.FuelMl)
	dst = le.AppendUint16(dst, s.OxygenMl)
	dst = le.AppendUint16(dst, s.SpindleDrpm)
	dst = le.AppendUint16(dst, s.SpeedCmms)
	dst = le.AppendUint16(dst, s.ForceDN)
	dst = le.AppendUint16(dst, uint16(s.TravelCmm))
	dst = append(dst, s.Burner, s.Press, s.Spindle, s.Link, s.Lock, s.First)
	dst = le.AppendUint64(dst, s.Trips)
	dst = le.AppendUint64(dst, s.Present)
	dst = le.AppendUint16(dst, s.ArmID)
	dst = le.AppendUint16(dst, s.PhaseCs)
	dst = le.AppendUint32(dst, s.Unburnt)
	dst = append(dst, s.LeaseCs[:]...)
	dst = le.AppendUint16(dst, s.BadFrames)
	dst = le.AppendUint16(dst, s.Gaps)
	dst = le.AppendUint16(dst, s.EchoSeq)
	return finish(dst, start, FromMCU)
}

// AppendEvent appends an event frame.
func AppendEvent(dst []byte, h *Header, m *Event) []byte {
	dst, start := begin(dst, h, ClassEvent)
	le := binary.LittleEndian
	dst = le.AppendUint16(dst, m.Code)
	dst = le.AppendUint32(dst, m.Value)
	dst = le.AppendUint32(dst, m.StampMs)
	return finish(dst, start, FromMCU)
}

// AppendParameters appends one piece of the configuration.
func AppendParameters(dst []byte, h *Header, m *Parameters) []byte {
	dst, start := begin(dst, h, ClassParameters)
	dst = append(dst, m.Index, m.Count)
	dst = append(dst, m.Bytes[:min(int(m.N), PieceBytes)]...)
	return finish(dst, start, FromMCU)
}
