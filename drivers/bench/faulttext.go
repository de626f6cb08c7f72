package bench

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/units"
)

// MaxFaultText is the longest fault line, far above any useful one.
const MaxFaultText = 200

var burnerNames = [...]string{"standby", "check", "purge", "igniter", "trial", "prove",
	"prove_dark", "run", "off", "post_purge", "lockout"}

var pressNames = [...]string{"off", "stay", "closing", "contact", "opening", "easing",
	"hand_open", "hand_close"}

// ParseFault reads one line:
//
//	name [switch on|off | switch | channel | button] [amount] [@ when] [for time]
//
// when is a time since the rig began ("60s"), a phase ("burner=run",
// "press=contact") or a channel's true value ("glass>=700"), the last two with
// a delay ("burner=run+10s"). A channel's bare number is in its base unit.
func ParseFault(text string) (Fault, error) {
	var f Fault
	if len(text) > MaxFaultText {
		return f, fmt.Errorf("fault line of %d bytes is too long; at most %d", len(text), MaxFaultText)
	}
	what, when, lasts, err := cutFault(text)
	if err != nil {
		return f, err
	}
	if err := parseWhat(&f, what); err != nil {
		return f, err
	}
	if when != "" {
		if f.When, err = parseWhen(when); err != nil {
			return f, err
		}
	}
	if lasts != "" {
		if f.ForMs, err = parseMs(lasts); err != nil {
			return f, err
		}
		if f.ForMs == 0 {
			return f, errors.New("a fault for 0 ms does nothing; give a time like \"for 5s\"")
		}
	}
	_, err = checkFault(&f)
	return f, err
}

// cutFault splits "what @ when for lasts".
func cutFault(text string) (what, when, lasts string, err error) {
	words := strings.Fields(strings.ReplaceAll(text, "@", " @ "))
	part := 0
	var parts [3][]string
	for _, w := range words {
		next := map[string]int{"@": 1, "for": 2}[w]
		if next == 0 {
			parts[part] = append(parts[part], w)
			continue
		}
		if next <= part {
			return "", "", "", fmt.Errorf("%q stands twice or too late; write like %q", w, example)
		}
		part = next
		parts[part] = []string{}
	}
	for i, mark := range []string{"", "@", "for"} {
		if i > 0 && parts[i] != nil && len(parts[i]) == 0 {
			return "", "", "", fmt.Errorf("nothing after %q; write like %q", mark, example)
		}
	}
	return strings.Join(parts[0], " "), strings.Join(parts[1], ""), strings.Join(parts[2], " "), nil
}

const example = "flame_out @ glass>=700 for 5s"

func parseWhat(f *Fault, what string) error {
	words := strings.Fields(what)
	if len(words) == 0 {
		return fmt.Errorf("no fault named; write like %q, one of %s", example, faultNames())
	}
	f.Name = words[0]
	kind := kindNamed(f.Name)
	if kind == nil {
		return fmt.Errorf("no fault %q; one of %s", f.Name, faultNames())
	}
	rest := words[1:]
	if kind.Takes != TakesNothing && kind.Takes != TakesValue {
		if len(rest) == 0 {
			return fmt.Errorf("%s needs %s", f.Name, wantedBy[kind.Takes])
		}
		f.Target, rest = rest[0], rest[1:]
	}
	switch {
	case kind.Takes == TakesInput && len(rest) == 1 && (rest[0] == "on" || rest[0] == "off"):
		if switchBit(f.Target) == 0 {
			return fmt.Errorf("%q is no switch that could be stuck %s; one of %s",
				f.Target, rest[0], switchNames())
		}
		f.On, rest = rest[0] == "on", nil
	case kind.Takes == TakesInput && len(rest) == 0 && switchBit(f.Target) != 0:
		return fmt.Errorf("stuck %s: say which way, on or off", f.Target)
	case kind.Takes == TakesAmount || kind.Takes == TakesValue:
		if len(rest) == 0 {
			return fmt.Errorf("%s needs %s", f.Name, wantedBy[kind.Takes])
		}
		v, err := parseAmount(strings.Join(rest, " "), amountDim(kind, f.Target))
		if err != nil {
			return err
		}
		f.Value, rest = v, nil
	}
	if len(rest) > 0 {
		return fmt.Errorf("%q after %s means nothing; write like %q",
			strings.Join(rest, " "), f.Name, example)
	}
	return nil
}

var wantedBy = map[Takes]string{
	TakesInput:   "a switch and on or off, or a channel, like \"stuck flame on\" or \"stuck glass\"",
	TakesChannel: "a channel, like \"lost glass\"",
	TakesAmount:  "a channel and an amount, like \"offset glass 40 K\"",
	TakesValue:   "an amount, like \"line_drop 10 %\" or \"line_delay 300 ms\"",
	TakesSwitch:  "a switch, like \"bounce start for 1 ms\"",
	TakesButton:  "a button, like \"press START for 200ms\"",
}

// after is what follows the name of a fault, in a list.
func (k *FaultKind) after() string {
	switch k.Takes {
	case TakesInput:
		return " SWITCH on|off or CHANNEL"
	case TakesChannel:
		return " CHANNEL"
	case TakesAmount:
		return " CHANNEL AMOUNT"
	case TakesButton:
		return " BUTTON"
	case TakesSwitch:
		return " SWITCH"
	case TakesValue:
		return " " + units.Format(k.Low, k.Dim) + " to " + units.Format(k.High, k.Dim)
	}
	return ""
}

// FaultHelp lists the faults, a line each.
func FaultHelp() string {
	lines := make([]string, len(FaultKinds))
	for i := range FaultKinds {
		k := &FaultKinds[i]
		lasts := ""
		if k.PulseMs > 0 {
			lasts = "; for " + strconv.FormatUint(uint64(k.PulseMs), 10) + " ms where no time is given"
		}
		lines[i] = fmt.Sprintf("%-38s %s%s", k.Name+k.after(), k.Help, lasts)
	}
	return strings.Join(lines, "\n")
}

// amountDim is the dimension of an amount: a temperature's is a difference.
func amountDim(kind *FaultKind, target string) units.Dimension {
	if kind.Takes == TakesValue {
		return kind.Dim
	}
	c, ok := rig.ChannelNamed(target)
	if !ok || c.Dim == units.Temperature {
		return units.Difference
	}
	return c.Dim
}

// parseAmount reads a quantity; a bare number is in the base unit.
func parseAmount(text string, dim units.Dimension) (float64, error) {
	if v, err := strconv.ParseFloat(text, 64); err == nil {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, fmt.Errorf("%q is not a finite number", text)
		}
		return v, nil
	}
	return units.Parse(text, dim)
}

func parseMs(text string) (uint32, error) {
	d, err := units.ParseTime(text)
	if err != nil {
		return 0, err
	}
	return uint32(d / time.Millisecond), nil // at most 1,000 h, which fits
}

func parseWhen(text string) (Trigger, error) {
	var t Trigger
	condition, after, delayed := strings.Cut(text, "+")
	if delayed {
		ms, err := parseMs(after)
		if err != nil {
			return t, fmt.Errorf("delay after %q: %w", condition, err)
		}
		t.AfterMs = ms
	}
	for _, op := range []string{">=", "<="} {
		if name, value, ok := strings.Cut(condition, op); ok {
			t.AtLeast = op == ">="
			return parseChannelWhen(t, name, value)
		}
	}
	if machine, phase, ok := strings.Cut(condition, "="); ok {
		return parsePhaseWhen(t, machine, phase)
	}
	if delayed {
		return t, fmt.Errorf("%q: a delay stands only after a phase or a channel, "+
			"like \"burner=run+10s\"", text)
	}
	d, err := units.ParseTime(condition)
	if err != nil {
		return t, fmt.Errorf("when %q: %w; or a condition like \"glass>=700\" or "+
			"\"burner=run\"", text, err)
	}
	t.Kind, t.AtMs = TriggerAt, uint64(d/time.Millisecond)
	return t, nil
}

func parseChannelWhen(t Trigger, name, value string) (Trigger, error) {
	c, ok := rig.ChannelNamed(name)
	if !ok {
		return t, fmt.Errorf("no channel %q; one of %s", name, channelNames())
	}
	v, err := parseAmount(value, c.Dim)
	if err != nil {
		return t, fmt.Errorf("%s: %w", name, err)
	}
	t.Kind, t.AI, t.Value = TriggerChannel, uint8(c.AI), v
	return t, nil
}

func parsePhaseWhen(t Trigger, machine, phase string) (Trigger, error) {
	var names []string
	switch machine {
	case "burner":
		t.Kind, names = TriggerBurner, burnerNames[:]
	case "press":
		t.Kind, names = TriggerPress, pressNames[:]
	default:
		return t, fmt.Errorf("%q has no phases; write one of burner or press, like \"burner=run\"",
			machine)
	}
	for i, n := range names {
		if n == phase {
			t.Phase = uint8(i)
			return t, nil
		}
	}
	return t, fmt.Errorf("no %s phase %q; one of %s", machine, phase, strings.Join(names, ", "))
}

// String writes the fault so that ParseFault reads the same fault back.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.Name)
	if f.Target != "" {
		b.WriteString(" " + f.Target)
	}
	kind := kindNamed(f.Name)
	if kind != nil {
		switch {
		case kind.Takes == TakesInput && switchBit(f.Target) != 0:
			b.WriteString(map[bool]string{true: " on", false: " off"}[f.On])
		case kind.Takes == TakesAmount || kind.Takes == TakesValue:
			b.WriteString(" " + units.Format(f.Value, amountDim(kind, f.Target)))
		}
	}
	if w := f.When.String(); w != "" {
		b.WriteString(" @ " + w)
	}
	if f.ForMs > 0 {
		b.WriteString(" for " + strconv.FormatUint(uint64(f.ForMs), 10) + " ms")
	}
	return b.String()
}

// String writes the trigger as in a fault line, "" for now.
func (t Trigger) String() string {
	var s string
	switch t.Kind {
	case TriggerNow:
		return ""
	case TriggerAt:
		return strconv.FormatUint(t.AtMs, 10) + " ms"
	case TriggerBurner:
		s = "burner=" + nameOf(burnerNames[:], t.Phase)
	case TriggerPress:
		s = "press=" + nameOf(pressNames[:], t.Phase)
	case TriggerChannel:
		op := map[bool]string{true: ">=", false: "<="}[t.AtLeast]
		c := rig.Analogs[t.AI]
		s = c.Name + op + units.Format(t.Value, c.Dim)
	}
	if t.AfterMs > 0 {
		s += "+" + strconv.FormatUint(uint64(t.AfterMs), 10) + " ms"
	}
	return s
}

func nameOf(names []string, i uint8) string {
	if int(i) < len(names) {
		return names[i]
	}
	return "phase?"
}
