package yamlfile

import (
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

type kind uint8

const (
	scalar kind = iota
	number
	truth
	null
	list
	mapping
	refused // already reported; every reader stays silent about it
)

// item is one value of the file: the library's tree without what we refuse.
type item struct {
	kind    kind
	text    string
	quoted  bool
	line    int
	column  int
	entries []entry // of a map, in the order of the file
	items   []*item // of a list
}

type entry struct {
	key   *item
	value *item
}

// parse turns text into items. The library is kept from deep recursion by a
// look at the tokens first, and a panic of it becomes a problem: bad input
// must never end the daemon.
func (f *File) parse(text []byte) (root *item) {
	defer func() {
		if r := recover(); r != nil {
			f.log.add(Problem{Line: 1, Column: 1, What: "text is not YAML that can be read",
				Right: "write the file in the plain form of the examples"})
			root = nil
		}
	}()
	tokens := lexer.Tokenize(string(text))
	if !f.modest(tokens) {
		return nil
	}
	tree, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		f.syntax(err)
		return nil
	}
	return f.documents(tree)
}

func (f *File) documents(tree *ast.File) *item {
	var bodies []*ast.DocumentNode
	for _, d := range tree.Docs {
		if d.Body != nil {
			bodies = append(bodies, d)
		}
	}
	if len(bodies) == 0 {
		f.log.add(Problem{Line: 1, Column: 1, What: "file is empty",
			Right: "write the keys of the format"})
		return nil
	}
	if len(bodies) > 1 {
		second := bodies[1]
		p := position(second.Body)
		if second.Start != nil {
			p = second.Start.Position
		}
		f.at(p, "a second document begins", "keep one document in a file")
	}
	return f.item(bodies[0].Body, 1)
}

// syntax reports an error of the library at the place it names.
func (f *File) syntax(err error) {
	const right = "check indentation, the colon after each key, and quotes, here and just above"
	var y yaml.Error
	if errors.As(err, &y) && y.GetToken() != nil && y.GetToken().Position != nil {
		f.at(y.GetToken().Position, "not YAML: "+firstLine(y.GetMessage()), right)
		return
	}
	f.log.add(Problem{Line: 1, Column: 1, What: "not YAML: " + firstLine(err.Error()),
		Right: right})
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "\n")
	return s
}

func (f *File) at(p *token.Position, what, right string) {
	f.log.add(Problem{Line: max(p.Line, 1), Column: max(p.Column, 1), What: what, Right: right})
}

// modest refuses, before the library parses, what would cost it more than a
// recipe is worth: many levels, many keys, many documents.
func (f *File) modest(tokens token.Tokens) bool {
	if t := tooDeep(tokens); t != nil {
		f.at(t.Position, fmt.Sprintf("nested deeper than %d levels", MostDepth), "write it flatter")
		return false
	}
	keys, headers := 0, 0
	for _, t := range tokens {
		switch t.Type {
		case token.MappingValueType, token.MappingKeyType:
			keys++
		case token.DocumentHeaderType:
			headers++
		}
		if keys > MostKeys {
			f.at(t.Position, fmt.Sprintf("more than %d keys", MostKeys), "write a smaller file")
			return false
		}
		if headers > 1 {
			f.at(t.Position, "a second document begins", "keep one document in a file")
			return false
		}
	}
	return true
}

// tooDeep finds the first token that opens a level too many. Levels of blocks
// are counted by the columns at which a line's first marks stand.
func tooDeep(tokens token.Tokens) *token.Token {
	var blocks []int
	flow := 0
	for _, t := range tokens {
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			flow++
		case token.SequenceEndType, token.MappingEndType:
			flow--
		case token.SequenceEntryType, token.MappingKeyType, token.MappingValueType:
			if flow == 0 {
				blocks = push(blocks, blockColumn(t))
			}
		}
		if flow+len(blocks) > MostDepth {
			return t
		}
	}
	return nil
}

// blockColumn is where the key of a mapping or the dash of an entry stands.
func blockColumn(t *token.Token) int {
	if t.Type == token.MappingValueType && t.Prev != nil {
		return t.Prev.Position.Column
	}
	return t.Position.Column
}

func push(blocks []int, column int) []int {
	for len(blocks) > 0 && blocks[len(blocks)-1] > column {
		blocks = blocks[:len(blocks)-1]
	}
	if len(blocks) == 0 || blocks[len(blocks)-1] < column {
		blocks = append(blocks, column)
	}
	return blocks
}
