package main

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"pressrig/units"
)

// usual answers q with its usual values and an example of each it must be given.
func usual(q question) []string {
	var args []string
	for _, t := range q.takes {
		if t.usual == "" {
			args = append(args, t.name+"="+t.example())
		}
	}
	return args
}

// Every question answers from its usual values, with a formula and a source
// for every figure, as text and as JSON with a unit in every key.
func TestWorkAnswersEveryQuestion(t *testing.T) {
	seen := map[string]bool{}
	for _, q := range questions {
		name := q.topic + " " + q.name
		if seen[name] || q.asks == "" {
			t.Errorf("%s is there twice, or asks nothing", name)
		}
		seen[name] = true
		args := append([]string{"work", q.topic, q.name}, usual(q)...)
		if got := cli(t, "none", "", args...); got.code != exitDone || !strings.Contains(got.out, "= ") {
			t.Errorf("%s: %+v", name, got)
		}
		got := cli(t, "none", "", append(args, "--json")...)
		var a answerJSON
		if err := json.Unmarshal([]byte(got.out), &a); err != nil {
			t.Errorf("%s: %v\n%s", name, err, got.out)
			continue
		}
		if len(a.Figures) == 0 || len(a.Given) != len(q.takes) {
			t.Errorf("%s: %d figures from %d of %d quantities", name, len(a.Figures), len(a.Given),
				len(q.takes))
		}
		for key, f := range a.Figures {
			if f.Formula == "" || f.Source == "" || strings.ContainsAny(key, "/(). %") {
				t.Errorf("%s: %s: %+v", name, key, f)
			}
		}
		for _, q := range q.takes {
			if q.what == "" {
				t.Errorf("%s: nothing tells what %s is", name, q.name)
			}
		}
	}
}

// Whatever number is given, the answer is finite or an error in words.
func TestWorkNeverAnswersNonsense(t *testing.T) {
	for _, q := range questions {
		for _, bad := range q.takes {
			if bad.words != nil || bad.glass {
				continue
			}
			for _, number := range []string{"-1", "0", "-300", "1e-300", "1e300", "NaN", "Inf"} {
				text := number
				if bad.in != "" {
					text += " " + units.Base(bad.in)
				}
				args := slices.DeleteFunc(usual(q),
					func(a string) bool { return strings.HasPrefix(a, bad.name+"=") })
				g, _, err := q.read(nil, append(args, bad.name+"="+text))
				if err != nil {
					continue
				}
				figures, err := q.answer(g)
				if err != nil && (strings.Contains(err.Error(), "NaN") || len(err.Error()) < 10) {
					t.Errorf("%s %s %s=%s: %v", q.topic, q.name, bad.name, text, err)
				}
				for _, f := range figures {
					if err == nil && (math.IsNaN(f.value) || math.IsInf(f.value, 0)) {
						t.Errorf("%s %s %s=%s: %s is %v", q.topic, q.name, bad.name, text, f.name, f.value)
					}
				}
			}
		}
	}
}

func TestWorkSaysWhatWouldBeRight(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"nonsense", `no topic "nonsense"; one of `},
		{"nonsense power", `no topic "nonsense"; one of `},
		{"flame nonsense", `flame has no question "nonsense"; one of fuel, power`},
		{"flame power 5", `"5" is no quantity; write name=value with a name of: fuel, flow`},
		{"flame power colour=5", `flame power takes no "colour"; it takes fuel, flow`},
		{"flame power flow=5", `flow: "5" has no unit; write a gas flow like "3.0 L/min"`},
		{"flame power flow=5C", `flow: "5C" is a temperature; a gas flow is wanted`},
		{"flame power flow=1L/min flow=1L/min", "flow is given twice"},
		{"flame power fuel=acetylene", `fuel: "acetylene" is none of: propane, methane`},
		{"flame power flow=-1L/min", "work flame power: fuel flow -1 L/min; give one from 0"},
		{"flame cost fuelprice=dear", `fuelprice: "dear" is not a plain number`},
	} {
		got := cli(t, "none", "", append([]string{"work"}, strings.Fields(c.args)...)...)
		if got.code != exitUsage || !strings.Contains(got.err, c.want) {
			t.Errorf("%s: %+v, want %q", c.args, got, c.want)
		}
	}
}

func TestWorkListsQuestions(t *testing.T) {
	all := cli(t, "none", "", "work")
	for _, q := range questions {
		if !strings.Contains(all.out, q.asks) {
			t.Errorf("the list lacks %s %s", q.topic, q.name)
		}
	}
	got := cli(t, "none", "", "work", "flame", "--json")
	var list []questionJSON
	if err := json.Unmarshal([]byte(got.out), &list); err != nil || len(list) != len(ofTopic("flame")) {
		t.Fatalf("%v: %s", err, got.out)
	}
	if list[1].Takes[1].Unit != "L/min" || list[1].Takes[1].Usual != "2.5 L/min" {
		t.Errorf("%+v", list[1])
	}
}

// C13 of the flame through the command line: derived, 1.519 kW at 0 C.
func TestWorkFigureEqualsThePackage(t *testing.T) {
	got := cli(t, "none", "", "work", "flame", "power", "flow=1L/min", "--json")
	var a answerJSON
	if err := json.Unmarshal([]byte(got.out), &a); err != nil {
		t.Fatal(err)
	}
	kw, ok := a.Figures["power_kW"].Value.(float64)
	if !ok || math.Abs(kw-1.519) > 0.001 || a.Given["flow_L_per_min"] != 1.0 {
		t.Errorf("%s", got.out)
	}
}
