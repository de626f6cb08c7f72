package wiring

import (
	"fmt"
	"slices"
)

const (
	width     = 1400
	boardLeft = 570
	boardWide = 260
	row       = 20 // of one pin
	boardTop  = 130
)

var leftKinds = []Kind{Input, Encoder}

// Drawing is docs/wiring.svg: the board with its pins, the chains beside it and
// one circuit of each kind.
func Drawing(pins []Pin) string {
	var c canvas
	y := c.board(pins)
	y = c.chains(y + 50)
	y = c.circuits(pins, y+50)
	head := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" font-family="DejaVu Sans, Arial, sans-serif" role="img" aria-labelledby="t d">
<title id="t">Wiring of the board and of the hardware beside it</title>
<desc id="d">The pins of the board by function; the chains of relays and certified units in which the board is one contact more; a typical circuit of each kind. docs/wiring.md has the same in words.</desc>
<!-- made from firmware/boards/mega2560/pins.h by go test ./firmware/wiring -update; do not edit -->
<defs><marker id="a" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="8" markerHeight="8" orient="auto"><path d="M0 0 L10 5 L0 10 z" fill="#000" stroke="none"/></marker></defs>
<rect width="%d" height="%d" fill="#fff"/>
<g fill="#fff" stroke="#000" stroke-width="1.3">
<style>text{fill:#000;stroke:none}</style>
`, width, y, width, y, width, y)
	return head + c.b.String() + "</g>\n</svg>\n"
}

func (c *canvas) board(pins []Pin) int {
	c.bold(20, 36, large, "1  The board and its pins")
	c.text(20, 60, normal, "start", "The board is no safety device. It only asks: what it energises is one contact more in a chain of section 2, and off without the "+
		"board.")
	c.text(20, 80, normal, "start", "Round letter: the circuit of section 3. Each contact input says what its closed contact means; a broken wire reads as "+
		"an opened one. Arrow: direction of the signal.")
	left := c.measure(pins, true)
	right := c.measure(pins, false)
	high := max(left, right) + 10
	c.rect(boardLeft, boardTop-20, boardWide, high+150, 8)
	c.side(pins, true)
	c.side(pins, false)
	y := boardTop + high
	for i, l := range []Kind{Input, Encoder, Output, Analog, Setpoint, Pulse} {
		c.letter(70, y+4+i*22, manners[l].circuit)
		c.text(88, y+8+i*22, normal, "start", manners[l].title)
	}
	c.bold(boardLeft+15, y+18, normal, "Mega 2560 class")
	for i, s := range []string{"ATmega2560, 16 MHz, 5 V", "USB: only through an isolator", "VIN: 7 to 9 V, own converter",
		"6-pin header: programmer only", "auto-reset: cut. boot loader: none"} {
		c.text(boardLeft+15, y+40+i*20, normal, "start", s)
	}
	return boardTop + high + 130
}

// sideGroups are the groups of one side in order, each with its pins.
func sideGroups(pins []Pin, left bool) (names []string, of map[string][]Pin) {
	of = map[string][]Pin{}
	for _, g := range []string{groupStop, groupGas, groupPress, groupBench, groupHands, groupTemp, groupSignal} {
		for _, p := range pins {
			if slices.Contains(leftKinds, p.Kind) == left && wordsOf(p.Name).Group == g {
				of[g] = append(of[g], p)
			}
		}
		if len(of[g]) > 0 {
			names = append(names, g)
		}
	}
	return names, of
}

func (*canvas) measure(pins []Pin, left bool) int {
	names, of := sideGroups(pins, left)
	rows := 0
	for _, n := range names {
		rows += len(of[n]) + 1
	}
	return rows*row + len(names)*6
}

func (c *canvas) side(pins []Pin, left bool) {
	names, of := sideGroups(pins, left)
	y := boardTop
	for _, n := range names {
		if left {
			c.bold(60, y+5, 14, n)
		} else {
			c.bold(boardLeft+boardWide+110, y+5, 14, n)
		}
		y += row
		for _, p := range of[n] {
			c.pin(p, y, left)
			y += row
		}
		y += 6
	}
}

func (c *canvas) pin(p Pin, y int, left bool) {
	edge, away, anchor, inside := boardLeft, -1, "end", "start"
	if !left {
		edge, away, anchor, inside = boardLeft+boardWide, 1, "start", "end"
	}
	far := edge + away*100
	if k := manners[p.Kind].direction; k == "in" {
		c.arrow(far, y, edge, y)
	} else {
		c.arrow(edge, y, far, y)
	}
	c.letter(edge+away*50, y, manners[p.Kind].circuit)
	c.text(far+away*8, y+4, normal, anchor, wordsOf(p.Name).Short)
	c.text(edge-away*8, y+4, normal, inside, p.Label+"  "+p.At)
}
