package pressrig_test

import (
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

var (
	link     = regexp.MustCompile(`\]\(([^()\s]+)\)`)
	heading  = regexp.MustCompile(`(?m)^#+ +(.+)$`)
	unspoken = regexp.MustCompile(`[^a-z0-9 _-]`)
)

// anchors are the names that a page's headings get: lower case, punctuation
// left out, hyphens for spaces (common practice of Markdown hosts, no source).
func anchors(page string) map[string]bool {
	names := map[string]bool{}
	for _, h := range heading.FindAllStringSubmatch(page, -1) {
		names[strings.ReplaceAll(unspoken.ReplaceAllString(strings.ToLower(h[1]), ""), " ", "-")] = true
	}
	return names
}

// brokenLinks are the links of a page that lead to no file or no heading.
func brokenLinks(files fs.FS, name string) ([]string, int, error) {
	text, err := fs.ReadFile(files, name)
	if err != nil {
		return nil, 0, err
	}
	var broken []string
	links := link.FindAllStringSubmatch(string(text), -1)
	for _, l := range links {
		if strings.Contains(l[1], "://") || strings.HasPrefix(l[1], "mailto:") {
			continue
		}
		file, anchor, _ := strings.Cut(l[1], "#")
		target := name
		if file != "" {
			target = path.Join(path.Dir(name), file)
		}
		page, err := fs.ReadFile(files, target)
		if _, statErr := fs.Stat(files, target); statErr != nil || anchor != "" && (err != nil || !anchors(string(page))[anchor]) {
			broken = append(broken, l[1])
		}
	}
	return broken, len(links), nil
}

// Each link of each page leads to something that is there.
func TestLinksOfPages(t *testing.T) {
	files, all := os.DirFS("."), 0
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && name != "." || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if path.Ext(name) != ".md" {
			return nil
		}
		broken, n, err := brokenLinks(files, name)
		all += n
		for _, l := range broken {
			t.Errorf("%s: %s leads nowhere", name, l)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if all < 30 {
		t.Errorf("only %d links found; run from the module's root", all)
	}
}

// The check finds a file and a heading that are not there.
func TestBrokenLinksAreFound(t *testing.T) {
	files := fstest.MapFS{
		"docs/a.md": {Data: []byte("# Fuses, here\n[x](b.md) [y](../c.md#no) [z](#fuses-here) [w](https://example.org/) [v](../c.md#yes)")},
		"c.md":      {Data: []byte("## Yes\n")},
	}
	broken, n, err := brokenLinks(files, "docs/a.md")
	if err != nil || n != 5 || len(broken) != 2 || broken[0] != "b.md" || broken[1] != "../c.md#no" {
		t.Errorf("%v of %d, %v; want b.md and ../c.md#no of 5", broken, n, err)
	}
}
