package yamlfile

import (
	"fmt"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// item makes our tree from the library's and reports what is refused.
func (f *File) item(n ast.Node, depth int) *item {
	if _, leaf := n.(ast.ScalarNode); depth > MostDepth && !leaf {
		f.at(position(n), fmt.Sprintf("nested deeper than %d levels", MostDepth),
			"write it flatter")
		return &item{kind: refused}
	}
	it := &item{line: max(position(n).Line, 1), column: max(position(n).Column, 1)}
	switch n := n.(type) {
	case *ast.MappingNode:
		it.kind = mapping
		f.entries(it, n.Values, depth)
	case *ast.MappingValueNode:
		it.kind = mapping
		f.entries(it, []*ast.MappingValueNode{n}, depth)
	case *ast.SequenceNode:
		it.kind = list
		for _, v := range n.Values {
			it.items = append(it.items, f.item(v, depth+1))
		}
	default:
		f.leaf(it, n)
	}
	return it
}

func (f *File) leaf(it *item, n ast.Node) {
	switch n := n.(type) {
	case *ast.StringNode:
		it.kind, it.text = scalar, n.Value
		it.quoted = n.Token.Type == token.SingleQuoteType || n.Token.Type == token.DoubleQuoteType
	case *ast.LiteralNode:
		it.kind, it.text, it.quoted = scalar, n.Value.Value, true
	case *ast.IntegerNode:
		it.kind, it.text = number, n.Token.Value
	case *ast.FloatNode:
		it.kind, it.text = number, n.Token.Value
	case *ast.InfinityNode:
		it.kind, it.text = number, n.Token.Value
	case *ast.NanNode:
		it.kind, it.text = number, n.Token.Value
	case *ast.BoolNode:
		it.kind, it.text = truth, n.Token.Value
	case *ast.NullNode:
		it.kind, it.text = null, n.Token.Value
	default:
		it.kind = refused
		what, right := refusal(n)
		f.at(position(n), what, right)
	}
}

// refusal says why a construct of YAML is not taken.
func refusal(n ast.Node) (what, right string) {
	switch n.(type) {
	case *ast.AnchorNode:
		return "an anchor (&)", "write the value out at each place"
	case *ast.AliasNode:
		return "an alias (*)", "write the value out here"
	case *ast.TagNode:
		return "a tag (!)", "write the plain value"
	case *ast.MergeKeyNode:
		return "a merge key (<<)", "write the keys out here"
	case *ast.DirectiveNode:
		return "a directive (%)", "remove it"
	}
	return "a construct that is not used here", "write key: value"
}

func (f *File) entries(it *item, values []*ast.MappingValueNode, depth int) {
	seen := make(map[string]int, len(values))
	for _, v := range values {
		key := f.key(v.Key)
		value := f.item(v.Value, depth+1)
		if key == nil {
			continue
		}
		if line, twice := seen[key.text]; twice {
			f.log.add(Problem{Line: key.line, Column: key.column,
				What:  fmt.Sprintf("key %q stands twice", key.text),
				Right: fmt.Sprintf("keep this one or the one in line %d", line)})
			continue
		}
		seen[key.text] = key.line
		it.entries = append(it.entries, entry{key, value})
	}
}

func (f *File) key(n ast.MapKeyNode) *item {
	p := n.GetToken().Position
	if s, ok := n.(*ast.StringNode); ok {
		return &item{kind: scalar, text: s.Value, line: p.Line, column: p.Column}
	}
	if _, merge := n.(*ast.MergeKeyNode); merge {
		what, right := refusal(n)
		f.at(p, what, right)
		return nil
	}
	f.at(p, "a key that is no plain word", "write a key as one word of small letters")
	return nil
}

// position is where a person sees the value begin: a block map at its first
// key, not at the colon that the library names.
func position(n ast.Node) *token.Position {
	switch v := n.(type) {
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 {
			return position(v.Values[0])
		}
	case *ast.MappingValueNode:
		return v.Key.GetToken().Position
	}
	if t := n.GetToken(); t != nil && t.Position != nil {
		return t.Position
	}
	return &token.Position{Line: 1, Column: 1}
}
