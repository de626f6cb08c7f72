package firmware_test

import (
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// layer is a folder of C with what it may not have beyond the core.
type layer struct {
	folder    string
	files     int
	forbidden []ban
	loops     *regexp.Regexp // what the head of a loop may look like
}

type ban struct{ pattern, why string }

var everywhere = []ban{
	{`\b(float|double)\b`, "whole numbers only"},
	{`\b(malloc|calloc|realloc|free|alloca)\(`, "nothing is allocated"},
	{`\b(goto|setjmp|longjmp)\b`, "not readable"},
	{`\bunion\b`, "not readable"},
	{`\t\t\t\t\t\t`, "nested too deep"},
	{`\b(SPMCSR|SPMEN|boot_page\w*|<avr/boot.h>)`, "no program writes the flash"},
}

// The portable layer knows no registers; the board's own files do, and their
// compiler's sizes.
var layers = []layer{
	{"hal", 10, append([]ban{
		{`#include <(avr|util)`, "registers belong to boards/"},
		{`\b(PORT|PIN|DDR)[A-L]\b`, "registers belong to boards/"},
		{`\b(int|short|long)\b`, "its size differs between machines: use stdint.h"},
		{`\w /[^/*]|%`, "division is slow and can trap"},
	}, everywhere...), regexp.MustCompile(`^for \(uint(8|16)_t \w+ = 0; \w+ < [A-Z0-9_]+( - 1)?; \w+\+\+\) \{$`)},
	{"boards/mega2560", 8, everywhere, regexp.MustCompile(
		`^for \((volatile )?(uint(8|16)_t|const char \*)\w* ?\w* ?= .* < |^for \((volatile )?uint(8|16)_t \w+ = 0; \w+ < |^for \(;;\) \{|^for \(const char \*c = .* && n < WIRE_FIRMWARE_BYTES; c\+\+\) \{$`)},
}

func TestRulesOfTheLayers(t *testing.T) {
	for _, l := range layers {
		for _, s := range sourcesOf(t, l.folder, l.files) {
			for _, f := range l.forbidden {
				if at := regexp.MustCompile(f.pattern).FindStringIndex(s.text); at != nil {
					t.Errorf("%s/%s:%d: %q: %s", l.folder, s.name, 1+strings.Count(s.text[:at[0]], "\n"),
						s.text[at[0]:at[1]], f.why)
				}
			}
			for _, fn := range s.functions() {
				if n := strings.Count(fn.text, "\n") + 1; n > 60 {
					t.Errorf("%s/%s: %s has %d lines; at most 60", l.folder, s.name, fn.name, n)
				}
				for _, loop := range regexp.MustCompile(`\b(for|while|do)\b[^\n]*`).FindAllString(fn.text, -1) {
					if !l.loops.MatchString(loop) {
						t.Errorf("%s/%s: %s: %q: a loop whose bound cannot be seen", l.folder, s.name, fn.name, loop)
					}
				}
				if inside := fn.text[strings.Index(fn.text, "{"):]; regexp.MustCompile(`\b` + fn.name + `\(`).MatchString(inside) {
					t.Errorf("%s/%s: %s calls itself", l.folder, s.name, fn.name)
				}
			}
		}
	}
}

// endless are the only loops without an end, each fed or ended by the watchdog.
func TestEndlessLoopsAreTheKnownOnes(t *testing.T) {
	known := map[string]bool{"end_safely": true, "stay_off": true, "main": true}
	for _, s := range sourcesOf(t, "boards/mega2560", 8) {
		for _, fn := range s.functions() {
			if strings.Contains(fn.text, "for (;;)") && !known[fn.name] {
				t.Errorf("%s: %s never ends", s.name, fn.name)
			}
		}
	}
}

// pin is one row of pins.h.
type pin struct {
	name, port string
	bit, board int
	analog     bool
}

func pinsOf(t *testing.T, list string) []pin {
	t.Helper()
	text, err := os.ReadFile("boards/mega2560/pins.h")
	if err != nil {
		t.Fatal(err)
	}
	part := regexp.MustCompile(`#define ` + list + `\(PIN\)((?:[^\n]*\\\n)*[^\n]*)`).FindSubmatch(text)
	if part == nil {
		t.Fatalf("no %s in pins.h", list)
	}
	var all []pin
	for _, m := range regexp.MustCompile(`PIN\((\w+),\s*(?:OCR\w+, )?([A-L]), (\d), (A?)(\d+)`).FindAllSubmatch(part[1], -1) {
		bit, _ := strconv.Atoi(string(m[3]))
		board, _ := strconv.Atoi(string(m[5]))
		all = append(all, pin{string(m[1]), string(m[2]), bit, board, len(m[4]) > 0})
	}
	return all
}

// masks are the numbers of pins.c, by name.
func masks(t *testing.T) map[string]int {
	t.Helper()
	text, err := os.ReadFile("boards/mega2560/pins.c")
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]int{}
	for _, m := range regexp.MustCompile(`(?m)^\t(\w+)\s*= ([^,]+),`).FindAllSubmatch(text, -1) {
		v := 0
		for _, term := range strings.Split(string(m[2]), "|") {
			term = strings.TrimSpace(term)
			if shift, ok := strings.CutPrefix(term, "1 << "); ok {
				n, _ := strconv.Atoi(shift)
				v |= 1 << n
				continue
			}
			n, err := strconv.ParseInt(term, 0, 32)
			if err != nil {
				continue // no mask
			}
			v |= int(n)
		}
		found[string(m[1])] = v
	}
	return found
}

// Every output of the one list is in the mask of its port and no other bit is:
// what pins_all_off and the proof at the start cover is all there is.
func TestMasksCoverEveryOutput(t *testing.T) {
	have := masks(t)
	want := map[string]int{}
	for _, p := range pinsOf(t, "OUTPUT_PINS") {
		want["OUT_"+p.port] |= 1 << p.bit
	}
	for _, p := range pinsOf(t, "SETPOINT_PINS") {
		want["SET_"+p.port] |= 1 << p.bit
	}
	for _, p := range pinsOf(t, "PULSE_PIN") {
		want["PULSE_BIT"] |= 1 << p.bit
	}
	if len(want) != 7 {
		t.Fatalf("ports with outputs: %v", want)
	}
	text, err := os.ReadFile("boards/mega2560/pins.c")
	if err != nil {
		t.Fatal(err)
	}
	all := string(text)
	off := all[strings.Index(all, "void pins_all_off"):]
	off = off[:strings.Index(off, "}")]
	read := all[strings.Index(all, "bool pins_read_off"):]
	read = read[:strings.Index(read, "}")]
	for name, mask := range want {
		if have[name] != mask {
			t.Errorf("pins.c has %s = %02x, pins.h says %02x", name, have[name], mask)
		}
		port := name[len(name)-1:]
		if strings.HasPrefix(name, "OUT_") && !strings.Contains(off, "PORT"+port) {
			t.Errorf("pins_all_off leaves port %s", port)
		}
		if name != "PULSE_BIT" && !strings.Contains(read, "PIN"+port+" & "+name) {
			t.Errorf("pins_read_off does not read %s", name)
		}
	}
}

// No pin carries two things, on the port or on the board, and the serial line,
// the programmer and the two fuel valves have what they need.
func TestEveryPinHasOneUse(t *testing.T) {
	ports, boards := map[string]string{}, map[string]string{}
	for _, list := range []string{"INPUT_PINS", "OUTPUT_PINS", "PULSE_PIN", "ENCODER_PINS", "SETPOINT_PINS"} {
		for _, p := range pinsOf(t, list) {
			at, on := p.port+strconv.Itoa(p.bit), strconv.Itoa(p.board)
			if p.analog {
				on = "A" + on
			}
			if other := ports[at]; other != "" {
				t.Errorf("%s and %s are both on %s", other, p.name, at)
			}
			if other := boards[on]; other != "" {
				t.Errorf("%s and %s are both pin %s of the board", other, p.name, on)
			}
			ports[at], boards[on] = p.name, p.name
		}
	}
	for _, taken := range []string{"0", "1", "50", "51", "52"} {
		if boards[taken] != "" {
			t.Errorf("%s is on pin %s, which the serial line or the programmer needs", boards[taken], taken)
		}
	}
	if len(ports) != 30+13+1+2+5 {
		t.Errorf("%d pins", len(ports))
	}
	fuel := map[string]bool{}
	for _, p := range pinsOf(t, "OUTPUT_PINS") {
		if strings.HasPrefix(p.name, "OUT_FUEL") {
			fuel[p.port] = true
		}
	}
	if len(fuel) != 2 {
		t.Errorf("the two fuel valves hang on %d port", len(fuel))
	}
}
