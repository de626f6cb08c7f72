package rig

import (
	"time"

	"pressrig/units"
)

// Fitted says how a part of the rig is worked.
type Fitted string

// The four ways. What is not fitted is never assumed good.
const (
	Driven         Fitted = "driven"
	HandWithSwitch Fitted = "hand_with_switch"
	ByHand         Fitted = "by_hand"
	NotFitted      Fitted = "none"
)

// Profile describes one rig: what is fitted, its limits and its calibrations.
// It is read by ParseProfile, frozen with its hash into every cycle, and turned
// into the warden's configuration by WardenConfig.
type Profile struct {
	Name      string // in every record and topic: letters, digits, - and _
	Simulated bool   // true allows a scaled clock and a pty
	Port      string
	Baud      int
	Device    uint16 // device id of the microcontroller
	Axis      string // horizontal | vertical
	Board     bool   // false: no microcontroller; assisted mode only

	Gas         Gas
	Burner      Burner
	Spindle     Spindle
	Press       Press
	Thermometer Thermometer
	Sensors     map[string]bool // switch or analog channel name: fitted
	Signals     Signals
	Calibration []Calibration
	Proof       map[string]time.Duration // proof-test intervals by function

	Builds []uint32 // firmware builds allowed beside the carried one

	Text []byte   // as read, stored with every cycle
	Hash [32]byte // SHA-256 of Text, calibrations included
}

// Gas is the fuel and the room it burns in.
type Gas struct {
	Fuel            string // propane | natural_gas | hydrogen; acetylene is refused
	Rated           units.Kilowatt
	Oxygen          bool
	FuelValves      int // in series; fewer than two are refused
	ValveClosing    time.Duration
	Trial           time.Duration // trial for ignition, at most 3 s
	Purge           time.Duration // at least 30 s and five air changes
	EnclosedVolume  units.Litre
	ExtractionFlow  units.LitrePerMinute
	FlameSensor     string // uv | ionisation
	FlameResponse   time.Duration
	ControlResponse time.Duration        // flame out to the burner control's contact open, as its maker states; 0: not stated
	FuelMin         units.LitrePerMinute // the flame stands and the flow controller works down to it; 0: not stated
	FuelMax         units.LitrePerMinute
	SoftMax         units.LitrePerMinute
	OxygenMax       units.LitrePerMinute
	FuelLine        units.Litre // from the cock at the supply to the first valve; 0: not measured
	OxygenLine      units.Litre
	RatioLow        float64 // least oxygen to fuel by volume; both ends 0: not judged
	RatioHigh       float64
	RunLongest      time.Duration // burning before a light-off proves the flame sensor
	SelfChecking    bool          // the burner control checks its own flame sensor while it burns
	SharpLongest    time.Duration // longest sharp flame at the blank
	FanPlace        string        // outside_hazardous_area | rated | neither: motor and contactor of the extraction
}

// Burner is the slide and what the flame may do during the stroke.
type Burner struct {
	Slide          Fitted // driven | hand_with_switch | none (then fixed)
	Fixed          bool   // fixed where the stroke cannot meet it
	StrokeFlame    string // clear | soft | off
	ParkLongest    time.Duration
	ParkedDoorOpen bool
}

// Spindle is the chuck drive.
type Spindle struct {
	Fitted    Fitted
	AtPress   string // turning | stopped | indexed
	UpperHalf string // synchronised | free | fixed
	Max       units.RPM
	Heat      units.RPM // least speed that counts as turning
	Creep     units.RPM
	SetUp     units.RPM // hold-to-run in set-up; 0 without
	PressLow  units.RPM
	PressHigh units.RPM
	RunDown   time.Duration // longest from let go at set-up speed to standstill; 0: not stated
}

// Press is the stroke.
type Press struct {
	Fitted    Fitted // driven | hand_with_switch (pulled by hand against a brake)
	Kind      string // powered | weights
	Brake     bool
	LiftOff   bool // weights: lifts off without power to the drive
	OpenUpTo  units.Millimetre
	HeatUpTo  units.Millimetre
	End       units.Millimetre
	Positions map[string]units.Millimetre // named positions, travel from open
	SpeedMax  units.MillimetrePerSecond
	HandSpeed units.MillimetrePerSecond
	ForceMax  units.Newton
	OverForce units.Newton // trips: above ForceMax, below what breaks the moulds
	PullMax   units.Newton
	PartAfter time.Duration // a flame lost in contact: the halves part after this
	PartSpeed units.MillimetrePerSecond
	Contact   units.Newton
	Weight    units.Kilogram // weights: mass on the lever
	Lever     float64        // weights: ratio
	Friction  units.Newton   // weights: measured

	Stopping      time.Duration // longest from CLOSE let go to standstill, as measured at commissioning; 0: not stated
	Relief        units.Bar     // at which the relief valve opens; 0: none
	ManualRelease string        // where and how a trapped person is freed with everything off
}

// Thermometer is the radiation thermometer on the glass.
type Thermometer struct {
	Fitted     bool
	View       string // always | flame_aside
	Wavelength units.Micrometre
	Emissivity float64
	Low        units.Celsius // measuring range and clip of every press window
	High       units.Celsius
}

// Calibration is a two-point calibration of an analog channel.
type Calibration struct {
	Channel   string
	Read      [2]float64 // what the channel showed, base unit
	True      [2]float64 // what the reference showed, base unit
	Date      string     // 2006-01-02
	Reference string     // instrument or fixed point, and its certificate
}

// Capabilities is what the microcontroller says of itself in hello.
type Capabilities struct {
	Protocol     uint8
	Device       uint16
	Firmware     string // at most 24 bytes, printable ASCII
	ConfigHash   uint32 // CRC-32C of its warden.Config and Signals as wire encodes them
	FittedIn     uint32
	FittedAnalog uint16
	Scale        uint16 // clock scale, 1 on a board
	Session      uint32
}

// StopMM is where the mould halves meet, travel from open in mm: the deepest
// named position, else a millimetre before the last allowed one.
func (p *Profile) StopMM() float64 {
	deepest := 0.0
	for _, at := range p.Press.Positions {
		deepest = max(deepest, float64(at))
	}
	if deepest > 0 {
		return deepest
	}
	return max(0, float64(p.Press.End)-1)
}
