package trials

import "pressrig/safety/warden"

// Words for what the warden reports as numbers, by number. Pictures, pages and
// exports all use these.
var (
	burnerWords = [...]string{"standby", "check", "purge", "igniter", "trial", "proving",
		"proving dark", "run", "off", "post-purge", "lockout"}
	pressWords = [...]string{"off", "stay", "closing", "contact", "opening", "easing",
		"hand open", "hand close"}
)

// BurnerWord names a phase of the warden's burner machine.
func BurnerWord(phase uint8) string { return wordOf(burnerWords[:], phase) }

// PressWord names a phase of the warden's press machine.
func PressWord(phase uint8) string { return wordOf(pressWords[:], phase) }

func wordOf(words []string, n uint8) string {
	if int(n) < len(words) {
		return words[n]
	}
	return "unknown"
}

// Drive is one output with the name that records and pictures use.
type Drive struct {
	Bit   uint16
	Name  string
	Label string
}

// Drives are the outputs in bit order.
var Drives = []Drive{
	{warden.OutFuel1, "fuel_1", "first fuel valve"},
	{warden.OutFuel2, "fuel_2", "second fuel valve"},
	{warden.OutOxygen, "oxygen", "oxygen valves"},
	{warden.OutIgniter, "igniter", "igniter"},
	{warden.OutFan, "fan", "extraction fan"},
	{warden.OutBurnerIn, "burner_in", "burner to the blank"},
	{warden.OutSpindle, "spindle", "spindle drive"},
	{warden.OutPressClose, "press_close", "closing force"},
	{warden.OutPressOpen, "press_open", "opening force"},
	{warden.OutBrake, "brake", "press brake"},
	{warden.OutArmedLamp, "armed_lamp", "armed lamp"},
	{warden.OutHorn, "horn", "horn"},
	{warden.OutLockLamp, "lockout_lamp", "lockout lamp"},
}
