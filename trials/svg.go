package trials

import (
	"bytes"
	"encoding/xml"
	"strconv"
)

// canvas writes an SVG picture (Scalable Vector Graphics 1.1, W3C, 2011):
// plain shapes and text only, no script, no style sheet, no reference to
// anything outside. Coordinates are px with one decimal.
type canvas struct {
	b bytes.Buffer
}

// pen is how a line is drawn. Dash tells lines apart without colour.
type pen struct {
	colour string
	width  float64
	dash   string // "" is solid
}

// begin opens the picture; title and desc are what a screen reader says.
func (c *canvas) begin(width, height float64, title, desc string) {
	c.b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" width="`)
	c.num(width)
	c.b.WriteString(`" height="`)
	c.num(height)
	c.b.WriteString(`" viewBox="0 0 `)
	c.num(width)
	c.b.WriteByte(' ')
	c.num(height)
	c.b.WriteString(`" role="img" aria-labelledby="title desc" font-family="sans-serif" ` +
		`font-size="12">` + "\n" + `<title id="title">`)
	c.escape(title)
	c.b.WriteString("</title>\n<desc id=\"desc\">")
	c.escape(desc)
	c.b.WriteString("</desc>\n")
	c.rect(0, 0, width, height, "#ffffff")
}

func (c *canvas) end() []byte {
	c.b.WriteString("</svg>\n")
	return c.b.Bytes()
}

func (c *canvas) num(v float64) {
	b := strconv.AppendFloat(c.b.AvailableBuffer(), v, 'f', 1, 64)
	if n := len(b); b[n-1] == '0' {
		b = b[:n-2]
	}
	c.b.Write(b)
}

func (c *canvas) attr(name string, v float64) {
	c.b.WriteByte(' ')
	c.b.WriteString(name)
	c.b.WriteString(`="`)
	c.num(v)
	c.b.WriteByte('"')
}

func (c *canvas) word(name, v string) {
	c.b.WriteByte(' ')
	c.b.WriteString(name)
	c.b.WriteString(`="`)
	c.escape(v)
	c.b.WriteByte('"')
}

func (c *canvas) rect(x, y, w, h float64, fill string) {
	c.b.WriteString("<rect")
	c.attr("x", x)
	c.attr("y", y)
	c.attr("width", w)
	c.attr("height", h)
	c.word("fill", fill)
	c.b.WriteString("/>\n")
}

// frame is a rectangle's outline.
func (c *canvas) frame(x, y, w, h float64, p pen) {
	c.b.WriteString("<rect")
	c.attr("x", x)
	c.attr("y", y)
	c.attr("width", w)
	c.attr("height", h)
	c.stroke(p)
	c.b.WriteString("/>\n")
}

func (c *canvas) line(x1, y1, x2, y2 float64, p pen) {
	c.b.WriteString("<line")
	c.attr("x1", x1)
	c.attr("y1", y1)
	c.attr("x2", x2)
	c.attr("y2", y2)
	c.stroke(p)
	c.b.WriteString("/>\n")
}

func (c *canvas) stroke(p pen) {
	c.b.WriteString(` fill="none"`)
	c.word("stroke", p.colour)
	c.attr("stroke-width", p.width)
	if p.dash != "" {
		c.word("stroke-dasharray", p.dash)
	}
}

// point is one corner of a path; move begins a new piece of it.
type point struct {
	x, y float64
	move bool
}

func (c *canvas) path(points []point, p pen) {
	if len(points) == 0 {
		return
	}
	c.b.WriteString(`<path d="`)
	for _, q := range points {
		if q.move {
			c.b.WriteByte('M')
		} else {
			c.b.WriteByte('L')
		}
		c.num(q.x)
		c.b.WriteByte(' ')
		c.num(q.y)
	}
	c.b.WriteByte('"')
	c.stroke(p)
	c.b.WriteString(` stroke-linejoin="round"/>` + "\n")
}

// Where a text stands against its point.
const (
	left   = "start"
	middle = "middle"
	right  = "end"
)

func (c *canvas) text(x, y float64, anchor, s string) {
	c.label(x, y, anchor, s, textStyle{})
}

// textStyle is how a text differs from the usual.
type textStyle struct {
	size   float64 // 0: 12 px
	bold   bool
	turned bool // reads upwards
	halo   bool // a white rim, where lines run behind it
}

func (c *canvas) label(x, y float64, anchor, s string, st textStyle) {
	c.b.WriteString("<text")
	c.attr("x", x)
	c.attr("y", y)
	c.word("text-anchor", anchor)
	c.word("fill", ink)
	if st.size != 0 {
		c.attr("font-size", st.size)
	}
	if st.bold {
		c.word("font-weight", "bold")
	}
	if st.halo {
		c.b.WriteString(` stroke="#ffffff" stroke-width="4" paint-order="stroke"`)
	}
	if st.turned {
		c.b.WriteString(` transform="rotate(-90 `)
		c.num(x)
		c.b.WriteByte(' ')
		c.num(y)
		c.b.WriteString(`)"`)
	}
	c.b.WriteByte('>')
	c.escape(s)
	c.b.WriteString("</text>\n")
}

// escape writes s so that XML 1.0 reads it back as it is. What XML cannot hold
// (control characters, broken UTF-8) becomes the replacement character.
func (c *canvas) escape(s string) {
	_ = xml.EscapeText(&c.b, []byte(s)) // a buffer takes all
}
