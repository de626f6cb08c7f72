package oracle

// Row is one cause and what has to follow from it.
type Row struct {
	Number   uint8
	Cause    string
	Gas      string // keep, sequenced, shut
	Spindle  string // keep, creep, ramp, off
	Above    string // press above contact: keep, inhibit, retract, stay, ease, off
	Contact  string // press in contact, the same words
	Lock     string // none, hold, abort, lockout
	Priority uint8  // 1 high, 2 medium, 3 low
	Warden   bool   // the warden sees it; else the supervisor
	WithinMs uint32 // longest time from the condition at the input to the reaction
	Armed    string // when the condition counts
}

// Orders, weakest first: causes that act together combine by the strongest of
// each column.
var (
	GasOrder     = []string{"keep", "sequenced", "shut"}
	SpindleOrder = []string{"keep", "creep", "ramp", "off"}
	PressOrder   = []string{"keep", "inhibit", "retract", "stay", "ease", "part", "off"}
	LockOrder    = []string{"none", "hold", "abort", "lockout"}
)

// Rows is the matrix. Times: one tick of the warden is 1 ms; a valve closes
// within 1 s (EN 161, classes A to C, from memory).
var Rows = [...]Row{
	{1, "emergency stop", "shut", "ramp", "off", "off", "lockout", 1, true, 6, "always"},
	{2, "safety door open", "shut", "ramp", "off", "off", "abort", 1, true, 6,
		"something energised, spindle turning or press not open"},
	{3, "flame lost in run", "shut", "creep", "retract", "part", "lockout", 1, true, 1000, "run"},
	{4, "flame not proven in the trial", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 1,
		"trial and proof"},
	{5, "flame seen before ignition or after shut-off", "shut", "creep", "inhibit", "inhibit", "lockout",
		1, true, 100, "before ignition, and from 2 s after shut-off"},
	{6, "fuel pressure low", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 200,
		"check to post-purge"},
	{7, "fuel pressure high", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 200,
		"check to post-purge"},
	{8, "oxygen pressure low", "sequenced", "creep", "inhibit", "inhibit", "abort", 2, true, 200,
		"check to post-purge"},
	{9, "oxygen pressure high", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 200,
		"check to post-purge"},
	{10, "spindle not turning while heating", "shut", "off", "retract", "inhibit", "abort", 1, true, 2000,
		"flame at the blank; of a fixed burner more than soft"},
	{11, "spindle not in its press state at approach", "keep", "keep", "retract", "inhibit", "hold", 2,
		true, 1, "closing above contact"},
	{12, "spindle stalls in contact", "shut", "off", "off", "off", "abort", 1, true, 500, "contact"},
	{13, "press over-force", "sequenced", "creep", "off", "off", "abort", 1, true, 1, "always"},
	{14, "press over-travel or both end switches", "shut", "creep", "off", "off", "lockout", 1, true, 1,
		"always"},
	// "No open": a valve that is open has to close, and the mildest way is in order.
	// Retract is "decompress and hold" once in contact.
	{15, "press not open when heating is wanted", "sequenced", "keep", "retract", "ease", "hold", 2,
		true, 200, "heat wanted or flame at the blank; burner in the stroke"},
	{16, "press leaves open while heating", "shut", "creep", "off", "off", "lockout", 1, true, 1,
		"flame at the blank, no stroke permitted"},
	{17, "press does not open: glass sticks", "sequenced", "creep", "stay", "stay", "abort", 2, true, 500,
		"opening"},
	{18, "thermometer broken or out of range", "sequenced", "keep", "inhibit", "inhibit", "hold", 2,
		false, 500, "view free and temperature needed"},
	{19, "thermometer implausible", "sequenced", "keep", "inhibit", "inhibit", "hold", 2, false, 20000,
		"view free; no rise only while heating up"},
	{20, "glass too hot", "sequenced", "keep", "inhibit", "inhibit", "hold", 2, false, 500, "view free"},
	{21, "link lost, seen by the microcontroller", "shut", "creep", "stay", "ease", "abort", 1, true, 501,
		"something energised"},
	{22, "link lost, seen by the daemon", "keep", "keep", "keep", "keep", "abort", 1, false, 500,
		"a cycle runs"},
	{23, "microcontroller restarted", "shut", "off", "off", "off", "lockout", 1, true, 0,
		"power-up after a light-up or lockout"},
	{24, "daemon restarted", "keep", "keep", "keep", "keep", "abort", 2, false, 0, "at its start"},
	{25, "wall clock jumped", "keep", "keep", "keep", "keep", "none", 3, false, 1000, "always"},
	{26, "host suspended: clocks differ by more than 1 s", "shut", "creep", "stay", "stay", "abort", 1,
		false, 10000, "a cycle runs"},
	{27, "journal not writable, idle: start refused", "keep", "keep", "keep", "keep", "none", 2, false, 0,
		"at a start"},
	{28, "journal not writable, running: finish, then refuse", "keep", "keep", "keep", "keep", "none", 2,
		false, 1000, "a cycle runs"},
	{29, "broker lost", "keep", "keep", "keep", "keep", "none", 3, false, 10000, "always"},
	{30, "extraction lost", "sequenced", "creep", "inhibit", "inhibit", "abort", 1, true, 500,
		"check to post-purge; 10 s while the fan starts in purge"},
	{31, "gas or oxygen detector", "shut", "creep", "retract", "inhibit", "lockout", 1, true, 6,
		"always, where fitted"},
	{32, "flashback arrestor tripped", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 6,
		"check to post-purge"},
	{33, "valve feedback mismatch", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 1500,
		"where fitted"},
	{34, "two-hand control released in the stroke", "keep", "keep", "off", "off", "hold", 3, true, 1,
		"stroke under two hands"},
	{35, "bad frames: 3 in 1 s or 10 in 6 min", "shut", "creep", "stay", "ease", "abort", 1, true, 1,
		"something energised"},
	{36, "mains fails", "shut", "off", "off", "off", "lockout", 1, true, 6, "always, where fitted"},
	{37, "reset or start button stuck", "keep", "keep", "inhibit", "inhibit", "none", 2, true, 3000,
		"always"},

	// The project's own rows, typed from the published page on safety.
	{38, "unburnt fuel within 30 s", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true, 1,
		"fuel open"},
	{39, "burner slide did not arrive", "shut", "creep", "inhibit", "inhibit", "abort", 2, true, 2000,
		"something energised"},
	{40, "aborted by operator or supervisor, or opened by hand in a running stroke", "shut", "creep", "stay", "ease", "abort", 2, true, 1,
		"something energised"},
	{41, "non-volatile memory does not hold its byte", "shut", "creep", "inhibit", "inhibit", "lockout",
		1, true, 1000, "always"},
	{42, "key switch turned to set-up", "sequenced", "ramp", "stay", "ease", "abort", 2, true, 1,
		"a cycle, a light-up, a turning spindle or a moving press"},
	{43, "press force not sensed", "sequenced", "creep", "stay", "ease", "abort", 1, true, 300,
		"press moves or works, where fitted"},
	{44, "press travel not sensed", "sequenced", "creep", "stay", "ease", "abort", 1, true, 500,
		"press moves or works, where fitted"},
	{45, "spindle above its limit or backwards", "shut", "off", "stay", "ease", "abort", 1, true, 200, "always"},
	{46, "spindle asked for in contact where it has to stand", "keep", "ramp", "stay", "ease", "abort", 2, true, 1,
		"contact"},
	{47, "hold-to-run too fast", "keep", "off", "off", "off", "abort", 1, true, 100, "hold-to-run"},
	{48, "chuck not clamped", "sequenced", "ramp", "stay", "ease", "abort", 1, true, 100,
		"spindle powered or press pushing, where fitted"},
	{49, "fuel or oxygen flow not what is asked", "sequenced", "creep", "inhibit", "inhibit", "abort", 1, true, 2000,
		"valves open, where measured; a step has 1 to 2 s to arrive"},
	{50, "fuel or oxygen flow far above what is asked, or unasked", "shut", "creep", "inhibit", "inhibit", "lockout", 1, true,
		500, "always, where measured; a step has 1 to 2 s to arrive"},
	{51, "oxygen to fuel outside its window", "sequenced", "creep", "inhibit", "inhibit", "abort", 1, true, 2000,
		"oxygen open, both measured and settled"},
	{52, "sharp flame at the blank for too long", "sequenced", "creep", "inhibit", "inhibit", "abort", 2, true, 1,
		"oxygen, or more fuel than a soft flame, at the blank"},

	{60, "the board contradicts itself, what comes in or what was asked", "shut", "creep", "stay", "stay", "abort", 1,
		false, 300, "always"},
}

// Find gives the row of a number.
func Find(number uint8) (Row, bool) {
	for _, r := range Rows {
		if r.Number == number {
			return r, true
		}
	}
	return Row{}, false
}

// Strongest combines the reactions of two rows column by column. Number, cause,
// priority and owner stay those of a.
func Strongest(a, b Row) Row {
	a.Gas = stronger(GasOrder, a.Gas, b.Gas)
	a.Spindle = stronger(SpindleOrder, a.Spindle, b.Spindle)
	a.Above = stronger(PressOrder, a.Above, b.Above)
	a.Contact = stronger(PressOrder, a.Contact, b.Contact)
	a.Lock = stronger(LockOrder, a.Lock, b.Lock)
	return a
}

// stronger is the word that stands later in order.
func stronger(order []string, a, b string) string {
	for _, word := range order {
		if word == a {
			return b
		}
		if word == b {
			return a
		}
	}
	return "a word outside the order"
}
