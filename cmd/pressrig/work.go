package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"pressrig/glass"
	"pressrig/units"
)

type workCmd struct {
	Question []string `arg:"" optional:"" help:"A topic, a question of it, and quantities as name=value."`
}

func (workCmd) Help() string {
	return "Computes single questions of the trade, without a recipe or a rig: pressrig work lists " +
		"the topics, pressrig work TOPIC its questions, pressrig work TOPIC QUESTION name=value... " +
		"answers one, such as pressrig work heat ripple flux=500kW/m2 speed=60rpm. What is not given " +
		"takes the value that the listing shows. Every figure tells its formula and source. A figure " +
		"here is a calculation, not a permission: it is no safety device."
}

// question is one thing that work can compute.
type question struct {
	topic, name string
	asks        string // what it answers, in a line
	takes       []quantity
	answer      func(given) ([]figure, error)
}

// quantity is what a question takes: of a dimension, or one of some words, or
// a glass, or without any of them a plain number.
type quantity struct {
	name  string
	in    units.Dimension
	words []string
	glass bool   // the name of a glass: words are those of the shelf
	usual string // the value that holds when none is given; "" must be given
	what  string
}

// given holds the quantities of a question: numbers in the base unit of their
// dimension, words and glasses as they are.
type given struct {
	numbers map[string]float64
	words   map[string]string
	glasses map[string]glass.Glass
}

func (g given) of(name string) float64  { return g.numbers[name] }
func (g given) word(name string) string { return g.words[name] }

// figure is one result. Source tells where its formula comes from, and how far
// to trust it: found, from memory or derived.
type figure struct {
	name    string
	value   float64
	unit    string
	text    string // instead of value and unit, for a word
	formula string
	source  string
}

// questions is the table of all that work answers, topic by topic.
var questions = slices.Concat(heatQuestions, flameQuestions, spinQuestions, pyrometerQuestions,
	pressQuestions, mouldQuestions, coolQuestions, sealQuestions, blankQuestions)

// Run answers a question, or lists what there is.
func (c *workCmd) Run(e *env) error {
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	switch len(c.Question) {
	case 0:
		return e.listQuestions(shelf, questions)
	case 1:
		list := ofTopic(c.Question[0])
		if len(list) == 0 {
			return usage("no topic %q; one of %s", c.Question[0], strings.Join(topics(), ", "))
		}
		return e.listQuestions(shelf, list)
	}
	q, err := asked(c.Question[0], c.Question[1])
	if err != nil {
		return err
	}
	g, own, err := q.read(shelf, c.Question[2:])
	if err != nil {
		return err
	}
	figures, err := q.answer(g)
	if err != nil {
		return usage("work %s %s: %w", q.topic, q.name, err)
	}
	if e.flags.JSON {
		return e.printJSON(q.json(g, figures))
	}
	return e.printAnswer(q, g, own, figures)
}

func topics() []string {
	var names []string
	for _, q := range questions {
		if !slices.Contains(names, q.topic) {
			names = append(names, q.topic)
		}
	}
	return names
}

func ofTopic(topic string) []question {
	return slices.DeleteFunc(slices.Clone(questions),
		func(q question) bool { return q.topic != topic })
}

func asked(topic, name string) (question, error) {
	list := ofTopic(topic)
	if len(list) == 0 {
		return question{}, usage("no topic %q; one of %s", topic, strings.Join(topics(), ", "))
	}
	var names []string
	for _, q := range list {
		if q.name == name {
			return q, nil
		}
		names = append(names, q.name)
	}
	return question{}, usage("%s has no question %q; one of %s", topic, name,
		strings.Join(names, ", "))
}

// read takes the quantities from args and the usual values for the others. own
// are the names that args gave.
func (q question) read(shelf *glass.Shelf, args []string) (g given, own map[string]bool, err error) {
	g = given{map[string]float64{}, map[string]string{}, map[string]glass.Glass{}}
	texts := map[string]string{}
	own = map[string]bool{}
	for _, arg := range args {
		name, text, ok := strings.Cut(arg, "=")
		at := slices.IndexFunc(q.takes, func(t quantity) bool { return t.name == name })
		switch {
		case !ok:
			return g, nil, usage("%q is no quantity; write name=value with a name of: %s", arg, q.names())
		case at < 0:
			return g, nil, usage("%s %s takes no %q; it takes %s", q.topic, q.name, name, q.names())
		case own[name]:
			return g, nil, usage("%s is given twice; give it once", name)
		}
		texts[name], own[name] = text, true
	}
	for _, t := range q.takes {
		text := t.usual
		if own[t.name] {
			text = texts[t.name]
		} else if text == "" {
			return g, nil, usage("%s %s needs %s (%s); write %s=%s", q.topic, q.name, t.name, t.what,
				t.name, t.example())
		}
		if err := t.into(g, shelf, text); err != nil {
			return g, nil, usage("%s: %w", t.name, err)
		}
	}
	return g, own, nil
}

func (q question) names() string {
	var names []string
	for _, t := range q.takes {
		names = append(names, t.name)
	}
	return strings.Join(names, ", ")
}

// example is a value without blanks, as a shell takes it.
func (t quantity) example() string {
	switch {
	case t.glass:
		return glass.Names()[0]
	case t.words != nil:
		return t.words[0]
	case t.in == "":
		return "1"
	}
	return strings.ReplaceAll(units.Example(t.in), " ", "")
}

// into reads text as the quantity.
func (t quantity) into(g given, shelf *glass.Shelf, text string) error {
	switch {
	case t.glass:
		kind, ok := shelf.Named(text)
		if !ok {
			return fmt.Errorf("%q is none of: %s", text, strings.Join(shelf.Names(), ", "))
		}
		g.glasses[t.name] = kind
		return nil
	case t.words != nil:
		if !slices.Contains(t.words, text) {
			return fmt.Errorf("%q is none of: %s", text, strings.Join(t.words, ", "))
		}
		g.words[t.name] = text
		return nil
	case t.in != "":
		v, err := units.Parse(text, t.in)
		g.numbers[t.name] = v
		return err
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || v != v || v-v != 0 {
		return fmt.Errorf("%q is not a plain number; write it without a unit, like 0.85", text)
	}
	g.numbers[t.name] = v
	return nil
}

// shown is the quantity as it was taken.
func (t quantity) shown(g given) string {
	switch {
	case t.glass:
		return g.glasses[t.name].Name
	case t.words != nil:
		return g.word(t.name)
	case t.in == "":
		return sixDigits(g.of(t.name))
	}
	return sixDigits(g.of(t.name)) + " " + units.Base(t.in)
}

// sixDigits is a number to the digits that such a calculation is good for.
func sixDigits(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func (e *env) printAnswer(q question, g given, own map[string]bool, figures []figure) error {
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "%s %s: %s\n", q.topic, q.name, q.asks)
	for _, t := range q.takes {
		from := "usual"
		if own[t.name] {
			from = "given"
		}
		fmt.Fprintf(w, "  %s\t%s\t%s; %s\n", t.name, t.shown(g), from, t.what)
	}
	for _, f := range figures {
		value := f.text
		if value == "" {
			value = strings.TrimSpace(sixDigits(f.value) + " " + f.unit)
		}
		fmt.Fprintf(w, "= %s\t%s\t%s [%s]\n", f.name, value, f.formula, f.source)
	}
	return w.Flush()
}

// answerJSON is an answer for a program: every key of a number ends with its
// unit.
type answerJSON struct {
	Topic    string                `json:"topic"`
	Question string                `json:"question"`
	Given    map[string]any        `json:"given"`
	Figures  map[string]figureJSON `json:"figures"`
}

type figureJSON struct {
	Value   any    `json:"value"`
	Formula string `json:"formula"`
	Source  string `json:"source"`
}

func (q question) json(g given, figures []figure) answerJSON {
	a := answerJSON{q.topic, q.name, map[string]any{}, map[string]figureJSON{}}
	for _, t := range q.takes {
		if t.words != nil || t.glass {
			a.Given[t.name] = t.shown(g)
			continue
		}
		unit := ""
		if t.in != "" {
			unit = units.Base(t.in)
		}
		a.Given[keyed(t.name, unit)] = g.of(t.name)
	}
	for _, f := range figures {
		out := figureJSON{f.value, f.formula, f.source}
		if f.text != "" {
			out.Value = f.text
		}
		a.Figures[keyed(f.name, f.unit)] = out
	}
	return a
}

// keyed is a JSON key with its unit: flux_kW_per_m2.
func keyed(name, unit string) string {
	unit = strings.NewReplacer("/(", "_per_", "/", "_per_", ".", "_", ")", "", "%",
		"percent").Replace(unit)
	return strings.Trim(strings.ReplaceAll(name+"_"+unit, "__", "_"), "_")
}

// questionJSON is a question in a listing for a program.
type questionJSON struct {
	Topic    string         `json:"topic"`
	Question string         `json:"question"`
	Asks     string         `json:"asks"`
	Takes    []quantityJSON `json:"takes"`
}

type quantityJSON struct {
	Name  string   `json:"name"`
	Unit  string   `json:"unit,omitempty"`
	Words []string `json:"words,omitempty"`
	Usual string   `json:"usual,omitempty"`
	What  string   `json:"what"`
}

func (e *env) listQuestions(shelf *glass.Shelf, list []question) error {
	if e.flags.JSON {
		out := []questionJSON{}
		for _, q := range list {
			one := questionJSON{q.topic, q.name, q.asks, []quantityJSON{}}
			for _, t := range q.takes {
				unit := ""
				if t.in != "" {
					unit = units.Base(t.in)
				}
				words := t.words
				if t.glass {
					words = shelf.Names()
				}
				one.Takes = append(one.Takes, quantityJSON{t.name, unit, words, t.usual, t.what})
			}
			out = append(out, one)
		}
		return e.printJSON(out)
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "TOPIC\tQUESTION\tASKS\tTAKES")
	for _, q := range list {
		var takes []string
		for _, t := range q.takes {
			value := t.usual
			if value == "" {
				value = "?"
			}
			takes = append(takes, t.name+"="+strings.ReplaceAll(value, " ", ""))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", q.topic, q.name, q.asks, strings.Join(takes, " "))
	}
	return w.Flush()
}
