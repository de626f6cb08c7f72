package controller

import (
	"math"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
	"pressrig/units"
)

// Config is what a Machine is made for: one rig.
type Config struct {
	Profile *rig.Profile
	// Board are the limits that the board was given; nil: the profile's.
	Board *warden.Config
	// Interrupted: the daemon before this one ended in a cycle (row 24).
	Interrupted bool
}

// limits are the profile's figures in the warden's counts, so that a step
// computes with integers only.
type limits struct {
	profile     *rig.Profile   // for calibrations
	guarded     bool           // a microcontroller is there; else assisted mode only
	board       *warden.Config // its limits, never written; nil without one
	thermometer bool
	viewAlways  bool   // the line of sight never crosses the flame
	analogOK    uint16 // analog channels that are fitted: what is not is never believed
	mouldLower  bool
	mouldUpper  bool
	slide       rig.Fitted
	fixed       bool // burner fixed where the stroke cannot meet it
	doorOpenLit bool // a parked soft flame may burn with the door open
	spindle     rig.Fitted
	spindleDrv  bool
	pressDriven bool

	fuelMaxMl   uint16
	softMaxMl   uint16
	oxygenMaxMl uint16
	spindleDrpm uint16 // largest speed
	openCmm     int16
	heatCmm     int16
	endCmm      int16
	speedCmms   uint16
	handCmms    uint16
	forceDN     uint16
	pullDN      uint16
	parkMs      uint64
}

func limitsOf(p *rig.Profile) limits {
	if p == nil {
		p = &rig.Profile{} // assisted mode with nothing fitted
	}
	config := p.WardenConfig()
	l := limits{
		profile:     p,
		guarded:     p.Board,
		thermometer: p.Thermometer.Fitted,
		viewAlways:  p.Thermometer.View == "always",
		analogOK:    config.FittedAnalog,
		mouldLower:  p.Sensors["mould_lower"],
		mouldUpper:  p.Sensors["mould_upper"],
		slide:       p.Burner.Slide,
		fixed:       p.Burner.Fixed,
		doorOpenLit: p.Burner.ParkedDoorOpen,
		spindle:     p.Spindle.Fitted,
		spindleDrv:  p.Spindle.Fitted == rig.Driven,
		pressDriven: p.Press.Fitted == rig.Driven,
		fuelMaxMl:   millilitres(p.Gas.FuelMax),
		softMaxMl:   millilitres(p.Gas.SoftMax),
		oxygenMaxMl: millilitres(p.Gas.OxygenMax),
		spindleDrpm: tenthsRPM(p.Spindle.Max),
		openCmm:     hundredthsMM(p.Press.OpenUpTo),
		heatCmm:     hundredthsMM(p.Press.HeatUpTo),
		endCmm:      hundredthsMM(p.Press.End),
		speedCmms:   hundredthsMMS(p.Press.SpeedMax),
		handCmms:    hundredthsMMS(p.Press.HandSpeed),
		forceDN:     tenthsN(p.Press.ForceMax),
		pullDN:      tenthsN(p.Press.PullMax),
		parkMs:      ms(p.Burner.ParkLongest),
	}
	if l.guarded {
		l.board = &config
	}
	return l
}

// count rounds v*scale into 0 to 65,535.
func count(v, scale float64) uint16 {
	return uint16(max(0, min(math.MaxUint16, math.Round(v*scale))))
}

func millilitres(v units.LitrePerMinute) uint16        { return count(float64(v), 1000) }
func tenthsRPM(v units.RPM) uint16                     { return count(float64(v), 10) }
func hundredthsMMS(v units.MillimetrePerSecond) uint16 { return count(float64(v), 100) }
func tenthsN(v units.Newton) uint16                    { return count(float64(v), 10) }
func hundredthsMM(v units.Millimetre) int16 {
	return int16(min(math.MaxInt16, count(float64(v), 100)))
}

// shown is the count that analog channel ai shows when the true value is v, as
// the warden will see it; at the ends of the range it saturates.
func (l *limits) shown(ai uint8, v float64) int16 {
	n, err := l.profile.CountFor(ai, v)
	if err == nil {
		return n
	}
	if v < 0 {
		return math.MinInt16
	}
	return math.MaxInt16
}

// glassDC is a true glass temperature as the thermometer shows it, 0.1 C.
func (l *limits) glassDC(v units.Celsius) int16 { return l.shown(warden.AiGlass, float64(v)) }

// travelCmm is a true press travel as its sensor shows it, 0.01 mm.
func (l *limits) travelCmm(v units.Millimetre) int16 {
	return l.shown(warden.AiTravel, float64(v))
}

// trueOf is the calibrated value of a count, in the channel's base unit.
func (l *limits) trueOf(ai uint8, count int16) float64 { return l.profile.Calibrated(ai, count) }

// ms is a duration in whole milliseconds, never negative.
func ms(d time.Duration) uint64 { return uint64(max(0, d.Milliseconds())) }

// Named limits of the cycle machine, each with its reason.
const (
	// JournalWaitMs: a commit takes some milliseconds; a disk that needs longer
	// is failing, and the blank is still cold.
	JournalWaitMs = 5_000
	// SnapshotWaitMs: a start waits this long for a snapshot to begin from.
	SnapshotWaitMs = 500
	// StartWaitMs: invariant 7; a person who armed and walked away has to arm again.
	StartWaitMs = 60_000
	// StartLostMs: longer than two snapshots, shorter than a lease.
	StartLostMs = 300
	// MaxArmings in a cycle, so that their numbers never meet another cycle's.
	MaxArmings = 15
	// FlameMissingMs: a flame that a phase needs and that is not there.
	FlameMissingMs = 1_000
	// PausedLongestMs: moulds and a warmed blank lose too much in more.
	PausedLongestMs = 120_000
	// KeepWarmLongestMs caps on_hold: longer devitrifies soda-lime and sags.
	KeepWarmLongestMs = 120_000
	// TurnAfterMs: an open 2.5 mm wall loses 15 K/s at 850 C and is stiff within
	// a minute; standing still sooner, it sags to one side.
	TurnAfterMs = 60_000
	// HeldLongestMs: a hold that nobody restarts ends stopped.
	HeldLongestMs = 300_000
	// SettleMs: longest wait for the press to open after a hold or stop.
	SettleMs = 20_000
	// QuietMs: longest wait for the gas to be shut after a stop.
	QuietMs = 5_000
	// AbortWaitMs: the warden answers an abort in its next tick; this is ten
	// requests.
	AbortWaitMs = 1_000
	// ResetWaitMs: as long as a reset is repeated to the rig.
	ResetWaitMs = 2_000
	// RelightMs: longest light-up of a restart when the recipe has no light phase.
	RelightMs = 240_000
	// MaxBands in a phase, so that their timers have a place.
	MaxBands = 16
	// toldMost trips and alarms at once, one more each toldEveryMs: PROTOCOL.md, section
	// 5, lets a board tell 10 events a second.
	toldMost    = 10
	toldEveryMs = 100
	// HornMs: long enough to hear, short enough to bear.
	HornMs = 600
	// HotMarginDC: glass this far above everything the phase aims at is too hot.
	HotMarginDC = 400
	// RiseMarginDC: "no rise" counts only this far below the target, since a
	// flame's end temperature is a balance that is reached slowly.
	RiseMarginDC = 300
)

// energising are the outputs that a cycle must be started for.
const energising = warden.OutFuel | warden.OutOxygen | warden.OutIgniter | warden.OutBurnerIn |
	warden.OutSpindle | warden.OutPressClose
