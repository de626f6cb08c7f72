package trials

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"pressrig/units"
)

// digits is how many decimals a quantity is shown with: no more than the
// sensors of such a rig are good for.
var digits = map[units.Dimension]int{
	units.Temperature: 0,
	units.Length:      2,
	units.Force:       1,
	units.Rotation:    0,
	units.Flow:        2,
	units.Pressure:    2,
}

// none stands where there is no value.
const none = "-"

// Text is the comparison for a person, in columns of plain text.
func (c Comparison) Text() string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	c.headText(w)
	for _, n := range c.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	c.phaseText(w)
	c.channelText(w)
	c.measureText(w)
	w.Flush() // a strings.Builder takes all
	return trimLines(b.String())
}

// line prints a row of cells.
func line(w *tabwriter.Writer, name string, cells []string) {
	fmt.Fprintf(w, "%s\t%s\n", name, strings.Join(cells, "\t"))
}

func (c *Comparison) headText(w *tabwriter.Writer) {
	rows := []struct {
		name string
		of   func(*Head) string
	}{
		{"cycle", func(h *Head) string { return strconv.FormatUint(uint64(h.Number), 10) }},
		{"recipe", func(h *Head) string { return h.Recipe }},
		{"rig", func(h *Head) string { return h.Rig }},
		{"started", func(h *Head) string { return h.Started.Format("2006-01-02 15:04:05") }},
		{"state", stateText},
		{"first cause", causeText},
		{"reason", func(h *Head) string { return orNone(h.Reason) }},
		{"START to end", func(h *Head) string { return fixed(h.LengthS, 1) + " s" }},
	}
	for _, r := range rows {
		var cells []string
		for i := range c.Cycles {
			cells = append(cells, r.of(&c.Cycles[i]))
		}
		line(w, r.name, cells)
	}
}

func stateText(h *Head) string {
	text := h.State
	if text == "" {
		text = "running"
	}
	if h.Lockout {
		text += ", lockout"
	}
	return text
}

func causeText(h *Head) string {
	if h.FirstCause == 0 {
		return none
	}
	return fmt.Sprintf("%d %s", h.FirstCause, h.CauseText)
}

func (c *Comparison) phaseText(w *tabwriter.Writer) {
	if len(c.Phases) == 0 {
		return
	}
	section(w, "phases: length, s, and against the first cycle; why each ended")
	for _, p := range c.Phases {
		var lengths, reasons []string
		for i, cell := range p.Cells {
			lengths = append(lengths, lengthText(cell, i))
			reasons = append(reasons, orNone(cell.Reason))
		}
		line(w, p.Phase, lengths)
		line(w, "  ended", reasons)
	}
}

func lengthText(cell PhaseCell, i int) string {
	if !cell.Ran {
		return "did not run"
	}
	text := fixed(cell.LengthS, 1)
	if i > 0 && cell.DiffS != nil {
		text += " (" + signed(*cell.DiffS, 1) + ")"
	}
	return text
}

// channelText leaves out the phases at whose end all read the same: they would
// bury the others.
func (c *Comparison) channelText(w *tabwriter.Writer) {
	for _, row := range c.Channels {
		d := digits[row.dim]
		section(w, row.Label+", "+row.Unit)
		cells := func(of func(*ChannelCell) *float64) []string {
			var out []string
			for i := range row.Cells {
				out = append(out, valueText(of(&row.Cells[i]), d))
			}
			return out
		}
		line(w, "  largest", cells(func(c *ChannelCell) *float64 { return c.Largest }))
		line(w, "  least", cells(func(c *ChannelCell) *float64 { return c.Least }))
		line(w, "  mean over time", cells(func(c *ChannelCell) *float64 { return c.Mean }))
		for _, p := range c.Phases {
			ends := cells(func(c *ChannelCell) *float64 { return c.endOf(p.Phase) })
			if len(c.Cycles) == 1 || differ(ends) {
				line(w, "  at the end of "+p.Phase, ends)
			}
		}
		line(w, "  farthest from the first", apartText(row.Cells, d))
	}
}

// differ reports whether two cells that have a value read differently.
func differ(cells []string) bool {
	seen := none
	for _, text := range cells {
		if text != none && seen != none && text != seen {
			return true
		}
		if text != none {
			seen = text
		}
	}
	return false
}

func (c *ChannelCell) endOf(phase string) *float64 {
	for _, e := range c.Ends {
		if e.Phase == phase {
			return e.Value
		}
	}
	return nil
}

func apartText(cells []ChannelCell, d int) []string {
	var out []string
	for i, c := range cells {
		switch {
		case i == 0 || c.Apart == nil:
			out = append(out, none)
		case c.Apart.Difference == 0:
			out = append(out, "no difference")
		case fixed(math.Abs(c.Apart.Difference), d) == fixed(0, d):
			out = append(out, "less than "+fixed(math.Pow10(-d), d))
		default:
			out = append(out, fmt.Sprintf("%s, %s s into %s", signed(c.Apart.Difference, d),
				fixed(c.Apart.AtS, 1), c.Apart.Phase))
		}
	}
	return out
}

func (c *Comparison) measureText(w *tabwriter.Writer) {
	if len(c.Measures) == 0 {
		return
	}
	section(w, "measures")
	for _, m := range c.Measures {
		var cells []string
		for _, v := range m.Values {
			text := none
			if v != nil {
				text = figures(*v) + " " + m.Unit
			}
			cells = append(cells, text)
		}
		line(w, "  "+m.Name, cells)
	}
}

func section(w *tabwriter.Writer, title string) {
	w.Flush() // a section's long names do not widen the columns of another
	fmt.Fprintf(w, "\n%s\n", title)
}

func valueText(v *float64, d int) string {
	if v == nil {
		return none
	}
	return fixed(*v, d)
}

func orNone(s string) string {
	if s == "" {
		return none
	}
	return s
}

// fixed prints with d decimals and no minus before zero.
func fixed(v float64, d int) string {
	text := strconv.FormatFloat(v, 'f', d, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// signed is fixed with a plus before what is positive, and ±0 for what is
// nothing with d decimals.
func signed(v float64, d int) string {
	text := fixed(v, d)
	if strings.Trim(text, "0.") == "" {
		return "±" + text
	}
	if !strings.HasPrefix(text, "-") {
		text = "+" + text
	}
	return text
}

// figures prints a measure to three significant figures.
func figures(v float64) string {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	before := int(math.Floor(math.Log10(math.Abs(v)))) + 1
	return fixed(v, max(0, 3-before))
}

func ordinal(n int) string {
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return strconv.Itoa(n) + suffix
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}
