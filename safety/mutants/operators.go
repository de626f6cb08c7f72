package main

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"strings"
)

// weakener walks one file and adds a mutant for every rule that it finds.
type weakener struct {
	*pkg
	name string
	unit ast.Node // the function, or the row of the table, that is changed
	add  func(operator string, at token.Pos, what string, edits ...edit)
}

func (w *weakener) offset(p token.Pos) int { return w.fset.Position(p).Offset }

func (w *weakener) text(n ast.Node) string {
	return string(w.src[w.name][w.offset(n.Pos()):w.offset(n.End())])
}

// line is the text of a node on one line, for an id.
func (w *weakener) line(n ast.Node) string {
	return strings.Join(strings.Fields(w.text(n)), " ")
}

func (w *weakener) replace(n ast.Node, text string) edit {
	return edit{w.offset(n.Pos()), w.offset(n.End()), text}
}

// never and always keep the condition's text, so that nothing it stands on
// becomes unused, and timers that run inside of it still run.
func (w *weakener) never(e ast.Expr) edit { return w.replace(e, "(("+w.text(e)+") && false)") }

func (w *weakener) always(e ast.Expr) edit { return w.replace(e, "(("+w.text(e)+") || true)") }

// weaken applies every operator.
func (w *weakener) weaken(file *ast.File) {
	for _, decl := range file.Decls {
		switch d := decl.(type) {
		case *ast.GenDecl:
			w.table(d)
		case *ast.FuncDecl:
			w.function(d)
		}
	}
}

// table weakens each column of each row of Matrix by one step and changes the
// row's priority.
func (w *weakener) table(d *ast.GenDecl) {
	for _, spec := range d.Specs {
		v, ok := spec.(*ast.ValueSpec)
		if !ok || len(v.Names) != 1 || v.Names[0].Name != "Matrix" {
			continue
		}
		for _, elt := range v.Values[0].(*ast.CompositeLit).Elts {
			row := elt.(*ast.KeyValueExpr)
			w.unit = row
			cells := row.Value.(*ast.CompositeLit).Elts
			columns := [...]string{"gas", "spindle", "above contact", "in contact", "lock"}
			for i, cell := range cells[0].(*ast.CompositeLit).Elts {
				if weaker := w.weaker(cell.(*ast.Ident)); weaker != "" {
					w.add("table", row.Pos(), fmt.Sprintf("%s: %s %s becomes %s", w.text(row.Key),
						columns[i], w.text(cell), weaker), w.replace(cell, weaker))
				}
			}
			other := map[string]string{"1": "2", "2": "1", "3": "2"}[w.text(cells[1])]
			w.add("table", row.Pos(), fmt.Sprintf("%s: priority %s becomes %s", w.text(row.Key),
				w.text(cells[1]), other), w.replace(cells[1], other))
		}
	}
}

// weaker is the constant one step below: the one declared before it in the
// same block, "" for the weakest.
func (w *weakener) weaker(cell *ast.Ident) string {
	used := w.info.Uses[cell].(*types.Const)
	value, _ := constant.Uint64Val(used.Val())
	if value == 0 {
		return ""
	}
	for _, name := range w.names {
		for _, decl := range w.files[name].Decls {
			d, ok := decl.(*ast.GenDecl)
			if !ok || d.Tok != token.CONST || used.Pos() < d.Pos() || used.Pos() > d.End() {
				continue
			}
			for i, spec := range d.Specs {
				if spec.(*ast.ValueSpec).Names[0].Name == cell.Name {
					return d.Specs[i-1].(*ast.ValueSpec).Names[0].Name
				}
			}
		}
	}
	return ""
}

func (w *weakener) function(f *ast.FuncDecl) {
	w.unit = f
	ast.Inspect(f.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.IfStmt:
			w.both(n.Cond, "if")
		case *ast.SwitchStmt:
			w.cases(n)
		case *ast.ReturnStmt:
			w.returned(n)
		case *ast.AssignStmt:
			w.assigned(n)
		case *ast.IncDecStmt, *ast.ExprStmt:
			w.remove(n)
		case *ast.BinaryExpr:
			w.binary(n)
		case *ast.CallExpr:
			w.call(n)
		}
		return true
	})
}

func (w *weakener) isBool(e ast.Expr) bool {
	t := w.info.Types[e].Type
	b, ok := t.(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

// both makes a condition always true and always false.
func (w *weakener) both(e ast.Expr, where string) {
	if value := w.info.Types[e].Value; value != nil {
		to := map[bool]string{true: "false", false: "true"}[constant.BoolVal(value)]
		w.add("condition", e.Pos(), where+" "+to+" instead of "+w.text(e), w.replace(e, to))
		return
	}
	w.add("condition", e.Pos(), fmt.Sprintf("%s %q is always false", where, w.line(e)), w.never(e))
	w.add("condition", e.Pos(), fmt.Sprintf("%s %q is always true", where, w.line(e)), w.always(e))
}

// cases makes each case of a switch always true and false; where the switch
// has a tag, each value never matches.
func (w *weakener) cases(s *ast.SwitchStmt) {
	for _, stmt := range s.Body.List {
		c := stmt.(*ast.CaseClause)
		switch {
		case c.List == nil:
			w.add("condition", c.Pos(), "never default", w.replace(c, ""))
		case s.Tag == nil:
			w.both(c.List[0], "case")
		case len(c.List) == 1:
			w.add("condition", c.Pos(), fmt.Sprintf("never case %s", w.line(c.List[0])), w.replace(c, ""))
		default:
			for i := range c.List {
				w.add("condition", c.List[i].Pos(), fmt.Sprintf("never case %s", w.line(c.List[i])), w.dropped(c.List, i))
			}
		}
	}
}

// dropped removes element i of a list together with one separator.
func (w *weakener) dropped(list []ast.Expr, i int) edit {
	if i == 0 {
		return edit{w.offset(list[0].Pos()), w.offset(list[1].Pos()), ""}
	}
	return edit{w.offset(list[i-1].End()), w.offset(list[i].End()), ""}
}

// returned makes each answer of a question always true and always false, and
// goes on where the code would stop.
func (w *weakener) returned(r *ast.ReturnStmt) {
	if len(r.Results) == 0 {
		w.add("statement", r.Pos(), "delete return", w.replace(r, ""))
		return
	}
	if len(r.Results) == 1 && w.isBool(r.Results[0]) {
		w.both(r.Results[0], "return")
	}
}

func (w *weakener) remove(n ast.Node) {
	w.add("statement", n.Pos(), fmt.Sprintf("delete %q", w.line(n)), w.replace(n, "if false { "+w.text(n)+" }"))
}

// assigned deletes an assignment, or one at a time of several, and makes a
// condition that has a name always true and always false.
func (w *weakener) assigned(a *ast.AssignStmt) {
	if len(a.Lhs) == len(a.Rhs) && len(a.Lhs) > 1 {
		for i := range a.Lhs {
			w.add("statement", a.Lhs[i].Pos(), fmt.Sprintf("delete %q", w.line(a.Lhs[i])+" = "+w.line(a.Rhs[i])),
				w.dropped(a.Lhs, i), w.dropped(a.Rhs, i))
		}
	}
	if a.Tok != token.DEFINE {
		w.remove(a)
	}
	if len(a.Rhs) == 1 && w.isBool(a.Rhs[0]) {
		w.both(a.Rhs[0], w.line(a.Lhs[0])+" =")
	}
}

func (w *weakener) binary(b *ast.BinaryExpr) {
	switch b.Op {
	case token.LAND, token.LOR, token.OR:
		w.operands(b)
	case token.LSS, token.LEQ, token.GTR, token.GEQ:
		w.comparison(b)
	case token.ADD, token.SUB, token.AND_NOT, token.SHR:
		w.add("timer", b.Pos(), fmt.Sprintf("%q becomes %q", w.line(b), w.line(b.X)), w.replace(b, w.text(b.X)))
	}
}

// operands drops each operand of a chain. A nested part of the same chain
// gives mutants that the whole gave already; they are not counted twice.
func (w *weakener) operands(b *ast.BinaryExpr) {
	var chain []ast.Expr
	var flatten func(ast.Expr)
	flatten = func(e ast.Expr) {
		if inner, ok := e.(*ast.BinaryExpr); ok && inner.Op == b.Op {
			flatten(inner.X)
			flatten(inner.Y)
			return
		}
		chain = append(chain, e)
	}
	flatten(b)
	for i, e := range chain {
		drop := w.dropped(chain, i)
		switch b.Op {
		case token.LAND:
			drop = w.always(e)
		case token.LOR:
			drop = w.never(e)
		}
		w.add("operand", e.Pos(), fmt.Sprintf("drop operand %q of %s", w.line(e), b.Op), drop)
	}
}

// comparison moves a bound by one, doubles it, and lets it never or always be
// reached.
func (w *weakener) comparison(b *ast.BinaryExpr) {
	other := map[token.Token]string{token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">"}[b.Op]
	at := w.offset(b.OpPos)
	w.add("timer", b.Pos(), fmt.Sprintf("%q with %s", w.line(b), other), edit{at, at + len(b.Op.String()), other})
	w.add("timer", b.Pos(), fmt.Sprintf("%q is always false", w.line(b)), w.never(b))
	w.add("timer", b.Pos(), fmt.Sprintf("%q is always true", w.line(b)), w.always(b))
	if !w.isPhase(b.Y) {
		w.add("timer", b.Pos(), fmt.Sprintf("%q with twice the bound", w.line(b)),
			w.replace(b.Y, "2*("+w.text(b.Y)+")"))
	}
}

// isPhase: a bound that is a named phase, or nothing, has no double.
func (w *weakener) isPhase(e ast.Expr) bool {
	tv := w.info.Types[e]
	if tv.Value == nil {
		return false
	}
	b, ok := tv.Type.Underlying().(*types.Basic)
	return constant.Sign(tv.Value) == 0 || ok && b.Kind() == types.Uint8
}

// call replaces each greatest and least of by each of its arguments, and makes
// the conditions of timers and causes always true and false.
func (w *weakener) call(c *ast.CallExpr) {
	name, ok := c.Fun.(*ast.Ident)
	if !ok {
		return
	}
	if name.Name == "min" || name.Name == "max" {
		for _, arg := range c.Args {
			w.add("combination", c.Pos(), fmt.Sprintf("%q becomes %q", w.line(c), w.line(arg)),
				w.replace(c, w.text(arg)))
		}
	}
	for _, arg := range c.Args {
		if w.isBool(arg) {
			w.both(arg, name.Name)
		}
	}
}
