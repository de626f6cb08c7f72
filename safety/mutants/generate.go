package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"io/fs"
	"slices"
	"strconv"
	"strings"
)

// mutant is the warden with one rule weakened.
type mutant struct {
	ID       string // file:line, what is weakened; stable as long as the line stands
	File     string
	Operator string
	unit     ast.Node // the function, or the row of the table, that is changed
	Text     string   // its changed text
}

// edit replaces the bytes from..to of a file.
type edit struct {
	from, to int
	text     string
}

// pkg is the parsed and typed package that mutants are made from.
type pkg struct {
	fset  *token.FileSet
	names []string // files, sorted
	src   map[string][]byte
	files map[string]*ast.File
	info  *types.Info
}

// load reads the Go files of a folder that are no tests.
func load(dir fs.FS) (*pkg, error) {
	names, err := fs.Glob(dir, "*.go")
	if err != nil {
		return nil, err
	}
	p := &pkg{fset: token.NewFileSet(), src: map[string][]byte{}, files: map[string]*ast.File{},
		info: &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}}}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		src, err := fs.ReadFile(dir, name)
		if err != nil {
			return nil, err
		}
		file, err := parser.ParseFile(p.fset, name, src, 0)
		if err != nil {
			return nil, err
		}
		p.names, p.src[name], p.files[name] = append(p.names, name), src, file
	}
	if len(p.names) == 0 {
		return nil, fmt.Errorf("no Go files; run from the module's root")
	}
	var files []*ast.File
	for _, name := range p.names {
		files = append(files, p.files[name])
	}
	_, err = (&types.Config{}).Check("warden", p.fset, files, p.info)
	return p, err
}

// generate makes every mutant, in the order of the files and their lines, and
// lists apart those that would not compile: they weaken nothing.
func (p *pkg) generate() (mutants []mutant, uncompiled []string, err error) {
	seen, count := map[string]bool{}, map[string]int{}
	for _, name := range p.names {
		seen[string(p.src[name])] = true
		w := &weakener{pkg: p, name: name}
		w.add = func(operator string, at token.Pos, what string, edits ...edit) {
			text := string(apply(p.src[name], edits))
			if seen[text] {
				return // another operator made the same
			}
			seen[text] = true
			id := fmt.Sprintf("%s:%d %s", name, p.fset.Position(at).Line, what)
			if count[id]++; count[id] > 1 {
				id = fmt.Sprintf("%s #%d", id, count[id])
			}
			from, to := w.offset(w.unit.Pos()), w.offset(w.unit.End())
			grown := len(text) - len(p.src[name])
			mutants = append(mutants, mutant{id, name, operator, w.unit, text[from : to+grown]})
		}
		w.weaken(p.files[name])
	}
	errors, err := p.check(mutants)
	var compiled []mutant
	for i, m := range mutants {
		if errors[i] != "" {
			uncompiled = append(uncompiled, m.ID+": "+errors[i])
		} else {
			compiled = append(compiled, m)
		}
	}
	return compiled, uncompiled, err
}

// check types all mutants at once, woven into one package, and gives the first
// error of each.
func (p *pkg) check(mutants []mutant) (map[int]string, error) {
	woven, fset := p.weave(mutants), token.NewFileSet()
	woven[pickFile] = "package warden\nvar pickedMutant int" // the check imports nothing
	var files []*ast.File
	for name, text := range woven {
		file, err := parser.ParseFile(fset, name, text, 0)
		if err != nil {
			return nil, err
		}
		file.Name.Name = "warden"
		files = append(files, file)
	}
	errors, unknown := map[int]string{}, error(nil)
	config := types.Config{Error: func(err error) {
		at := err.(types.Error).Pos
		for _, file := range files {
			for _, decl := range file.Decls {
				f, ok := decl.(*ast.FuncDecl)
				if !ok || at < f.Pos() || at > f.End() {
					continue
				}
				_, number, _ := strings.Cut(f.Name.Name, mutantSuffix)
				if n, bad := strconv.Atoi(number); bad == nil {
					errors[n-1] = err.Error()
					return
				}
			}
		}
		unknown = err
	}}
	_, _ = config.Check("warden", fset, files, nil) // the handler has every error
	return errors, unknown
}

// apply makes the edits, which may not overlap, in any order.
func apply(src []byte, edits []edit) []byte {
	edits = slices.Clone(edits)
	slices.SortFunc(edits, func(a, b edit) int { return a.from - b.from })
	var out bytes.Buffer
	at := 0
	for _, e := range edits {
		out.Write(src[at:e.from])
		out.WriteString(e.text)
		at = e.to
	}
	out.Write(src[at:])
	return out.Bytes()
}
