package warden

// State is all that the warden remembers, at most 256 bytes. A test holds it
// to sized integers.
type State struct {
	// latch
	Present uint64 // causes true in this tick, bit 1<<cause
	Trips   uint64 // causes latched since the last reset
	First   uint8  // first cause of the trip, CauseNone without one
	Lock    uint8  // Lock...
	Gas     uint8  // reactions in force, the strongest of Trips and Present
	Spin    uint8
	Above   uint8
	Touch   uint8

	// link
	Link      uint8
	Armed     uint8             // 1 while START would count
	Started   uint8             // 1 from START until the cycle ends or a trip voids it
	Wait      uint8             // 1 while motion and heat of the cycle wait for a new START
	ArmID     uint16            // arming in force or last used
	UsedArmID uint16            // the arming that START consumed
	ArmMs     uint32            // since arming; while waiting, since START could count
	LeaseMs   [NumLeases]uint16 // since last renewed, saturating
	LinkMs    uint16            // since any accepted request, saturating
	ErrorSum  uint32            // leaky integer of bad frames
	WindowLow int16             // press window taken at arming, clipped, 0.1 C
	WindowHi  int16
	StartSeen uint8 // button seen released since arming, or since START could count again
	ResetSeen uint8 // button seen released
	StartMs   uint16
	ResetMs   uint16

	// burner
	Burner        uint8
	LitOnce       uint8     // a trial has begun since the last START
	Oxygen        uint8     // 1 while the oxygen valve is open
	PhaseMs       uint32    // time in the burner phase, only while its condition holds
	TrialMs       uint16    // fuel-open time of this trial
	FlameMs       uint16    // unbroken flame, saturating
	DarkMs        uint16    // unbroken darkness, saturating
	FuelOffMs     uint16    // since fuel was shut, saturating
	ParkMs        uint32    // lit without a cycle
	Unburnt       uint32    // invariant 3
	RunMs         uint32    // in run since this light-up
	SharpMs       uint32    // sharp flame at the blank
	SawStill      uint8     // extraction switch seen in its rest position since fuel was last open
	NoFlowMs      uint16    // extraction not proven, or in check never seen at rest
	SwitchMs      [4]uint16 // pressure switches: fuel low, fuel high, oxygen low, oxygen high
	FeedMs        uint16
	FeedOxMs      uint16
	SlideMs       uint16
	ClearMs       uint16 // burner proven clear, saturating
	SlideSent     uint16 // OutBurnerIn as last sent
	BurnerWasOpen uint8  // the press was open while heating in the last tick
	BlockMs       uint16 // burner wanted at the blank, or not clear, while the press is not open
	NVMs          uint16 // non-volatile byte differs from what it should hold
	NV            uint8

	// press
	Press    uint8
	Touching uint8  // 1 from contact until open again
	Homed    uint8  // open end switch seen since power-up
	HoldSeen uint8  // hold-to-run buttons seen released: bit 0 open, bit 1 close, bit 2 turn
	SoftMs   uint16 // since SOFT was pressed in this cycle, saturating
	PressMs  uint16 // opening
	PullMs   uint16 // pulling at the limit
	EaseDN   uint16 // force limit during easing
	StallMs  uint16 // spindle below its press state in contact
	PartMs   uint16 // since the halves wait to part

	// flows
	Flow    [NumFlows]Flow
	FlowMs  uint16 // of the present band
	RatioMs uint16 // ratio outside its window

	// what the press feels
	ForceLostMs  uint16 // force channel broken while the press moves or works
	TravelLostMs uint16 // travel channel broken while the press moves or works
	UnfeltMs     uint16 // pressing at the stop without any force
	StandMs      uint16 // driven to close, and travel stands
	StandCmm     int16  // where

	// what moves as nobody asked
	FastMs      uint16 // spindle above its limit or backwards
	ChuckMs     uint16 // chuck not clamped while something moves
	HandMs      uint16 // of the window in which hold-to-run is measured
	HandFromCmm int16  // travel at its beginning

	// two-hand control
	Hands      [NumHands]Hands
	HandStroke uint8 // a stroke with the door open is under way: two hands stand in for it

	// spindle
	Spindle uint8
	SpinMs  uint32
	StillMs uint16
	SpinSet uint16 // set-point in force, 0.1 rpm

	// as driven in the last tick
	Out Output
}
