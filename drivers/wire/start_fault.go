package wire

// startFaults explains the names under which a board says hello that has failed
// a proof of its start (PROTOCOL.md, 5.4.1). It drives no output and answers
// nothing until it is switched off.
var startFaults = map[string]string{
	"mega2560 not fitted": "its flash says for no rig: write the program with pressrig flash and this rig's profile",
	"mega2560 broken flash": "its program is not the one that was written: write it again with pressrig flash, and replace " +
		"the board if it says so once more",
	"mega2560 bad limits": "it was fitted with limits beyond those of the standards: correct the profile and write it again " +
		"with pressrig flash",
	"mega2560 output stuck": "an output reads as on while it is off: something drives it from outside, or the board is broken; " +
		"take the power off the rig and find out before anything else",
	"mega2560 no watchdog": "its watchdog does not reset it: replace the board",
}

// StartFault tells why a board with that firmware's name drives nothing, and
// what to do; "" for any other name.
func StartFault(firmware string) string { return startFaults[firmware] }
