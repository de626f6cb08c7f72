package trials

import (
	"fmt"
	"strings"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// sketchRows is the height of a channel's sketch in lines of text.
const sketchRows = 8

// Sketch draws glass temperature and press force over time in plain text, width
// characters wide: enough to see a cycle's shape in a terminal.
func Sketch(t *Trace, width int) string {
	var b strings.Builder
	for _, ai := range [...]uint8{warden.AiGlass, warden.AiForce} {
		sketch(&b, t, ai, width)
	}
	return b.String()
}

// sketch takes the largest valid value of each column.
func sketch(b *strings.Builder, t *Trace, ai uint8, width int) {
	if t == nil || len(t.Ms) < 2 || width < 20 || int(ai) >= len(t.Analog) {
		return
	}
	const margin = 7
	columns := width - margin
	first, span := t.Ms[0], float64(t.Ms[len(t.Ms)-1]-t.Ms[0])+1
	top := make([]float64, columns)
	seen := make([]bool, columns)
	most := 0.0
	for i, ms := range t.Ms {
		if t.OK[i]&(1<<ai) == 0 {
			continue
		}
		x := int(float64(ms-first) / span * float64(columns))
		v := float64(t.Analog[ai][i]) * rig.Analogs[ai].Scale
		if !seen[x] || v > top[x] {
			top[x], seen[x] = v, true
		}
		most = max(most, v)
	}
	if most == 0 {
		return
	}
	fmt.Fprintf(b, "%s, %s\n", rig.Analogs[ai].Name, rig.Analogs[ai].Unit)
	for row := sketchRows; row >= 1; row-- {
		line := []byte(strings.Repeat(" ", columns))
		for x := range columns {
			if seen[x] && top[x] > most*(float64(row)-0.5)/sketchRows {
				line[x] = '#'
			}
		}
		fmt.Fprintf(b, "%6.0f|%s\n", most*float64(row)/sketchRows, strings.TrimRight(string(line), " "))
	}
	fmt.Fprintf(b, "%6s+%s\n%6s %-*d%*.0f s\n", "", strings.Repeat("-", columns), "", columns/2, 0,
		columns-columns/2-2, span/1000)
}
