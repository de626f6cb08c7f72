package main

import (
	"regexp"
	"slices"
	"strings"
)

// kind is what a token is.
type kind int

const (
	word   kind = iota // identifier or keyword
	number             // 60000, 0xFFu
	letter             // 'P'
	punct              // >=
)

// token is one token of a C file.
type token struct {
	kind kind
	text string
	at   int // byte offset
	// body: inside of a function; enumerator: a name that an enum declares.
	body, enumerator bool
}

func (t token) end() int { return t.at + len(t.text) }

var (
	// What the core has of C's lexis. Comments are skipped; so are directives
	// but for what a #define says.
	lexis = regexp.MustCompile(`^(?:(\s+|//[^\n]*|(?s:/\*.*?\*/))|([A-Za-z_]\w*)|(0[xX][0-9A-Fa-f]+[uUlL]*|[0-9]+[uUlL]*)|('[^'\\]')|` +
		`("[^"]*")|(<<=|>>=|->|\+\+|--|<<|>>|<=|>=|==|!=|&&|\|\||[-+*&|^]=|[-+*/%&|^~!<>=?:;,.(){}\[\]#]))`)
	directive = regexp.MustCompile(`^#(?:define \w+(?:\([^)]*\))?|[^\n]*)`)
)

// tokenize cuts a C file into tokens. It reports the offset of what it cannot
// read, -1 for nothing.
func tokenize(src string) (tokens []token, unread int) {
	for at := 0; at < len(src); {
		rest := src[at:]
		if rest[0] == '#' && (at == 0 || src[at-1] == '\n') {
			at += len(directive.FindString(rest))
			continue
		}
		m := lexis.FindStringSubmatch(rest)
		if m == nil {
			return tokens, at
		}
		for i, k := range []kind{word, number, letter} {
			if m[2+i] != "" {
				tokens = append(tokens, token{kind: k, text: m[0], at: at})
			}
		}
		if m[6] != "" {
			tokens = append(tokens, token{kind: punct, text: m[0], at: at})
		}
		at += len(m[0])
	}
	place(tokens)
	return tokens, -1
}

// place marks what is inside of a function and what an enum declares.
func place(tokens []token) {
	depth, function, enum := 0, false, false
	for i := range tokens {
		t := &tokens[i]
		switch t.text {
		case "{":
			if depth == 0 && i > 0 {
				function, enum = tokens[i-1].text == ")", tokens[i-1].text == "enum"
			}
			depth++
		case "}":
			depth--
		default:
			t.body = depth > 0 && function
			t.enumerator = depth == 1 && enum && t.kind == word && strings.Contains("{,", tokens[i-1].text)
		}
	}
}

// closing is the index of the bracket that closes the one at i.
func closing(tokens []token, i int) int {
	depth := 0
	for k := i; k < len(tokens); k++ {
		switch tokens[k].text {
		case "(", "[", "{":
			depth++
		case ")", "]", "}":
			depth--
		}
		if depth == 0 {
			return k
		}
	}
	return len(tokens) - 1
}

// opening is the index of the bracket that the one at i closes.
func opening(tokens []token, i int) int {
	depth := 0
	for k := i; k > 0; k-- {
		switch tokens[k].text {
		case ")", "]", "}":
			depth++
		case "(", "[", "{":
			depth--
		}
		if depth == 0 {
			return k
		}
	}
	return 0
}

// isBinary tells a binary + - & * at i from an unary one: something that has a
// value stands before it, and a cast has none.
func isBinary(tokens []token, i int) bool {
	if i == 0 {
		return false
	}
	before := tokens[i-1]
	switch before.text {
	case "return", "case":
		return false
	case "]":
		return true
	case ")":
		inside := tokens[opening(tokens, i-1)+1 : i-1]
		return slices.ContainsFunc(inside, func(t token) bool {
			return t.text != "const" && t.text != "*" && !strings.HasSuffix(t.text, "_t")
		})
	}
	return before.kind != punct
}

var (
	enumBody   = regexp.MustCompile(`(?s)\benum \{(.*?)\n\}`)
	enumerator = regexp.MustCompile(`(?m)^\s*([A-Z]\w*)\s*=`)
	defines    = regexp.MustCompile(`(?m)(?:^#define [A-Z]\w*[ \t]+\S[^\n]*\n)+`)
	defined    = regexp.MustCompile(`(?m)^#define (\w+)`)
)

// neighbours maps each constant of an enum, or of #defines on successive lines,
// to the one beside it.
func neighbours(sources map[string]string) map[string]string {
	beside := map[string]string{}
	for _, src := range sources {
		for _, body := range enumBody.FindAllStringSubmatch(src, -1) {
			pair(beside, enumerator.FindAllStringSubmatch(body[1], -1))
		}
		for _, lines := range defines.FindAllString(src, -1) {
			pair(beside, defined.FindAllStringSubmatch(lines, -1))
		}
	}
	return beside
}

func pair(beside map[string]string, names [][]string) {
	for i, name := range names {
		switch {
		case i+1 < len(names):
			beside[name[1]] = names[i+1][1]
		case i > 0:
			beside[name[1]] = names[i-1][1]
		}
	}
}
