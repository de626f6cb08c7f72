package proof_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"pressrig/proof"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// Whatever snapshots and answers come, a judge neither crashes nor goes back:
// its stages only go on, and its end stays. A rig that says nothing passes
// nothing.
func TestJudgeWithAnyRig(t *testing.T) {
	p := asked(t, "", 0)
	steps := proof.Steps(p)
	rapid.Check(t, func(t *rapid.T) {
		s := &steps[rapid.IntRange(0, len(steps)-1).Draw(t, "step")]
		j := proof.NewJudge(p, s)
		stage, ended := 0, false
		var end proof.Progress
		elapsed := uint64(0)
		for range rapid.IntRange(1, 60).Draw(t, "moments") {
			elapsed += rapid.Uint64Range(0, 90_000).Draw(t, "after")
			in := proof.Input{ElapsedMs: elapsed, Session: rapid.Uint32Range(0, 3).Draw(t, "session")}
			if rapid.Bool().Draw(t, "answers") {
				in.Answer = &proof.Answer{Yes: rapid.Bool().Draw(t, "yes"), Value: math.NaN()}
			}
			if rapid.Bool().Draw(t, "snapshot") {
				in.Snap = &rig.Snapshot{StampMs: rapid.Uint32().Draw(t, "stamp"), In: rapid.Uint32().Draw(t, "in"),
					Out: rapid.Uint16().Draw(t, "out"), Trips: rapid.Uint64().Draw(t, "trips"),
					Lock: rapid.Uint8Range(0, 3).Draw(t, "lock"), First: rapid.Uint8().Draw(t, "first"),
					Burner: rapid.Uint8Range(0, warden.NumBurner-1).Draw(t, "burner"), AnalogOK: rapid.Uint16().Draw(t, "ok")}
			}
			j.Feed(in)
			now := j.Progress()
			switch {
			case now.Stage < stage:
				t.Fatalf("%s went back from stage %d to %d", s.Function, stage, now.Stage)
			case ended && (now.Result != end.Result || now.Why != end.Why):
				t.Fatalf("%s changed its end from %+v to %+v", s.Function, end, now)
			case now.Result == proof.Waiting && (now.Awaits == "" || now.Act == ""):
				t.Fatalf("%s waits for nothing: %+v", s.Function, now)
			case (now.Result == proof.Failed || now.Result == proof.Undone) && now.Why == "":
				t.Fatalf("%s does not say why: %+v", s.Function, now)
			}
			stage, ended, end = now.Stage, now.Result != proof.Waiting, now
		}
	})
}

// A rig that never speaks passes nothing and fails nothing, and every wait has
// an end.
func TestSilentRigPassesNothing(t *testing.T) {
	p := asked(t, "", 0)
	for _, s := range proof.Steps(p) {
		j := proof.NewJudge(p, &s)
		for elapsed := uint64(0); elapsed < 3600_000 && j.Progress().Result == proof.Waiting; elapsed += 1000 {
			j.Feed(proof.Input{ElapsedMs: elapsed})
		}
		if got := j.Progress(); got.Result != proof.Undone {
			t.Errorf("%s is %s on a silent rig; nothing is known of it: %s", s.Function, got.Result, got.Why)
		}
	}
}

// Every step tells a person all that the person needs, and names its interval.
func TestStepsAreWhole(t *testing.T) {
	for _, s := range proof.Steps(asked(t, "", 0)) {
		if s.Title == "" || len(s.Cautions) == 0 || len(s.Do) == 0 || s.See == "" || s.After == "" ||
			s.Every <= 0 || s.EveryWhy == "" || !s.Fitted() {
			t.Errorf("%s is not whole: %+v", s.Function, s)
		}
	}
}

// A rig without a board has nothing that software could read.
func TestBareRigProvesNothing(t *testing.T) {
	p, err := rig.ParseProfile("bare.yaml",
		[]byte("rig: bare\naxis: vertical\nboard: false\nthermometer: {fitted: false}\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range proof.Steps(p) {
		j := proof.NewJudge(p, &s)
		if s.Fitted() || j.Progress().Result != proof.Undone {
			t.Errorf("%s can be proven without a board", s.Function)
		}
	}
}
