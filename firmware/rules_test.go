package firmware_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The core has to run on a machine whose int has 16 bits, that divides slowly
// and has little memory, and be read by people.
func TestRulesOfTheCore(t *testing.T) {
	forbidden := []struct{ pattern, why string }{
		{`\b(int|unsigned|short|long|char|size_t)\b`, "its size differs between machines: use stdint.h"},
		{`\b(float|double)\b`, "whole numbers only"},
		{`[^/*]/[^/*]|%`, "division is slow and can trap"},
		{`\b(malloc|calloc|realloc|free|alloca)\b`, "nothing is allocated"},
		{`\b(goto|setjmp|longjmp)\b`, "not readable"},
		{`#include <`, "no headers but stdbool.h and stdint.h"},
		{`\b(union|volatile|register|extern "C")\b`, "belongs to the hardware layer"},
		{`\t\t\t\t\t\t`, "nested too deep"},
	}
	for _, s := range core(t) {
		text := strings.NewReplacer("#include <stdbool.h>", "", "#include <stdint.h>", "").Replace(s.text)
		for _, f := range forbidden {
			if at := regexp.MustCompile(f.pattern).FindStringIndex(text); at != nil {
				line := strings.Count(text[:at[0]], "\n") + 1
				t.Errorf("core/%s:%d: %q: %s", s.name, line, text[at[0]:at[1]], f.why)
			}
		}
	}
}

// Functions are short, loops are bounded by the three forms that are used, and
// nothing calls itself, directly or not.
func TestFunctionsOfTheCore(t *testing.T) {
	loop := regexp.MustCompile(`\b(for|while|do)\b[^\n]*`)
	bounded := regexp.MustCompile(`^for \((uint8_t \w+ = |i\+\+; i < end)|^while \(i < size\) \{$`)
	call := regexp.MustCompile(`\b(\w+)\(`)
	calls := map[string][]string{}
	for _, s := range core(t) {
		for _, f := range s.functions() {
			if n := strings.Count(f.text, "\n") + 1; n > 60 {
				t.Errorf("core/%s: %s has %d lines; at most 60", s.name, f.name, n)
			}
			for _, l := range loop.FindAllString(f.text, -1) {
				if !bounded.MatchString(l) {
					t.Errorf("core/%s: %s: %q: a loop whose bound cannot be seen", s.name, f.name, l)
				}
			}
			for _, m := range call.FindAllStringSubmatch(f.text[strings.Index(f.text, "{"):], -1) {
				calls[f.name] = append(calls[f.name], m[1])
			}
		}
	}
	if len(calls) < 120 {
		t.Fatalf("found only %d functions", len(calls))
	}
	var visit func(name string, path []string)
	done := map[string]bool{}
	visit = func(name string, path []string) {
		if slices.Contains(path, name) {
			t.Fatalf("recursion: %v", append(path, name))
		}
		if done[name] {
			return
		}
		for _, next := range calls[name] {
			visit(next, append(path, name))
		}
		done[name] = true
	}
	for name := range calls {
		visit(name, nil)
	}
}
