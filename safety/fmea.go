package safety

// Failure is a row of the failure mode and effects analysis, in the form of
// IEC 60812. S, O and D run from 1 to 10; D is 1 where detection is sure. The
// numbers are this project's guesses for a rig like the built-in profiles, to
// be done anew by a competent person for each real rig.
type Failure struct {
	Item, Mode, Cause, Local, End string
	S, O, D                       uint8
	Detection, Action, Owner      string
	Test                          string // a test that injects it; "" where hardware alone can answer

	Proofs []string // proof tests that the detection rests on, of rig.ProofFunctions
}

// What a detection rating may be. Between two proof tests nothing shows the
// fault, so one that rests on them alone is no better than a moderate one; where
// nothing looks, it is found by the accident.
const (
	ProofDetects = 4
	BlindDetects = 9
)

// RPN is severity x occurrence x detection. It hides severity: every S of 9
// and 10 is acted on whatever the RPN.
func (f *Failure) RPN() int { return int(f.S) * int(f.O) * int(f.D) }

// Failures is the analysis, by item.
var Failures = [...]Failure{
	{"emergency stop", "contact welded", "overload, age", "loop stays closed", "stop has no effect", 10, 2, 4,
		"proof test each working day", "two contacts in a monitored relay", "hardware", "", proofs("estop")},
	{"safety door switch", "defeated or stuck closed", "tape, magnet, wear", "door looks closed",
		"hands in chuck and flame", 10, 4, 4, "proof test: the press loses its power", "coded switch (ISO 14119)", "hardware", "",
		proofs("door")},
	{"fuel valve 1", "stuck open", "dirt on the seat", "gas passes valve 1", "gas after stop if valve 2 fails too",
		10, 3, 2, "valve 2 closes; row 33 where feedback is fitted; flame after shut (row 5)",
		"two valves in series; proof test of both seats", "hardware, warden", "TestEachFaultShows",
		proofs("fuel_valve_1", "fuel_valve_2")},
	{"flame sensor", "stuck at flame", "relay, tube age", "flame seen always", "blind burner", 10, 3, 2,
		"seen before ignition and after shut-off: row 5", "lockout", "warden", "TestFlameInPurge", nil},
	{"flame sensor", "sees hot glass", "wrong kind", "flame seen after it is out", "unburnt gas", 10, 4, 3,
		"must vanish within 2 s of shut-off: row 5", "ultraviolet or ionisation only; others are refused",
		"profile check", "TestProfileRefusals", nil},
	{"flame sensor", "blind", "dirt, broken wire", "no flame seen", "nuisance shut-off", 3, 4, 1,
		"rows 3 and 4", "shut, lockout", "warden", "TestFlameLost", nil},
	{"igniter", "no spark", "wire, gap", "trial fails", "unburnt gas for 3 s", 8, 4, 1, "row 4",
		"one trial of 3 s, lockout", "warden", "TestFailedTrialLocksOut", nil},
	{"extraction switch", "stuck at flow", "lint, weld", "purge unproven", "light-up into old gas", 10, 3, 2,
		"rest position must be seen since fuel was last open, the fan standing: row 30", "light-up refused", "warden",
		"TestStuckExtractionSwitchRefusesLightUp", nil},
	{"RESET button", "stuck pressed", "glass dust", "reset held", "lockout clears itself", 9, 2, 2,
		"edge wanted; row 37 after 3 s", "edges count, never levels", "warden", "TestResetNeedsAnEdge", nil},
	{"START button", "stuck pressed", "glass dust", "start held", "unexpected start", 10, 2, 1,
		"must be seen released while armed", "edges count, never levels", "warden", "TestStartEdge", nil},
	{"two-hand actuator", "stuck pressed", "glass dust, tape", "one hand is free", "crushed hand", 10, 3, 1,
		"both released before each stroke, 0.5 s", "type III after ISO 13851", "warden", "TestTwoHandStroke", nil},
	{"microcontroller", "clock 20 % slow", "wrong crystal, no lock", "all times long", "longer than 4 s unburnt",
		9, 2, 3, "row 26: the host compares clocks; watchdog of its own clock", "abort", "supervisor, hardware",
		"TestClockRow", nil},
	{"microcontroller", "hangs", "defect, radiation", "outputs keep", "anything that was on stays on", 10, 2, 5,
		"its own watchdog; proof test of the outside one by its contact and bus A", "drops bus A and bus D", "hardware", "",
		proofs("watchdog")},
	{"microcontroller", "restarts in a light-up", "brown-out", "outputs off, position lost", "gas may have been open",
		8, 3, 1, "marker in non-volatile memory: row 23", "lockout", "warden", "TestRestartWhileLitLocksOut", nil},
	{"non-volatile memory", "does not take its byte", "worn out", "lockout not kept", "lockout cleared by power loss",
		9, 2, 1, "read back: row 41", "lockout", "warden", "TestEachFaultShows", nil},
	{"daemon", "old value shown as live", "stalled reader", "wrong picture", "wrong act of the operator", 8, 4, 3,
		"an age of 500 ms is no state", "no state is told, the link is told as lost", "supervisor", "TestOldSnapshotIsNoState", nil},
	{"daemon", "hangs or is killed", "defect, memory", "no requests", "heat goes on unseen", 9, 3, 1,
		"leases: row 21 after 500 ms", "shut, creep", "warden", "TestSilentHostLosesTheFlame", nil},
	{"serial line", "corrupts frames", "noise of the igniter", "wrong request", "wrong flow or force", 9, 4, 1,
		"CRC-32C, length, session, sequence; rows 21 and 35", "refused, counted, abort", "wire, warden",
		"TestChannelCorruption", nil},
	{"press position sensor", "offset after a reset", "lost reference", "wrong travel", "mould crash", 8, 4, 3,
		"homing to the end switch; over-travel switch: row 14", "no stroke before seen open", "warden, hardware",
		"TestStrokePermits", nil},
	{"press", "does not open: glass sticks", "mould too hot", "pull at its limit", "glass thrown", 7, 5, 2, "row 17",
		"stay, pull limited, open by hold-to-run", "warden", "TestStuckGlassIsNoticedThroughANoisyReading", nil},
	{"press brake", "does not hold", "oil, wear", "press sinks without power", "crushed hand", 10, 2, 4,
		"proof test", "brake or counterbalance; gravity restraint (ISO 16092)", "hardware", "", proofs("press_brake")},
	{"over-force switch", "never trips", "set wrong", "force goes on", "mould bursts", 9, 3, 3,
		"force sensor as a second opinion; proof test", "relief valve", "hardware, warden", "TestEachFaultShows",
		proofs("over_force", "relief_valve")},
	{"recipe file", "wrong unit", "typing", "wrong set-point", "overheated or crushed piece", 7, 5, 2,
		"every quantity carries its unit", "refused with line and column; hard limits in the warden", "recipes",
		"TestBrokenRecipes", nil},
	{"configuration", "rated power or trial wrong", "typing", "trial too long", "more unburnt gas", 8, 3, 2,
		"limits of the standards", "refused; the warden caps the trial", "profile check", "TestConfigRefusals", nil},
	{"spindle sensor", "frozen at turning", "frozen counter", "standstill unseen", "one-sided heating, glass drips",
		7, 4, 4, "the operator sees it; proof test", "pulse count and drive current", "hardware", "", proofs("spindle_sensor")},
	{"thermometer", "stuck", "hung transmitter", "old temperature", "pressing cold or running glass", 7, 4, 2,
		"rows 18 and 19", "orderly shut-down, hold", "supervisor", "TestThermometerRows", nil},
	{"broker", "replays an old command", "retained message", "command arrives", "unexpected start", 10, 2, 1,
		"no command is taken from the network", "ignored, told", "telemetry", "TestSV063CommandsAreIgnored", nil},
	{"journal", "disk full or torn", "full disk, power loss", "record lost", "untraceable piece", 4, 4, 1,
		"rows 27 and 28; check at open", "cycle ends, no other starts", "journal", "TestFullDiskWhileRunning", nil},
	{"microcontroller", "says what is not so", "memory, program, converter", "protection gone, nothing shown",
		"heat or motion goes on", 9, 2, 5, "row 60: the supervisor judges every snapshot; a lie without a contradiction is not seen",
		"nothing asked, cycle aborted, no start until seen; emergency stop by hand", "supervisor, hardware", "TestLyingWardenIsFound", nil},
	{"bus A", "24 V whatever the chain does", "short, welded relay", "a stop takes nothing away", "stop has no effect", 10, 2, 4,
		"proof test: a meter behind each contact", "wires apart, earthed 0 V", "hardware", "", proofs("bus_a", "watchdog")},
	{"door relay", "welded", "overload, age", "oxygen, slide and closing keep power", "hands in chuck and flame", 10, 2, 4,
		"proof test; mirror contact in the reset", "force-guided contacts", "hardware", "", proofs("door")},
	{"two-hand control", "moves by one hand", "wiring, wear", "one hand is free", "crushed hand", 10, 2, 4,
		"proof test by what is seen to move", "type III after ISO 13851", "hardware, warden", "", proofs("two_hand")},
	{"press", "stops late", "brake or valve worn, diode at the coil", "moves on after the hand went", "crushed hand", 10, 3, 4,
		"proof test of the stopping time", "distance after ISO 13855 with margin", "hardware", "", proofs("press_stopping")},
	{"spindle", "runs down late", "drive, brake resistor", "turns when the door opens", "caught sleeve", 8, 3, 4,
		"proof test of the run-down time", "standstill monitor and door lock", "hardware", "", proofs("spindle_run_down")},
	{"safe torque off", "bridged or failed", "wiring, drive", "drive turns after a stop", "caught sleeve", 9, 2, 4,
		"proof test", "two channels where the drive has them", "hardware", "", proofs("safe_torque_off")},
	{"fan's timer relay", "drops at once", "wear, wrong setting", "fan stops with the board", "gas and fumes stay in the hood", 8, 3, 4,
		"proof test", "switch by hand beside it", "hardware", "", proofs("fan_run_on")},
	{"horn or lockout lamp", "dead", "wire, lamp", "nobody is told", "person walks into a leak", 7, 3, 4,
		"proof test", "both, not one", "hardware", "", proofs("alarm_signals")},
	{"set-up key", "gas contact welded, or not read", "wear, wire", "gas at set-up", "burn with the door open", 9, 2, 4,
		"proof test of both contacts", "second contact in bus G", "hardware", "", proofs("set_up_key")},
}

func proofs(names ...string) []string { return names }
