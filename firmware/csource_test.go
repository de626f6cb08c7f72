package firmware_test

import (
	"go/constant"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// source is one C file without its comments.
type source struct {
	name string // burner.c
	text string
}

// function is one function of a C file, its head included.
type function struct {
	file, name, text string
}

var (
	comment = regexp.MustCompile(`//[^\n]*`)
	// A definition begins at the margin and ends with } at the margin, or is
	// on one line.
	head       = regexp.MustCompile(`^(?:static |inline )*(?:const )?\w+ \*?(\w+)\(`)
	typedefs   = regexp.MustCompile(`(?s)typedef struct \{\n(.*?)\n\} (\w+);`)
	member     = regexp.MustCompile(`^\t(\w+) (\w+)(?:\[(\w+)\])?;$`)
	define     = regexp.MustCompile(`(?m)^#define (\w+)[ \t]+(\S[^\n]*)$`)
	enumerator = regexp.MustCompile(`(?m)^\t([A-Z]\w*)\s*= ([^,\n]+),`)
	sized      = regexp.MustCompile(`UINT\d+_C\((\w+)\)`)
)

// core reads all files of core/.
func core(t *testing.T) []source {
	t.Helper()
	return sourcesOf(t, "core", 15)
}

// sourcesOf reads the C files of a folder, of which there are at least so many.
func sourcesOf(t *testing.T, folder string, least int) []source {
	t.Helper()
	names, err := filepath.Glob(folder + "/*.[ch]")
	if err != nil || len(names) < least {
		t.Fatalf("found %d files in %s, err %v", len(names), folder, err)
	}
	var all []source
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(comment.ReplaceAllString(string(text), ""), "\n")
		for i := range lines {
			lines[i] = strings.TrimRight(lines[i], " \t")
		}
		all = append(all, source{filepath.Base(name), strings.Join(lines, "\n")})
	}
	return all
}

// isWarden: the file mirrors safety/warden; the others mirror drivers/wire, and
// proof.h has contracts only.
func (s source) isWarden() bool {
	switch s.name {
	case "wire.h", "wire_inside.h", "receiver.c", "frame.c", "crc.c", "config.c", "proof.h":
		return false
	}
	return true
}

func (s source) functions() []function {
	var all []function
	lines := strings.Split(s.text, "\n")
	for i := 0; i < len(lines); i++ {
		m := head.FindStringSubmatch(lines[i])
		if m == nil {
			continue
		}
		end := i
		for end < len(lines)-1 && !strings.HasSuffix(lines[end], "{") && !strings.HasSuffix(lines[end], "}") &&
			!strings.HasSuffix(lines[end], ");") {
			end++ // the head
		}
		if strings.HasSuffix(lines[end], ");") {
			continue // a declaration
		}
		for end < len(lines)-1 && !strings.HasSuffix(lines[i], "}") && lines[end] != "}" {
			end++
		}
		all = append(all, function{s.name, m[1], strings.Join(lines[i:end+1], "\n")})
		i = end
	}
	return all
}

// constants are the named numbers, by name, of the warden's files or of wire.h.
func constants(t *testing.T, warden bool) map[string]int64 {
	t.Helper()
	text := map[string]string{}
	for _, s := range core(t) {
		if s.isWarden() != warden || !warden && s.name != "wire.h" {
			continue
		}
		for _, m := range append(define.FindAllStringSubmatch(s.text, -1), enumerator.FindAllStringSubmatch(s.text, -1)...) {
			text[m[1]] = m[2]
		}
	}
	known := map[string]int64{}
	for name, expression := range text {
		plain := sized.ReplaceAllString(expression, "$1")
		for other := range text {
			plain = regexp.MustCompile(`\b`+other+`\b`).ReplaceAllString(plain, "("+sized.ReplaceAllString(text[other], "$1")+")")
		}
		v, err := types.Eval(token.NewFileSet(), nil, token.NoPos, plain)
		if err != nil || v.Value == nil {
			t.Errorf("%s = %s: a constant that this test cannot read: %v", name, expression, err)
			continue
		}
		known[name], _ = constant.Int64Val(v.Value)
	}
	return known
}
