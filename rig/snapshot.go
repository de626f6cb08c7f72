package rig

import (
	"pressrig/safety/warden"
	"pressrig/units"
)

// Request is what the supervisor asks of the warden, as it travels.
type Request = warden.Request

// Snapshot.Flags.
const (
	FlagViewFree uint16 = 1 << 0 // the thermometer is to be believed now
	FlagHomed    uint16 = 1 << 1 // the press has been seen open since power-up
	FlagTouching uint16 = 1 << 2 // the press is in contact
	FlagWindow   uint16 = 1 << 3 // the stroke's permits all hold
)

// Snapshot is one sampled state of the rig, as the microcontroller reported
// it: every input, every output, what the warden thinks, and its own clock.
type Snapshot struct {
	StampMs    uint32 // microcontroller's milliseconds since boot, wraps
	In         uint32 // digital inputs, warden.In...
	Analog     [warden.NumAnalog]int16
	AnalogOK   uint16
	GlassAgeMs uint16
	Flags      uint16

	Out         uint16 // outputs driven, warden.Out...
	FuelMl      uint16
	OxygenMl    uint16
	SpindleDrpm uint16
	SpeedCmms   uint16
	ForceDN     uint16
	TravelCmm   int16

	Burner  uint8 // warden.Burner...
	Press   uint8 // warden.Press...
	Spindle uint8 // warden.Spindle...
	Link    uint8 // warden.Link...
	Lock    uint8 // warden.Lock...
	First   uint8 // first cause of the trip in force
	Trips   uint64
	Present uint64

	ArmID     uint16                  // arming in force, or consumed while Link is LinkStarted
	PhaseCs   uint16                  // time in the burner phase, 10 ms, saturating
	Unburnt   uint32                  // warden.State.Unburnt
	LeaseCs   [warden.NumLeases]uint8 // since renewed, 10 ms, saturating
	BadFrames uint16                  // refused for corruption since boot, wraps
	Gaps      uint16                  // missing requests since boot, wraps
	EchoSeq   uint16                  // sequence number of the newest accepted request
}

// Has reports whether the digital input or all of the inputs bits are on.
func (s *Snapshot) Has(bits uint32) bool { return s.In&bits == bits }

// Drives reports whether the outputs bits are all on.
func (s *Snapshot) Drives(bits uint16) bool { return s.Out&bits == bits }

// OK reports whether analog channel ai carries a valid value.
func (s *Snapshot) OK(ai uint8) bool { return s.AnalogOK&(1<<ai) != 0 }

// GlassC is the glass temperature as read; believe it only with OK and
// FlagViewFree.
func (s *Snapshot) GlassC() units.Celsius { return units.Celsius(s.Analog[warden.AiGlass]) / 10 }

// ForceN is the press force, positive pressing.
func (s *Snapshot) ForceN() units.Newton { return units.Newton(s.Analog[warden.AiForce]) / 10 }

// TravelMM is the press travel from fully open.
func (s *Snapshot) TravelMM() units.Millimetre {
	return units.Millimetre(s.Analog[warden.AiTravel]) / 100
}

// SpindleRPM is the spindle's measured speed.
func (s *Snapshot) SpindleRPM() units.RPM { return units.RPM(s.Analog[warden.AiSpindle]) / 10 }
