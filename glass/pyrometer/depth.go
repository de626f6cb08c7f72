package pyrometer

import (
	"fmt"
	"math"
)

// absorption of clear soda-lime glass, 1/m, by wavelength. From memory, the
// order of magnitude of Neuroth 1952 and Gardon 1961; iron makes the short end
// several times larger, and it changes with temperature. Ask the maker of the
// thermometer for the depth it sees in your glass.
var absorption = []struct{ um, perM float64 }{
	{0.8, 20}, {2.5, 30}, {2.7, 100}, {2.9, 400}, {3.6, 500}, {4.0, 900}, {4.4, 3000}, {4.8, 15000},
	{5.2, 30000}, {7.5, 100000}, {14, 300000},
}

// Depth is the depth from which 63 % of what is seen at a wavelength comes, m.
// It is good to a factor of about two.
func Depth(um float64) (float64, error) {
	first, last := absorption[0], absorption[len(absorption)-1]
	if err := within(span{"wavelength in um", um, first.um, last.um}); err != nil {
		return 0, err
	}
	for i := 1; i < len(absorption); i++ {
		a, b := absorption[i-1], absorption[i]
		if um <= b.um {
			part := (um - a.um) / (b.um - a.um)
			return 1 / (a.perM * math.Pow(b.perM/a.perM, part)), nil
		}
	}
	return 1 / last.perM, nil
}

// Sight is what a wavelength sees of a wall of glass.
type Sight int

// The kinds of sight.
const (
	Surface Sight = iota // nearly all from the outer tenth of the wall
	Partly               // the wall's inside, weighted to its outside
	Through              // a good part comes from behind the wall
)

// String says it in words.
func (s Sight) String() string {
	switch s {
	case Surface:
		return "the surface"
	case Partly:
		return "the inside of the wall"
	case Through:
		return "through the wall"
	}
	return "unknown"
}

// Shares of what is seen that part the kinds: 95 % of the outer tenth of the
// wall, 5 % from behind.
const (
	surfaceShare = 0.95
	throughShare = 0.05
)

// Sees is the sight of a wavelength into a wall, m.
func Sees(um, wall float64) (Sight, error) {
	depth, err := Depth(um)
	if err != nil {
		return 0, err
	}
	if err := within(span{"wall in m", wall, 1e-5, 1}); err != nil {
		return 0, err
	}
	switch {
	case math.Exp(-wall/depth) > throughShare:
		return Through, nil
	case 1-math.Exp(-wall/(10*depth)) < surfaceShare:
		return Partly, nil
	}
	return Surface, nil
}

// ReadsWall is what the channel shows of a wall whose temperature changes with
// depth, listed in layers of one thickness from the outside to the inside, with
// something behind it: the bore's far wall, a mould, a flame. What the outside
// throws back are surroundings of a temperature.
func (c Channel) ReadsWall(layers []float64, wall, emissivity, behind, surroundings float64) (float64,
	error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	if err := within(span{"number of layers", float64(len(layers)), 1, 10000},
		span{"wall in m", wall, 1e-5, 1}, ofEmissivity("emissivity", emissivity),
		ofCelsius("behind in C", behind), ofCelsius("surroundings in C", surroundings)); err != nil {
		return 0, err
	}
	depth, err := Depth(c.Middle())
	if err != nil {
		return 0, err
	}
	layer := math.Exp(-wall / float64(len(layers)) / depth)
	inside, left := 0.0, 1.0
	for i, t := range layers {
		if err := within(ofCelsius(fmt.Sprintf("layer %d in C", i), t)); err != nil {
			return 0, err
		}
		inside += left * (1 - layer) * c.signal(t)
		left *= layer
	}
	inside += left * c.signal(behind)
	return c.shown(emissivity*inside + (1-emissivity)*c.signal(surroundings))
}
