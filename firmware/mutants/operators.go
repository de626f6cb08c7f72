package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// mutant is the core with one thing changed in one file.
type mutant struct {
	File     string // burner.c
	Line     int
	Operator string
	Change   string // the line, with [what was => what is]; unique in its file
	Text     string // the changed file
}

// ID names a mutant for people; Key outlives other changes of its file.
func (m mutant) ID() string  { return fmt.Sprintf("%s:%d %s", m.File, m.Line, m.Change) }
func (m mutant) Key() string { return m.File + " " + m.Change }

// changer makes the mutants of one file.
type changer struct {
	file, src string
	tokens    []token
	beside    map[string]string
	count     map[string]int
	mutants   []mutant
}

// generate makes every mutant of the given files, in their order and that of
// their text. sources are all files that declare constants.
func generate(files []string, sources map[string]string) ([]mutant, error) {
	beside := neighbours(sources)
	var all []mutant
	for _, name := range files {
		src := sources[name]
		tokens, unread := tokenize(src)
		if unread >= 0 {
			return nil, fmt.Errorf("%s:%d: no token of the C that the core is written in", name, lineOf(src, unread))
		}
		c := &changer{file: filepath.Base(name), src: src, tokens: tokens, beside: beside, count: map[string]int{}}
		for i := range tokens {
			c.change(i)
		}
		slices.SortStableFunc(c.mutants, func(a, b mutant) int { return a.Line - b.Line })
		all = append(all, c.mutants...)
	}
	return all, nil
}

func lineOf(src string, at int) int { return 1 + strings.Count(src[:at], "\n") }

// other is what each operator becomes.
var other = map[string]struct{ operator, text string }{
	"<": {"comparison", "<="}, "<=": {"comparison", "<"}, ">": {"comparison", ">="}, ">=": {"comparison", ">"},
	"==": {"comparison", "!="}, "!=": {"comparison", "=="},
	"&&": {"logic", "||"}, "||": {"logic", "&&"},
	"+": {"arithmetic", "-"}, "-": {"arithmetic", "+"}, "++": {"arithmetic", "--"}, "--": {"arithmetic", "++"},
	"+=": {"arithmetic", "-="}, "-=": {"arithmetic", "+="},
	"&": {"bit", "|"}, "|": {"bit", "&"}, "^": {"bit", "|"}, "|=": {"bit", "&="}, "&=": {"bit", "|="}, "~": {"bit", ""},
	"<<": {"shift", ">>"}, ">>": {"shift", "<<"}, "<<=": {"shift", ">>="}, ">>=": {"shift", "<<="},
	"!": {"negation", ""}, "true": {"boolean", "false"}, "false": {"boolean", "true"},
}

// change makes the mutants that begin at token i.
func (c *changer) change(i int) {
	t := c.tokens[i]
	if to, ok := other[t.text]; ok && (!strings.Contains("+-&", t.text) || isBinary(c.tokens, i)) {
		c.add(to.operator, t.at, t.end(), to.text)
	}
	switch t.kind {
	case number:
		c.constant(i)
	case letter:
		c.add("constant", t.at, t.end(), "("+t.text+" + 1)")
	case word:
		if next := c.beside[t.text]; next != "" && !t.enumerator {
			c.add("name", t.at, t.end(), next)
		}
		if (t.text == "if" || t.text == "while") && t.body {
			end := closing(c.tokens, i+1)
			from, to := c.tokens[i+1].at, c.tokens[end].end()
			c.add("condition", from, to, "(!"+c.src[from:to]+")")
		}
		if i > 0 && isShift(c.tokens[i-1].text) {
			c.add("shift", t.at, t.at, "1 + ")
			c.add("shift", t.at, t.at, "-1 + ")
		}
	}
	c.statement(i)
}

func isShift(text string) bool { return strings.HasPrefix(text, "<<") || strings.HasPrefix(text, ">>") }

// constant makes a number one more and one less.
func (c *changer) constant(i int) {
	t := c.tokens[i]
	digits := strings.TrimRight(t.text, "uUlL")
	suffix := t.text[len(digits):]
	n, err := strconv.ParseUint(digits, 0, 64)
	if err != nil {
		panic(err) // the tokenizer knows whole numbers only
	}
	form := "%d"
	if strings.HasPrefix(digits, "0x") {
		form = "0x%X"
	}
	operator := "constant"
	if i > 0 && isShift(c.tokens[i-1].text) {
		operator = "shift"
	}
	less := " -1" // in UINT32_C() too, where brackets may not be
	if n > 0 {
		less = fmt.Sprintf(form, n-1) + suffix
	}
	c.add(operator, t.at, t.end(), fmt.Sprintf(form, n+1)+suffix)
	c.add(operator, t.at, t.end(), less)
}

// statement drops an assignment, a call, or a jump out of something.
func (c *changer) statement(i int) {
	if !c.tokens[i].body || i == 0 || !c.begins(i) {
		return
	}
	end := i
	for ; c.tokens[end].text != ";"; end++ {
		switch c.tokens[end].text {
		case "(", "[", "{":
			end = closing(c.tokens, end)
		case "}":
			return
		}
	}
	t, next := c.tokens[i], c.tokens[i+1].text
	jump := next == ";" && (t.text == "break" || t.text == "return" || t.text == "continue")
	changes := t.text == "*" || t.kind == word && strings.Contains(" -> . [ = |= &= += -= <<= >>= ++ -- ( ", " "+next+" ")
	if jump || changes && !slices.Contains([]string{"if", "for", "while", "switch", "return"}, t.text) {
		c.add("statement", t.at, c.tokens[end].end(), ";")
	}
}

// begins: a statement begins at token i.
func (c *changer) begins(i int) bool {
	switch c.tokens[i-1].text {
	case "{", "}", ";", "else":
		return !c.inBrackets(i)
	case ":": // of a label, not of a conditional expression
		return c.tokens[i-2].text == "default" || c.tokens[max(i-3, 0)].text == "case"
	}
	return false
}

// inBrackets: token i is in the head of a for.
func (c *changer) inBrackets(i int) bool {
	for k := i - 1; k > 0 && c.tokens[k].text != "{" && c.tokens[k].text != "}"; k-- {
		if c.tokens[k].text == "for" {
			return i < closing(c.tokens, k+1)
		}
	}
	return false
}

// add makes the mutant that has text in the place of from..to.
func (c *changer) add(operator string, from, to int, text string) {
	start := strings.LastIndexByte(c.src[:from], '\n') + 1
	end := to + strings.IndexByte(c.src[to:]+"\n", '\n')
	flat := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	code, _, _ := strings.Cut(c.src[to:end], "//")
	change := strings.TrimSpace(fmt.Sprintf("%s[%s => %s]%s", strings.TrimLeft(c.src[start:from], "\t"),
		flat(c.src[from:to]), flat(text), strings.TrimRight(code, " \t")))
	if c.count[change]++; c.count[change] > 1 {
		change = fmt.Sprintf("%s #%d", change, c.count[change])
	}
	c.mutants = append(c.mutants, mutant{c.file, lineOf(c.src, from), operator, change,
		c.src[:from] + text + c.src[to:]})
}
