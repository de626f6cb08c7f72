package rig_test

import (
	"slices"
	"testing"

	"pressrig/rig"
)

func TestBuiltinProfilesAreAccepted(t *testing.T) {
	for _, name := range rig.BuiltinNames() {
		p, err := rig.Builtin(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !p.Simulated {
			t.Errorf("%s: a built-in profile with invented figures must be simulated", name)
		}
	}
}

// Builds are read as they stand in a board's firmware name, quoted or not.
func TestFirmwareBuildsAreRead(t *testing.T) {
	text, err := rig.BuiltinText("driven")
	if err != nil {
		t.Fatal(err)
	}
	for list, want := range map[string][]uint32{
		"[]": nil, `["1a2b3c4d", "00000007"]`: {0x1a2b3c4d, 7}, "[12345678]": {0x12345678}, `["1e234567"]`: {0x1e234567},
	} {
		p, err := rig.ParseProfile("rig.yaml", append(text, "\nfirmware_builds: "+list+"\n"...))
		if err != nil {
			t.Errorf("%s: %v", list, err)
			continue
		}
		if !slices.Equal(p.Builds, want) {
			t.Errorf("%s: %x, want %x", list, p.Builds, want)
		}
	}
}
