package pieces

import (
	"bytes"
	"encoding/xml"
	"math"
	"strconv"
	"unicode/utf8"
)

// sheet writes a black and white SVG drawing (Scalable Vector Graphics 1.1, W3C,
// 2011): plain shapes and text, no script, no style sheet, nothing from outside.
// Coordinates are px with two decimals at most, so the same piece gives the same
// bytes. Texts wait for the end, so that no line crosses them.
type sheet struct {
	b      bytes.Buffer
	labels []label
}

// point is a corner, px.
type point struct{ x, y float64 }

// A4 landscape at 96 px an inch.
const (
	sheetWidth  = 1123.0
	sheetHeight = 794.0
	pxPerMM     = 96 / 25.4
)

// Widths of lines, and dashes of a line along an axis.
const (
	thick  = 1.6
	thin   = 0.7
	centre = "12 3 2 3"
)

// Fills: the hatch of cut glass and of cut metal.
const (
	blankFill = "#ffffff"
	glassFill = "url(#glass)"
	metalFill = "url(#metal)"
)

func newSheet(title string) *sheet {
	s := &sheet{}
	s.raw(`<svg xmlns="http://www.w3.org/2000/svg" width="297mm" height="210mm" viewBox="0 0 `)
	s.num(sheetWidth)
	s.raw(" ")
	s.num(sheetHeight)
	s.raw(`" role="img" aria-labelledby="title" font-family="sans-serif" font-size="12">` + "\n" + `<title id="title">`)
	s.escape(title)
	s.raw("</title>\n<defs>\n" +
		`<pattern id="glass" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">` +
		`<rect width="7" height="7" fill="#ffffff"/><line x1="0" y1="0" x2="0" y2="7" stroke="#000000" stroke-width="0.7"/></pattern>` + "\n" +
		`<pattern id="metal" width="3" height="3" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">` +
		`<rect width="3" height="3" fill="#ffffff"/><line x1="0" y1="0" x2="0" y2="3" stroke="#000000" stroke-width="1.2"/></pattern>` + "\n" +
		"</defs>\n")
	s.shape([]point{{0, 0}, {sheetWidth, 0}, {sheetWidth, sheetHeight}, {0, sheetHeight}}, blankFill)
	return s
}

// end writes the texts and closes the drawing.
func (s *sheet) end() []byte {
	for _, l := range s.labels {
		s.label(l)
	}
	s.raw("</svg>\n")
	return s.b.Bytes()
}

func (s *sheet) raw(text string) { s.b.WriteString(text) }

func (s *sheet) num(v float64) {
	v = math.Round(v*100) / 100
	if v == 0 {
		v = 0 // no -0
	}
	s.b.Write(strconv.AppendFloat(s.b.AvailableBuffer(), v, 'f', -1, 64))
}

// along writes points as a path.
func (s *sheet) along(points []point, closed bool) {
	s.raw(`<path d="`)
	for i, p := range points {
		s.raw(map[bool]string{true: "M", false: "L"}[i == 0])
		s.num(p.x)
		s.raw(" ")
		s.num(p.y)
	}
	if closed {
		s.raw("Z")
	}
	s.raw(`"`)
}

// shape fills an outline without a line round it.
func (s *sheet) shape(points []point, fill string) {
	s.along(points, true)
	s.raw(` fill="` + fill + `"/>` + "\n")
}

// line draws through points; dash "" is solid.
func (s *sheet) line(width float64, dash string, points ...point) {
	s.along(points, false)
	s.raw(` fill="none"`)
	s.stroke(width, dash)
}

func (s *sheet) stroke(width float64, dash string) {
	s.raw(` stroke="#000000" stroke-width="`)
	s.num(width)
	if dash != "" {
		s.raw(`" stroke-dasharray="` + dash)
	}
	s.raw(`"/>` + "\n")
}

func (s *sheet) circle(c point, radius, width float64, dash, fill string) {
	s.raw(`<circle cx="`)
	s.num(c.x)
	s.raw(`" cy="`)
	s.num(c.y)
	s.raw(`" r="`)
	s.num(radius)
	s.raw(`" fill="` + fill + `"`)
	s.stroke(width, dash)
}

// arrow draws a filled head with its tip at a point, coming from another.
func (s *sheet) arrow(tip, from point) {
	const long, half = 7.0, 2.2
	d := math.Hypot(tip.x-from.x, tip.y-from.y)
	if d == 0 {
		return
	}
	ux, uy := (tip.x-from.x)/d, (tip.y-from.y)/d
	bx, by := tip.x-long*ux, tip.y-long*uy
	s.shape([]point{tip, {bx - half*uy, by + half*ux}, {bx + half*uy, by - half*ux}}, "#000000")
}

// Where a text stands against its point.
const (
	left   = "start"
	middle = "middle"
	right  = "end"
)

// label is a text with white behind it.
type label struct {
	at     point
	anchor string
	text   string
	bold   bool
	size   float64
}

const textSize = 12.0

// text puts words at a point, which is the left, middle or right of their base.
func (s *sheet) text(at point, anchor, text string) {
	s.labels = append(s.labels, label{at, anchor, text, false, textSize})
}

func (s *sheet) heading(at point, text string) {
	s.labels = append(s.labels, label{at, left, text, true, 13})
}

// widthOf is about how wide a text is, rather too much.
func widthOf(text string, size float64) float64 {
	return 0.58 * size * float64(utf8.RuneCountInString(text))
}

func (s *sheet) label(l label) {
	w, x := widthOf(l.text, l.size), l.at.x
	switch l.anchor {
	case middle:
		x -= w / 2
	case right:
		x -= w
	}
	if !l.bold {
		s.shape([]point{{x - 1, l.at.y - 10}, {x + w + 1, l.at.y - 10}, {x + w + 1, l.at.y + 3}, {x - 1, l.at.y + 3}}, blankFill)
	}
	s.raw(`<text x="`)
	s.num(l.at.x)
	s.raw(`" y="`)
	s.num(l.at.y)
	s.raw(`" text-anchor="` + l.anchor + `"`)
	if l.bold {
		s.raw(` font-weight="bold"`)
	}
	if l.size != textSize {
		s.raw(` font-size="`)
		s.num(l.size)
		s.raw(`"`)
	}
	s.raw(">")
	s.escape(l.text)
	s.raw("</text>\n")
}

// escape writes text so that XML 1.0 reads it back as it is; what XML cannot
// hold becomes the replacement character.
func (s *sheet) escape(text string) {
	_ = xml.EscapeText(&s.b, []byte(text)) // a buffer takes all
}
