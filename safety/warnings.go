package safety

import (
	"fmt"
	"strings"

	"pressrig/rig"
)

// guards are the protective inputs that a rig may do without: each with what
// is lost. They are named, because nobody sees a switch that is not there.
var guards = []struct{ name, lost string }{
	{"fuel_flow", "fuel far above or below what is asked is not seen"},
	{"oxygen_flow", "oxygen far above or below what is asked is not seen"},
	{"fuel_pressure_high", "a regulator that creeps high feeds a flame larger than set, and nothing shuts it"},
	{"fuel_shut", "a fuel valve stuck open is not seen before the next light-up"},
	{"oxygen_shut", "an oxygen valve stuck open is not seen before the next light-up"},
	{"gas_alarm", "a leak, and air enriched with oxygen, shut nothing and warn nobody"},
	{"flashback", "a flashback into the hoses does not shut the gas"},
	{"over_force", "at most a force sensor stands before broken moulds, and nothing watches that sensor"},
	{"mains_ok", "a falling mains is met only when it is gone"},
	{"watchdog_ok", "a dead outside watchdog is not found: its proof test has nothing to read"},
}

// Warnings are what a profile may leave out and a person should know: one line
// each, with what is lost. They refuse nothing; CheckProfile does.
func Warnings(p *rig.Profile) []string {
	if !p.Board {
		return nil
	}
	var list []string
	for _, g := range guards {
		if (g.name == "oxygen_shut" || g.name == "oxygen_flow") && !p.Gas.Oxygen {
			continue
		}
		if !p.Sensors[g.name] {
			list = append(list, g.name+" is not fitted: "+g.lost)
		}
	}
	if p.Spindle.Fitted == rig.Driven && !p.Sensors["chuck_clamped"] {
		list = append(list, "chuck_clamped is not fitted: glass can be thrown by a spindle whose chuck is open")
	}
	if p.Gas.Oxygen && p.Gas.RatioHigh == 0 && p.Sensors["fuel_flow"] && p.Sensors["oxygen_flow"] {
		list = append(list, "ratio_low and ratio_high are not written: both flows are measured and nothing judges their "+
			"ratio (EN 746-2)")
	}
	if p.Gas.FanPlace == "" || p.Gas.FanPlace == "neither" {
		list = append(list, "fan is neither outside the hazardous area nor rated for it: a standing fan stays off on a "+
			"suspected leak, and nothing carries the gas away")
	}
	if p.Gas.Fuel == "natural_gas" {
		list = append(list, "fuel natural_gas rises: the hood has to draw above the burner and the gas detector "+
			"has to hang high (propane sinks: both low)")
	}
	if left := unproven(p); len(left) > 0 {
		list = append(list, "proof_tests does not ask for "+strings.Join(left, ", ")+
			": these are fitted and nobody is told when their test is due")
	}
	if response, most := p.Gas.ControlResponse, MostUnburnt(p); most > leakBudget {
		list = append(list, fmt.Sprintf("control_response %v: up to %v of unburnt gas in 30 s at the flame, %v by its signal "+
			"and the response that the signal is behind", response, most, most-response))
	}
	return list
}

// unproven are the fitted functions whose proof test the profile does not ask for.
func unproven(p *rig.Profile) []string {
	var left []string
	for _, name := range rig.ProofFunctions() {
		if _, asked := p.Proof[name]; !asked && p.LacksFor(name) == "" {
			left = append(left, name)
		}
	}
	return left
}
