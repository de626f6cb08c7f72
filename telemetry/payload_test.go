package telemetry

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pressrig/controller"
	"pressrig/rig"
	"pressrig/safety/warden"
)

var testWords = words{"bench", testCause}

func TestPayloadsGolden(t *testing.T) {
	tripped := pressing()
	tripped.State, tripped.Lock, tripped.Cause = controller.Aborted, warden.LockLockout, 3
	tripped.Alarms, tripped.AckNeeded, tripped.Reason = 1<<3|1<<18, true, "flame lost"
	idle := &controller.Status{State: controller.Idle, Phase: -1}
	event := func(e entry) message {
		e.wall, e.stampMs = noon, 123456
		m, ok := testWords.event(&e)
		if !ok {
			t.Fatalf("%+v is no event", e)
		}
		return m
	}
	for name, m := range map[string]message{
		"status_online.json":  testWords.status("online", "connected", noon),
		"status_offline.json": testWords.status("offline", "connection lost", noon),
		"state_idle.json":     testWords.state(idle, noon, 1000),
		"state_running.json":  testWords.state(pressing(), noon, 123456),
		"state_tripped.json":  testWords.state(tripped, noon, 123456),
		"ledger.json": testWords.ledger(&toldLedger{4711, strings.Repeat("0a1b2c3d", 8),
			12, noon, true}),
		"phase.json": event(entry{phase: true, left: "clear", why: "burner proven clear",
			status: *pressing()}),
		"trip.json": event(entry{rec: controller.Record{Kind: controller.RecTrip, Cycle: 12, Cause: 3,
			Causes: 1<<3 | 1<<1, Lockout: true, Reason: "flame not seen for 900 ms"}}),
		"alarm.json": event(entry{rec: controller.Record{Kind: controller.RecAlarm, Cycle: 12,
			Cause: 18, Reason: "over 850 C"}}),
	} {
		golden(t, name, pretty(t, m.payload))
	}
}

func TestChannelsGolden(t *testing.T) {
	full := sample{wall: noon, cycle: 12, phase: 5, fresh: true, snap: *hotSnapshot()}
	view := full // the flame is in the thermometer's view; the force sensor's wire is broken
	view.snap.Flags = 0
	view.snap.AnalogOK &^= 1 << warden.AiForce
	view.snap.Analog[warden.AiTravel] = -7
	silent := full // no snapshot came since the sample before
	silent.fresh = false
	golden(t, "channels.json", pretty(t, testWords.channels(&full, false, 0).payload))
	golden(t, "channels_invalid.json", pretty(t, testWords.channels(&view, true, 12).payload))
	golden(t, "channels_silent.json", pretty(t, testWords.channels(&silent, false, 0).payload))
}

// Every channel alone invalid is null, and no other is.
func TestInvalidChannelIsNullNeverItsLastValue(t *testing.T) {
	for i := range rig.Analogs {
		s := sample{wall: noon, fresh: true, snap: *hotSnapshot()}
		s.snap.AnalogOK &^= 1 << i
		text := string(testWords.channels(&s, false, 0).payload)
		if n := strings.Count(text, "null"); n != 1 {
			t.Errorf("%s invalid: %d nulls, want 1: %s", rig.Analogs[i].Name, n, text)
		}
		if key := `"` + channelKey(&rig.Analogs[i]) + `":null`; !strings.Contains(text, key) {
			t.Errorf("no %s in %s", key, text)
		}
	}
}

func TestOtherRecordsAreNoEvents(t *testing.T) {
	for kind := controller.RecStart; kind <= controller.RecEnd; kind++ {
		_, ok := testWords.event(&entry{rec: controller.Record{Kind: kind}})
		want := kind == controller.RecTrip || kind == controller.RecAlarm
		if ok != want {
			t.Errorf("record kind %d: event %t, want %t", kind, ok, want)
		}
	}
}

func TestClip(t *testing.T) {
	for _, s := range []string{"", "a", strings.Repeat("a", maxText), strings.Repeat("a", maxText+1),
		strings.Repeat("é", maxText), strings.Repeat("\x80", 3*maxText)} {
		c := clip(s)
		if len(c) > maxText || !strings.HasPrefix(s, c) || utf8.ValidString(s) != utf8.ValidString(c) {
			t.Errorf("clip of %d bytes gives %d: %q", len(s), len(c), c)
		}
	}
}

func TestNumberIsNullWhenNone(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if number(v) != nil {
			t.Errorf("%g is a number", v)
		}
	}
	if p := number(1.5); p == nil || *p != 1.5 {
		t.Error("1.5 is no number")
	}
}
