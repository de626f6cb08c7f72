package yamlfile

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"pressrig/units"
)

// Node is one value of a file, or its absence. Readers of an absent or already
// refused value return zero and say nothing, so that one fault is told once.
type Node struct {
	f    *File
	it   *item
	name string // the key it stands under, for messages
}

// Present reports whether the file has the value.
func (n Node) Present() bool { return n.it != nil && n.it.kind != refused }

// Line is the value's line, 0 when it is absent.
func (n Node) Line() int {
	if n.it == nil {
		return 0
	}
	return n.it.line
}

// Column is the value's column, 0 when it is absent.
func (n Node) Column() int {
	if n.it == nil {
		return 0
	}
	return n.it.column
}

// Name is the key that the value stands under.
func (n Node) Name() string { return n.name }

// Fault reports an error at the value: what is wrong, what would be right.
func (n Node) Fault(what, right string) { n.report(what, right, false) }

// Warn reports a warning at the value.
func (n Node) Warn(what, right string) { n.report(what, right, true) }

func (n Node) report(what, right string, warning bool) {
	line, column := max(n.Line(), 1), max(n.Column(), 1)
	n.f.log.add(Problem{Line: line, Column: column, What: what, Right: right, Warning: warning})
}

// FaultAt reports an error at the byte of the value's text, for values that
// have parts.
func (n Node) FaultAt(offset int, what, right string) {
	column := n.Column()
	if n.it != nil && offset <= len(n.it.text) {
		column += utf8.RuneCountInString(n.it.text[:offset])
		if n.it.quoted {
			column++
		}
	}
	n.f.log.add(Problem{Line: max(n.Line(), 1), Column: max(column, 1), What: what, Right: right})
}

// IsMap reports whether the value has keys.
func (n Node) IsMap() bool { return n.it != nil && n.it.kind == mapping }

// IsList reports whether the value is a list.
func (n Node) IsList() bool { return n.it != nil && n.it.kind == list }

// Word is the value's bare text without any complaint, "" for maps and lists.
func (n Node) Word() string {
	if n.it == nil {
		return ""
	}
	return n.it.text
}

// Text reads words, quoted or not, of 1 to most characters.
func (n Node) Text(most int) string {
	if !n.Present() {
		return ""
	}
	s := strings.TrimSpace(n.it.text)
	switch {
	case n.it.kind == null || n.it.kind == scalar && s == "":
		n.Fault(n.name+" is empty", "write its text")
	case n.it.kind == number || n.it.kind == truth:
		n.Fault(fmt.Sprintf("%s is %s, which is no text", n.name, n.shown()),
			fmt.Sprintf("put it in quotes: %q", s))
	case n.it.kind != scalar:
		n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()), "write one text")
	case utf8.RuneCountInString(s) > most:
		n.Fault(fmt.Sprintf("%s has %d characters", n.name, utf8.RuneCountInString(s)),
			fmt.Sprintf("write at most %d", most))
	default:
		return s
	}
	return ""
}

// Ident reads a name: 1 to most of small letters, digits, - and _, beginning
// with a letter.
func (n Node) Ident(most int) string {
	s := n.Text(most)
	for i, r := range s {
		letter := r >= 'a' && r <= 'z'
		if !letter && (i == 0 || !(r >= '0' && r <= '9' || r == '-' || r == '_')) {
			n.Fault(fmt.Sprintf("%s %q is no name", n.name, s),
				"use small letters, digits, - and _, beginning with a letter")
			return ""
		}
	}
	return s
}

// Choice reads one of the words.
func (n Node) Choice(of ...string) string {
	if !n.Present() {
		return ""
	}
	for _, w := range of {
		if n.it.text == w && n.it.kind == scalar {
			return w
		}
	}
	n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()),
		"write "+orList(of)+near(n.it.text, of))
	return ""
}

// Bool reads true or false.
func (n Node) Bool() bool {
	if !n.Present() {
		return false
	}
	if n.it.kind == truth && (n.it.text == "true" || n.it.text == "false") {
		return n.it.text == "true"
	}
	n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()), "write true or false")
	return false
}

// Count reads a plain decimal number between least and most.
func (n Node) Count(least, most int) int {
	if !n.Present() {
		return 0
	}
	right := fmt.Sprintf("write a whole number from %d to %d", least, most)
	s := n.it.text
	v, err := strconv.Atoi(s)
	if n.it.kind != number || err != nil || strconv.Itoa(v) != s {
		n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()), right)
		return 0
	}
	if v < least || v > most {
		n.Fault(fmt.Sprintf("%s is %d", n.name, v), right)
		return 0
	}
	return v
}

// Quantity reads a number with its unit between least and most, both in the
// base unit of d, and returns it in that unit.
func (n Node) Quantity(d units.Dimension, least, most float64) float64 {
	if !n.leaf(d) {
		return 0
	}
	v, err := units.Parse(n.it.text, d)
	if err != nil {
		what, right := halves(err)
		n.Fault(n.name+": "+what, right)
		return 0
	}
	if v < least || v > most {
		n.Fault(fmt.Sprintf("%s is %s", n.name, units.Format(v, d)),
			fmt.Sprintf("write %s to %s", units.Format(least, d), units.Format(most, d)))
		return 0
	}
	return v
}

// Time reads a time between least and most.
func (n Node) Time(least, most time.Duration) time.Duration {
	if !n.leaf(units.Time) {
		return 0
	}
	t, err := units.ParseTime(n.it.text)
	if err != nil {
		what, right := halves(err)
		n.Fault(n.name+": "+what, right)
		return 0
	}
	if t < least || t > most {
		n.Fault(fmt.Sprintf("%s is %s", n.name, units.FormatTime(t)),
			fmt.Sprintf("write %s to %s", units.FormatTime(least), units.FormatTime(most)))
		return 0
	}
	return t
}

// leaf reports whether the value is one text that a quantity could be read
// from, and says what it is if not.
func (n Node) leaf(d units.Dimension) bool {
	if !n.Present() {
		return false
	}
	if n.it.kind == scalar || n.it.kind == number {
		return true
	}
	n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()),
		fmt.Sprintf("write a %s like %q", d, units.Example(d)))
	return false
}

// List reads the entries of a list, at most the given number.
func (n Node) List(most int) []Node {
	if !n.Present() {
		return nil
	}
	if n.it.kind != list {
		n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()), "write a list, each entry after a dash")
		return nil
	}
	if len(n.it.items) > most {
		n.Fault(fmt.Sprintf("%s has %d entries", n.name, len(n.it.items)),
			fmt.Sprintf("write at most %d", most))
		return nil
	}
	nodes := make([]Node, 0, len(n.it.items))
	for _, it := range n.it.items {
		nodes = append(nodes, Node{n.f, it, "an entry of " + n.name})
	}
	return nodes
}

// shown is the value in few words, for messages.
func (n Node) shown() string {
	switch n.it.kind {
	case list:
		return "a list"
	case mapping:
		return "a map of keys"
	case null:
		return "empty"
	case number, truth:
		return n.it.text
	}
	return strconv.Quote(short(n.it.text))
}
