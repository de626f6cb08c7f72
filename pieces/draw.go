package pieces

import (
	"fmt"
	"unicode/utf8"
)

// Of is the glass of a drawing.
type Of struct {
	Glass       string  // as people call it
	DensityKgM3 float64 // 0: not known
}

// Draw draws a parsed piece on a sheet of A4: the section along the axis, the
// view from above, one bead, and a title block. The same piece gives the same
// bytes.
func Draw(p *Piece, of Of) []byte {
	s := newSheet("Section and plan of " + p.Name)
	section := s.drawSection(p)
	plan := s.drawPlan(p)
	s.drawBead(p)
	s.titleBlock(p, of, section, plan)
	return s.end()
}

// Title block: its place, px, and the most letters of a line.
const (
	blockLeft, blockRight = 690.0, 1100.0
	blockTop, blockRow    = 652.0, 20.0
	blockLetters          = 56
)

func (s *sheet) titleBlock(p *Piece, of Of, section, plan float64) {
	rows := []string{
		p.Name,
		p.Note,
		made(p, of),
		fmt.Sprintf("section %s, plan %s; draft %s\u00b0; edges R%s at most", scaleText(section), scaleText(plan),
			mm(p.DraftDeg), mm(p.EdgeMM)),
		bulk(p, of),
		tolerances(p),
	}
	bottom := blockTop + blockRow*float64(len(rows))
	for i, row := range rows {
		y := blockTop + blockRow*float64(i)
		s.line(thin, "", point{blockLeft, y}, point{blockRight, y})
		s.labels = append(s.labels, label{point{blockLeft + 6, y + 14}, left, clip(row), i == 0, textSize})
	}
	s.line(thick, "", point{blockLeft, blockTop}, point{blockRight, blockTop}, point{blockRight, bottom},
		point{blockLeft, bottom}, point{blockLeft, blockTop})
}

func made(p *Piece, of Of) string {
	if p.Pins.Number == 0 {
		return "glass " + of.Glass + "; pinless"
	}
	return fmt.Sprintf("glass %s; pins %d, %s", of.Glass, p.Pins.Number, p.Pins.Alloy)
}

// bulk is volume and mass of all glass of the piece.
func bulk(p *Piece, of Of) string {
	text := fmt.Sprintf("glass %.0f mm\u00b3", p.Figures.PieceMM3)
	if p.Figures.TubulationMM3 > 0 {
		text += fmt.Sprintf(", %.0f pressed", p.Figures.PressedMM3)
	}
	m, err := MassG(p.Figures.PieceMM3, of.DensityKgM3)
	if err != nil {
		return text + "; no density, no mass"
	}
	return text + fmt.Sprintf("; mass %.2f g", m)
}

func tolerances(p *Piece) string {
	t := p.Tolerance
	text := fmt.Sprintf("\u00b1%s thickness, \u00b1%s outside", mm(t.ThicknessMM), mm(t.OutsideMM))
	if t.BeadHeightMM > 0 {
		text += fmt.Sprintf(", \u00b1%s bead height", mm(t.BeadHeightMM))
	}
	return text
}

// clip shortens a text that would leave its row.
func clip(text string) string {
	if utf8.RuneCountInString(text) <= blockLetters {
		return text
	}
	return string([]rune(text)[:blockLetters-1]) + "\u2026"
}
