package wiring

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Kind is a list of pins.h, in the order of the page.
type Kind int

// The lists.
const (
	Input Kind = iota
	Output
	Pulse
	Analog
	Encoder
	Setpoint
)

var lists = []struct {
	kind   Kind
	name   string // of the macro
	fields int    // of one PIN(...)
}{
	{Input, "INPUT_PINS", 5}, {Output, "OUTPUT_PINS", 5}, {Pulse, "PULSE_PIN", 5},
	{Analog, "ANALOG_PINS", 3}, {Encoder, "ENCODER_PINS", 4}, {Setpoint, "SETPOINT_PINS", 5},
}

// Pin is one line of pins.h.
type Pin struct {
	Kind     Kind
	Name     string // IN_ESTOP_OK
	At       string // port and bit, PA0
	Label    string // printed on the board: 22, A9
	Inverted bool
}

var pinCall = regexp.MustCompile(`PIN\(([^()]*)\)`)

// Parse reads all lists of pins.h. Each pin has to be one that the board brings
// out, under its printed name, and may be taken once.
func Parse(header string) ([]Pin, error) {
	var all []Pin
	taken := map[string]string{"PE0": "the serial line", "PE1": "the serial line",
		"PB1": "the programmer", "PB2": "the programmer", "PB3": "the programmer"}
	for _, l := range lists {
		_, text, found := strings.Cut(header, "#define "+l.name+"(PIN)")
		if !found {
			return nil, fmt.Errorf("pins.h: no list %s", l.name)
		}
		calls := pinCall.FindAllStringSubmatch(macroBody(text), -1)
		if len(calls) == 0 {
			return nil, fmt.Errorf("pins.h: %s is empty", l.name)
		}
		for _, c := range calls {
			p, err := parsePin(l.kind, l.fields, c[1])
			if err != nil {
				return nil, fmt.Errorf("pins.h: %s: PIN(%s): %w", l.name, c[1], err)
			}
			if by := taken[p.At]; by != "" {
				return nil, fmt.Errorf("pins.h: %s: pin %s (%s) is taken by %s", p.Name, p.Label, p.At, by)
			}
			taken[p.At] = p.Name
			all = append(all, p)
		}
	}
	return all, nil
}

// macroBody is the text of a macro: its line and those that it continues on.
func macroBody(text string) string {
	var body strings.Builder
	for line := range strings.Lines(text) {
		body.WriteString(line)
		if !strings.HasSuffix(strings.TrimSpace(line), `\`) {
			break
		}
	}
	return body.String()
}

func parsePin(kind Kind, fields int, call string) (Pin, error) {
	f := strings.Split(call, ",")
	for i := range f {
		f[i] = strings.TrimSpace(f[i])
	}
	if len(f) != fields {
		return Pin{}, fmt.Errorf("%d fields; this list has %d", len(f), fields)
	}
	p := Pin{Kind: kind, Name: f[0]}
	switch kind {
	case Analog:
		channel, err := strconv.Atoi(f[1])
		if err != nil || channel < 0 || channel > 15 {
			return Pin{}, fmt.Errorf("converter channel %q; right is 0 to 15", f[1])
		}
		p.At, p.Label = fmt.Sprintf("P%c%d", "FK"[channel/8], channel%8), f[2]
	case Setpoint:
		p.At, p.Label = "P"+f[2]+f[3], f[4]
	default:
		p.At, p.Label = "P"+f[1]+f[2], f[3]
	}
	if fields == 5 && kind != Setpoint {
		if f[4] != "DIRECT" && f[4] != "INVERTED" {
			return Pin{}, fmt.Errorf("sense %q; right is DIRECT or INVERTED", f[4])
		}
		p.Inverted = f[4] == "INVERTED"
	}
	i := slices.IndexFunc(sockets, func(s socket) bool { return s.label == p.Label })
	if i < 0 || sockets[i].at != p.At {
		return Pin{}, fmt.Errorf("the board's pin %s is not %s", p.Label, p.At)
	}
	return p, nil
}
