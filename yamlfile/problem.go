package yamlfile

import (
	"errors"
	"fmt"
	"sort"
	"strings"
)

// Problem is one fault of a file. A Warning leaves the file usable.
type Problem struct {
	File    string
	Line    int // from 1
	Column  int // from 1, in characters
	What    string
	Right   string // what would be right
	Warning bool
}

// Error prints the problem as file:line:column: what; what would be right.
func (p Problem) Error() string {
	kind := ""
	if p.Warning {
		kind = "warning: "
	}
	return fmt.Sprintf("%s:%d:%d: %s%s; %s", p.File, p.Line, p.Column, kind, p.What, p.Right)
}

// Problems are all the faults of one file, in the order of the file.
type Problems []Problem

// Error prints one problem a line.
func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i := range p {
		lines[i] = p[i].Error()
	}
	return strings.Join(lines, "\n")
}

// Of returns the problems that err carries, nil when it carries none.
func Of(err error) Problems {
	var all Problems
	if errors.As(err, &all) {
		return all
	}
	return nil
}

// MostProblems bounds what one file can report: enough for any honest file,
// and a file of nonsense does not become a longer list of nonsense.
const MostProblems = 100

// log collects the problems of one file.
type log struct {
	file    string
	list    Problems
	dropped int
}

func (l *log) add(p Problem) {
	if len(l.list) >= MostProblems {
		l.dropped++
		return
	}
	p.File = l.file
	l.list = append(l.list, p)
}

// sorted returns the errors (or the warnings) by position; problems at one
// place keep the order in which they were found.
func (l *log) sorted(warnings bool) Problems {
	var out Problems
	for _, p := range l.list {
		if p.Warning == warnings {
			out = append(out, p)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		return a.Line < b.Line || a.Line == b.Line && a.Column < b.Column
	})
	if l.dropped > 0 && !warnings && len(out) > 0 {
		last := out[len(out)-1]
		last.What = fmt.Sprintf("%d more problems are not shown", l.dropped)
		last.Right = "correct the ones above first"
		out = append(out, last)
	}
	return out
}
