package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"pressrig/glass"
	"pressrig/glass/forming"
	"pressrig/pieces"
	"pressrig/units"
	"pressrig/yamlfile"
)

type pieceCmd struct {
	Files   []string `arg:"" optional:"" name:"file" help:"Files of a piece, its mould and its tube, or an example's name."`
	Picture string   `help:"Draw the piece into this file, as SVG." placeholder:"FILE"`
	Density string   `help:"Of the glass, such as 2500kg/m3 (default: of the glass that the piece names, where it is known)." placeholder:"DENSITY"`
	Print   bool     `help:"Print the text of the examples that are named, to copy one."`
}

func (pieceCmd) Help() string {
	return "Checks the drawing of a stem, of its mould and of the tube for its blank, and prints what follows from them: " +
		"volumes, sections, clearances, blank. pressrig piece lists the examples that come with the program; pressrig piece " +
		"stem-7pin-soda --print > my-stem.yaml copies one. What has no problem here can be drawn and cut; whether it " +
		"can be pressed well, only pieces tell. It is no safety device."
}

// workshop is what the files of one command describe.
type workshop struct {
	piece   *pieces.Piece
	mould   *pieces.Mould
	tube    *pieces.Tube
	density float64 // kg/m3, 0 not known
	label   string  // of the glass
}

// described is what is printed.
type described struct {
	Files     []checked       `json:"files"`
	Piece     string          `json:"piece,omitempty"`
	Glass     string          `json:"glass,omitempty"`
	Density   float64         `json:"density_kg_m3,omitempty"`
	Figures   *pieces.Figures `json:"figures,omitempty"`
	MassG     float64         `json:"mass_g,omitempty"`
	GrooveMM3 float64         `json:"groove_mm3,omitempty"`
	Blank     *describedBlank `json:"blank,omitempty"`
	Doubts    []string        `json:"problems_together,omitempty"`
}

type describedBlank struct {
	Tube        string  `json:"tube"`
	LengthMM    float64 `json:"length_mm"`
	ShortestMM  float64 `json:"shortest_mm"`
	LongestMM   float64 `json:"longest_mm"`
	MassG       float64 `json:"mass_g"`
	LeastG      float64 `json:"least_mass_g"`
	GreatestG   float64 `json:"greatest_mass_g"`
	LikelyShare float64 `json:"likely_mass_share"`
	PerTube     int     `json:"blanks_per_tube"`
}

// Run checks the files and prints what follows. Problems fail it.
func (c *pieceCmd) Run(e *env) error {
	if len(c.Files) == 0 {
		return e.listExamples()
	}
	if c.Print {
		return c.print(e)
	}
	if c.Picture != "" {
		if _, err := os.Stat(filepath.Dir(c.Picture)); err != nil {
			return usage("--picture %s: %w; write into a folder that exists", c.Picture, err)
		}
	}
	var w workshop
	out := described{Files: []checked{}}
	for _, file := range c.Files {
		found, err := w.read(file)
		if err != nil {
			return err
		}
		out.Files = append(out.Files, found)
	}
	shelf, err := shelfOf(e.flags.Glasses)
	if err != nil {
		return err
	}
	if err := c.glass(&w, shelf); err != nil {
		return err
	}
	out.fill(&w)
	if c.Picture != "" {
		if w.piece == nil {
			return usage("--picture draws a piece; name the file of one without problems")
		}
		drawing := pieces.Draw(w.piece, pieces.Of{Glass: w.label, DensityKgM3: w.density})
		if err := writeWhole(c.Picture, drawing); err != nil {
			return fmt.Errorf("--picture: %w", err)
		}
	}
	return out.show(e)
}

// read reads one file, or an example by its name, as what it says it is.
func (w *workshop) read(file string) (checked, error) {
	found := checked{File: file, Problems: []problem{}}
	var text []byte
	if isFile(file) {
		var err error
		if text, err = readRecipe(file); err != nil {
			found.whole(err)
			return found, nil
		}
	} else {
		example, err := pieces.Named(file)
		if err != nil {
			return found, usage("%w; or name a file", err)
		}
		text = example.Text
	}
	twice := func(kind string) error {
		return usage("%s is a second %s; name one piece, one mould and one tube at most", file, kind)
	}
	var err error
	var doubts yamlfile.Problems
	top := yamlfile.Read(file, text).Root().AnyMap()
	switch {
	case top.Get("piece").Present() && !top.Get("mould").Present():
		if found.Kind = "piece"; w.piece != nil {
			return found, twice(found.Kind)
		}
		if w.piece, err = pieces.ParsePiece(file, text); err == nil {
			found.Name, doubts = w.piece.Name, w.piece.Warnings
		}
	case top.Get("mould").Present():
		if found.Kind = "mould"; w.mould != nil {
			return found, twice(found.Kind)
		}
		if w.mould, err = pieces.ParseMould(file, text); err == nil {
			found.Name, doubts = w.mould.Name, w.mould.Warnings
		}
	case top.Get("tube").Present():
		if found.Kind = "tube"; w.tube != nil {
			return found, twice(found.Kind)
		}
		if w.tube, err = pieces.ParseTube(file, text); err == nil {
			found.Name, doubts = w.tube.Name, w.tube.Warnings
		}
	default:
		found.unknown(file, text, "neither a piece nor a mould nor a tube",
			"begin a piece with piece: NAME, a mould with mould: NAME, a tube with tube: NAME")
	}
	found.add(err)
	found.all(doubts)
	return found, nil
}

// glass finds the density of the piece's glass. A glass that the program does
// not know is none of the piece's problems: its mass stays open.
func (c *pieceCmd) glass(w *workshop, shelf *glass.Shelf) error {
	if w.piece != nil {
		w.label = w.piece.Glass
		if g, known := shelf.Named(w.piece.Glass); known {
			w.label, w.density = g.Name, forming.MaterialOf(&g).DensityKgM3
		}
	}
	if c.Density == "" {
		return nil
	}
	density, err := units.Parse(c.Density, units.Density)
	if err != nil {
		return usage("--density: %w", err)
	}
	if density < 1000 || density > 8000 {
		return usage("--density is %g kg/m3; glass has between 1000 and 8000 kg/m3", density)
	}
	w.density = density
	return nil
}

// fill computes what follows from the files that have no problems.
func (d *described) fill(w *workshop) {
	p := w.piece
	if p == nil {
		return
	}
	d.Piece, d.Glass, d.Density, d.Figures = p.Name, w.label, w.density, &p.Figures
	doubt := func(err error) {
		if err != nil {
			d.Doubts = append(d.Doubts, strings.Split(err.Error(), "\n")...)
		}
	}
	if w.mould != nil {
		d.GrooveMM3 = w.mould.GrooveMM3(p)
		doubt(pieces.Together(p, w.mould))
	}
	if w.density == 0 {
		return
	}
	mass, err := pieces.MassG(p.Figures.PieceMM3, w.density)
	doubt(err)
	d.MassG = mass
	if w.tube == nil || w.mould == nil {
		return
	}
	b, err := pieces.CutBlank(p, w.mould, w.tube, w.density)
	if err != nil {
		doubt(err)
		return
	}
	d.Blank = &describedBlank{w.tube.Name, b.LengthMM, b.ShortestMM, b.LongestMM, b.MassG, b.LeastMassG, b.GreatestMassG,
		b.LikelyMassShare, b.PerTube}
}

// show prints; problems of a file or of files together fail the command.
func (d *described) show(e *env) error {
	bad := len(d.Doubts) > 0
	for i := range d.Files {
		bad = bad || d.Files[i].bad()
	}
	var err error
	if e.flags.JSON {
		err = e.printJSON(d)
	} else {
		_, err = io.WriteString(e.out, d.text())
	}
	if err == nil && bad {
		return exit{exitFailed, nil}
	}
	return err
}

func (d *described) text() string {
	var b strings.Builder
	for i := range d.Files {
		f := &d.Files[i]
		for _, p := range f.Problems {
			fmt.Fprintln(&b, p.text)
		}
		if !f.bad() {
			fmt.Fprintf(&b, "%s: %s %s has no problems\n", f.File, f.Kind, f.Name)
		}
	}
	for _, doubt := range d.Doubts {
		fmt.Fprintln(&b, doubt)
	}
	if d.Figures == nil {
		return b.String()
	}
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w)
	for _, row := range d.rows() {
		fmt.Fprintf(w, "%s\t%s\t%s\n", row[0], row[1], row[2])
	}
	w.Flush() // a strings.Builder takes all
	return b.String()
}

// rows are the figures for a person: what, how much, and how it was found.
func (d *described) rows() [][3]string {
	f := d.Figures
	mm3 := func(v float64) string { return fmt.Sprintf("%.1f mm3", v) }
	mm := func(v float64) string { return fmt.Sprintf("%.2f mm", v) }
	rows := [][3]string{
		{"body", mm3(f.BodyMM3), "discs and rims with their draft, recesses taken out"},
		{"holes", mm3(f.HolesMM3), "what pins and exhaust bore take out of it"},
	}
	if f.Pockets > 0 {
		rows = append(rows, [3]string{"beads", mm3(f.BeadsMM3), fmt.Sprintf("%d of %.2f mm3", f.Pockets, f.BeadMM3)},
			[3]string{"bead hole", mm(f.PocketGapMM), fmt.Sprintf("gap round the pin, %.2f mm deep, base %.2f mm wide", f.PocketDeepMM,
				f.BeadBaseMM)})
	}
	rows = append(rows, [3]string{"pressed", mm3(f.PressedMM3), "body - holes + beads"},
		[3]string{"blank", mm3(f.BlankMM3), "with flash"})
	if f.TubulationMM3 > 0 {
		rows = append(rows, [3]string{"exhaust tube", mm3(f.TubulationMM3), "put in, none of the blank's"})
	}
	mass, of := "not known", fmt.Sprintf("the program has no density of glass %s; --density tells it", d.Glass)
	if d.MassG > 0 {
		mass, of = fmt.Sprintf("%.3f g", d.MassG), fmt.Sprintf("glass %s, %g kg/m3", d.Glass, d.Density)
	}
	rows = append(rows, [3]string{"whole piece", mm3(f.PieceMM3), "pressed + exhaust tube, glass only"},
		[3]string{"its mass", mass, of},
		[3]string{"projected", fmt.Sprintf("%.1f mm2", f.ProjectedMM2), "that the press works on"},
		[3]string{"widest", mm(2 * f.WidestMM), fmt.Sprintf("diameter; halves part %.2f mm over the datum", f.PartingMM)},
		[3]string{"height", mm(f.HeightMM), fmt.Sprintf("of the body; %.2f mm over all", f.OverallMM)},
		[3]string{"thinnest", mm(f.ThinnestMM), "section or rim"},
		[3]string{"thickest", mm(f.ThickestMM), "section without beads"})
	for _, c := range []struct {
		v    float64
		name string
	}{{f.BeadToBeadMM, "pin to pin"}, {f.BeadToEdgeMM, "pin to edge"}, {f.BeadToTubeMM, "pin to tube"}} {
		if c.v > 0 {
			rows = append(rows, [3]string{c.name, mm(c.v), "clear, between beads or bare pins"})
		}
	}
	if b := d.Blank; b != nil {
		rows = append(rows, [3]string{"cut", mm(b.LengthMM), fmt.Sprintf("of tube %s; %.2f to %.2f mm over its tolerances, %d from a tube",
			b.Tube, b.ShortestMM, b.LongestMM, b.PerTube)},
			[3]string{"cut to mass", fmt.Sprintf("%.3f g", b.MassG), fmt.Sprintf("by length alone %.3f to %.3f g, likely +-%.1f %%",
				b.LeastG, b.GreatestG, 100*b.LikelyShare)})
	}
	return rows
}

// listExamples lists what comes with the program.
func (e *env) listExamples() error {
	type row struct {
		Name string `json:"name"`
		Kind string `json:"kind"`
	}
	list := []row{}
	for _, x := range pieces.Examples() {
		list = append(list, row{x.Name, x.Kind})
	}
	if e.flags.JSON {
		return e.printJSON(list)
	}
	w := tabwriter.NewWriter(e.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "EXAMPLE\tIS A\tITS NUMBERS ARE")
	for _, r := range list {
		fmt.Fprintf(w, "%s\t%s\tinvented\n", r.Name, r.Kind)
	}
	return w.Flush()
}

// print writes examples as they are.
func (c *pieceCmd) print(e *env) error {
	for _, name := range c.Files {
		x, err := pieces.Named(name)
		if err != nil {
			return usage("%w", err)
		}
		if _, err := e.out.Write(x.Text); err != nil {
			return err
		}
	}
	return nil
}
