package safety

import (
	"slices"
	"strings"
	"testing"

	"pressrig/rig"
)

// A detection rating rests on what exists: a row whose words claim a proof test
// names it, and a row that nothing tries is rated as found by the accident.
func TestDetectionRestsOnProofsThatExist(t *testing.T) {
	for i, f := range Failures {
		for _, name := range f.Proofs {
			if !slices.Contains(rig.ProofFunctions(), name) {
				t.Errorf("F%d rests on the proof test %s, which does not exist", i+1, name)
			}
		}
		if claims := strings.Contains(f.Detection+f.Action, "proof test"); claims != (len(f.Proofs) > 0) {
			t.Errorf("F%d: the words claim a proof test: %v; named are %v", i+1, claims, f.Proofs)
		}
		switch {
		case f.Test != "":
		case len(f.Proofs) > 0 && f.D < ProofDetects:
			t.Errorf("F%d rests on proof tests alone and rates %d; %d at best", i+1, f.D, ProofDetects)
		case len(f.Proofs) == 0 && f.D < BlindDetects:
			t.Errorf("F%d has no test and no proof test and rates %d; at least %d", i+1, f.D, BlindDetects)
		}
	}
}
