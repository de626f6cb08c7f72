package pieces_test

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pressrig/alloctest"
	"pressrig/pieces"
	"pressrig/yamlfile"
	"pressrig/yamlfile/yamltest"
)

// parse reads text as a kind of file; the result is nil beside an error.
func parse(kind, file string, text []byte) (any, error) {
	switch kind {
	case "piece":
		p, err := pieces.ParsePiece(file, text)
		return orNil(p, p == nil), err
	case "mould":
		m, err := pieces.ParseMould(file, text)
		return orNil(m, m == nil), err
	}
	t, err := pieces.ParseTube(file, text)
	return orNil(t, t == nil), err
}

// orNil keeps a nil pointer from becoming an interface that is not nil.
func orNil(v any, none bool) any {
	if none {
		return nil
	}
	return v
}

// The whole text of every message, with line and column: it is what a person
// has to work from.
func TestBrokenFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.yaml")
	if err != nil || len(files) < 45 {
		t.Fatalf("%d files, %v; want at least 45", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		kind, _, _ := strings.Cut(strings.TrimPrefix(string(text), "# kind: "), "\n")
		have, err := parse(kind, filepath.Base(file), text)
		if err == nil || have != nil {
			t.Errorf("%s was accepted", file)
			continue
		}
		golden(t, strings.TrimSuffix(file, ".yaml")+".golden", []byte(err.Error()+"\n"))
	}
}

// What is doubtful is told and does not refuse the file.
func TestWarnings(t *testing.T) {
	for _, c := range []struct{ example, from, to, want string }{
		{"stem-7pin-soda", "draft: 5 deg", "draft: 1 deg", "a draft of 1 degrees"},
		{"stem-7pin-soda", "diameter: 2.6 mm", "diameter: 1.5 mm", "freezes in it"},
		{"stem-7pin-soda", "depth: 1.5 mm", "depth: 2.5 mm", "3.1 times as deep"},
		{"stem-7pin-soda", "number: 7, places: 8", "number: 16, places: 16", "between two bead holes"},
		{"stem-4lead-lead", "diameter: 0.5 mm", "diameter: 0.7 mm", "dumet of 0.7 mm is thick"},
		{"mould-7pin-soda", "depth: 0.04 mm", "depth: 0.4 mm", "vents are 0.4 mm deep"},
		{"mould-7pin-soda", "roughness: 0.3 um", "roughness: 1.6 um", "print their marks"},
	} {
		e, err := pieces.Named(c.example)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Replace(string(e.Text), c.from, c.to, 1)
		if text == string(e.Text) {
			t.Fatalf("%s has no %q", c.example, c.from)
		}
		have, err := parse(e.Kind, "f", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", c.to, err)
			continue
		}
		told := reflect.ValueOf(have).Elem().FieldByName("Warnings").Interface().(yamlfile.Problems)
		if !strings.Contains(told.Error(), c.want) || len(told) == 0 || told[0].Line == 0 {
			t.Errorf("%s: warnings %v, want %q with its line", c.to, told, c.want)
		}
	}
}

func TestFormatNamesEveryKey(t *testing.T) { yamltest.PageNamesKeys(t, 50) }

func FuzzParse(f *testing.F) {
	kinds := []string{"piece", "mould", "tube"}
	for _, e := range pieces.Examples() {
		for n := range kinds {
			f.Add(e.Text, uint8(n))
		}
	}
	f.Add([]byte("piece: x\nsteps: [{half: lower}]\n"), uint8(0))
	f.Fuzz(func(t *testing.T, text []byte, n uint8) {
		var have any
		var err error
		alloctest.Within(t, yamltest.MostAllocated(len(text)), func() {
			have, err = parse(kinds[int(n)%len(kinds)], "f", text)
		})
		if (have == nil) == (err == nil) {
			t.Fatalf("%v beside error %v", have, err)
		}
		if err != nil {
			if n := len(yamlfile.Of(err)); n == 0 || n > yamlfile.MostProblems+1 {
				t.Fatalf("%d problems: %v", n, err)
			}
			return
		}
		if p, ok := have.(*pieces.Piece); ok {
			holds(t, p)
		}
	})
}
