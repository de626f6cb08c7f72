package recipes

import (
	"bytes"
	"crypto/sha256"
	"strings"
	"time"

	"pressrig/glass"
	"pressrig/rig"
	"pressrig/units"
	"pressrig/yamlfile"
)

// Limits of a recipe, each far above what a stem needs, so that nothing that
// reads a recipe grows without bound.
const (
	MostPhases    = 40
	mostBands     = 8 // of one phase
	mostName      = 32
	mostNote      = 160
	mostPrompt    = 120 // fits the operator's page at two metres
	mostPhaseTime = 2 * time.Hour
	mostCycleTime = 6 * time.Hour
	mostHoldFor   = 120 * time.Second // workshop practice: soft glass sags after that
	mostBlankMM   = 200.0
	mostMouldC    = 800.0 // no mould of iron, steel or graphite is worked above
)

// reader carries one recipe from text to checks.
type reader struct {
	f       *yamlfile.File
	profile *rig.Profile // nil: checks that need a rig are left out
	r       *Recipe
	root    yamlfile.Map
	shelf   *glass.Shelf
	frozen  bool // a glass that is not at hand is let pass
	at      []places
	travel  []float64 // press travel at the end of each phase, mm; -1 unknown
	rpm     []float64 // spindle set-point in force in each phase
}

// Parse reads and checks a recipe against a rig; with a nil profile the checks
// that need a rig are left out and such a recipe is only to be looked at: its
// named press positions stay zero. The file name is used in messages only. An
// error is a yamlfile.Problems with every fault; the recipe is nil then. What
// is allowed but doubtful stands in Recipe.Warnings.
func Parse(file string, text []byte, profile *rig.Profile) (*Recipe, error) {
	return ParseFor(file, text, profile, nil)
}

// ParseFor is Parse for a workshop with glasses of its own.
func ParseFor(file string, text []byte, profile *rig.Profile, shelf *glass.Shelf) (*Recipe, error) {
	return parse(text, &reader{f: yamlfile.Read(file, text), profile: profile, shelf: shelf})
}

// ParseFrozen is ParseFor for the recipe of a stored cycle, which passed its
// checks when it was started. Its glass need not be at hand any more: Known is
// nil then, and nothing that only its figures can tell is checked.
func ParseFrozen(file string, text []byte, profile *rig.Profile, shelf *glass.Shelf) (*Recipe, error) {
	return parse(text, &reader{f: yamlfile.Read(file, text), profile: profile, shelf: shelf, frozen: true})
}

func parse(text []byte, d *reader) (*Recipe, error) {
	d.r = &Recipe{Text: bytes.Clone(text), Hash: sha256.Sum256(text)}
	d.root = d.f.Root().Map("recipe", "note", "standing", "glass", "blank", "moulds", "window",
		"resume", "longest", "assisted", "phases")
	if d.root.Node().Present() {
		d.head()
		d.phases(d.root.Need("phases", "list the phases in their order"))
	}
	// The checks of the whole rely on phases that could be read.
	if d.f.Err() == nil {
		d.check()
	}
	if err := d.f.Err(); err != nil {
		return nil, err
	}
	d.r.Warnings = d.f.Warnings()
	return d.r, nil
}

func (d *reader) head() {
	m, r := d.root, d.r
	r.Name = m.Need("recipe", "name the recipe as its file is called").Ident(mostName)
	r.Note = m.Get("note").Text(mostNote)
	d.standing(m.Need("standing", `write guess, or "proven on <rig>, <date>"`))
	r.Assisted = m.Get("assisted").Bool()
	r.Longest = m.Need("longest", "write the longest the whole cycle may take").
		Time(time.Second, mostCycleTime)
	if n := m.Get("glass"); n.Present() {
		d.glassNamed(n)
	}
	if n := m.Get("blank"); n.Present() {
		r.Blank = blank(n)
	}
	if n := m.Get("moulds"); n.Present() {
		r.Moulds = moulds(n)
	}
	if n := m.Get("window"); n.Present() {
		w := n.Map("from", "to")
		r.Window.Low = units.Celsius(w.Need("from", "write the coldest glass that may be pressed").
			Quantity(units.Temperature, 1, 2000))
		r.Window.High = units.Celsius(w.Need("to", "write the hottest glass that may be pressed").
			Quantity(units.Temperature, max(float64(r.Window.Low), 1), 2000))
	}
}

func (d *reader) standing(n yamlfile.Node) {
	s := n.Text(mostNote)
	if s == "" {
		return
	}
	rest, proven := strings.CutPrefix(s, "proven on ")
	on, day, both := strings.Cut(rest, ", ")
	_, err := time.Parse(time.DateOnly, day)
	if s != "guess" && !(proven && both && on != "" && err == nil) {
		n.Fault("standing does not say how far the numbers are to be trusted",
			`write guess, or "proven on <rig>, <date>" like "proven on lathe-1, 2026-11-25"`)
	}
	d.r.Standing = s
}

func (d *reader) glassNamed(n yamlfile.Node) {
	names := d.shelf.Names()
	if d.frozen {
		names = append(names, n.Ident(mostName))
	}
	d.r.Glass = n.Choice(names...)
	if g, known := d.shelf.Named(d.r.Glass); known {
		d.r.Known = &g
	}
}

func blank(n yamlfile.Node) Blank {
	m := n.Map("outer", "inner", "length")
	length := func(key string, least, most float64) units.Millimetre {
		return units.Millimetre(m.Need(key, "measure the blank").Quantity(units.Length, least,
			most))
	}
	b := Blank{Outer: length("outer", 1, mostBlankMM), Length: length("length", 1, mostBlankMM)}
	// A bore of nothing is a solid piece, which is allowed.
	b.Inner = length("inner", 0, mostBlankMM)
	if b.Inner >= b.Outer && b.Outer > 0 {
		m.Get("inner").Fault("inner is not less than outer", "write the bore of the tube")
	}
	return b
}

func moulds(n yamlfile.Node) Moulds {
	m := n.Map("lower", "upper", "lower_at", "upper_at", "band")
	k := Moulds{
		Lower: m.Need("lower", "name the mould half").Text(mostName),
		Upper: m.Need("upper", "name the mould half").Text(mostName),
	}
	k.LowerC = units.Celsius(m.Get("lower_at").Quantity(units.Temperature, 0, mostMouldC))
	k.UpperC = units.Celsius(m.Get("upper_at").Quantity(units.Temperature, 0, mostMouldC))
	k.Band = units.Kelvin(m.Get("band").Quantity(units.Difference, 1, 200))
	if m.Get("band").Present() && !(m.Get("lower_at").Present() && m.Get("upper_at").Present()) {
		m.Get("band").Fault("a band without temperatures",
			"write lower_at and upper_at, or remove band")
	}
	return k
}
