package warden

// Digital inputs: bits of Input.Bits. The numbers are on the wire and in the
// journal: written out, never renumbered.
const (
	InEstopOK       uint32 = 1 << 0  // emergency stop loop closed
	InDoorClosed    uint32 = 1 << 1  // safety door (the guard) closed
	InFlame         uint32 = 1 << 2  // flame seen, unfiltered
	InExtraction    uint32 = 1 << 3  // extraction flow switch made
	InFuelLow       uint32 = 1 << 4  // fuel pressure below its low switch
	InFuelHigh      uint32 = 1 << 5  // fuel pressure above its high switch
	InOxygenLow     uint32 = 1 << 6  // oxygen pressure below its low switch
	InOxygenHigh    uint32 = 1 << 7  // oxygen pressure above its high switch
	InPressOpen     uint32 = 1 << 8  // end switch: press fully open
	InPressEnd      uint32 = 1 << 9  // end switch: press past its last allowed position
	InBurnerAtBlank uint32 = 1 << 10 // burner slide proven at the blank
	InBurnerClear   uint32 = 1 << 11 // burner slide proven clear of the stroke
	InFuelShut      uint32 = 1 << 12 // feedback: both fuel valves shut
	InOxygenShut    uint32 = 1 << 13 // feedback: oxygen valve shut
	InStart         uint32 = 1 << 14 // START button at the rig, pressed
	InReset         uint32 = 1 << 15 // RESET button at the rig, pressed
	InSoft          uint32 = 1 << 16 // SOFT button at the rig, pressed
	InHoldOpen      uint32 = 1 << 17 // hold-to-run: open the press
	InHoldClose     uint32 = 1 << 18 // hold-to-run: close the press slowly
	InChuckClamped  uint32 = 1 << 19 // chuck clamped
	InIndexed       uint32 = 1 << 20 // spindle standing at its index position
	InGasAlarm      uint32 = 1 << 21 // gas or oxygen (>= 23.5 %) detector
	InFlashback     uint32 = 1 << 22 // flashback arrestor or over-pressure trip
	InOverForce     uint32 = 1 << 23 // over-force switch of the press
	InMainsOK       uint32 = 1 << 24 // mains present
	InTwoHandLeft   uint32 = 1 << 25 // two-hand control, left actuator pressed
	InTwoHandRight  uint32 = 1 << 26 // two-hand control, right actuator pressed
	InSetUp         uint32 = 1 << 27 // key switch at the rig stands at set-up
	InHoldTurn      uint32 = 1 << 28 // hold-to-run: turn the spindle slowly, in set-up only
	InWatchdogOK    uint32 = 1 << 29 // outside watchdog's contact in the chain closed
)

// Analog inputs: indices of Input.Analog, bits 1<<index of Input.AnalogOK.
// The comment gives unit of one count.
const (
	AiGlass          uint8 = 0 // glass temperature, 0.1 C
	AiMouldLower     uint8 = 1 // lower mould half, 0.1 C
	AiMouldUpper     uint8 = 2 // upper mould half, 0.1 C
	AiTravel         uint8 = 3 // press travel from fully open, 0.01 mm, grows while closing
	AiForce          uint8 = 4 // press force, 0.1 N, positive pressing, negative pulling
	AiSpindle        uint8 = 5 // spindle speed, 0.1 rpm
	AiFuelFlow       uint8 = 6 // fuel flow, 1 mL/min
	AiOxygenFlow     uint8 = 7 // oxygen flow, 1 mL/min
	AiFuelPressure   uint8 = 8 // fuel pressure, 1 mbar
	AiOxygenPressure uint8 = 9 // oxygen pressure, 1 mbar

	NumAnalog uint8 = 10
)

// Input is everything the warden sees in one tick of one millisecond.
type Input struct {
	Bits       uint32           // digital inputs, In...
	Analog     [NumAnalog]int16 // see Ai...
	AnalogOK   uint16           // bit 1<<Ai...: wire intact and value in range
	GlassAgeMs uint16           // age of the glass sample, saturating

	Request    Request // the newest accepted request; meaningful while Fresh or leased
	Fresh      uint8   // 1 in the tick in which a request was accepted
	NewSession uint8   // 1 in the tick in which the host opened a new session
	BadFrames  uint8   // frames refused for corruption in this tick

	NV uint8 // the non-volatile byte as read back; see NV...
}

// The non-volatile byte. Any other value counts as unreadable and locks out at
// boot. The values differ in every bit pair so that a decayed cell is none.
const (
	NVClear   uint8 = 0x5A // standby, nothing to remember
	NVRunning uint8 = 0x3C // a light-up was under way: fuel may have been open
	NVLockout uint8 = 0xA5 // locked out
)

// Leases: bits of Request.Lease. Each is dead LeaseMs after the last accepted
// request that renewed it.
const (
	LeaseFuel    uint8 = 1 << 0
	LeaseOxygen  uint8 = 1 << 1
	LeasePress   uint8 = 1 << 2
	LeaseSpindle uint8 = 1 << 3

	NumLeases uint8 = 4
)

// Request.Flags.
const (
	ReqArm      uint16 = 1 << 0 // keep the START button armed for ArmID
	ReqCycle    uint16 = 1 << 1 // the cycle that START began still runs; dropping it voids START
	ReqFlame    uint16 = 1 << 2 // burner: light up if needed, keep lit
	ReqOxygen   uint16 = 1 << 3 // open oxygen once the flame is proven
	ReqBurnerIn uint16 = 1 << 4 // burner to the blank; clear when absent
	ReqReset    uint16 = 1 << 5 // clear hold or abort (never lockout) once its causes are gone
	ReqHorn     uint16 = 1 << 6 // sound the horn: the operator is called
	ReqEstimate uint16 = 1 << 7 // GlassEst..., an extrapolation, accompanies the stroke
	ReqAbort    uint16 = 1 << 8 // shut everything now (both gases in one tick) and latch an abort
	ReqHands    uint16 = 1 << 9 // hands at the moulds, paused or held: motion and heat wait for START
)

// Request.Press: what the host asks of the press.
const (
	PressNone  uint8 = 0 // stay where it is, brake on
	PressClose uint8 = 1 // close towards Travel at Speed, at most Force
	PressForce uint8 = 2 // press with Force, to a stop at Travel
	PressOpen  uint8 = 3 // open towards Travel at Speed
)

// Request is what the host asks for. It energises nothing by itself: every
// field is granted only under a live lease and the warden's own permits.
type Request struct {
	Lease       uint8  // Lease... bits renewed by this request
	Press       uint8  // Press...
	Flags       uint16 // Req...
	ArmID       uint16 // which arming; a new number is a new arming
	FuelMl      uint16 // fuel flow set-point, mL/min
	OxygenMl    uint16 // oxygen flow set-point, mL/min
	SpindleDrpm uint16 // spindle speed, 0.1 rpm
	TravelCmm   int16  // press target from fully open, 0.01 mm
	SpeedCmms   uint16 // press speed, 0.01 mm/s
	ForceDN     uint16 // press force limit, 0.1 N
	GlassLowDC  int16  // press window, low end, 0.1 C; taken at arming
	GlassHighDC int16  // press window, high end, 0.1 C; taken at arming
	EstDC       int16  // extrapolated glass temperature, 0.1 C
	EstUncDC    uint16 // its uncertainty, 0.1 C
	EstAgeMs    uint16 // age of the sample it stands on, ms
}
