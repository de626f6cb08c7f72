// Package yamltest holds the pages that describe our YAML files to the parsers
// that read them. For tests only. Start reading at PageNamesKeys.
package yamltest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// PageNamesKeys checks that FORMAT.md of the folder under test names every key
// that its parser knows, of which there are at least so many.
func PageNamesKeys(t *testing.T, least int) {
	t.Helper()
	page, err := os.ReadFile("FORMAT.md")
	if err != nil {
		t.Fatal(err)
	}
	keys := mapKeys(t, ".")
	if len(keys) < least {
		t.Fatalf("found only %d keys in the parser", len(keys))
	}
	for _, key := range keys {
		if !strings.Contains(string(page), "`"+key+"`") && !strings.Contains(string(page), "`"+key+":") {
			t.Errorf("FORMAT.md does not name %q", key)
		}
	}
}

// mapKeys lists the string arguments of all calls of a method Map in a folder.
func mapKeys(t *testing.T, dir string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	var keys []string
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			if f, ok := call.Fun.(*ast.SelectorExpr); !ok || f.Sel.Name != "Map" {
				return true
			}
			for _, arg := range call.Args {
				if lit, ok := arg.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					key, err := strconv.Unquote(lit.Value)
					if err != nil {
						t.Fatal(err)
					}
					keys = append(keys, key)
				}
			}
			return true
		})
	}
	return keys
}
