package wiring

// Words say of one pin what pins.h cannot: what is at the other end of the wire.
type Words struct {
	Name   string
	Group  string // heading in the drawing
	Short  string // label in the drawing
	Does   string
	Broken string // what a broken wire does
}

// Groups, in the order of the drawing.
const (
	groupStop   = "Stops and guards"
	groupGas    = "Gas and flame"
	groupPress  = "Press"
	groupHands  = "Buttons at the rig"
	groupBench  = "Burner slide and spindle"
	groupSignal = "Signals to people"
	groupTemp   = "Temperatures"
)

var words = []Words{
	{"IN_ESTOP_OK", groupStop, "emergency stop loop closed",
		"repeat contact of the emergency stop relay", "reads as pushed: lockout (row 1)"},
	{"IN_DOOR_CLOSED", groupStop, "safety door closed",
		"repeat contact of the door's safety relay", "reads as open: trip while anything moves or burns (row 2)"},
	{"IN_FLAME", groupGas, "flame, from the burner control",
		"repeater KFR of the burner control's flame relay", "reads as no flame: fuel shut (rows 3, 4)"},
	{"IN_EXTRACTION", groupGas, "extraction flow proven",
		"flow switch in the duct, second contact", "reads as no extraction: no light-up, fuel shut (row 30)"},
	{"IN_FUEL_LOW", groupGas, "fuel pressure not low",
		"low-pressure switch, second contact, opens below its point", "reads as low: lockout (row 6)"},
	{"IN_FUEL_HIGH", groupGas, "fuel pressure not high",
		"high-pressure switch, second contact, opens above its point", "reads as high: lockout (row 7)"},
	{"IN_OXYGEN_LOW", groupGas, "oxygen pressure not low",
		"low-pressure switch, second contact, opens below its point", "reads as low: gas off in order, abort (row 8)"},
	{"IN_OXYGEN_HIGH", groupGas, "oxygen pressure not high",
		"high-pressure switch, second contact, opens above its point", "reads as high: lockout (row 9)"},
	{"IN_PRESS_OPEN", groupPress, "press fully open",
		"end switch, closed from fully open up to the profile's open_up_to, repeats within 0.1 mm: travel is counted from here",
		"reads as not open: no flame at the blank (rows 15, 16), never homed"},
	{"IN_PRESS_END", groupPress, "press not past its end",
		"over-travel switch, second contact, opens past the last position", "reads as past the end: lockout (row 14)"},
	{"IN_BURNER_AT_BLANK", groupBench, "slide at the blank",
		"end switch of the burner slide", "reads as not there: abort after 2 s (row 39)"},
	{"IN_BURNER_CLEAR", groupBench, "slide clear of the stroke",
		"end switch of the burner slide", "reads as in the way: no stroke (rows 15, 39)"},
	{"IN_FUEL_SHUT", groupGas, "both fuel valves shut",
		"closed-position contacts of both fuel valves in series", "reads as not shut: lockout (row 33)"},
	{"IN_OXYGEN_SHUT", groupGas, "oxygen valves shut",
		"closed-position contacts of both oxygen valves in series", "reads as not shut: lockout (row 33)"},
	{"IN_START", groupHands, "START", "momentary button", "nothing can be started"},
	{"IN_RESET", groupHands, "RESET", "momentary button", "a lockout cannot be cleared"},
	{"IN_SOFT", groupHands, "SOFT", "momentary button", "the button does nothing"},
	{"IN_HOLD_OPEN", groupHands, "open, hold to run", "momentary button", "the press cannot be opened by hand control"},
	{"IN_HOLD_CLOSE", groupHands, "close slowly, hold to run", "momentary button", "the button does nothing"},
	{"IN_CHUCK_CLAMPED", groupBench, "chuck clamped", "clamping switch of the chuck", "reads as not clamped"},
	{"IN_INDEXED", groupBench, "spindle at its index", "index switch, made at standstill in position", "reads as not at its index"},
	{"IN_GAS_ALARM", groupGas, "no gas or oxygen alarm",
		"alarm relay of the gas and oxygen detector, opens on alarm and on its own fault", "reads as alarm: lockout (row 31)"},
	{"IN_FLASHBACK", groupGas, "no flashback",
		"flashback arrestor's or over-pressure switch, opens on trip", "reads as tripped: lockout (row 32)"},
	{"IN_OVER_FORCE", groupPress, "press force not too high",
		"over-force switch, second contact, opens on too much force", "reads as too high: force off, abort (row 13)"},
	{"IN_MAINS_OK", groupStop, "mains present", "phase relay in front of the supplies", "reads as no mains: lockout (row 36)"},
	{"IN_TWO_HAND_LEFT", groupHands, "two-hand, left", "left actuator, repeat contact", "no stroke under two hands (row 34)"},
	{"IN_TWO_HAND_RIGHT", groupHands, "two-hand, right", "right actuator, repeat contact", "no stroke under two hands (row 34)"},
	{"IN_SET_UP", groupHands, "key at set-up", "key switch, closed at set-up",
		"reads as run although the key stands at set-up: **not harmless**; a second contact of the key, closed at run, in bus G; prove the key weekly"},
	{"IN_WATCHDOG_OK", groupStop, "outside watchdog has made", "third contact of the window watchdog's relay", "reads as opened: the proof test of the watchdog fails; the program itself does not act on it"},
	{"IN_HOLD_TURN", groupHands, "turn slowly, hold to run", "momentary button", "the button does nothing"},

	{"OUT_FUEL1", groupGas, "fuel valve 1 may open", "relay KF1: contact in series with fuel valve 1, the other with the call for heat", "valve 1 stays shut"},
	{"OUT_FUEL2", groupGas, "fuel valve 2 may open", "relay KF2: contact in series with fuel valve 2", "valve 2 stays shut"},
	{"OUT_OXYGEN", groupGas, "oxygen valves may open", "relays KO1 and KO2, each with its own driver: one in series with each oxygen valve", "both stay shut"},
	{"OUT_IGNITER", groupGas, "call for heat, spark", "relay KI: contact in the call for heat, the other in series with the ignition", "no spark: failed trial, lockout (row 4)"},
	{"OUT_FAN", groupGas, "extraction fan", "timer relay KX of the fan's contactor, 60 s more after it drops", "fan off: no light-up, fuel shut (row 30)"},
	{"OUT_BURNER_IN", groupBench, "burner slide to the blank", "relay KB: valve of the slide, which goes clear without power", "slide goes clear: abort (row 39)"},
	{"OUT_SPINDLE", groupBench, "spindle may turn", "relay KS: contact in series with the drive's safe-torque-off input", "spindle runs out: abort (row 10)"},
	{"OUT_PRESS_CLOSE", groupPress, "press may close", "relay KC: contact in series with the closing valve or enable", "no closing force"},
	{"OUT_PRESS_OPEN", groupPress, "press may open", "relay KU: contact in series with the opening valve or enable", "press does not open: abort (row 17)"},
	{"OUT_BRAKE", groupPress, "brake released", "relay KR: contact in series with the brake's release coil", "the brake holds"},
	{"OUT_ARMED_LAMP", groupSignal, "armed lamp", "lamp, 24 V, through its driver", "lamp dark although armed: **not harmless**, look at it at each arming"},
	{"OUT_HORN", groupSignal, "horn", "horn, 24 V, through its driver", "silent: **not harmless**, try it weekly"},

	{"OUT_LOCK_LAMP", groupSignal, "lockout lamp", "lamp, 24 V, through its driver", "lamp dark although locked out: **not harmless**, look at it at each proof of the emergency stop"},

	{"PULSE", groupStop, "pulse for the outside watchdog", "outside watchdog with a window: a level change every millisecond, 500 Hz", "the watchdog drops every enabling chain"},

	{"AI_GLASS", groupTemp, "glass temperature", "radiation thermometer, isolated 4-20 mA", "reads as broken: hold (row 18)"},
	{"AI_MOULD_LOWER", groupTemp, "lower mould temperature", "thermocouple transmitter, isolated 4-20 mA", "reads as broken"},
	{"AI_MOULD_UPPER", groupTemp, "upper mould temperature", "thermocouple transmitter, isolated 4-20 mA", "reads as broken"},
	{"AI_FORCE", groupPress, "press force", "fast bridge amplifier (1 kHz at least), isolated 4-20 mA", "reads as broken; the over-force switch is what protects"},
	{"AI_FUEL_FLOW", groupGas, "fuel flow", "flow controller's 4-20 mA", "reads as broken"},
	{"AI_OXYGEN_FLOW", groupGas, "oxygen flow", "flow controller's 4-20 mA, cleaned for oxygen", "reads as broken"},
	{"AI_FUEL_PRESSURE", groupGas, "fuel pressure", "pressure transmitter, 4-20 mA", "reads as broken; the switches are what protects"},
	{"AI_OXYGEN_PRESSURE", groupGas, "oxygen pressure", "pressure transmitter, 4-20 mA, cleaned for oxygen", "reads as broken; the switches are what protects"},
	{"AI_SPINDLE", groupBench, "spindle speed", "speed transmitter on the spindle itself, not the drive's echo, 4-20 mA", "reads as broken"},

	{"ENCODER_A", groupPress, "press travel, track A", "incremental encoder, line receiver with fault contact",
		"travel stands still: doubted after 200 ms of closing, otherwise **unnoticed** until the open switch; the receiver's fault contact and the end switches are what stops the press"},
	{"ENCODER_B", groupPress, "press travel, track B", "incremental encoder, line receiver with fault contact", "as track A"},

	{"SET_FUEL", groupGas, "fuel flow asked", "fuel flow controller", "0: no flow"},
	{"SET_OXYGEN", groupGas, "oxygen flow asked", "oxygen flow controller", "0: no flow"},
	{"SET_SPINDLE", groupBench, "spindle speed asked", "spindle drive", "0: standstill"},
	{"SET_SPEED", groupPress, "press speed asked", "press drive or proportional valve", "0: standstill"},
	{"SET_FORCE", groupPress, "press force asked", "press drive or pressure valve", "0: no force"},
}

func wordsOf(name string) Words {
	for _, w := range words {
		if w.Name == name {
			return w
		}
	}
	return Words{Name: name}
}
