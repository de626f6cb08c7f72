package yamlfile_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"pressrig/units"
	"pressrig/yamlfile"
)

// lines joins the problems of a file, errors only.
func lines(f *yamlfile.File) string {
	if err := f.Err(); err != nil {
		return err.Error()
	}
	return ""
}

func TestRefused(t *testing.T) {
	const syntax = "check indentation, the colon after each key, and quotes, here and just above"
	for _, c := range []struct{ name, text, want string }{
		{"anchor", "a: &x 1\n", "f:1:4: an anchor (&); write the value out at each place"},
		{"alias", "a: &x b\nc: *x\n", "f:1:4: an anchor (&); write the value out at each place\n" +
			"f:2:4: an alias (*); write the value out here"},
		{"tag", "a: !!str 5\n", "f:1:4: a tag (!); write the plain value"},
		{"merge", "a: 1\n<<: {b: 2}\n", "f:2:1: a merge key (<<); write the keys out here"},
		{"list as key", "[a, b]: 1\n", "f:1:7: not YAML: found an invalid key for this map; " +
			"" + syntax},
		{"number as key", "5: a\n", "f:1:1: a key that is no plain word; write a key as one " +
			"word of small letters"},
		{"key twice", "a: 1\nb: {c: 1, c: 2}\na: 2\n",
			"f:2:11: key \"c\" stands twice; keep this one or the one in line 2\n" +
				"f:3:1: key \"a\" stands twice; keep this one or the one in line 1"},
		{"two documents", "a: 1\n---\nb: 1\n", "f:2:1: a second document begins; keep one " +
			"document in a file"},
		{"three documents", "a: 1\n---\nb: 1\n---\nc: 1\n",
			"f:4:1: a second document begins; keep one document in a file"},
		{"many keys", strings.Repeat("a:\n", 3001),
			"f:3001:2: more than 3000 keys; write a smaller file"},
		{"empty", "", "f:1:1: file is empty; write the keys of the format"},
		{"only a remark", "# nothing\n", "f:1:1: file is empty; write the keys of the format"},
		{"unclosed list", "a: 1\nb: [1, 2\n", "f:2:4: not YAML: sequence end token ']' not " +
			"found; " + syntax},
		{"value in value", "a: b: c\n", "f:1:4: not YAML: mapping value is not allowed in this " +
			"context; " + syntax},
		{"bad indent", "  a: 1\n b: 2\n", "f:2:2: not YAML: value is not allowed in this " +
			"context; " + syntax},
		{"open quote", "a: 1\nb: \"q\n", "f:2:4: not YAML: could not find end character of " +
			"double-quoted text; " + syntax},
		{"tab", "a:\n\tb: 1\n", "f:2:1: a tab; use spaces"},
		{"no UTF-8", "a: \xff\n", "f:1:4: a byte that is not UTF-8; save the file as UTF-8"},
		{"invisible", "a: x\u200b\u0000\n", "f:1:6: the invisible character U+0000; remove it"},
		{"long line", "a: " + strings.Repeat("x", 300),
			"f:1:201: line is longer than 200 characters; break the line"},
		{"long file", strings.Repeat("# remark\n", 8000),
			"f:1:1: file has 72000 bytes; at most 65536 are read"},
		{"deep block", "- - - - - - - - - a\n", "f:1:17: nested deeper than 8 levels; write it " +
			"flatter"},
		{"deep flow", "a: [[[[[[[[b]]]]]]]]\n", "f:1:11: nested deeper than 8 levels; write it " +
			"flatter"},
	} {
		if d := cmp.Diff(c.want, lines(yamlfile.Read("f", []byte(c.text)))); d != "" {
			t.Errorf("%s (-want +have):\n%s", c.name, d)
		}
	}
}

// A file at the edge of a limit is read, one past it is not.
func TestLimitsAreExact(t *testing.T) {
	remark := "#" + strings.Repeat("x", 126) + "\n" // 128 bytes
	body := "a: b\n"
	full := strings.Repeat(remark, yamlfile.MostBytes/128-1) + "#" + strings.Repeat("x",
		121) + "\n" + body
	if n := len(full); n != yamlfile.MostBytes {
		t.Fatalf("the test text has %d bytes", n)
	}
	line := "a: " + strings.Repeat("x", yamlfile.MostColumn-3)
	deep := strings.Repeat("- ", yamlfile.MostDepth) + "a\n"
	for _, c := range []struct {
		text string
		ok   bool
	}{
		{full, true}, {full + "\n", false},
		{line + "\n", true}, {line + "x\n", false},
		{deep, true}, {"- " + deep, false},
	} {
		if err := yamlfile.Read("f", []byte(c.text)).Err(); (err == nil) != c.ok {
			t.Errorf("%d bytes: %v, want accepted %v", len(c.text), err, c.ok)
		}
	}
}

// An alias bomb of six levels stays small: nothing is ever expanded.
func TestAliasBombIsOnlyTold(t *testing.T) {
	text := "a0: &a0 [x,x,x,x,x,x,x,x,x]\n"
	for i := 1; i < 7; i++ {
		ref := fmt.Sprintf("*a%d", i-1)
		text += fmt.Sprintf("a%d: &a%d [%s]\n", i, i, strings.Join([]string{ref, ref, ref, ref,
			ref, ref, ref, ref, ref}, ", "))
	}
	p := yamlfile.Of(yamlfile.Read("f", []byte(text)).Err())
	if len(p) != 7 || p[6].Line != 7 || p[6].Column != 5 {
		t.Errorf("%d problems, want one for each anchor: %v", len(p), p)
	}
}

func TestPlaces(t *testing.T) {
	f := yamlfile.Read("f", []byte("# remark\n\nlist:\n  - é: {ü: 5}\n    b: 'x y'\n  -   z\n"))
	items := f.Root().Map("list").Get("list").List(9)
	if len(items) != 2 {
		t.Fatal(lines(f))
	}
	first := items[0].Map("é", "b")
	for _, c := range []struct {
		n            yamlfile.Node
		line, column int
	}{
		{items[0], 4, 5}, {first.Get("é"), 4, 8}, {first.Get("é").Map("ü").Get("ü"), 4, 12},
		{first.Get("b"), 5, 8}, {items[1], 6, 7}, {first.Get("absent"), 0, 0},
	} {
		if c.n.Line() != c.line || c.n.Column() != c.column {
			t.Errorf("%s is at %d:%d, want %d:%d", c.n.Name(), c.n.Line(), c.n.Column(), c.line,
				c.column)
		}
	}
	first.Get("b").FaultAt(2, "here", "there")
	if have := lines(f); have != "f:5:11: here; there" {
		t.Errorf("within quotes: %s", have)
	}
}

func TestWindowsTextIsRead(t *testing.T) {
	f := yamlfile.Read("f", []byte("\xef\xbb\xbfa:\r\n  b: 5 N\r\n  c: x\r\n"))
	m := f.Root().Map("a").Get("a").Map("b", "c")
	if v, c := m.Get("b").Quantity(units.Force, 0, 9),
		m.Get("c").Text(9); v != 5 || c != "x" || f.Err() != nil {
		t.Errorf("%v, %q, %v", v, c, f.Err())
	}
}

func TestReaders(t *testing.T) {
	for _, c := range []struct {
		value string
		read  func(yamlfile.Node) any
		want  any
		fault string // "" when the value is good
	}{
		{"true", func(n yamlfile.Node) any { return n.Bool() }, true, ""},
		{"yes", func(n yamlfile.Node) any { return n.Bool() }, false,
			`a is "yes"; write true or false`},
		{"True", func(n yamlfile.Node) any { return n.Bool() }, false,
			`a is True; write true or false`},
		{`"true"`, func(n yamlfile.Node) any { return n.Bool() }, false,
			`a is "true"; write true or false`},
		{"7", count, 7, ""},
		{"0", count, 0, `a is 0; write a whole number from 1 to 9`},
		{"10", count, 0, `a is 10; write a whole number from 1 to 9`},
		{"0777", count, 0, `a is 0777; write a whole number from 1 to 9`},
		{"0x5", count, 0, `a is 0x5; write a whole number from 1 to 9`},
		{"1_0", count, 0, `a is 1_0; write a whole number from 1 to 9`},
		{"+5", count, 0, `a is +5; write a whole number from 1 to 9`},
		{"5.0", count, 0, `a is 5.0; write a whole number from 1 to 9`},
		{"99999999999999999999", count, 0,
			`a is "99999999999999999999"; write a whole number from 1 to 9`},
		{`"5"`, count, 0, `a is "5"; write a whole number from 1 to 9`},
		{"red", choice, "red", ""},
		{"rod", choice, "", `a is "rod"; write red, green or off (did you mean red?)`},
		{"off", choice, "off", ""},
		{"[red]", choice, "", `a is a list; write red, green or off`},
		{"45 N", force, 45.0, ""},
		{"45", force, 0.0, `a: "45" has no unit; write a force like "45 N"`},
		{".nan", force, 0.0, `a: "." is not a number; write a force like "45 N"`},
		{".inf", force, 0.0, `a: "." is not a number; write a force like "45 N"`},
		{"145 N", force, 0.0, `a is 145 N; write 0 N to 99 N`},
		{"", force, 0.0, `a is empty; write a force like "45 N"`},
		{"{b: 1}", force, 0.0, `a is a map of keys; write a force like "45 N"`},
		{"1.5 s", period, 1500 * time.Millisecond, ""},
		{"1 h", period, time.Duration(0), `a is 3600 s; write 1 s to 60 s`},
		{"-1 s", period, time.Duration(0),
			`a: "-1 s" is out of range; a time lies between 0 s and 1,000 h`},
		{"1:30", period, time.Duration(0),
			`a: "1:30" has the unknown unit ":30"; write a time like "12 s"`},
		{"some words", text, "some words", ""},
		{"710", text, "", `a is 710, which is no text; put it in quotes: "710"`},
		{"true", text, "", `a is true, which is no text; put it in quotes: "true"`},
		{"~", text, "", `a is empty; write its text`},
		{`"  "`, text, "", `a is empty; write its text`},
		{"a very long text", text, "", `a has 16 characters; write at most 12`},
		{"lathe-1", ident, "lathe-1", ""},
		{"1-lathe", ident, "",
			`a "1-lathe" is no name; use small letters, digits, - and _, beginning with a letter`},
		{"Lathe", ident, "",
			`a "Lathe" is no name; use small letters, digits, - and _, beginning with a letter`},
		{"x", list, 0, `a is "x"; write a list, each entry after a dash`},
		{"[x, y, z]", list, 0, `a has 3 entries; write at most 2`},
		{"[x, y]", list, 2, ""},
		{"x", keys, 0, `a is "x"; write keys with values`},
	} {
		f := yamlfile.Read("f", []byte("a: "+c.value+"\n"))
		have := c.read(f.Root().Map("a").Get("a"))
		_, fault, _ := strings.Cut(lines(f), ": ")
		if have != c.want || fault != c.fault {
			t.Errorf("%s: %v, %q; want %v, %q", c.value, have, fault, c.want, c.fault)
		}
	}
}

func count(n yamlfile.Node) any  { return n.Count(1, 9) }
func choice(n yamlfile.Node) any { return n.Choice("red", "green", "off") }
func force(n yamlfile.Node) any  { return n.Quantity(units.Force, 0, 99) }
func period(n yamlfile.Node) any { return n.Time(time.Second, time.Minute) }
func text(n yamlfile.Node) any   { return n.Text(12) }
func ident(n yamlfile.Node) any  { return n.Ident(12) }
func list(n yamlfile.Node) any   { return len(n.List(2)) }
func keys(n yamlfile.Node) any   { return len(n.Map("b").Pairs()) }

// All problems come at once, in the order of the file, whatever the order in
// which they were looked for; an absent or refused value is told once.
func TestAllProblemsInOrder(t *testing.T) {
	f := yamlfile.Read("f", []byte("colour: red\nforce: 5\nwieght: 2 kg\nspeed: &v 2 mm/s\n"))
	m := f.Root().Map("colour", "force", "weight", "speed", "time")
	m.Get("speed").Quantity(units.Speed, 0, 9)
	m.Need("time", "write how long").Time(0, time.Second)
	m.Get("force").Quantity(units.Force, 0, 9)
	m.Get("colour").Warn("red is loud", "try green")
	want := `f:1:1: the file lacks the key "time"; write how long
f:2:8: force: "5" has no unit; write a force like "45 N"
f:3:1: unknown key "wieght"; known here: colour, force, weight, speed, time (did you mean weight?)
f:4:8: an anchor (&); write the value out at each place`
	if d := cmp.Diff(want, lines(f)); d != "" {
		t.Errorf("(-want +have):\n%s", d)
	}
	if w := f.Warnings(); len(w) != 1 || w[0].Error() != "f:1:9: warning: red is loud; try green" {
		t.Errorf("warnings: %v", w)
	}
}

func TestProblemsAreBounded(t *testing.T) {
	var b strings.Builder
	for i := 0; i < 3000; i++ {
		fmt.Fprintf(&b, "k%d: 1\n", i)
	}
	f := yamlfile.Read("f", []byte(b.String()))
	f.Root().Map("a")
	p := yamlfile.Of(f.Err())
	if len(p) != yamlfile.MostProblems+1 || !strings.Contains(p[len(p)-1].What, "2900 more") {
		t.Errorf("%d problems, the last %v", len(p), p[len(p)-1])
	}
}

func TestNear(t *testing.T) {
	words := []string{"spindle", "press", "ends"}
	for _, c := range []struct{ s, want string }{
		{"spindel", "spindle"}, {"pres", "press"}, {"end", "ends"}, {"colour", ""}, {"", ""},
		{strings.Repeat("spindle", 20), ""},
	} {
		if have := yamlfile.Near(c.s, words); have != c.want {
			t.Errorf("Near(%q) = %q, want %q", c.s, have, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"a: 1\n", "a: &x [1]\nb: *x\n", "- - - a\n", "a: |\n  x\n", "{a: [b, {c: d}]}\n",
		"? a\n: b\n", "%YAML 1.2\n---\na: b\n...\n", "a: \"\\u0000\"\n", "[[[[[[[[[[[[[[",
		"a: !!binary x\n",
		"<<: *a\n", "--- >\n  x\n---\n", ": a\n", "a:\n- b\n- c\n", "a: 'it''s'\n# é\n",
		"&a : *a\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		file := yamlfile.Read("f", text)
		for _, kv := range file.Root().AnyMap().Pairs() {
			kv.Value.Text(20)
			kv.Value.List(5)
			kv.Value.Quantity(units.Force, 0, 9)
		}
		p := yamlfile.Of(file.Err())
		if len(p) > yamlfile.MostProblems+1 {
			t.Fatalf("%d problems", len(p))
		}
		n := strings.Count(string(text), "\n") + 2
		for i, q := range p {
			if q.Line < 1 || q.Line > n || q.Column < 1 || q.What == "" || q.Right == "" {
				t.Fatalf("problem without a place or a remedy: %+v", q)
			}
			if i > 0 && q.Line < p[i-1].Line {
				t.Fatalf("out of order: %v", p)
			}
		}
	})
}
