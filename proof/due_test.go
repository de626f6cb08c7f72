package proof_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"pressrig/proof"
	"pressrig/rig"
	"pressrig/safety"
)

var now = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// asked is the driven rig with one interval, or none.
func asked(t testing.TB, function string, every time.Duration) *rig.Profile {
	t.Helper()
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	p.Proof = map[string]time.Duration{}
	if every > 0 {
		p.Proof[function] = every
	}
	return p
}

func dueOf(t testing.TB, every time.Duration, last *proof.Record, began time.Time) *proof.Due {
	t.Helper()
	newest := map[string]proof.Record{}
	if last != nil {
		newest["estop"] = *last
	}
	all := proof.Dues(asked(t, "estop", every), newest, began, now)
	if len(all) == 0 {
		return nil
	}
	if len(all) != 1 || all[0].Function != "estop" {
		t.Fatalf("%+v", all)
	}
	return &all[0]
}

func TestDues(t *testing.T) {
	const day = 24 * time.Hour
	ago := func(d time.Duration, result proof.Result) *proof.Record {
		return &proof.Record{Function: "estop", At: now.Add(-d), Result: result, By: "Ada"}
	}
	for _, c := range []struct {
		name    string
		every   time.Duration
		last    *proof.Record
		began   time.Duration // before now
		state   proof.DueState
		refuses bool
		says    string
	}{
		{"just made", 10 * day, ago(0, proof.Passed), 100 * day, proof.DueFine, false, ""},
		{"eight of ten days", 10 * day, ago(8*day, proof.Passed), 100 * day, proof.DueFine, false, ""},
		{"the last tenth", 10 * day, ago(9*day+time.Hour, proof.Passed), 100 * day, proof.DueSoon, false,
			"estop is due on 2026-11-26 08:00; make it with: pressrig prove estop"},
		{"to the minute", 10 * day, ago(10*day, proof.Passed), 100 * day, proof.DueSoon, false, "is due on"},
		{"within the grace", 10 * day, ago(10*day+time.Hour, proof.Passed), 100 * day, proof.DueNow, false,
			"estop was due on 2026-11-25 08:00; from 2026-11-26 08:00 on no cycle is armed; make it with: pressrig prove estop"},
		{"grace over", 10 * day, ago(11*day+time.Hour, proof.Passed), 100 * day, proof.DueRefused, true,
			"estop was due on 2026-11-24 08:00; make it with: pressrig prove estop"},
		{"failed just now", 10 * day, ago(0, proof.Failed), 100 * day, proof.DueFailed, true,
			"estop failed its proof test on 2026-11-25; mend it, then prove it with: pressrig prove estop"},
		{"failed, not asked for", 0, ago(day, proof.Failed), 100 * day, proof.DueFailed, true, "failed its proof"},
		{"never, new journal", 10 * day, nil, day, proof.DueFine, false, ""},
		{"never, old journal", 10 * day, nil, 12 * day, proof.DueRefused, true, "was due on 2026-11-23"},
		{"never, journal of tomorrow", 10 * day, nil, -day, proof.DueFine, false, ""},
		{"dated by a wrong clock", 10 * day, ago(-day, proof.Passed), 12 * day, proof.DueRefused, true, "was due on 2026-11-23"},
	} {
		d := dueOf(t, c.every, c.last, now.Add(-c.began))
		if d == nil || d.State != c.state || d.Refuses() != c.refuses || (c.says == "") != (d.Warning() == "") ||
			!strings.Contains(d.Warning(), c.says) {
			t.Errorf("%s: %+v, %q", c.name, d, d.Warning())
		}
	}
	if d := dueOf(t, 0, ago(1000*day, proof.Passed), now.Add(-2000*day)); d != nil {
		t.Errorf("a profile that asks for nothing: %+v", d)
	}
}

// A function that is not fitted any more is not asked for, whatever its newest
// proof said.
func TestNotFittedIsNotDue(t *testing.T) {
	p := asked(t, "gas_alarm", time.Hour)
	delete(p.Sensors, "gas_alarm")
	newest := map[string]proof.Record{"gas_alarm": {Function: "gas_alarm", At: now, Result: proof.Failed}}
	if all := proof.Dues(p, newest, now.Add(-time.Hour*9999), now); len(all) > 0 {
		t.Errorf("%+v", all)
	}
}

// As time passes nothing gets better by itself, and what refuses has warned.
func TestDueOnlyGetsWorse(t *testing.T) {
	rank := map[proof.DueState]int{proof.DueFine: 0, proof.DueSoon: 1, proof.DueNow: 2, proof.DueRefused: 3, proof.DueFailed: 4}
	p := asked(t, "estop", time.Hour)
	rapid.Check(t, func(t *rapid.T) {
		every := time.Duration(rapid.Int64Range(int64(time.Hour), int64(9600*time.Hour)).Draw(t, "every"))
		p.Proof["estop"] = every
		last := proof.Record{Function: "estop", At: now, Result: proof.Passed}
		if rapid.Bool().Draw(t, "failed") {
			last.Result = proof.Failed
		}
		a := time.Duration(rapid.Int64Range(0, int64(20_000*time.Hour)).Draw(t, "a"))
		b := time.Duration(rapid.Int64Range(0, int64(20_000*time.Hour)).Draw(t, "b"))
		newest := map[string]proof.Record{"estop": last}
		early := proof.Dues(p, newest, now, now.Add(min(a, b)))[0]
		late := proof.Dues(p, newest, now, now.Add(max(a, b)))[0]
		if rank[late.State] < rank[early.State] {
			t.Fatalf("%s after %v, %s after %v", early.State, min(a, b), late.State, max(a, b))
		}
		if late.Refuses() && late.Warning() == "" {
			t.Fatal("refuses without a word")
		}
		if last.Result == proof.Passed && late.Refuses() && max(a, b) <= every {
			t.Fatalf("refused %v after a proof for %v", max(a, b), every)
		}
	})
}

// The profiles that are shipped pass their own checks, and ask for each proof that
// their rig is fitted for, no less often than is usual.
func TestShippedProfilesAskForTheirProofs(t *testing.T) {
	for _, name := range rig.BuiltinNames() {
		p, err := rig.Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := safety.CheckProfile(p); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, s := range proof.Steps(p) {
			every, asked := p.Proof[s.Function]
			if asked != s.Fitted() || asked && every > s.Every {
				t.Errorf("%s asks for %s: %v, every %v; fitted %v, usual %v", name, s.Function, asked, every, s.Fitted(), s.Every)
			}
		}
	}
}
