package campaign

import (
	"strings"
	"testing"
)

func TestScriptsReadBack(t *testing.T) {
	lines := timelines(t)
	cases := append(Singles(lines), Pairs(lines)...)
	for seed := range uint64(500) {
		cases = append(cases, Random(seed))
	}
	for _, c := range cases {
		text := c.Script.String()
		s, err := ParseScript(text)
		if err != nil {
			t.Fatalf("%s: %v", c.Name, err)
		}
		if s.String() != text {
			t.Fatalf("%s: %q reads back as %q", c.Name, text, s.String())
		}
	}
}

func TestBrokenScriptsAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"":                                 "write rig and seed",
		"driven":                           "write rig and seed",
		"nowhere 1":                        "no rig",
		"driven 1; flame_out":              "no time in ms",
		"driven 1; 10 provoke 99":          "no provocation",
		"driven 1; 10 fault flame":         "no fault",
		"driven 1; 10 command start":       "no command",
		"driven 1; 10 clock tomorrow":      "write a jump in ms",
		"driven 1; 10 dance":               "means nothing",
		"driven 1;":                        "no time in ms",
		strings.Repeat("x", MaxScript+1):   "too long",
		"driven 99999999999999999999; 1 a": "write rig and seed",
	} {
		if _, err := ParseScript(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v; want %q", text, err, want)
		}
	}
}

func FuzzParseScript(f *testing.F) {
	f.Add("driven 7; 90000 fault flame_out; 91000 command stop")
	f.Add("turning-short 3; 5 provoke 12; 6 clock 4000; 7 foreign text")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := ParseScript(text)
		if err != nil {
			return
		}
		again, err := ParseScript(s.String())
		if err != nil || again.String() != s.String() {
			t.Errorf("%q reads back as %q (%v)", s.String(), again.String(), err)
		}
	})
}
