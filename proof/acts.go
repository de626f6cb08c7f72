package proof

// Act names what a person does at the rig, so that a script or a page can tell
// one wait from another. The names are written out and never changed.
type Act string

// The acts.
const (
	ActWait            Act = "wait"
	ActLook            Act = "look"
	ActLight           Act = "light" // arm the named recipe, push START at the rig
	ActReset           Act = "reset"
	ActEstopPush       Act = "estop_push"
	ActEstopRelease    Act = "estop_release"
	ActDoorOpen        Act = "door_open"
	ActDoorClose       Act = "door_close"
	ActPowerCycle      Act = "power_cycle"
	ActWatchdog        Act = "watchdog_test"
	ActFuelLow         Act = "fuel_pressure_low"
	ActFuelHigh        Act = "fuel_pressure_high"
	ActFuelUsual       Act = "fuel_pressure_usual"
	ActOxygenLow       Act = "oxygen_pressure_low"
	ActOxygenHigh      Act = "oxygen_pressure_high"
	ActOxygenUsual     Act = "oxygen_pressure_usual"
	ActPressAway       Act = "press_away"
	ActPressHome       Act = "press_home"
	ActHandLeft        Act = "two_hand_left"
	ActHandRight       Act = "two_hand_right"
	ActHandsOff        Act = "two_hand_off"
	ActSetUp           Act = "set_up"
	ActCloseAlone      Act = "close_alone"
	ActHandsLate       Act = "two_hand_late"
	ActHandsTogether   Act = "two_hand_together"
	ActLeftGoes        Act = "two_hand_left_goes"
	ActEndPush         Act = "press_end_push"
	ActEndRelease      Act = "press_end_release"
	ActForcePush       Act = "over_force_push"
	ActForceRelease    Act = "over_force_release"
	ActGasGive         Act = "gas_alarm_give"
	ActGasEnd          Act = "gas_alarm_end"
	ActFlashbackPush   Act = "flashback_push"
	ActFlashbackEnd    Act = "flashback_end"
	ActExtractionBlock Act = "extraction_block"
	ActFlameOut        Act = "flame_out"
	ActCableOut        Act = "cable_out"
	ActCableIn         Act = "cable_in"
	ActFuelTrap        Act = "fuel_trap"
	ActFuelGauge       Act = "fuel_gauge"
	ActOxygenTrap      Act = "oxygen_trap"
)
