package glass

import (
	"fmt"
	"slices"
	"strings"

	"pressrig/units"
)

// FixedPoint is a viscosity that has a name (ISO 7884, ASTM C338, ASTM C336).
type FixedPoint struct {
	Name string
	Log  float64 // log10 of Pa.s
}

// FixedPoints are those that a curve answers, the hottest first. The strain
// point is none of them: the equation does not reach it (ISO 7884-7).
var FixedPoints = []FixedPoint{{"working", LogWorking}, {"softening", LogSoftening},
	{"annealing", LogAnnealing}}

// pointWays tells what ParsePoints takes.
const pointWays = "write three points like working=1005C,softening=715C,annealing=548C; " +
	"instead of a name, log10 of the viscosity in Pa.s serves, like 1.5=1301C"

// ParsePoints reads "working=1005C,softening=715C,annealing=548C", in any order.
// The strain point is refused.
func ParsePoints(text string) ([3]Point, error) {
	var points [3]Point
	parts := strings.Split(text, ",")
	if len(parts) != len(points) {
		return points, fmt.Errorf("%d points; %s", len(parts), pointWays)
	}
	for i, part := range parts {
		name, at, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			return points, fmt.Errorf("%q is no point; %s", shortened(part), pointWays)
		}
		log, err := logNamed(name)
		if err != nil {
			return points, err
		}
		c, err := units.Parse(at, units.Temperature)
		if err == nil && !(c >= leastPoint && c <= mostPoint) {
			err = fmt.Errorf("%g C is no temperature of a melt; write %g to %g C", c, leastPoint, mostPoint)
		}
		if err != nil {
			return points, fmt.Errorf("%s: %w", shortened(name), err)
		}
		points[i] = Point{log, c}
	}
	slices.SortFunc(points[:], func(a, b Point) int {
		switch {
		case a.C > b.C:
			return -1
		case a.C < b.C:
			return 1
		}
		return 0
	})
	return points, nil
}

func logNamed(name string) (float64, error) {
	if name == "strain" {
		return 0, fmt.Errorf("the strain point never belongs into a curve (ISO 7884-7); %s", pointWays)
	}
	for _, p := range FixedPoints {
		if p.Name == name {
			return p.Log, nil
		}
	}
	log, err := plain(name)
	if err != nil || log < leastLog || log > LogStrain {
		return 0, fmt.Errorf("%q is no fixed point; %s", shortened(name), pointWays)
	}
	return log, nil
}
