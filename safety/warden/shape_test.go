package warden

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"strings"
	"testing"
	"unsafe"
)

// A C firmware has to equal this package bit for bit on a machine whose int
// has 16 bits and that has no float unit and slow division. So the package may
// use sized integers and bool only.
func TestOnlySizedIntegers(t *testing.T) {
	forbidden := map[string]string{
		"int": "has another size on the microcontroller", "uint": "has another size on the microcontroller",
		"float64": "no float unit", "float32": "no float unit", "string": "no strings", "map": "no heap",
		"any": "no heap", "append": "no heap", "make": "no heap", "new": "no heap", "error": "no heap",
		"panic": "must fail to lockout instead", "len": "gives an int", "uintptr": "no pointers as numbers",
	}
	files, err := fs.Glob(os.DirFS("."), "*.go")
	if err != nil || len(files) < 8 {
		t.Fatalf("found %d files, err %v", len(files), err)
	}
	fset := token.NewFileSet()
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(fset, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		if len(file.Imports) != 0 {
			t.Errorf("%s imports; the warden imports nothing", name)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			bad := func(what, why string) { t.Errorf("%s: %s: %s", fset.Position(n.Pos()), what, why) }
			switch n := n.(type) {
			case *ast.Ident:
				if why, ok := forbidden[n.Name]; ok {
					bad(n.Name, why)
				}
			case *ast.MapType:
				bad("map", "no heap")
			case *ast.GoStmt, *ast.DeferStmt, *ast.FuncLit, *ast.ChanType:
				bad("go, defer, closure or channel", "not in C")
			case *ast.BinaryExpr:
				if n.Op == token.QUO || n.Op == token.REM {
					bad(n.Op.String(), "division takes hundreds of cycles and can trap")
				}
			case *ast.AssignStmt:
				if n.Tok == token.QUO_ASSIGN || n.Tok == token.REM_ASSIGN {
					bad(n.Tok.String(), "division takes hundreds of cycles and can trap")
				}
			case *ast.BasicLit:
				if n.Kind == token.FLOAT || n.Kind == token.STRING {
					bad(n.Value, "integers only")
				}
			}
			return true
		})
	}
}

func TestStateFitsTheMicrocontroller(t *testing.T) {
	if size := unsafe.Sizeof(State{}); size > 256 {
		t.Fatalf("State has %d bytes; 256 is the limit", size)
	}
}
