package yamlfile

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Limits of a file. A long recipe is 8 KiB and four levels deep.
const (
	MostBytes  = 64 << 10
	MostDepth  = 8    // levels of lists and maps
	MostKeys   = 3000 // the library's time grows with their square: this is about 30 ms
	MostColumn = 200  // characters in a line, so that a column can be found by eye
)

// File is one file that was read, with the problems found so far.
type File struct {
	log  log
	root *item
}

// Read parses text. It always returns a File; when the text is not usable at
// all its Root is absent and Err says why. The name is used in messages only.
func Read(name string, text []byte) *File {
	f := &File{log: log{file: name}}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")) // some editors write a mark
	if !f.plain(text) {
		return f
	}
	f.root = f.parse(text)
	return f
}

// Root is the file's outermost value.
func (f *File) Root() Node { return Node{f: f, it: f.root, name: "the file"} }

// Err returns all errors found so far as Problems, nil when there is none.
func (f *File) Err() error {
	if p := f.log.sorted(false); len(p) > 0 {
		return p
	}
	return nil
}

// Warnings returns the warnings found so far.
func (f *File) Warnings() Problems { return f.log.sorted(true) }

// plain refuses what a person could not see or count in an editor: oversize,
// bytes that are not UTF-8, control characters, overlong lines.
func (f *File) plain(text []byte) bool {
	if len(text) > MostBytes {
		f.log.add(Problem{Line: 1, Column: 1,
			What:  fmt.Sprintf("file has %d bytes", len(text)),
			Right: fmt.Sprintf("at most %d are read", MostBytes)})
		return false
	}
	good := true
	for i, line := range strings.Split(string(text), "\n") {
		if p, bad := badLine(strings.TrimSuffix(line, "\r")); bad {
			p.Line = i + 1
			f.log.add(p)
			good = false
		}
	}
	return good
}

func badLine(line string) (Problem, bool) {
	column := 0
	for i, r := range line {
		column++
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(line[i:], string(utf8.RuneError)):
			return Problem{Column: column, What: "a byte that is not UTF-8",
				Right: "save the file as UTF-8"}, true
		case r == '\t':
			return Problem{Column: column, What: "a tab", Right: "use spaces"}, true
		case unicode.IsControl(r) || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			return Problem{Column: column, What: fmt.Sprintf("the invisible character %U", r),
				Right: "remove it"}, true
		case column > MostColumn:
			return Problem{Column: column, What: fmt.Sprintf("line is longer than %d characters",
				MostColumn),
				Right: "break the line"}, true
		}
	}
	return Problem{}, false
}
