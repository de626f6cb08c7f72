package main

import (
	"fmt"
	"go/ast"
	"strings"
)

// picked is the environment variable that picks the mutant, by its place in
// the list, counted from 1.
const picked = "PRESSRIG_MUTANT"

// mutantSuffix and its number end the name of a changed function; pickFile
// reads the number.
const (
	mutantSuffix = "Mutant"
	pickFile     = "picked_mutant.go"
)

// weave makes the text of a warden that holds every mutant at once, so that it
// is compiled once: a changed function stands beside its original, which gives
// way to it when the mutant is picked. With none picked it is the warden as it
// is. The result maps file names to texts.
func (p *pkg) weave(mutants []mutant) map[string]string {
	woven := map[string]string{}
	for _, name := range p.names {
		w := &weakener{pkg: p, name: name}
		var edits []edit
		var copies strings.Builder
		for _, decl := range p.files[name].Decls {
			f, ok := decl.(*ast.FuncDecl)
			if !ok {
				continue
			}
			var cases strings.Builder
			for i, m := range mutants {
				if m.unit != ast.Node(f) {
					continue
				}
				changed := fmt.Sprintf("%s%s%d", f.Name.Name, mutantSuffix, i+1)
				copies.WriteString("\n" + strings.Replace(m.Text, "func "+f.Name.Name, "func "+changed, 1) + "\n")
				call := changed + "(" + strings.Join(parameters(f), ", ") + ")"
				if f.Type.Results != nil {
					fmt.Fprintf(&cases, "case %d: return %s\n", i+1, call)
				} else {
					fmt.Fprintf(&cases, "case %d: %s; return\n", i+1, call)
				}
			}
			if cases.Len() > 0 {
				at := w.offset(f.Body.Lbrace) + 1
				edits = append(edits, edit{at, at, "\nswitch pickedMutant {\n" + cases.String() + "}\n"})
			}
		}
		woven[name] = string(apply(p.src[name], edits)) + copies.String()
	}
	var rows strings.Builder
	for i, m := range mutants {
		if row, ok := m.unit.(*ast.KeyValueExpr); ok {
			w := &weakener{pkg: p, name: m.File}
			value := strings.TrimPrefix(m.Text[len(w.text(row.Key)):], ":")
			fmt.Fprintf(&rows, "case %d: Matrix[%s] = Row%s\n", i+1, w.text(row.Key), strings.TrimSpace(value))
		}
	}
	woven[pickFile] = fmt.Sprintf(`package %s

import (
	"os"
	"strconv"
)

var pickedMutant, _ = strconv.Atoi(os.Getenv(%q))

func init() {
	switch pickedMutant {
	%s}
}
`, p.files[p.names[0]].Name.Name, picked, rows.String())
	return woven
}

func parameters(f *ast.FuncDecl) []string {
	var names []string
	for _, field := range f.Type.Params.List {
		for _, name := range field.Names {
			names = append(names, name.Name)
		}
	}
	return names
}
