package warden

// Outputs: bits of Output.Bits. Energising: fuel, oxygen, igniter, burner in,
// spindle start, closing force. Written out, never renumbered.
const (
	OutFuel1      uint16 = 1 << 0 // first fuel valve
	OutFuel2      uint16 = 1 << 1 // second fuel valve
	OutOxygen     uint16 = 1 << 2 // oxygen valves
	OutIgniter    uint16 = 1 << 3
	OutFan        uint16 = 1 << 4 // extraction fan
	OutBurnerIn   uint16 = 1 << 5 // burner slide to the blank; clear without
	OutSpindle    uint16 = 1 << 6 // spindle drive powered
	OutPressClose uint16 = 1 << 7 // closing force
	OutPressOpen  uint16 = 1 << 8 // opening force
	OutBrake      uint16 = 1 << 9 // press brake holds
	OutArmedLamp  uint16 = 1 << 10
	OutHorn       uint16 = 1 << 11
	OutLockLamp   uint16 = 1 << 12 // lockout lamp

	OutFuel uint16 = OutFuel1 | OutFuel2
)

// Output is what the warden drives in one tick. A set-point is zero whenever
// its bit is off.
type Output struct {
	Bits        uint16 // Out...
	FuelMl      uint16 // mL/min
	OxygenMl    uint16 // mL/min
	SpindleDrpm uint16 // 0.1 rpm
	SpeedCmms   uint16 // press speed, 0.01 mm/s
	ForceDN     uint16 // press force limit, 0.1 N
	TravelCmm   int16  // press target, 0.01 mm
	NV          uint8  // the byte that non-volatile memory shall hold
}

// Burner phases.
const (
	BurnerStandby   uint8 = 0
	BurnerCheck     uint8 = 1 // valves shut, flame absent, permissives
	BurnerPurge     uint8 = 2 // extraction proven, clock runs only then
	BurnerIgniter   uint8 = 3 // igniter on, fuel not yet
	BurnerTrial     uint8 = 4 // trial for ignition
	BurnerProve     uint8 = 5 // flame must stay, igniter on
	BurnerProveDark uint8 = 6 // flame must stay, igniter off
	BurnerRun       uint8 = 7 // flame proven; oxygen on request
	BurnerOff       uint8 = 8 // oxygen shut, fuel about to be
	BurnerPostPurge uint8 = 9
	BurnerLockout   uint8 = 10

	NumBurner uint8 = 11
)

// Press phases.
const (
	PressOff       uint8 = 0 // no force, brake on
	PressStay      uint8 = 1 // stands where it is, brake on
	PressClosing   uint8 = 2 // approach, before contact
	PressContact   uint8 = 3 // in contact, force within its limit
	PressOpening   uint8 = 4
	PressEasing    uint8 = 5 // ramp force down, then stay
	PressHandOpen  uint8 = 6 // hold-to-run
	PressHandClose uint8 = 7 // hold-to-run, slow

	NumPress uint8 = 8
)

// Spindle phases.
const (
	SpindleOff   uint8 = 0 // unpowered
	SpindleRun   uint8 = 1 // at the requested speed
	SpindleCreep uint8 = 2 // slow, keeps soft glass round, for CreepMs at most
	SpindleRamp  uint8 = 3 // controlled stop, then off
	SpindleHand  uint8 = 4 // hold-to-run in set-up, slow

	NumSpindle uint8 = 5
)

// Link phases.
const (
	LinkDown    uint8 = 0 // no live lease
	LinkUp      uint8 = 1
	LinkArmed   uint8 = 2 // START counts
	LinkStarted uint8 = 3 // START was pressed; the cycle may energise
	LinkWaiting uint8 = 4 // the cycle runs, but motion and heat wait for a new START

	NumLink uint8 = 5
)
