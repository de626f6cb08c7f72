package yamlfile

import (
	"fmt"
	"strings"
)

// Map is a value with keys, all of them known.
type Map struct {
	n      Node
	values map[string]*item
}

// Map reads keys and values; a key that is not among known is an error that
// names the known ones and the nearest of them.
func (n Node) Map(known ...string) Map {
	m := n.AnyMap()
	for _, e := range m.entries() {
		if !contains(known, e.key.text) {
			Node{n.f, e.key, ""}.Fault(fmt.Sprintf("unknown key %q", short(e.key.text)),
				"known here: "+strings.Join(known, ", ")+near(e.key.text, known))
		}
	}
	return m
}

// AnyMap reads keys and values where the keys are the writer's own names.
func (n Node) AnyMap() Map {
	m := Map{n: n, values: map[string]*item{}}
	if !n.Present() {
		return m
	}
	if n.it.kind != mapping {
		n.Fault(fmt.Sprintf("%s is %s", n.name, n.shown()), "write keys with values")
		return Map{n: Node{n.f, &item{kind: refused, line: n.it.line, column: n.it.column}, n.name},
			values: m.values}
	}
	for _, e := range n.it.entries {
		m.values[e.key.text] = e.value
	}
	return m
}

// Get is the value under key; it may be absent.
func (m Map) Get(key string) Node { return Node{m.n.f, m.values[key], key} }

// Need is the value under key; its absence is an error, told at the map.
func (m Map) Need(key, right string) Node {
	if m.values[key] == nil && m.n.Present() {
		m.n.Fault(fmt.Sprintf("%s lacks the key %q", m.n.name, key), right)
	}
	return m.Get(key)
}

// Node is the map itself, for faults that concern several keys.
func (m Map) Node() Node { return m.n }

// Pair is a key with its value.
type Pair struct {
	Key   Node // Word is its text
	Value Node
}

// Pairs lists keys and values in the order of the file.
func (m Map) Pairs() []Pair {
	var out []Pair
	for _, e := range m.entries() {
		out = append(out, Pair{Node{m.n.f, e.key, e.key.text}, Node{m.n.f, e.value, e.key.text}})
	}
	return out
}

func (m Map) entries() []entry {
	if m.n.it == nil {
		return nil
	}
	return m.n.it.entries
}

func contains(list []string, s string) bool {
	for _, w := range list {
		if w == s {
			return true
		}
	}
	return false
}
