package trials

import (
	"fmt"
	"math"
	"strings"

	"pressrig/rig"
	"pressrig/safety/warden"
)

// MaxOverlay is how many cycles an overlay shows: there are as many line
// styles, and more lines cannot be told apart.
const MaxOverlay = len(styles)

// Sizes of the pictures, in px.
const (
	pictureWidth = 1100.0
	fieldLeft    = 64.0
	fieldWidth   = pictureWidth - fieldLeft - 130 // names stand to the right
	overlayWidth = pictureWidth - fieldLeft - 24
	fieldHeight  = 120.0
	fieldGap     = 34.0
	barHeight    = 11.0
	barGap       = 4.0
)

// overlayFields are the channels of an overlay, a panel each.
var overlayFields = [...]uint8{warden.AiGlass, warden.AiTravel, warden.AiForce,
	warden.AiFuelFlow, warden.AiOxygenFlow}

// Overlay draws cycles over each other as an SVG picture: time since START,
// one panel a quantity, bars for flame and oxygen, and the phases of the first
// cycle. traces[i] is that of cycles[i]; a missing one has no lines. Cycles
// beyond MaxOverlay are left out, and the picture says so.
func Overlay(cycles []Cycle, traces []*Trace) []byte {
	more := len(cycles) - MaxOverlay
	if more > 0 {
		cycles = cycles[:MaxOverlay]
	}
	o := newOverlay(cycles, traces)
	top := 44 + float64(len(cycles))*legendRow + labelRoom
	bars := float64(len(cycles))*2*(barHeight+barGap) + 2*fieldGap
	bottom := top + float64(len(overlayFields))*(fieldHeight+fieldGap) + bars - fieldGap + 8
	o.c.begin(pictureWidth, bottom+48, o.title(), o.desc())
	o.c.label(fieldLeft, 22, left, o.title(), textStyle{size: 15, bold: true})
	o.c.legend(fieldLeft, 46, cycles)
	if more > 0 {
		o.c.text(pictureWidth-10, 22, right, counted(more, "more cycle")+" not drawn")
	}
	if len(cycles) > 0 {
		o.p.phaseMarks(&cycles[0], o.zero[0], top-18, bottom)
	}
	y := top
	for _, ai := range overlayFields {
		o.field(int(ai), y)
		y += fieldHeight + fieldGap
	}
	y = o.bars(y, "flame seen", func(t *Trace, i int) bool { return t.In[i]&warden.InFlame != 0 })
	o.bars(y+fieldGap, "oxygen valve open", func(t *Trace, i int) bool {
		return t.Out[i]&warden.OutOxygen != 0
	})
	o.p.timeAxis(bottom, "time since START, s; phases of the first cycle marked")
	return o.c.end()
}

// overlay is the picture as it is drawn.
type overlay struct {
	c      canvas
	p      plot
	cycles []Cycle
	traces []*Trace
	zero   []int64 // moment of START in each cycle, ms
}

func newOverlay(cycles []Cycle, traces []*Trace) *overlay {
	o := &overlay{cycles: cycles, traces: make([]*Trace, len(cycles))}
	copy(o.traces, traces)
	high := 1.0
	for i := range cycles {
		zero := begin(&cycles[i]).Milliseconds()
		o.zero = append(o.zero, zero)
		if n := len(cycles[i].Phases); n > 0 {
			high = math.Max(high, float64(cycles[i].Phases[n-1].End.Milliseconds()-zero)/1000)
		}
		if t := o.traces[i]; t != nil && len(t.Ms) > 0 {
			high = math.Max(high, float64(int64(t.Ms[len(t.Ms)-1])-zero)/1000)
		}
	}
	o.p = plot{c: &o.c, x: axis{0, high, fieldLeft, fieldLeft + overlayWidth},
		left: fieldLeft, width: overlayWidth, height: fieldHeight}
	return o
}

func (o *overlay) title() string {
	if len(o.cycles) == 0 {
		return "No cycles"
	}
	var numbers []string
	for i := range o.cycles {
		numbers = append(numbers, fmt.Sprint(o.cycles[i].Number))
	}
	return "Cycles " + strings.Join(numbers, ", ") + " over each other"
}

// desc says in words what the picture shows, for those who cannot see it.
func (o *overlay) desc() string {
	parts := []string{"Time since START runs to the right. Panels from the top: glass temperature, " +
		"press travel, press force, fuel flow, oxygen flow; then bars for flame and oxygen valve."}
	for i := range o.cycles {
		text := cycleTitle(&o.cycles[i])
		if o.traces[i].has(int(warden.AiGlass)) {
			if _, largest, _, ok := extremes(o.traces[i], int(warden.AiGlass)); ok {
				text += ", hottest glass " + fixed(*scaled(largest, 0.1), 0) + " C"
			}
		}
		parts = append(parts, text+".")
	}
	return strings.Join(parts, " ")
}

// field draws one panel with a line for each cycle.
func (o *overlay) field(ai int, top float64) {
	o.p.top = top
	low, high := channelRange(ai, o.traces)
	y := o.p.frame(channelTitle(ai), low, high)
	for i, t := range o.traces {
		if t.has(ai) {
			o.p.line(t, ai, o.zero[i], y, styles[i])
		}
	}
}

// bars draws a row for each cycle where on holds, and returns what is below.
func (o *overlay) bars(top float64, title string, on func(*Trace, int) bool) float64 {
	o.c.label(fieldLeft+2, top-5, left, title, textStyle{bold: true, halo: true})
	for i, t := range o.traces {
		number := fmt.Sprint(o.cycles[i].Number)
		o.c.label(fieldLeft-6, top+barHeight-1, right, number, textStyle{size: 11})
		o.c.line(fieldLeft, top+barHeight, fieldLeft+overlayWidth, top+barHeight, gridPen)
		if t != nil && len(t.In) == len(t.Ms) && len(t.Out) == len(t.Ms) {
			list := stretches(t, o.zero[i], func(n int) bool { return on(t, n) })
			o.p.bar(top, barHeight, list, styles[i])
		}
		top += barHeight + barGap
	}
	return top
}

// channelRange is the range of a value axis: zero and all valid values.
func channelRange(ai int, traces []*Trace) (low, high float64) {
	for _, t := range traces {
		if !t.has(ai) {
			continue
		}
		if least, largest, _, ok := extremes(t, ai); ok {
			low = math.Min(low, least*scaleOf(ai))
			high = math.Max(high, largest*scaleOf(ai))
		}
	}
	return rounded(low, high)
}

func scaleOf(ai int) float64 { return rig.Analogs[ai].Scale }

func channelTitle(ai int) string { return rig.Analogs[ai].Label + ", " + rig.Analogs[ai].Unit }
