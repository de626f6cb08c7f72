package safety

import (
	"errors"
	"fmt"
	"math"
	"time"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// Limits that no configuration may pass. The stricter "ours" stand beside the
// published ones, each with its clause.
const (
	trialOurs        = 3 * time.Second  // leaves 1 s for valve closing within the 4 s leak budget
	trialPublished   = 5 * time.Second  // OENORM EN 676 family: up to 70 kW
	trialSmallKW     = 70               // above: 3 s
	ratedLargestKW   = 120              // above, start power x time must be proven (EN 676)
	purgeShortest    = 30 * time.Second // BS 5990:2006 15.5
	airChanges       = 5                // EN 746-2:2010 5.2.3.2
	flameLoss        = time.Second      // EN 298 default: flame out to valve outputs off
	valveClosing     = time.Second      // EN 161: classes A, B, C
	flameTotal       = 3 * time.Second  // EN 746-2: with valve closing
	leakBudget       = 4 * time.Second  // unburnt gas in any 30 s
	handSpeedMax     = 10               // mm/s, hold-to-run (press-brake habit)
	wavelengthLeast  = 4.8              // um: below, the thermometer looks through the wall
	creepLongest     = 120 * time.Second
	valveFastest     = 20 * time.Millisecond  // no solenoid valve of this size is faster: common practice, no source
	heatOfStroke     = 0.5                    // heating position within this part of the stroke, ours
	softOfFuel       = 0.7                    // most of fuel_max that is still a soft flame, ours
	contactOfForce   = 0.25                   // most of force_max that still means contact, ours
	flameSensorDelay = 200 * time.Millisecond // of a UV or ionisation sensor, within flameLoss
)

// CheckProfile holds a rig profile and the warden configuration made from it
// against the standards' limits. The error joins one line a fault, each with
// the clause it breaks and what would be right.
func CheckProfile(p *rig.Profile) error {
	var faults []error
	refuse := func(broken bool, format string, args ...any) {
		if broken {
			faults = append(faults, fmt.Errorf(format, args...))
		}
	}
	if !p.Board { // nothing is driven: the person works valves and lever, unguarded
		return nil
	}
	checkGas(p, refuse)
	checkMotion(p, refuse)
	refuse(!p.Simulated && len(p.Proof) == 0,
		"proof_tests is missing; a rig that is not simulated has each protective function proven in its "+
			"interval (docs/proof-tests.md)")
	config := p.WardenConfig()
	if err := CheckConfig(&config); err != nil {
		faults = append(faults, err)
	}
	return errors.Join(faults...)
}

type refusal func(broken bool, format string, args ...any)

func checkGas(p *rig.Profile, refuse refusal) {
	g := &p.Gas
	refuse(g.Fuel == "acetylene",
		"fuel acetylene is refused: its light-up and shut-down orders differ and it decomposes by "+
			"itself; use propane or natural_gas (ours)")
	least, known := FuelFlow(g.Fuel, g.Rated)
	refuse(g.Fuel == "hydrogen",
		"fuel hydrogen is refused: its flame is invisible, an ionisation sensor does not see it for certain "+
			"(no carbon), and it rises and lights far more easily; use propane or natural_gas (ours)")
	refuse(!known && g.Fuel != "acetylene", "fuel %q is not known; use propane or natural_gas", g.Fuel)
	refuse(known && g.FuelMax > least*1.02,
		"fuel_max %.1f L/min is more than the rated %.3g kW; at most %.1f L/min (EN 746-2: rated power)",
		float64(g.FuelMax), float64(g.Rated), float64(least))
	refuse(g.FuelValves < 2,
		"%d fuel valve(s) in series; two safety shut-off valves are needed (EN 746-2:2010 5.2.2.3.2; NFPA 86)",
		g.FuelValves)
	refuse(g.Rated > ratedLargestKW,
		"rated %.3g kW; above %d kW the start power has to be proven (EN 676), which this rig cannot",
		float64(g.Rated), ratedLargestKW)
	refuse(g.Trial > trialPublished && g.Rated <= trialSmallKW,
		"trial %v is longer than 5 s, the safety time up to 70 kW (OENORM EN 676); at most 3 s here", g.Trial)
	refuse(g.Trial > trialOurs && (g.Trial <= trialPublished || g.Rated > trialSmallKW),
		"trial %v is longer than 3 s (ours up to 70 kW, OENORM EN 676 above): 3 s and 1 s closing "+
			"make the 4 s leak budget", g.Trial)
	refuse(g.ValveClosing > valveClosing, "valve_closing %v; at most 1 s (EN 161)", g.ValveClosing)
	refuse(g.ValveClosing < valveFastest,
		"valve_closing %v is no measured value; a valve needs at least 20 ms: measure the slowest one", g.ValveClosing)
	refuse(g.FlameResponse+flameSensorDelay+g.ControlResponse > flameLoss,
		"flame_response %v, a sensor delay of %v and control_response %v are longer than 1 s from flame out "+
			"to valves off (EN 298)", g.FlameResponse, flameSensorDelay, g.ControlResponse)
	unburnt := g.Trial + g.ValveClosing + g.ControlResponse
	refuse(unburnt > leakBudget,
		"trial, valve_closing and control_response make %v; at most 4 s of unburnt gas in any 30 s", unburnt)
	refuse(!p.Simulated && g.ControlResponse == 0,
		"control_response is missing; write what the burner control's maker states, it counts within the 1 s of EN 298")
	refuse(float64(g.SoftMax) > softOfFuel*float64(g.FuelMax),
		"soft_max %.3g L/min is no soft flame; at most %.3g L/min, 70 %% of fuel_max (ours)",
		float64(g.SoftMax), softOfFuel*float64(g.FuelMax))
	checkPurge(p, refuse)
	checkDilution(g, refuse)
	refuse(g.FlameSensor != "uv" && g.FlameSensor != "ionisation",
		"flame_sensor %q could see hot glass; use uv or ionisation (EN 746-2:2010 5.2.6.1)", g.FlameSensor)
	if g.Oxygen {
		for _, name := range []string{"oxygen_pressure_low", "oxygen_pressure_high", "fuel_pressure_low"} {
			refuse(!p.Sensors[name],
				"%s is not fitted; a rig with oxygen needs it (NFPA 86, oxygen safety devices)", name)
		}
	}
	refuse(!p.Sensors["flame"],
		"no flame sensor; a flame that a recipe drives is not watched and needs automatic control "+
			"(EN 746-2:2010 5.2.6.4)")
}

// MostUnburnt is the most unburnt gas in any 30 s that the warden lets through,
// seen at the flame: what its sum bounds by the signal, valve closing included
// (docs/assessor.md), and the burner control's response, by which the signal is
// behind the flame.
func MostUnburnt(p *rig.Profile) time.Duration {
	const windowMs, grows = 30_000, 121
	config := p.WardenConfig()
	signalMs := (warden.UnburntLimit(&config) + windowMs) / grows
	return time.Duration(signalMs)*time.Millisecond + p.Gas.ValveClosing + p.Gas.ControlResponse
}

func checkPurge(p *rig.Profile, refuse refusal) {
	g := &p.Gas
	refuse(g.ExtractionFlow <= 0, "extraction_flow is missing; the purge is computed from it")
	if g.ExtractionFlow <= 0 {
		return
	}
	minutes := airChanges * float64(g.EnclosedVolume) / float64(g.ExtractionFlow)
	needed := max(purgeShortest, time.Duration(minutes*float64(time.Minute)))
	refuse(g.Purge < needed,
		"purge %v is too short; at least 30 s (BS 5990:2006 15.5) and %d air changes (EN 746-2:2010 "+
			"5.2.3.2), here %v", g.Purge, airChanges, needed.Round(time.Second))
}

// checkDilution: all of the gas unburnt, well mixed in what the hood draws,
// must neither burn nor feed a fire.
func checkDilution(g *rig.Gas, refuse refusal) {
	limit, known := LowerFlammable[g.Fuel]
	if g.ExtractionFlow <= 0 || !known {
		return
	}
	most := flammablePart * limit
	refuse(FuelShare(g.FuelMax, g.ExtractionFlow) > most,
		"fuel_max %.3g L/min unburnt in extraction_flow %.4g L/min is %.2f %%; at most %.2f %%, a quarter of the "+
			"lower flammable limit (IEC 60079-20-1): at least %.0f L/min",
		float64(g.FuelMax), float64(g.ExtractionFlow), 100*FuelShare(g.FuelMax, g.ExtractionFlow), 100*most,
		math.Ceil(float64(g.FuelMax)/most))
	const enriched = OxygenAlarmPercent / 100
	refuse(OxygenShare(g.OxygenMax, g.ExtractionFlow) > enriched,
		"oxygen_max %.3g L/min in extraction_flow %.4g L/min makes %.1f %% oxygen; at most 23.5 %% "+
			"(29 CFR 1910.146): at least %.0f L/min", float64(g.OxygenMax), float64(g.ExtractionFlow),
		100*OxygenShare(g.OxygenMax, g.ExtractionFlow),
		math.Ceil(float64(g.OxygenMax)*(1-airOxygen)/(enriched-airOxygen)))
}

func checkMotion(p *rig.Profile, refuse refusal) {
	refuse(!p.Simulated && p.Press.ManualRelease == "",
		"press.manual_release is missing; write where and how a trapped person is freed with everything off: a lever or "+
			"screw, reached without a tool (docs/wiring.md); the program cannot open a press without power")
	refuse(!p.Press.Brake,
		"the press has no brake; removing force must not let it fall (ISO 16092, restraint against gravity fall)")
	r := &p.Press
	refuse(float64(r.HeatUpTo) > heatOfStroke*float64(r.End),
		"heat_up_to %.4g mm reaches the moulds; heat at most at %.4g mm, half of the travel, well before contact (ours)",
		float64(r.HeatUpTo), heatOfStroke*float64(r.End))
	refuse(float64(r.Contact) > contactOfForce*float64(r.ForceMax),
		"contact %.4g N is felt too late; at most %.4g N, a quarter of force_max (ours)",
		float64(r.Contact), contactOfForce*float64(r.ForceMax))
	refuse(p.Press.Kind == "weights" && !p.Press.LiftOff,
		"a weight press needs a lift-off; without it the force cannot be removed")
	refuse(p.Press.HandSpeed > handSpeedMax,
		"hand_speed %.3g mm/s; hold-to-run at most %d mm/s (set-up practice of presses)",
		float64(p.Press.HandSpeed), handSpeedMax)
	refuse(p.Burner.StrokeFlame == "soft" && !p.Burner.Fixed,
		"stroke_flame soft is for a fixed burner; a slide goes clear")
	refuse(p.Burner.StrokeFlame == "clear" && p.Burner.Fixed,
		"stroke_flame clear needs a burner that can go clear; a fixed one allows soft or off")
	t := &p.Thermometer
	refuse(t.Fitted && float64(t.Wavelength) < wavelengthLeast,
		"a thermometer of %.3g um looks through the glass wall; use 4.8 um or longer", float64(t.Wavelength))
}

// CheckConfig holds a warden configuration against the limits, whoever made
// it: it is run on what a board reports, too.
func CheckConfig(c *warden.Config) error {
	var faults []error
	most := func(name string, have, limit uint32, clause string) {
		if have > limit {
			faults = append(faults, fmt.Errorf("%s is %d; at most %d (%s)", name, have, limit, clause))
		}
	}
	least := func(name string, have, limit uint32, clause string) {
		if have < limit {
			faults = append(faults, fmt.Errorf("%s is %d; at least %d (%s)", name, have, limit, clause))
		}
	}
	const oneS = 1000
	most("TrialMs", uint32(c.TrialMs), oneS*3, "leak budget of 4 s with 1 s closing")
	least("TrialMs", uint32(c.TrialMs), 500, "an igniter needs time")
	least("PurgeMs", c.PurgeMs, uint32(purgeShortest.Milliseconds()), "BS 5990:2006 15.5")
	least("PostPurgeMs", c.PostPurgeMs, 30*oneS, "DGUV 79 par. 28, our 30 s")
	least("CheckMs", uint32(c.CheckMs), 5*oneS, "flame absent before purge, ours")
	least("IgniterMs", uint32(c.IgniterMs), 500, "igniter before fuel")
	least("ProveMs", uint32(c.ProveMs), oneS, "flame proven, ours")
	least("ProveDarkMs", uint32(c.ProveDarkMs), oneS, "an ionisation sensor may read the spark")
	least("OxygenAfterMs", uint32(c.OxygenAfterMs), oneS, "fuel first, oxygen after proof")
	most("FlameOffMs", uint32(c.FlameOffMs)+200, oneS, "EN 298, with a sensor delay of 200 ms")
	most("FlameOnMs", uint32(c.FlameOnMs), 500, "within the trial")
	most("ValveCloseMs", uint32(c.ValveCloseMs), oneS, "EN 161")
	most("FlameOffMs and ValveCloseMs", uint32(c.FlameOffMs)+uint32(c.ValveCloseMs),
		uint32(flameTotal.Milliseconds()), "EN 746-2")
	most("TrialMs and ValveCloseMs", uint32(c.TrialMs)+uint32(c.ValveCloseMs),
		uint32(leakBudget.Milliseconds()), "unburnt gas in any 30 s")
	most("OffMs", uint32(c.OffMs), oneS, "oxygen, then fuel within 1 s")
	least("OffMs", uint32(c.OffMs), 100, "oxygen, then fuel")
	most("LeaseMs", uint32(c.LeaseMs), 500, "lease, ours")
	most("ArmMs", c.ArmMs, 60*oneS, "START within 60 s of arming, ours")
	most("CreepMs", c.CreepMs, uint32(creepLongest.Milliseconds()), "a safing output ends by itself")
	most("RampMs", uint32(c.RampMs), oneS, "stop category 1, then power off")
	most("EaseMs", uint32(c.EaseMs), oneS, "force ramp-down")
	most("HandCmms", uint32(c.HandCmms), handSpeedMax*100, "hold-to-run")
	most("HandsMs", uint32(c.HandsMs), 500, "two-hand control, ISO 13851")
	most("SetUpDrpm", uint32(c.SetUpDrpm), 400, "set-up: below 50 rpm as measured")
	most("SampleMs", uint32(c.SampleMs), 200, "stroke on samples younger than 200 ms")
	most("EstimateMs", uint32(c.EstimateMs), 2*oneS, "extrapolation, ours")
	most("ExtractionMs", uint32(c.ExtractionMs), oneS, "extraction lost")
	most("SpindleStallMs", uint32(c.SpindleStallMs), 2*oneS, "matrix row 10")
	most("ParkMs", c.ParkMs, 30*60*oneS, "a parked flame is not forgotten")
	most("ForceMaxDN", uint32(c.ForceMaxDN)+1, uint32(c.OverForceDN), "the trip lies above the limit")
	most("OverForceDN", uint32(c.OverForceDN), 0x7FFF, "range of the force input")
	most("PullMaxDN", uint32(c.PullMaxDN), 0x7FFF, "range of the force input")
	checkFlows(c, most, least)
	checkParting(c, most, least)
	if uint32(c.EaseStepDN)*uint32(c.EaseMs) < uint32(c.ForceMaxDN) {
		faults = append(faults, fmt.Errorf("EaseStepDN %d does not ramp %d within %d ms",
			c.EaseStepDN, c.ForceMaxDN, c.EaseMs))
	}
	checkFitted(c, &faults)
	checkHands(c, &faults)
	return errors.Join(faults...)
}

type limit func(name string, have, limit uint32, clause string)

// checkFlows: what a flow may be off, and how long a flame may burn.
func checkFlows(c *warden.Config, most, least limit) {
	const oneS, oneH = 1000, 3600000
	most("FlowSettleMs", uint32(c.FlowSettleMs), oneS, "a flow controller follows within 1 s, ours")
	least("FlowSettleMs", uint32(c.FlowSettleMs), 100, "a flow controller needs time")
	most("FlowOffMs", uint32(c.FlowOffMs), 2*oneS, "a flow that is not what is asked, ours")
	most("FlowOffPC", uint32(c.FlowOffPC), 20, "a flow that is not what is asked, ours")
	most("FlowOffMl", uint32(c.FlowOffMl), 100, "a flow that is not what is asked, ours")
	most("FlowOverMs", uint32(c.FlowOverMs), 500, "a flow far above what is asked, ours")
	most("FlowOverPC", uint32(c.FlowOverPC), 150, "a flow far above what is asked, ours")
	least("FlowOverPC", uint32(c.FlowOverPC), 100+uint32(c.FlowOffPC), "far above lies above off")
	most("FlowNoneMl", uint32(c.FlowNoneMl), 200, "a flow that nobody asked for, ours")
	most("RatioMs", uint32(c.RatioMs), 2*oneS, "EN 746-2, a wrong ratio; the time is ours")
	most("RatioHighPC", uint32(c.RatioHighPC), 1000, "twice what burns propane whole")
	most("RatioLowPC", uint32(c.RatioLowPC), uint32(c.RatioHighPC), "the window's low end")
	least("RunMs", c.RunMs, 60*oneS, "a light-up needs time")
	if c.Options&warden.OptSelfChecking == 0 {
		most("RunMs", c.RunMs, 24*oneH, "burning beyond 24 h needs a flame control that checks itself, EN 298")
	}
	least("SharpMs", c.SharpMs, 10*oneS, "a blank needs time")
	most("SharpMs", c.SharpMs, oneH, "longest sharp flame at the blank, ours")
}

// checkParting: how the halves of a driven press part by themselves.
func checkParting(c *warden.Config, most, least limit) {
	if c.Options&warden.OptPressDriven == 0 {
		return
	}
	most("PartMs", uint32(c.PartMs), 10000, "glass that waits longer shrinks on to the moulds, ours")
	least("PartMs", uint32(c.PartMs), 100, "the force has to be eased first")
	most("PartCmms", uint32(c.PartCmms), uint32(c.HandCmms), "no faster than by hand")
	least("PartCmms", uint32(c.PartCmms), 10, "a drive that stands parts nothing")
	least("PartOpenMs", uint32(c.PartOpenMs), 1000, "opening needs time")
}

// essentialInputs exist on every rig with a board: without them no permit
// could ever be told from a missing wire, and without hold-to-run open a press
// that stopped in mid-stroke could never be opened again (invariant 17).
const essentialInputs = warden.InEstopOK | warden.InDoorClosed | warden.InFlame |
	warden.InExtraction | warden.InPressOpen | warden.InStart | warden.InReset | warden.InHoldOpen

// checkHands: what stands in for the closed door is fitted whole.
func checkHands(c *warden.Config, faults *[]error) {
	const both = warden.InTwoHandLeft | warden.InTwoHandRight
	if have := c.FittedIn & both; have != 0 && have != both {
		*faults = append(*faults, fmt.Errorf("one actuator of two-hand control; it has two (ISO 13851)"))
	}
	if c.FittedIn&warden.InHoldTurn != 0 && c.FittedIn&warden.InSetUp == 0 {
		*faults = append(*faults, fmt.Errorf("hold_turn without the set_up key switch"))
	}
}

func checkFitted(c *warden.Config, faults *[]error) {
	for _, s := range rig.Switches {
		if essentialInputs&s.Bit != 0 && c.FittedIn&s.Bit == 0 {
			*faults = append(*faults, fmt.Errorf("%s is not fitted; every rig needs it", s.Name))
		}
	}
	fixed := c.Options&warden.OptBurnerFixed != 0
	for _, bit := range []uint32{warden.InBurnerClear, warden.InBurnerAtBlank} {
		if !fixed && c.FittedIn&bit == 0 {
			*faults = append(*faults, fmt.Errorf("a burner that moves needs both position switches (input %#x)", bit))
		}
	}
	glass := c.FittedAnalog&(1<<warden.AiGlass) != 0
	if !glass && c.FittedIn&warden.InSoft == 0 {
		*faults = append(*faults, fmt.Errorf("neither thermometer nor SOFT button: nothing could permit a stroke"))
	}
	spindle := c.Options&warden.OptSpindleFitted != 0
	if spindle && c.FittedAnalog&(1<<warden.AiSpindle) == 0 {
		*faults = append(*faults, fmt.Errorf("a spindle needs its speed sensor"))
	}
	if c.Options&warden.OptPressDriven != 0 && c.FittedAnalog&(1<<warden.AiForce) == 0 {
		*faults = append(*faults, fmt.Errorf("a driven press needs its force sensor"))
	}
}
