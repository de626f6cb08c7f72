package rig

import (
	"math"
	"time"

	"pressrig/safety/warden"
	"pressrig/units"
)

// Times of the warden that a profile does not choose, with the reason. Package
// safety checks the whole configuration against the standards' limits.
const (
	checkMs          = 5_000   // long enough to see a flame signal that should not be there
	igniterMs        = 1_000   // spark stands before fuel comes
	flameOnMs        = 100     // unbroken flame that ends the trial: no single spark does
	proveMs          = 1_000   // flame stands, with and then without the igniter
	oxygenAfterMs    = 1_000   // invariant 2
	offMs            = 500     // oxygen first, fuel follows, well inside 1 s
	postPurgeMs      = 30_000  // fumes of a shut-off leave the hood
	leaseMs          = 500     // invariant 8
	armMs            = 60_000  // invariant 7
	creepMs          = 120_000 // longest creep that keeps soft glass round
	rampMs           = 1_000
	easeMs           = 1_000
	handRetractMs    = 30_000 // a person lifts the press
	spareRetractMs   = 2_000  // brake, start and stop of a driven opening
	viewMs           = 300    // workshop practice: flame aside for 0.3 s
	sampleMs         = 200    // invariant 9
	estimateMs       = 2_000  // invariant 9
	stallMs          = 2_000
	extractionMs     = 500
	extractionWaitMs = 10_000
	pressureMs       = 200
	slideMs          = 2_000  // a driven slide
	handSlideMs      = 10_000 // a person swings the burner
	buttonMs         = 3_000  // longer is a stuck button
	handsMs          = 500    // two-hand control: ISO 13851
	flowSettleMs     = 1_000  // a flow controller follows within a second
	flowOffMs        = 2_000  // off what is asked: ours
	flowOffPC        = 20     // a flame that is a fifth off is another flame
	flowOffMl        = 100    // and what a meter of some 20 L/min can be wrong by
	flowOverMs       = 500    // far above: ours
	flowOverPC       = 150
	flowNoneMl       = 200 // twice what a meter can be wrong by
	ratioMs          = 2_000
	noGlassHighDC    = 12_000 // clip of the window where nothing measures it
)

// SoftPermit is how long the SOFT button permits a stroke where no thermometer
// is fitted: glass in the open loses 6 to 18 K/s, and a soak goes before.
const SoftPermit = 30 * time.Second

// WardenConfig is the configuration of the microcontroller for this rig, in
// its fixed point. Values saturate at the ends of their type, so that a number
// never wraps; ParseProfile has already kept all of them far inside.
func (p *Profile) WardenConfig() warden.Config {
	c := warden.Config{
		Options: p.options(),
		CheckMs: checkMs, PurgeMs: ms32(p.Gas.Purge), IgniterMs: igniterMs,
		TrialMs: ms16(p.Gas.Trial), FlameOnMs: flameOnMs, ProveMs: proveMs, ProveDarkMs: proveMs,
		FlameOffMs: ms16(p.Gas.FlameResponse), OxygenAfterMs: oxygenAfterMs, OffMs: offMs,
		PostPurgeMs: postPurgeMs, ValveCloseMs: ms16(p.Gas.ValveClosing),
		ParkMs:  ms32(p.Burner.ParkLongest),
		LeaseMs: leaseMs, ArmMs: armMs, CreepMs: creepMs, RampMs: rampMs, EaseMs: easeMs,
		RetractMs: p.openingMs(p.Press.HandSpeed), SoftMs: ms16(SoftPermit),
		ViewMs: viewMs, SampleMs: sampleMs, EstimateMs: estimateMs, SpindleStallMs: stallMs,
		ExtractionMs: extractionMs, ExtractionWaitMs: extractionWaitMs, PressureMs: pressureMs,
		SlideMs: slideMs, ButtonMs: buttonMs, HandsMs: handsMs,
		PartMs: ms16(p.Press.PartAfter), PartOpenMs: p.openingMs(p.Press.PartSpeed),
		FlowSettleMs: flowSettleMs, FlowOffMs: flowOffMs, FlowOffPC: flowOffPC, FlowOffMl: flowOffMl,
		FlowOverMs: flowOverMs, FlowOverPC: flowOverPC, FlowNoneMl: flowNoneMl, RatioMs: ratioMs,
		RunMs: ms32(p.Gas.RunLongest), SharpMs: ms32(p.Gas.SharpLongest),
	}
	if p.Burner.Slide == HandWithSwitch {
		c.SlideMs = handSlideMs
	}
	p.fittedBits(&c)
	p.limits(&c)
	return c
}

func (p *Profile) fittedBits(c *warden.Config) {
	for _, s := range Switches {
		if p.Sensors[s.Name] {
			c.FittedIn |= s.Bit
		}
	}
	for _, a := range Analogs {
		if p.Sensors[a.Name] {
			c.FittedAnalog |= 1 << a.AI
		}
	}
}

func (p *Profile) limits(c *warden.Config) {
	c.FuelMaxMl = u16(float64(p.Gas.FuelMax) * 1000)
	c.SoftMaxMl = u16(float64(p.Gas.SoftMax) * 1000)
	c.OxygenMaxMl = u16(float64(p.Gas.OxygenMax) * 1000)
	c.SpindleMaxDrpm = u16(float64(p.Spindle.Max) * 10)
	c.SpindleHeatDrpm = u16(float64(p.Spindle.Heat) * 10)
	c.CreepDrpm = u16(float64(p.Spindle.Creep) * 10)
	c.SetUpDrpm = u16(float64(p.Spindle.SetUp) * 10)
	c.PressLowDrpm = u16(float64(p.Spindle.PressLow) * 10)
	c.PressHighDrpm = u16(float64(p.Spindle.PressHigh) * 10)
	c.OpenCmm = i16(float64(p.Press.OpenUpTo) * 100)
	c.HeatCmm = i16(float64(p.Press.HeatUpTo) * 100)
	c.EndCmm = i16(float64(p.Press.End) * 100)
	c.SpeedMaxCmms = u16(float64(p.Press.SpeedMax) * 100)
	c.HandCmms = u16(float64(p.Press.HandSpeed) * 100)
	c.PartCmms = u16(float64(p.Press.PartSpeed) * 100)
	c.RatioLowPC = u16(p.Gas.RatioLow * 100)
	c.RatioHighPC = u16(p.Gas.RatioHigh * 100)
	c.ForceMaxDN = u16(float64(p.Press.ForceMax) * 10)
	c.OverForceDN = i16dn(float64(p.Press.OverForce) * 10)
	c.EaseStepDN = (c.ForceMaxDN + easeMs - 1) / easeMs
	c.PullMaxDN = u16(float64(p.Press.PullMax) * 10)
	c.ContactDN = u16(float64(p.Press.Contact) * 10)
	c.GlassHighDC = noGlassHighDC
	if p.Thermometer.Fitted {
		c.GlassLowDC = i16(float64(p.Thermometer.Low) * 10)
		c.GlassHighDC = i16(float64(p.Thermometer.High) * 10)
	}
}

func (p *Profile) options() (o uint16) {
	set := func(bit uint16, on bool) {
		if on {
			o |= bit
		}
	}
	set(warden.OptSpindleTurns, p.Spindle.AtPress == "turning")
	set(warden.OptSpindleIndexed, p.Spindle.AtPress == "indexed")
	set(warden.OptSpindleFitted, p.Spindle.Fitted == Driven || p.Spindle.Fitted == HandWithSwitch)
	set(warden.OptBurnerDriven, p.Burner.Slide == Driven)
	set(warden.OptBurnerFixed, p.Burner.Fixed)
	set(warden.OptPressDriven, p.Press.Fitted == Driven)
	set(warden.OptViewAlways, p.Thermometer.Fitted && p.Thermometer.View == "always")
	set(warden.OptStrokeFlameClear, p.Burner.StrokeFlame == "clear")
	set(warden.OptStrokeFlameSoft, p.Burner.StrokeFlame == "soft")
	set(warden.OptParkedDoorOpen, p.Burner.ParkedDoorOpen)
	set(warden.OptOxygenFitted, p.Gas.Oxygen)
	set(warden.OptSelfChecking, p.Gas.SelfChecking)
	set(warden.OptFanSafe, p.Gas.FanPlace == "outside_hazardous_area" || p.Gas.FanPlace == "rated")
	return o
}

// openingMs is the longest opening movement: the whole travel at the speed, with
// something to spare.
func (p *Profile) openingMs(speed units.MillimetrePerSecond) uint16 {
	if p.Press.Fitted != Driven || speed <= 0 {
		return handRetractMs
	}
	seconds := float64(p.Press.End) / float64(speed)
	return u16(seconds*1000 + spareRetractMs)
}

// i16dn keeps a force inside what its input can show, or it would never trip.
func i16dn(v float64) uint16 { return min(u16(v), math.MaxInt16) }

// u16 rounds and saturates; a NaN or a negative number is 0.
func u16(v float64) uint16 {
	switch v = math.Round(v); {
	case !(v > 0):
		return 0
	case v > math.MaxUint16:
		return math.MaxUint16
	}
	return uint16(v)
}

// i16 rounds and saturates; a NaN is 0.
func i16(v float64) int16 {
	switch v = math.Round(v); {
	case v != v:
		return 0
	case v > math.MaxInt16:
		return math.MaxInt16
	case v < math.MinInt16:
		return math.MinInt16
	}
	return int16(v)
}

func ms16(t time.Duration) uint16 { return u16(float64(t / time.Millisecond)) }

func ms32(t time.Duration) uint32 {
	n := t / time.Millisecond
	return uint32(min(max(n, 0), math.MaxUint32))
}
