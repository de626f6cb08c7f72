package main

import (
	"os"
	"strings"
	"testing"
)

const small = `#include "x.h"

// No mutant: a < b.
enum {
	CALM = 0,
	LOUD = 1,
};

static void step(state *s, const uint8_t *p, bool on) {
	uint8_t n = (uint8_t)-p[0];
	for (uint8_t i = 0; i < n; i++) {
		s->sum += p[i] & 0x0Fu;
	}
	switch (n) {
	case CALM:
		reset(s);
		break;
	default:
		break;
	}
	if (!on && s->ms >= 7) {
		*s = (state){0};
		return;
	}
	s->bits = 1u << n;
}
`

// The whole list for a small file. What follows a : in a conditional, a cast's
// minus, declarations and what an enum declares are left alone.
func TestMutantsOfASmallFile(t *testing.T) {
	mutants, err := generate([]string{"small.c"}, map[string]string{"small.c": small})
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Split(strings.TrimSpace(`
constant small.c:5 CALM = [0 => 1],
constant small.c:5 CALM = [0 => -1],
constant small.c:6 LOUD = [1 => 2],
constant small.c:6 LOUD = [1 => 0],
constant small.c:10 uint8_t n = (uint8_t)-p[[0 => 1]];
constant small.c:10 uint8_t n = (uint8_t)-p[[0 => -1]];
constant small.c:11 for (uint8_t i = [0 => 1]; i < n; i++) {
constant small.c:11 for (uint8_t i = [0 => -1]; i < n; i++) {
comparison small.c:11 for (uint8_t i = 0; i [< => <=] n; i++) {
arithmetic small.c:11 for (uint8_t i = 0; i < n; i[++ => --]) {
statement small.c:12 [s->sum += p[i] & 0x0Fu; => ;]
arithmetic small.c:12 s->sum [+= => -=] p[i] & 0x0Fu;
bit small.c:12 s->sum += p[i] [& => |] 0x0Fu;
constant small.c:12 s->sum += p[i] & [0x0Fu => 0x10u];
constant small.c:12 s->sum += p[i] & [0x0Fu => 0xEu];
name small.c:15 case [CALM => LOUD]:
statement small.c:16 [reset(s); => ;]
statement small.c:17 [break; => ;]
statement small.c:19 [break; => ;] #2
condition small.c:21 if [(!on && s->ms >= 7) => (!(!on && s->ms >= 7))] {
negation small.c:21 if ([! => ]on && s->ms >= 7) {
logic small.c:21 if (!on [&& => ||] s->ms >= 7) {
comparison small.c:21 if (!on && s->ms [>= => >] 7) {
constant small.c:21 if (!on && s->ms >= [7 => 8]) {
constant small.c:21 if (!on && s->ms >= [7 => 6]) {
statement small.c:22 [*s = (state){0}; => ;]
constant small.c:22 *s = (state){[0 => 1]};
constant small.c:22 *s = (state){[0 => -1]};
statement small.c:23 [return; => ;]
statement small.c:25 [s->bits = 1u << n; => ;]
constant small.c:25 s->bits = [1u => 2u] << n;
constant small.c:25 s->bits = [1u => 0u] << n;
shift small.c:25 s->bits = 1u [<< => >>] n;
shift small.c:25 s->bits = 1u << [ => 1 +]n;
shift small.c:25 s->bits = 1u << [ => -1 +]n;
`), "\n")
	for i := range max(len(mutants), len(want)) {
		got, line := "nothing", "nothing"
		if i < len(mutants) {
			got = mutants[i].Operator + " " + mutants[i].ID()
		}
		if i < len(want) {
			line = want[i]
		}
		if got != line {
			t.Fatalf("mutant %d is %q, want %q", i, got, line)
		}
	}
}

func TestTokensThatCannotBeRead(t *testing.T) {
	_, err := generate([]string{"a.c"}, map[string]string{"a.c": "int a;\nint b = @;\n"})
	if err == nil || !strings.Contains(err.Error(), "a.c:2") {
		t.Errorf("error %v; want one that names a.c:2", err)
	}
}

// Each file and each operator gives mutants, all different, and none is the
// core itself. Each line of equivalent.txt names one.
func TestMutantsOfTheCore(t *testing.T) {
	mutants, _, err := ofCore("../..")
	if err != nil {
		t.Fatal(err)
	}
	keys, operators, files := map[string]bool{}, map[string]int{}, map[string]int{}
	for _, m := range mutants {
		if keys[m.Key()] {
			t.Errorf("%q twice", m.Key())
		}
		keys[m.Key()] = true
		operators[m.Operator]++
		files[m.File]++
		text, err := os.ReadFile("../core/" + m.File)
		if err != nil || string(text) == m.Text {
			t.Errorf("%s changes nothing (%v)", m.ID(), err)
		}
	}
	for operator, least := range map[string]int{"comparison": 300, "logic": 250, "arithmetic": 40, "constant": 800,
		"boolean": 20, "statement": 350, "condition": 150, "negation": 80, "name": 500, "bit": 50, "shift": 40} {
		if operators[operator] < least {
			t.Errorf("operator %s makes %d mutants; at least %d are expected", operator, operators[operator], least)
		}
	}
	if len(files) != 21 {
		t.Errorf("mutants of %d files, 21 are expected: %v", len(files), files)
	}
}

// A line of the list of equivalents needs a mutant and a proof.
func TestReadEquivalent(t *testing.T) {
	known := []mutant{{File: "a.c", Change: "x [< => <=] y"}}
	for text, wrong := range map[string]string{
		"a.c x [< => <=] y := never equal\n# note\n": "",
		"a.c x [< => <=] y\n":                        "no proof",
		"a.c x [> => >=] y := never equal\n":         "no mutant is",
	} {
		name := t.TempDir() + "/list.txt"
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		got, err := readEquivalent(name, known)
		if wrong == "" && (err != nil || len(got) != 1) {
			t.Errorf("%q: %v, %v", text, got, err)
		}
		if wrong != "" && (err == nil || !strings.Contains(err.Error(), wrong)) {
			t.Errorf("%q: error %v, want %q", text, err, wrong)
		}
	}
}
