package wiring

import (
	"fmt"
	"strings"
)

// canvas writes SVG: black on white, text of 11 px at least, nothing told by
// colour alone.
type canvas struct{ b strings.Builder }

const (
	small  = 12
	normal = 13
	large  = 18
)

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

func (c *canvas) text(x, y, size int, anchor, s string) {
	fmt.Fprintf(&c.b, `<text x="%d" y="%d" font-size="%d" text-anchor="%s">%s</text>`+"\n", x, y, size, anchor, escape.Replace(s))
}

func (c *canvas) bold(x, y, size int, s string) {
	fmt.Fprintf(&c.b, `<text x="%d" y="%d" font-size="%d" font-weight="bold">%s</text>`+"\n", x, y, size, escape.Replace(s))
}

// centred puts lines round the middle of a box.
func (c *canvas) centred(x, y, size int, s string) {
	lines := strings.Split(s, "\n")
	top := y + size/3 - (len(lines)-1)*(size+2)/2
	for i, l := range lines {
		c.text(x, top+i*(size+2), size, "middle", l)
	}
}

func (c *canvas) line(x1, y1, x2, y2 int) {
	fmt.Fprintf(&c.b, `<path d="M%d %d L%d %d"/>`+"\n", x1, y1, x2, y2)
}

func (c *canvas) arrow(x1, y1, x2, y2 int) {
	fmt.Fprintf(&c.b, `<path d="M%d %d L%d %d" marker-end="url(#a)"/>`+"\n", x1, y1, x2, y2)
}

func (c *canvas) dashed(x1, y1, x2, y2 int) {
	fmt.Fprintf(&c.b, `<path d="M%d %d L%d %d" stroke-dasharray="5 4"/>`+"\n", x1, y1, x2, y2)
}

func (c *canvas) dot(x, y int) {
	fmt.Fprintf(&c.b, `<circle cx="%d" cy="%d" r="3" fill="#000"/>`+"\n", x, y)
}

func (c *canvas) rect(x, y, w, h, round int) {
	fmt.Fprintf(&c.b, `<rect x="%d" y="%d" width="%d" height="%d" rx="%d"/>`+"\n", x, y, w, h, round)
}

// letter is the round mark of a circuit.
func (c *canvas) letter(x, y int, s string) {
	fmt.Fprintf(&c.b, `<circle cx="%d" cy="%d" r="9"/>`+"\n", x, y)
	c.text(x, y+4, small, "middle", s)
}

// box is a part with its name, in the middle of a wire at y.
func (c *canvas) box(x, y, w, h int, s string) {
	c.rect(x, y-h/2, w, h, 0)
	c.centred(x+w/2, y, small, s)
}

// toGround hangs a part from a wire at y and ends it at ground.
func (c *canvas) toGround(x, y int, s string) {
	c.dot(x, y)
	c.line(x, y, x, y+18)
	c.rect(x-6, y+18, 12, 30, 0)
	c.text(x+11, y+37, small, "start", s)
	c.line(x, y+48, x, y+58)
	c.ground(x, y+58)
}

func (c *canvas) ground(x, y int) {
	c.line(x-10, y, x+10, y)
	c.line(x-6, y+4, x+6, y+4)
	c.line(x-2, y+8, x+2, y+8)
}
