package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"pressrig/drivers/bench"
	"pressrig/journal"
	"pressrig/panel"
	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/proof"
	"pressrig/rig"
	"pressrig/safety/warden"
)

// provePerson is a correct person: hands at the simulated rig, eyes
// on it, and a keyboard at the command line.
type provePerson struct {
	t      *testing.T
	client *client.Client
	do     func(line string) // a command line to the rig
	truth  func() bench.Truth
	keys   func(line string) // a line to the command
	gauge  float64
	atMs   uint64
	proof  uint32
	stage  int
	did    string
}

// acts is what is done at the rig for each act.
var acts = map[string][]string{
	"estop_push": {"estop press"}, "estop_release": {"estop release"},
	"door_open": {"door open"}, "door_close": {"door close"}, "power_cycle": {"reset mcu"},
	"pulse_out": {"fault pulse_lost"}, "pulse_back": {"clear pulse_lost"},
	"press_closes": {"hold CLOSE 4 s"}, "torque_off": {"fault sto_open", "hold TURN 30 s"}, "torque_on": {"clear sto_open"},
	"turn": {"hold TURN 8 s"}, "leak_give": {"fault by_hand gas_alarm on"}, "leak_end": {"clear by_hand"},
	"key_run": {"set_up off"}, "key_wire_out": {"set_up on", "fault by_hand set_up off"}, "key_wire_back": {"clear by_hand"},
	"fuel_pressure_low": {"fault fuel_pressure 40 %"}, "fuel_pressure_high": {"fault fuel_pressure 170 %"},
	"fuel_pressure_usual": {"clear fuel_pressure"},
	"oxygen_pressure_low": {"fault oxygen_pressure 40 %"}, "oxygen_pressure_high": {"fault oxygen_pressure 170 %"},
	"oxygen_pressure_usual": {"clear oxygen_pressure"},
	"press_away":            {"hold CLOSE 500 ms"},
	"press_home":            {"hold OPEN 3 s"},
	"press_end_push":        {"fault by_hand press_end on"}, "press_end_release": {"clear by_hand"},
	"over_force_push": {"fault by_hand over_force on"}, "over_force_release": {"clear by_hand"},
	"gas_alarm_give": {"fault by_hand gas_alarm on"}, "gas_alarm_end": {"clear by_hand"},
	"flashback_push": {"fault by_hand flashback on"}, "flashback_end": {"clear by_hand"},
	"extraction_block": {"fault by_hand extraction off"},
	"flame_out":        {"burner_cock shut"},
	"cable_out":        {"fault line_cut"}, "cable_in": {"clear line_cut"},
	"fuel_trap":   {"fuel_cock shut", "test_cock open"},
	"fuel_gauge":  {"fuel_cock shut"},
	"oxygen_trap": {"oxygen_cock shut"},
	"set_up":      {"set_up on"}, "two_hand_left": {"hold LEFT 300 ms"}, "two_hand_right": {"hold RIGHT 300 ms"},
	"close_alone": {"hold CLOSE 900 ms"}, "left_alone": {"hold LEFT 900 ms"}, "turn_alone": {"hold TURN 900 ms"},
}

// both are the acts of two hands, with the time of each after a common moment
// of the rig's own clock, so that a busy machine does not part them.
var both = map[string][2]string{
	"two_hand_late":     {"fault press LEFT @ %d ms for 2500 ms", "fault press CLOSE @ %d ms for 1200 ms"},
	"right_and_close":   {"fault press RIGHT @ %d ms for 900 ms", "fault press CLOSE @ %d ms for 900 ms"},
	"turn_together":     {"fault press LEFT @ %d ms for 5 s", "fault press TURN @ %d ms for 12 s"},
	"two_hand_together": {"fault press LEFT @ %d ms for 1000 ms", "fault press CLOSE @ %d ms for 1500 ms"},
}

const (
	soonMs = 500 // from now to the common moment
	lateMs = 800 // the second hand after the first, where it is to be too late
)

// back is how everything is put back.
var back = []string{"clear all", "set_up off", "estop release", "door close", "fuel_cock open", "oxygen_cock open",
	"burner_cock open", "test_cock shut"}

// hands does at the rig what the proof under way asks for, once.
func (p *provePerson) hands(now *api.ProofProgress) {
	if now.Proof == p.proof && now.Stage == p.stage && now.Act == p.did {
		return
	}
	p.proof, p.stage, p.did = now.Proof, now.Stage, now.Act
	if now.Act == "press_home" && p.open() {
		return
	}
	if lines, ok := both[now.Act]; ok {
		at := p.truth().Ms + soonMs
		p.do(fmt.Sprintf(lines[0], at))
		if now.Act == "two_hand_late" {
			at += lateMs
		}
		p.do(fmt.Sprintf(lines[1], at))
	}
	for _, line := range acts[now.Act] {
		p.do(line)
	}
	truth := p.truth()
	p.gauge, p.atMs = truth.BetweenBar, truth.Ms
}

// open reports whether the press stands open.
func (p *provePerson) open() bool { return p.truth().In&warden.InPressOpen != 0 }

// eyes answer what the command line asks; "" while there is nothing to say yet.
func (p *provePerson) eyes(now *api.ProofProgress) string {
	truth := p.truth()
	switch now.Act {
	case string(proof.ActFuelGauge):
		if truth.Ms < p.atMs+120_000 {
			return ""
		}
		drop := p.gauge - truth.BetweenBar
		return fmt.Sprintf("%s %.3f", yesNo(p.gauge > 0.1 && drop < 0.01), math.Abs(drop))
	case string(proof.ActFuelTrap), string(proof.ActOxygenTrap), string(proof.ActTorqueOn), string(proof.ActKeyWire),
		string(proof.ActPulseOut):
		return "y"
	case string(proof.ActDoorPower):
		return yesNo(!truth.DoorPower)
	case string(proof.ActBusV):
		return fmt.Sprintf("y %.1f", truth.BusAV)
	case string(proof.ActReliefGauge):
		return fmt.Sprintf("y %.1f", truth.ReliefBar)
	case string(proof.ActTachometer):
		return fmt.Sprintf("y %.1f", truth.SpindleRPM)
	case string(proof.ActStands):
		return yesNo(truth.SpindleRPM == 0)
	case string(proof.ActHear):
		return yesNo(truth.Horn)
	case string(proof.ActSeeLamp):
		return yesNo(truth.LockLamp)
	}
	switch now.Function {
	case "estop":
		return yesNo(truth.Estop)
	case "flame_dark":
		return yesNo(!truth.Flame)
	}
	return yesNo(truth.Flame || truth.FlameOutMs > 0 && truth.FlameOutMs+10_000 > truth.Ms)
}

// marks are what the command prints when it waits for a person.
const (
	markBegin = "q = end:"
	markArm   = "START at the rig starts it. [y]"
	markYes   = "[y/n]"
	markRead  = "like: y 0.01]"
	markSign  = "without storing:"
	markGoOn  = "Enter = go on:"
	markBack  = "acknowledges and resets."
	markReset = "push RESET at the rig ("
)

// talk keeps a conversation with the command until it ends. said is all that
// the command has printed.
func (p *provePerson) talk(said func() string, ended <-chan struct{}) {
	p.t.Helper()
	ticker := time.NewTicker(10 * time.Millisecond)
	defer ticker.Stop()
	for heard := 0; ; {
		select {
		case <-ended:
			return
		case <-p.t.Context().Done():
			return
		case <-ticker.C:
		}
		now, err := p.client.ProofNow(p.t.Context())
		if err != nil {
			p.t.Errorf("proof now: %v", err)
			return
		}
		if now.Result == string(proof.Waiting) {
			p.hands(&now)
		}
		mark, end := firstMark(said(), heard)
		if mark != "" && p.reply(mark, &now) {
			heard = end
		}
	}
}

// firstMark is the first mark after what was heard, and where it ends.
func firstMark(text string, heard int) (mark string, end int) {
	at := len(text)
	for _, m := range []string{markBegin, markArm, markYes, markRead, markSign, markGoOn, markBack, markReset} {
		if i := strings.Index(text[heard:], m); i >= 0 && heard+i < at {
			mark, at = m, heard+i
		}
	}
	return mark, at + len(mark)
}

// reply does what a mark asks for; false while it is not time yet.
func (p *provePerson) reply(mark string, now *api.ProofProgress) bool {
	switch mark {
	case markBegin, markArm:
		p.keys("y")
	case markYes, markRead:
		if now.Result != string(proof.Waiting) || now.Ask == "" {
			return true // it was answered by what happened
		}
		text := p.eyes(now)
		if text == "" {
			return false
		}
		p.keys(text)
	case markSign, markGoOn:
		p.keys("")
	case markBack:
		for _, line := range back {
			p.do(line)
		}
		if !p.open() {
			p.do("hold OPEN 3 s")
		}
		p.keys("")
	case markReset:
		p.do("press RESET")
	}
	return true
}

// rows are the results that the command printed at its end, by function.
func rows(text string) map[string]string {
	out := map[string]string{}
	for _, line := range strings.Split(text[strings.LastIndex(text, "\n\n")+1:], "\n") {
		if function, end, ok := strings.Cut(line, " "); ok {
			out[function] = strings.TrimSpace(end)
		}
	}
	return out
}

// The whole way through command line, local API, daemon, wire and simulated
// rig: proofs are made, signed and stored, what is failed refuses a cycle, and
// what is proven again lets it start.
func TestProveOnASimulatedRig(t *testing.T) {
	f := newPlant(t)
	f.until("the rig", func(frame *api.Frame) bool { return frame.Snapshot != nil })
	f.at("fault watchdog_dead")
	if got := f.prove("watchdog"); !strings.HasPrefix(got["watchdog"], "failed: the pulse is gone") {
		t.Fatalf("%q", got)
	}
	f.at("fault stuck door_closed on")
	if got := f.prove("door", "estop", "watchdog", "bus_a", "flashback"); got["estop"] != "passed" || got["flashback"] != "passed" ||
		!strings.HasPrefix(got["watchdog"], "passed") || !strings.HasPrefix(got["bus_a"], "passed") ||
		!strings.HasPrefix(got["door"], "failed: the door was to be opened") {
		t.Fatalf("%q", got)
	}
	_, err := f.client.Press(t.Context(), api.Press{Recipe: "light-only", By: "Ada"})
	if err == nil || !strings.Contains(err.Error(), "door failed its proof test on") ||
		!strings.Contains(err.Error(), "pressrig prove door") {
		t.Fatalf("a rig with a failed door: %v", err)
	}
	if s, err := f.client.Status(t.Context()); err != nil || len(s.ProofsDue) != 1 {
		t.Errorf("status warns of %v, %v", s.ProofsDue, err)
	}
	// The recipe of a proof is armed all the same; "clear all" has mended the switch.
	if got := f.prove("flame_seen", "door"); got["door"] != "passed" ||
		!strings.HasPrefix(got["flame_seen"], "passed") {
		t.Fatalf("%q", got)
	}
	f.interrupted()
	f.press("light-only")
	j := f.close()
	list, err := j.Proofs(0, 10)
	if err != nil || len(list) != 8 {
		t.Fatalf("%d proofs, %v", len(list), err)
	}
	if r := list[6]; r.Function != "door" || r.Result != proof.Failed || r.By != "Ada" || r.Why == "" {
		t.Errorf("%+v", r)
	}
}

// prove runs the command with a person at rig and keyboard, and returns how
// each proof ended.
func (f *plant) prove(names ...string) map[string]string {
	f.t.Helper()
	in, keys := io.Pipe()
	out := &saidText{}
	e := &env{ctx: f.t.Context(), in: in, out: out, err: out, by: "Ada"}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = e.command(append(append([]string{"prove", "--by", "Ada"}, names...), "--socket", f.cfg.Socket))
		_ = in.Close()
	}()
	p := &provePerson{t: f.t, client: f.client, do: f.at, truth: f.truth, keys: func(line string) {
		_, _ = fmt.Fprintln(keys, line) // the command may have ended
	}}
	p.talk(out.String, ended)
	<-ended
	_ = keys.Close()
	f.t.Log(out.String())
	return rows(out.String())
}

// saidText is written by the command and read by the test.
type saidText struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *saidText) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(b)
}

func (s *saidText) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// interrupted is Ctrl-C in the middle of a proof: nothing is stored, and the
// next one may begin at once.
func (f *plant) interrupted() {
	f.t.Helper()
	ctx, interrupt := context.WithCancel(f.t.Context())
	defer interrupt()
	in, keys := io.Pipe()
	out := &saidText{}
	e := &env{ctx: ctx, in: in, out: out, err: out, by: "Ada"}
	ended := make(chan error, 1)
	go func() {
		ended <- e.command([]string{"prove", "estop", "--by", "Ada", "--socket", f.cfg.Socket})
		_ = in.Close()
	}()
	if _, err := fmt.Fprintln(keys, "y"); err != nil {
		f.t.Fatal(err)
	}
	ticker := time.NewTicker(10 * time.Millisecond)
	defer ticker.Stop()
	for now := (api.ProofProgress{}); now.Act != "estop_push"; <-ticker.C {
		var err error
		if now, err = f.client.ProofNow(f.t.Context()); err != nil {
			f.t.Fatal(err)
		}
	}
	interrupt()
	if err := <-ended; exitCode(err) != exitFailed || !strings.Contains(message(err), "nothing of this proof is stored") {
		f.t.Errorf("ended with %v", err)
	}
	if now, err := f.client.ProofNow(f.t.Context()); err != nil || now.Proof != 0 {
		f.t.Errorf("still under way: %+v, %v", now, err)
	}
	_ = keys.Close()
}

// What the profile asks for: first a warning, a tenth of the interval later no
// cycle is armed, and the refusal names function, date and command.
func TestOverdueProofRefusesToArm(t *testing.T) {
	p, err := rig.Builtin("driven")
	if err != nil {
		t.Fatal(err)
	}
	p.Proof = map[string]time.Duration{"estop": 10 * 24 * time.Hour}
	made := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	j, err := journal.Open(filepath.Join(t.TempDir(), "journal.db"), journal.Options{Now: func() time.Time { return made }})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if _, err := j.AppendProof(proof.Record{Function: "estop", Rig: p.Name, At: made, By: "Ada", Result: proof.Passed,
		Value: math.NaN(), ProfileHash: p.Hash}, p.Text); err != nil {
		t.Fatal(err)
	}
	d := newDesk(p, j, nil)
	v, err := newProver(p, j, d)
	if err != nil {
		t.Fatal(err)
	}
	d.refusal = v.refusal
	for _, c := range []struct {
		days    float64
		warns   string
		refuses bool
	}{
		{5, "", false},
		{9.5, "estop is due on", false},
		{10.5, "estop was due on", false},
		{11.5, "estop was due on", true},
	} {
		now := made.Add(time.Duration(c.days * 24 * float64(time.Hour)))
		v.now = func() time.Time { return now }
		warnings := strings.Join(v.Warnings(), "\n")
		if (warnings == "") != (c.warns == "") || !strings.Contains(warnings, c.warns) {
			t.Errorf("after %v days: %q", c.days, warnings)
		}
		if why := v.refusal(); (why != "") != c.refuses {
			t.Errorf("after %v days: refusal %q", c.days, why)
		}
	}
	_, err = d.Press(t.Context(), panel.Order{Recipe: "light-only", Who: panel.Who{By: "Ada"}})
	var refusal *api.Error
	if !errors.As(err, &refusal) || refusal.Code != api.Refused ||
		!strings.Contains(refusal.Message, "2026-03-11") || !strings.Contains(refusal.Message, "pressrig prove estop") {
		t.Errorf("a press of an overdue rig: %v", err)
	}
}
