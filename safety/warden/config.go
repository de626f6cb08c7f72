package warden

// Config is the warden's configuration: compiled or written once at the
// board. The host may read it, never widen it. Package safety checks it
// against the standards' limits before it is used.
type Config struct {
	FittedIn     uint32 // In... bits that exist on this rig
	FittedAnalog uint16 // 1<<Ai... that exist
	Options      uint16 // Opt...

	CheckMs       uint16 // flame absent this long before purge (5,000)
	PurgeMs       uint32 // >= 30,000 and 5 air changes
	IgniterMs     uint16 // igniter on before fuel (1,000)
	TrialMs       uint16 // <= 3,000
	FlameOnMs     uint16 // unbroken flame that ends the trial (100)
	ProveMs       uint16 // unbroken flame with igniter (1,000)
	ProveDarkMs   uint16 // unbroken flame without igniter (1,000)
	FlameOffMs    uint16 // flame-failure response: lost this long trips (<= 900)
	OxygenAfterMs uint16 // unbroken flame before oxygen (>= 1,000)
	OffMs         uint16 // oxygen shut to fuel shut (500, <= 1,000)
	PostPurgeMs   uint32 // >= 30,000
	ValveCloseMs  uint16 // closing time of the slowest fuel valve (<= 1,000)
	ParkMs        uint32 // longest parked flame without a cycle

	LeaseMs   uint16 // 500
	ArmMs     uint32 // 60,000
	CreepMs   uint32 // <= 120,000
	RampMs    uint16 // spindle ramp, then power off (<= 1,000)
	EaseMs    uint16 // press force ramp-down (<= 1,000)
	RetractMs uint16 // longest opening movement
	SoftMs    uint16 // SOFT permits a stroke for this long, where no thermometer is fitted

	FuelMaxMl        uint16 // mL/min
	SoftMaxMl        uint16 // most fuel of a soft flame, mL/min
	OxygenMaxMl      uint16 // mL/min
	SpindleMaxDrpm   uint16
	SpindleHeatDrpm  uint16 // least speed that counts as turning
	CreepDrpm        uint16
	PressLowDrpm     uint16 // press state when turning: speed window
	PressHighDrpm    uint16
	OpenCmm          int16  // travel up to which the press counts as open
	HeatCmm          int16  // travel up to which heating is safe (named position)
	EndCmm           int16  // largest travel ever asked for
	SpeedMaxCmms     uint16 // press speed
	HandCmms         uint16 // hold-to-run speed (<= 1,000, 10 mm/s)
	ForceMaxDN       uint16 // press force
	OverForceDN      uint16 // force that trips (above ForceMaxDN, below what breaks the mould)
	EaseStepDN       uint16 // force taken off each ms while easing: ForceMaxDN over EaseMs, rounded up
	PullMaxDN        uint16 // largest pull when opening
	ContactDN        uint16 // force that means contact
	GlassLowDC       int16  // clip of the press window
	GlassHighDC      int16
	ViewMs           uint16 // burner clear this long before the thermometer is believed (300)
	SampleMs         uint16 // oldest glass sample for a stroke (200)
	EstimateMs       uint16 // oldest sample under an extrapolation (2,000)
	SpindleStallMs   uint16 // not turning while heating (2,000)
	ExtractionMs     uint16 // lost this long while fuel is open (500)
	ExtractionWaitMs uint16 // not proven this long in purge (10,000)
	PressureMs       uint16 // pressure switches' debounce (200)
	SlideMs          uint16 // burner slide's longest movement
	ButtonMs         uint16 // longest press of a button before it counts as stuck (3,000)
	HandsMs          uint16 // two-hand control: both actuators within this (500, ISO 13851)
	SetUpDrpm        uint16 // hold-to-run speed of the spindle in set-up (<= 400, 40 rpm)

	// after a lost flame in contact
	PartMs     uint16 // force eased and halves at rest this long before they part (<= 10,000)
	PartCmms   uint16 // speed at which they part (<= HandCmms)
	PartOpenMs uint16 // longest parting movement

	// flows against what is asked
	FlowSettleMs uint16 // what was asked in the last one to two of these is the band that flows are held to (1,000)
	FlowOffMs    uint16 // off the band this long aborts (2,000)
	FlowOffPC    uint16 // off by more than this share, percent (20)
	FlowOffMl    uint16 // and by more than this, mL/min (100)
	FlowOverMs   uint16 // far above the band this long locks out (500)
	FlowOverPC   uint16 // above this share of what is asked, percent (150)
	FlowNoneMl   uint16 // and by more than this, also where none is asked, mL/min (200)
	RatioMs      uint16 // ratio outside its window this long aborts (2,000)
	RatioLowPC   uint16 // oxygen to fuel, percent by volume; both ends 0: not judged
	RatioHighPC  uint16

	RunMs   uint32 // longest burning before a light-off, whose dark check proves the flame sensor (8 h)
	SharpMs uint32 // longest sharp flame at the blank
}

// Config.Options.
const (
	OptSpindleTurns     uint16 = 1 << 0 // press state: turning in its speed window
	OptSpindleIndexed   uint16 = 1 << 1 // press state: standing at its index; neither bit: standing
	OptSpindleFitted    uint16 = 1 << 2 // a spindle drive exists
	OptBurnerDriven     uint16 = 1 << 3 // the slide is an output
	OptBurnerFixed      uint16 = 1 << 4 // burner cannot meet the stroke
	OptPressDriven      uint16 = 1 << 5 // press is an output; else pulled by hand against a brake
	OptViewAlways       uint16 = 1 << 6 // the thermometer's line of sight never crosses the flame
	OptStrokeFlameClear uint16 = 1 << 7 // flame may stay lit, clear, during the stroke
	OptStrokeFlameSoft  uint16 = 1 << 8 // a fixed burner may stay on soft flame during the stroke
	OptParkedDoorOpen   uint16 = 1 << 9 // a parked soft flame may burn with the door open
	OptOxygenFitted     uint16 = 1 << 10
	OptFanSafe          uint16 = 1 << 11 // fan motor and contactor outside the hazardous area, or rated for it
	OptSelfChecking     uint16 = 1 << 12 // the flame control checks its own sensor while it burns
)
