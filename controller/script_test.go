package controller

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/recipes"
	"pressrig/rig"
	"pressrig/safety"
	"pressrig/safety/warden"
)

var rewrite = flag.Bool("rewrite", false,
	"write what the scripts print into testdata; read the diff")

// TestScripts runs testdata/*.txt: commands an operator could read, then a line
// ----, then what the machine told, up to an empty line. Lines that begin with
// # are comments.
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, name := range files {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			got := runScript(t, string(text))
			if *rewrite {
				if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			} else if got != string(text) {
				t.Errorf("%s prints otherwise; -rewrite and read the diff:\n%s", name,
					cmp.Diff(string(text), got))
			}
		})
	}
}

// script is one running script.
type script struct {
	f    *fake
	out  bytes.Buffer // the script as it should be
	said bytes.Buffer // told since the last command block
	was  string

	profile *rig.Profile
}

func runScript(t *testing.T, text string) string {
	s := &script{}
	blocks := strings.Split(strings.TrimRight(text, "\n"), "\n\n")
	for i, block := range blocks {
		if i > 0 {
			s.out.WriteString("\n")
		}
		asked, _, told := strings.Cut(block, "\n----")
		s.out.WriteString(asked + "\n")
		s.said.Reset()
		for _, line := range strings.Split(asked, "\n") {
			if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
				s.do(t, strings.Fields(line))
			}
		}
		if told || s.said.Len() > 0 {
			s.out.WriteString("----\n" + s.said.String())
		}
	}
	return s.out.String()
}

// do carries out one command of a script.
func (s *script) do(t *testing.T, w []string) {
	t.Helper()
	if w[0] != "rig" && s.f == nil {
		s.open(t, "driven")
	}
	arg := ""
	if len(w) > 1 {
		arg = w[1]
	}
	switch w[0] {
	case "rig": // rig driven | weights | no-thermometer | assisted
		s.open(t, arg)
	case "start": // start 1 [last] [dummy] [moulds=450] [assisted]
		s.start(t, w[1:])
	case "tick": // tick 50ms
		s.f.run(int(duration(t, arg).Milliseconds()))
	case "command": // command hold
		s.f.command(CommandNamed(arg))
	case "answer": // answer yes | no | old
		if arg == "old" {
			s.f.next.Answer = Answer{Prompt: 1, Yes: true}
			s.f.run(10)
		} else {
			s.f.answer(arg == "yes")
		}
	case "ack":
		s.f.next.Ack, s.f.next.By = true, "ann"
		s.f.run(10)
	case "button": // button START | RESET | SOFT
		bits := map[string]uint32{"START": warden.InStart, "RESET": warden.InReset, "SOFT": warden.InSoft}
		s.f.press(bits[arg], 200)
		s.f.run(300)
	case "set": // set door=open glass=stuck ...
		for _, a := range w[1:] {
			s.set(t, a)
		}
	case "until": // until state=held 60s | phase=fire 200s | armed 5s
		s.until(t, arg, w[2])
	case "swing": // swing blank | clear: a burner swung by hand
		s.f.swung = arg == "blank"
		s.f.run(500)
	case "lever": // lever pull | lift | rest
		s.f.lever = map[string]int{"pull": 1, "lift": -1, "rest": 0}[arg]
	case "show": // show request
		fmt.Fprintln(&s.said, "        "+requestText(&s.f.out.Request))
	default:
		t.Fatalf("no command %q", w[0])
	}
}

func duration(t *testing.T, text string) time.Duration {
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func (s *script) open(t *testing.T, name string) {
	p := driven(t)
	switch name {
	case "assisted":
		p = &rig.Profile{Name: "hand"}
	case "driven":
	default:
		var err error
		if p, err = rig.Builtin(name); err != nil {
			t.Fatal(err)
		}
	}
	s.profile = p
	s.f = newFake(t, p)
	if name == "assisted" {
		s.f.session = 0
	}
	s.f.log = s.tell
}

func (s *script) start(t *testing.T, words []string) {
	n, err := strconv.Atoi(words[0])
	if err != nil {
		t.Fatal(err)
	}
	j := job(uint32(n))
	for _, w := range words[1:] {
		if name, ok := strings.CutPrefix(w, "recipe="); ok {
			j.Recipe = stored(t, name, s.profile)
		}
		switch w {
		case "last":
			j.Last = true
		case "dummy":
			j.Dummy = true
		case "moulds=500":
			j.Recipe.Moulds = recipes.Moulds{LowerC: 500, UpperC: 500, Band: 15}
		}
	}
	s.f.start(j)
}

// stored is one of the program's own recipes, for the script's rig.
func stored(t *testing.T, name string, p *rig.Profile) *recipes.Recipe {
	sample, err := recipes.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recipes.Parse(name, sample.Text, p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func (s *script) set(t *testing.T, a string) {
	name, value, _ := strings.Cut(a, "=")
	f := s.f
	switch name {
	case "flame":
		f.noFlame = value == "out"
	case "door":
		f.set(warden.InDoorClosed, value == "closed")
	case "estop":
		f.set(warden.InEstopOK, value == "released")
	case "glass":
		f.stuckGlass, f.noGlass = value == "stuck", value == "cut"
		if c, err := strconv.ParseFloat(value, 64); err == nil {
			f.glassC = c
		}
	case "rpm":
		c, err := strconv.ParseFloat(value, 64)
		if err != nil {
			t.Fatal(err)
		}
		f.rpm = c
	case "link":
		f.session = map[string]uint32{"up": 7, "down": 0}[value]
	case "snapshots":
		f.silent = value == "stop"
	case "journal":
		f.journal.Writable = value == "ok"
	case "commit":
		f.commit = value == "yes"
	default:
		t.Fatalf("nothing is called %q", name)
	}
}

func (s *script) until(t *testing.T, what, longest string) {
	name, value, _ := strings.Cut(what, "=")
	done := func() bool {
		st := &s.f.out.Status
		switch name {
		case "state":
			return st.State.String() == value
		case "phase":
			return st.PhaseName == value
		case "armed":
			return st.Armed
		case "doing":
			return st.Doing == value
		case "prompt":
			return st.Prompt != 0
		}
		t.Fatalf("until what: %q", name)
		return false
	}
	if !s.f.until(int(duration(t, longest).Seconds()), done) {
		fmt.Fprintf(&s.said, "%s did not come in %s\n", what, longest)
	}
}

// tell prints the records of a step and, when it changes, what the page says.
func (s *script) tell(_ *Input, out *Output) {
	for i := range out.N {
		if line := recordText(&out.Records[i]); line != "" {
			s.say(line)
		}
	}
	if d := out.Status.Doing; d != s.was {
		s.was = d
		s.say("page: " + d)
	}
}

func (s *script) say(line string) {
	fmt.Fprintf(&s.said, "%7.2f %s\n", float64(s.f.now)/1000, line)
}

func recordText(r *Record) string {
	by := ""
	if r.By != "" {
		by = " by " + r.By
	}
	switch r.Kind {
	case RecStart:
		return "start record" + by
	case RecPhaseBegin:
		return "phase " + r.Name
	case RecPhaseEnd:
		return "phase " + r.Name + " ends: " + r.Reason
	case RecState:
		return strings.TrimRight("state "+r.State.String()+": "+r.Reason, ": ")
	case RecTrip:
		return fmt.Sprintf("trip %d %s, lockout %v", r.Cause, safety.Sentence(r.Cause), r.Lockout)
	case RecMark:
		return strings.TrimSpace("mark "+r.Reason+" "+r.Name) + by
	case RecPrompt:
		return "prompt: " + r.Reason
	case RecAnswer:
		return strings.TrimSpace(fmt.Sprintf("answer %v %s", r.Value == 1, r.Reason)) + by
	case RecCommand:
		return strings.TrimRight("command "+r.Command.String()+by+": "+r.Reason, ": ")
	case RecAlarm:
		return fmt.Sprintf("alarm %d %s", r.Cause, r.Reason)
	case RecEnd:
		return fmt.Sprintf("end %v: %s, cause %d", r.State, r.Reason, r.Cause)
	}
	return "" // measures are figures of the fake: the Go tests look at them
}

func requestText(r *rig.Request) string {
	var b strings.Builder
	names := func(title string, set uint32, list []string) {
		b.WriteString(title)
		for i, n := range list {
			if set&(1<<i) != 0 {
				b.WriteString(" " + n)
			}
		}
		b.WriteString(";")
	}
	names("lease:", uint32(r.Lease), []string{"fuel", "oxygen", "press", "spindle"})
	names(" ask:", uint32(r.Flags), []string{"arm", "cycle", "flame", "oxygen", "burner-in", "reset",
		"horn", "estimate", "abort", "hands"})
	fmt.Fprintf(&b, " fuel %d, oxygen %d, spindle %d, press %d", r.FuelMl, r.OxygenMl, r.SpindleDrpm,
		r.Press)
	return b.String()
}
