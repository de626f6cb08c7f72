package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"pressrig/drivers/bench"
	"pressrig/panel/api"
	"pressrig/panel/client"
	"pressrig/proof"
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
	"watchdog_test":     {"fault mcu_hang for 3s"},
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
}

// back is how everything is put back.
var back = []string{"clear all", "estop release", "door close", "fuel_cock open", "oxygen_cock open",
	"burner_cock open", "test_cock shut"}

// hands does at the rig what the proof under way asks for, once.
func (p *provePerson) hands(now *api.ProofProgress) {
	if now.Proof == p.proof && now.Stage == p.stage && now.Act == p.did {
		return
	}
	p.proof, p.stage, p.did = now.Proof, now.Stage, now.Act
	if now.Act == "press_home" && p.truth().In&(1<<8) != 0 { // stands open already
		return
	}
	for _, line := range acts[now.Act] {
		p.do(line)
	}
	truth := p.truth()
	p.gauge, p.atMs = truth.BetweenBar, truth.Ms
}

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
	case string(proof.ActFuelTrap), string(proof.ActOxygenTrap):
		return "y"
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
	f.at("fault stuck door_closed on")
	if got := f.prove("door", "estop", "flashback"); got["estop"] != "passed" || got["flashback"] != "passed" ||
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
	if got := f.prove("door", "flame_seen"); got["door"] != "passed" ||
		!strings.HasPrefix(got["flame_seen"], "passed") { // "clear all" has mended the switch
		t.Fatalf("%q", got)
	}
	f.press("light-only")
	j := f.close()
	list, err := j.Proofs(0, 10)
	if err != nil || len(list) != 5 {
		t.Fatalf("%d proofs, %v", len(list), err)
	}
	if r := list[4]; r.Function != "door" || r.Result != proof.Failed || r.By != "Ada" || r.Why == "" {
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
