package warden

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Scripts that once broke an invariant, as the exploration printed them, or by
// hand in the same words. A new one is a file machine-what.script.
func TestExploreScripts(t *testing.T) {
	c := testConfig()
	play := map[string]func([]uint32) string{
		"burner":  func(l []uint32) string { return play(burnerSearch(burnerPart(c), c), l) },
		"link":    func(l []uint32) string { return play(linkSearch(linkPart(c), c), l) },
		"press":   func(l []uint32) string { return play(pressSearch(pressPart(c), c), l) },
		"spindle": func(l []uint32) string { return play(spindleSearch(spindlePart(c), c), l) },
		"product": func(l []uint32) string { return play(newProduct(productConfig(), 1<<xCount-1, xCount).search(""), l) },
	}
	read := map[string]func(string) (uint32, error){"burner": burnerWords.read, "link": linkWords.read,
		"press": pressWords.read, "spindle": spindleWords.read, "product": readProduct}
	files, err := filepath.Glob("testdata/explore/*.script")
	if err != nil || len(files) == 0 {
		t.Fatalf("%d scripts, err %v", len(files), err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		machine, _, _ := strings.Cut(filepath.Base(file), "-")
		if play[machine] == nil {
			t.Fatalf("%s: no machine %q; want burner, link, press, spindle or product", file, machine)
		}
		letters, err := readScript(string(text), read[machine])
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if broken := play[machine](letters); broken != "" {
			t.Errorf("%s: %s", file, broken)
		}
	}
}
