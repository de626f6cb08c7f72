package rig_test

import (
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
