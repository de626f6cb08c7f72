package main

import (
	"go/parser"
	"go/token"
	"os"
	"strings"
	"testing"
	"testing/fstest"
)

// wardenPackage is the warden as it is, two folders up from here.
func wardenPackage(t *testing.T) *pkg {
	t.Helper()
	p, err := load(os.DirFS("../warden"))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Every kind of rule gives mutants, each has an id of its own, and none is the
// warden itself. At least 60 are demanded; the counts say when an operator
// stops finding anything.
func TestMutantsOfTheWarden(t *testing.T) {
	p := wardenPackage(t)
	mutants, uncompiled, err := p.generate()
	if err != nil {
		t.Fatal(err)
	}
	if len(uncompiled) > 3 {
		t.Errorf("%d mutants do not compile: %s", len(uncompiled), strings.Join(uncompiled, "\n"))
	}
	operators, ids := map[string]int{}, map[string]bool{}
	for _, m := range mutants {
		operators[m.Operator]++
		if ids[m.ID] {
			t.Errorf("id %q twice", m.ID)
		}
		ids[m.ID] = true
	}
	for operator, least := range map[string]int{"table": 150, "operand": 350, "condition": 450, "timer": 200,
		"statement": 200, "combination": 30} {
		if operators[operator] < least {
			t.Errorf("operator %s makes %d mutants, at least %d expected", operator, operators[operator], least)
		}
	}
	if _, err := readEquivalent("equivalent.txt", mutants); err != nil {
		t.Error(err)
	}
	for name, text := range p.weave(mutants) {
		if _, err := parser.ParseFile(token.NewFileSet(), name, text, 0); err != nil {
			t.Errorf("woven %s does not parse: %v", name, err)
		}
	}
}

const small = `package small

const (
	Calm uint8 = 0
	Loud uint8 = 1
)

type Reaction struct{ Sound uint8 }

type Row struct {
	Reaction
	Priority uint8
}

var Matrix = [2]Row{
	1: {Reaction{Loud}, 1},
}

type state struct{ ms, seen uint16 }

func step(s *state, on bool) bool {
	if on && s.seen != 0 {
		s.ms = max(s.ms, 1)
	}
	switch {
	case s.ms >= 500:
		s.seen = 0
	}
	return on || s.ms > 3
}
`

// The whole list for a small package: what each mutant is called and what it
// makes of the rule.
func TestMutantsOfASmallPackage(t *testing.T) {
	p, err := load(fstest.MapFS{"small.go": {Data: []byte(small)}})
	if err != nil {
		t.Fatal(err)
	}
	mutants, uncompiled, err := p.generate()
	if err != nil {
		t.Fatal(err)
	}
	if len(uncompiled) != 0 {
		t.Errorf("not compiled: %v", uncompiled)
	}
	want := map[string]string{ // id: text that only this mutant has
		`small.go:16 1: gas Loud becomes Calm`:                `1: {Reaction{Calm}, 1}`,
		`small.go:16 1: priority 1 becomes 2`:                 `1: {Reaction{Loud}, 2}`,
		`small.go:22 if "on && s.seen != 0" is always false`:  `if ((on && s.seen != 0) && false) {`,
		`small.go:22 if "on && s.seen != 0" is always true`:   `if ((on && s.seen != 0) || true) {`,
		`small.go:22 drop operand "on" of &&`:                 `if ((on) || true) && s.seen != 0 {`,
		`small.go:22 drop operand "s.seen != 0" of &&`:        `if on && ((s.seen != 0) || true) {`,
		`small.go:23 delete "s.ms = max(s.ms, 1)"`:            `if false { s.ms = max(s.ms, 1) }`,
		`small.go:23 "max(s.ms, 1)" becomes "s.ms"`:           `s.ms = s.ms`,
		`small.go:23 "max(s.ms, 1)" becomes "1"`:              `s.ms = 1`,
		`small.go:26 case "s.ms >= 500" is always false`:      `case ((s.ms >= 500) && false):`,
		`small.go:26 case "s.ms >= 500" is always true`:       `case ((s.ms >= 500) || true):`,
		`small.go:26 "s.ms >= 500" with >`:                    `case s.ms > 500:`,
		`small.go:26 "s.ms >= 500" with twice the bound`:      `case s.ms >= 2*(500):`,
		`small.go:27 delete "s.seen = 0"`:                     `if false { s.seen = 0 }`,
		`small.go:29 return "on || s.ms > 3" is always false`: `return ((on || s.ms > 3) && false)`,
		`small.go:29 return "on || s.ms > 3" is always true`:  `return ((on || s.ms > 3) || true)`,
		`small.go:29 drop operand "on" of ||`:                 `return ((on) && false) || s.ms > 3`,
		`small.go:29 drop operand "s.ms > 3" of ||`:           `return on || ((s.ms > 3) && false)`,
		`small.go:29 "s.ms > 3" with >=`:                      `return on || s.ms >= 3`,
		`small.go:29 "s.ms > 3" is always true`:               `return on || ((s.ms > 3) || true)`,
		`small.go:29 "s.ms > 3" with twice the bound`:         `return on || s.ms > 2*(3)`,
	}
	for _, m := range mutants {
		text, ok := want[m.ID]
		if !ok {
			t.Errorf("unexpected mutant %q:\n%s", m.ID, m.Text)
		} else if !strings.Contains(m.Text, text) {
			t.Errorf("%q has no %q:\n%s", m.ID, text, m.Text)
		}
		delete(want, m.ID)
	}
	for id := range want {
		t.Errorf("no mutant %q", id)
	}
}

// All mutants stand in one program; the picked one replaces its original.
func TestWeave(t *testing.T) {
	p, err := load(fstest.MapFS{"small.go": {Data: []byte(small)}})
	if err != nil {
		t.Fatal(err)
	}
	mutants, _, err := p.generate()
	if err != nil {
		t.Fatal(err)
	}
	woven := p.weave(mutants)
	for _, text := range []string{"case 3: return stepMutant3(s, on)\n", "func stepMutant3(s *state, on bool) bool {"} {
		if !strings.Contains(woven["small.go"], text) {
			t.Errorf("no %q in\n%s", text, woven["small.go"])
		}
	}
	if text := "case 1: Matrix[1] = Row{Reaction{Calm}, 1}\n"; !strings.Contains(woven[pickFile], text) {
		t.Errorf("no %q in\n%s", text, woven[pickFile])
	}
}

// An entry of the list of equivalents needs a mutant and a proof.
func TestReadEquivalent(t *testing.T) {
	known := []mutant{{ID: "a.go:1 drop x"}}
	for text, wrong := range map[string]string{
		"a.go:1 drop x := x is y\n# note\n": "",
		"a.go:1 drop x\n":                   "no proof",
		"a.go:2 drop x := x is y\n":         "no mutant has the id",
	} {
		name := t.TempDir() + "/list.txt"
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := readEquivalent(name, known)
		if wrong == "" && (err != nil || got["a.go:1 drop x"] != "x is y") {
			t.Errorf("%q: %v, %v", text, got, err)
		}
		if wrong != "" && (err == nil || !strings.Contains(err.Error(), wrong)) {
			t.Errorf("%q: error %v, want %q", text, err, wrong)
		}
	}
}
