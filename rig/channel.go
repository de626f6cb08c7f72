package rig

import (
	"pressrig/safety/warden"
	"pressrig/units"
)

// Channel is one traced quantity: a name that records, recipes, telemetry and
// pictures all use, and how to find it in a Snapshot.
type Channel struct {
	Name  string // as in recipes: lower case, words joined by _
	Label string // for people
	Dim   units.Dimension
	Unit  string  // base unit of Dim
	Scale float64 // base unit of one count
	Of    func(*Snapshot) int32
	AI    int8 // analog input index, -1 for a set-point or state
}

func analog(name, label string, dim units.Dimension, unit string, scale float64,
	ai uint8) Channel {
	return Channel{name, label, dim, unit, scale,
		func(s *Snapshot) int32 { return int32(s.Analog[ai]) }, int8(ai)}
}

// Analogs are the measured quantities, in the order of warden.Ai....
var Analogs = [warden.NumAnalog]Channel{
	analog("glass", "glass temperature", units.Temperature, "C", 0.1, warden.AiGlass),
	analog("mould_lower", "lower mould half", units.Temperature, "C", 0.1, warden.AiMouldLower),
	analog("mould_upper", "upper mould half", units.Temperature, "C", 0.1, warden.AiMouldUpper),
	analog("travel", "press travel from open", units.Length, "mm", 0.01, warden.AiTravel),
	analog("force", "press force", units.Force, "N", 0.1, warden.AiForce),
	analog("spindle", "spindle speed", units.Rotation, "rpm", 0.1, warden.AiSpindle),
	analog("fuel_flow", "fuel flow", units.Flow, "L/min", 0.001, warden.AiFuelFlow),
	analog("oxygen_flow", "oxygen flow", units.Flow, "L/min", 0.001, warden.AiOxygenFlow),
	analog("fuel_pressure", "fuel pressure", units.Pressure, "bar", 0.001, warden.AiFuelPressure),
	analog("oxygen_pressure", "oxygen pressure", units.Pressure, "bar", 0.001, warden.AiOxygenPressure),
}

// ChannelNamed finds a measured quantity by its name.
func ChannelNamed(name string) (Channel, bool) {
	for _, c := range Analogs {
		if c.Name == name {
			return c, true
		}
	}
	return Channel{}, false
}

// Switch is one digital input with the name that profiles and records use.
type Switch struct {
	Bit   uint32
	Name  string
	Label string
}

// Switches are the digital inputs in bit order.
var Switches = []Switch{
	{warden.InEstopOK, "estop_ok", "emergency stop loop closed"},
	{warden.InDoorClosed, "door_closed", "safety door closed"},
	{warden.InFlame, "flame", "flame seen"},
	{warden.InExtraction, "extraction", "extraction flow proven"},
	{warden.InFuelLow, "fuel_pressure_low", "fuel pressure low"},
	{warden.InFuelHigh, "fuel_pressure_high", "fuel pressure high"},
	{warden.InOxygenLow, "oxygen_pressure_low", "oxygen pressure low"},
	{warden.InOxygenHigh, "oxygen_pressure_high", "oxygen pressure high"},
	{warden.InPressOpen, "press_open", "press open end switch"},
	{warden.InPressEnd, "press_end", "press over-travel switch"},
	{warden.InBurnerAtBlank, "burner_at_blank", "burner at the blank"},
	{warden.InBurnerClear, "burner_clear", "burner clear"},
	{warden.InFuelShut, "fuel_shut", "fuel valves proven shut"},
	{warden.InOxygenShut, "oxygen_shut", "oxygen valve proven shut"},
	{warden.InStart, "start", "START button"},
	{warden.InReset, "reset", "RESET button"},
	{warden.InSoft, "soft", "SOFT button"},
	{warden.InHoldOpen, "hold_open", "hold-to-run open button"},
	{warden.InHoldClose, "hold_close", "hold-to-run close button"},
	{warden.InChuckClamped, "chuck_clamped", "chuck clamped"},
	{warden.InIndexed, "indexed", "spindle at its index"},
	{warden.InGasAlarm, "gas_alarm", "gas or oxygen detector"},
	{warden.InFlashback, "flashback", "flashback trip"},
	{warden.InOverForce, "over_force", "over-force switch"},
	{warden.InMainsOK, "mains_ok", "mains present"},
	{warden.InTwoHandLeft, "two_hand_left", "two-hand control, left"},
	{warden.InTwoHandRight, "two_hand_right", "two-hand control, right"},
	{warden.InSetUp, "set_up", "key switch at set-up"},
	{warden.InHoldTurn, "hold_turn", "hold-to-run turn button"},
	{warden.InWatchdogOK, "watchdog_ok", "outside watchdog's contact"},
}
