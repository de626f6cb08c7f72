// Package pressrig_test keeps the project's own rules: which way imports run,
// which folders are pure, and a few habits that reviews forget. Every failure
// says its reason.
package pressrig_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// rule is one row of the import table in DEVELOPERS.md.
type rule struct {
	pure bool     // no clock, no I/O, no goroutine, no log, no chance
	may  []string // folders of the project that it may import; "*" for all
}

// table is the import table. A folder includes its sub-folders unless they
// have a row of their own.
var table = map[string]rule{
	"units":             {true, nil},
	"yamlfile":          {true, []string{"units"}},
	"yamlfile/yamltest": {false, nil},
	"alloctest":         {false, nil},
	"testcount":         {false, nil},
	"safety/warden":     {true, nil},
	"safety/oracle":     {true, nil},
	"safety/mutants":    {false, []string{"*"}},
	"rig":               {true, []string{"units", "yamlfile", "safety/warden"}},
	"glass":             {true, []string{"units", "yamlfile"}},
	"glass/forming":     {true, []string{"glass"}},
	"glass/span":        {true, nil},
	"glass/blank":       {true, []string{"glass/span"}},
	"glass/squeeze":     {true, []string{"glass", "glass/span"}},
	"glass/seal":        {true, []string{"glass/span"}},
	"glass/cool":        {true, []string{"glass", "glass/span"}},
	"glass/mould":       {true, []string{"glass", "glass/span"}},
	"pieces":            {true, []string{"units", "yamlfile", "glass/blank", "glass/mould", "glass/seal"}},
	"plan":              {true, []string{"units", "rig", "glass", "glass/blank", "glass/flame", "glass/forming", "glass/heat", "glass/mould", "glass/seal", "glass/squeeze", "pieces"}},
	"safety/chaos":      {false, []string{"safety/warden"}},
	"safety":            {true, []string{"units", "rig", "safety/warden"}},
	"recipes":           {true, []string{"units", "rig", "glass", "glass/flame", "yamlfile", "safety/warden"}},
	"drivers/wire":      {true, []string{"units", "rig", "safety/warden"}},
	"drivers/bench":     {true, []string{"units", "rig", "glass", "glass/forming", "safety", "safety/warden", "drivers/wire"}},
	"firmware/image":    {true, []string{"rig", "safety/warden", "drivers/wire"}},
	"controller":        {true, []string{"units", "rig", "glass", "safety", "safety/warden", "recipes"}},
	"proof":             {true, []string{"units", "rig", "safety", "safety/warden"}},
	"rehearse/fit":      {true, []string{"glass/forming", "rig", "safety/warden", "trials"}},
	"rehearse/forecast": {true, []string{"units", "rig", "glass", "glass/forming", "safety/warden", "recipes", "controller", "drivers/bench", "rehearse", "trials"}},
	"rehearse":          {true, []string{"units", "rig", "glass", "glass/forming", "safety", "safety/warden", "recipes", "controller", "drivers/wire", "drivers/bench", "trials"}},
	"rehearse/campaign": {true, []string{"units", "rig", "safety", "safety/warden", "safety/oracle", "recipes", "controller", "drivers/wire", "drivers/bench", "rehearse"}},
	"trials":            {true, []string{"units", "rig", "glass", "recipes", "safety/warden"}},
	"controller/loop":   {false, []string{"controller", "safety", "safety/warden", "drivers", "rig", "units"}},
	"drivers":           {false, []string{"units", "rig", "drivers/wire", "drivers/bench", "safety/warden"}},
	"drivers/benchport": {false, []string{"units", "rig", "drivers/wire", "drivers/bench", "safety/warden"}},
	"firmware/emulated": {false, []string{"firmware/image", "units", "rig", "safety", "safety/warden", "drivers/wire", "drivers/bench", "drivers/benchport"}},
	"journal/chunk":     {true, []string{"units", "rig", "controller", "safety/warden"}},
	"journal":           {false, []string{"units", "rig", "recipes", "controller", "trials", "safety/warden", "journal/chunk", "proof"}},
	"telemetry/broker":  {false, nil},
	"telemetry":         {false, []string{"units", "rig", "controller", "safety/warden", "telemetry/broker"}},
	"panel":             {false, []string{"units", "rig", "glass", "recipes", "controller", "trials", "safety/warden", "panel/api"}},
	"panel/api":         {true, []string{"units", "rig", "controller", "recipes", "trials", "safety/warden", "proof"}},
	"panel/client":      {false, []string{"units", "rig", "panel/api"}},
	"firmware/object":   {false, nil},
	"firmware/wiring":   {true, nil},
	"firmware/mutants":  {false, nil},
	"cmd":               {false, []string{"*"}},
}

// impure are the imports that a pure folder may not have, with the reason.
var impure = map[string]string{
	"os": "files and processes belong to the edges", "net": "network belongs to the edges",
	"net/http": "network belongs to the edges", "log": "a pure package has nothing to log",
	"log/slog": "a pure package has nothing to log", "database/sql": "storage belongs to journal",
	"math/rand": "chance comes in as a seed", "math/rand/v2": "chance comes in as a seed",
	"crypto/rand": "chance comes in as a seed", "syscall": "the system belongs to the edges",
	"os/exec": "processes belong to the edges", "io/ioutil": "files belong to the edges",
	"github.com/rs/zerolog": "a pure package has nothing to log",
}

type source struct {
	name string // path from the module's root
	file *ast.File
	test bool
}

func sources(t *testing.T) ([]source, *token.FileSet) {
	t.Helper()
	fset := token.NewFileSet()
	var all []source
	err := fs.WalkDir(os.DirFS("."), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && name != "." || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		file, err := parser.ParseFile(fset, name, nil, parser.ParseComments)
		if err != nil {
			return err
		}
		all = append(all, source{name, file, strings.HasSuffix(name, "_test.go")})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("found only %d Go files; run from the module's root", len(all))
	}
	return all, fset
}

// folderOf finds the row of the table that a folder belongs to.
func folderOf(dir string) (string, bool) {
	for d := dir; d != "."; d = path.Dir(d) {
		if _, ok := table[d]; ok {
			return d, true
		}
	}
	return "", false
}

func TestImportTable(t *testing.T) {
	all, fset := sources(t)
	for _, src := range all {
		dir := path.Dir(src.name)
		if src.test || dir == "." {
			continue
		}
		folder, ok := folderOf(dir)
		if !ok {
			t.Errorf("%s: folder %s has no row in the import table: add one here and in DEVELOPERS.md, "+
				"so that a newcomer can tell what it may know", src.name, dir)
			continue
		}
		for _, imp := range src.file.Imports {
			checkImport(t, fset, imp, folder)
		}
	}
}

func checkImport(t *testing.T, fset *token.FileSet, imp *ast.ImportSpec, folder string) {
	t.Helper()
	name, err := strconv.Unquote(imp.Path.Value)
	if err != nil {
		t.Fatal(err)
	}
	row, where := table[folder], fset.Position(imp.Pos())
	inside, ours := strings.CutPrefix(name, "pressrig/")
	if !ours {
		if why, bad := impure[name]; bad && row.pure {
			t.Errorf("%s: %s imports %s, but it is pure: %s", where, folder, name, why)
		}
		return
	}
	target, _ := folderOf(inside)
	if target == folder || slices.Contains(row.may, "*") || slices.Contains(row.may, target) ||
		strings.HasPrefix(target, folder+"/") {
		return
	}
	t.Errorf("%s: %s may not import %s: it may know %v only, so that each part can be read, tested "+
		"and replaced alone", where, folder, target, row.may)
}

func TestPureFoldersReadNoClock(t *testing.T) {
	all, fset := sources(t)
	clocks := []string{"Now", "Since", "Until", "Sleep", "After", "NewTimer", "NewTicker", "Tick", "AfterFunc"}
	for _, src := range all {
		folder, _ := folderOf(path.Dir(src.name))
		if src.test || !table[folder].pure {
			continue
		}
		ast.Inspect(src.file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				t.Errorf("%s: a goroutine in pure %s: its tests would no longer be deterministic",
					fset.Position(n.Pos()), folder)
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains(clocks, n.Sel.Name) {
					t.Errorf("%s: time.%s in pure %s: time comes in as an argument",
						fset.Position(n.Pos()), n.Sel.Name, folder)
				}
			}
			return true
		})
	}
}

func TestPackagesSayWhatTheyAre(t *testing.T) {
	all, _ := sources(t)
	documented := map[string]bool{}
	for _, src := range all {
		if dir := path.Dir(src.name); !src.test {
			documented[dir] = documented[dir] || src.file.Doc != nil
		}
	}
	for dir, ok := range documented {
		if !ok {
			t.Errorf("package %s has no doc: what it is, what it never does, where to start reading", dir)
		}
	}
}

func TestHabits(t *testing.T) {
	all, fset := sources(t)
	for _, src := range all {
		ast.Inspect(src.file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				x, ok := n.X.(*ast.Ident)
				if !ok || !src.test {
					return true
				}
				if x.Name == "time" && n.Sel.Name == "Sleep" {
					t.Errorf("%s: time.Sleep in a test: it is slow when it is right and flaky when not",
						fset.Position(n.Pos()))
				}
				if strings.HasPrefix(n.Sel.Name, "Skip") && x.Name == "t" || x.Name == "testing" && n.Sel.Name == "Short" {
					t.Errorf("%s: a test that can skip proves nothing; a missing tool is a failure",
						fset.Position(n.Pos()))
				}
			case *ast.FuncDecl:
				lines := fset.Position(n.End()).Line - fset.Position(n.Pos()).Line + 1
				if n.Name.Name == "init" && n.Recv == nil {
					t.Errorf("%s: init() runs in no order a reader can see", fset.Position(n.Pos()))
				}
				if lines > 70 && !src.test {
					t.Errorf("%s: %s has %d lines; 70 is the most that can be read at once",
						fset.Position(n.Pos()), n.Name.Name, lines)
				}
			}
			return true
		})
		for _, group := range src.file.Comments {
			for _, word := range []string{"TO" + "DO", "FIX" + "ME", "XX" + "X"} {
				if strings.Contains(group.Text(), word) {
					t.Errorf("%s: %s: unfinished work belongs in an issue", fset.Position(group.Pos()), word)
				}
			}
		}
		if lines := fset.File(src.file.Pos()).LineCount(); lines > 500 && !src.test {
			t.Errorf("%s has %d lines; at most 500, so that one file holds one thing", src.name, lines)
		}
	}
}
