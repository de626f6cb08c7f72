package trials

import (
	"fmt"
	"strconv"

	"pressrig/safety/warden"
)

// pictureFields are the panels of a single cycle: channels that share a unit
// share a panel.
var pictureFields = [...]struct {
	title    string
	channels []uint8
}{
	{"temperature, C", []uint8{warden.AiGlass, warden.AiMouldLower, warden.AiMouldUpper}},
	{"press travel from open, mm", []uint8{warden.AiTravel}},
	{"press force, N", []uint8{warden.AiForce}},
	{"spindle speed, rpm", []uint8{warden.AiSpindle}},
	{"gas flow, L/min", []uint8{warden.AiFuelFlow, warden.AiOxygenFlow}},
	{"gas pressure, bar", []uint8{warden.AiFuelPressure, warden.AiOxygenPressure}},
}

// pictureInputs are the switches that a cycle's picture has bars for.
var pictureInputs = [...]struct {
	bit   uint32
	label string
}{
	{warden.InFlame, "flame seen"},
	{warden.InBurnerAtBlank, "burner at the blank"},
	{warden.InBurnerClear, "burner clear"},
	{warden.InPressOpen, "press open"},
	{warden.InDoorClosed, "safety door closed"},
	{warden.InEstopOK, "estop loop closed"},
	{warden.InStart, "START pressed"},
	{warden.InSoft, "SOFT pressed"},
}

// shortNames are the channels' names at the ends of lines.
var shortNames = [warden.NumAnalog]string{"glass", "lower mould", "upper mould", "travel", "force",
	"spindle", "fuel", "oxygen", "fuel", "oxygen"}

// Picture draws one cycle as an SVG picture: all channels, the warden's burner
// and press phases, inputs and outputs as bars, the phases named, the trip
// marked. t may be nil or empty: the picture then has no lines.
func Picture(c *Cycle, t *Trace) []byte {
	s := newSheet(c, t)
	const head = 50.0
	top := head + labelRoom
	rows := 2 + len(pictureInputs) + len(Drives)
	bottom := top + float64(len(pictureFields))*(fieldHeight+fieldGap) +
		float64(rows)*(barHeight+barGap) + 2*fieldGap
	title := cycleTitle(c)
	s.c.begin(pictureWidth, bottom+48, title, s.desc())
	s.c.label(fieldLeft, 22, left, title, textStyle{size: 15, bold: true})
	s.c.text(fieldLeft, 40, left, s.subtitle())
	s.p.phaseMarks(c, s.zero, top-18, bottom)
	y := top
	for _, f := range pictureFields {
		s.field(f.title, f.channels, y)
		y += fieldHeight + fieldGap
	}
	y = s.words(y, "burner (warden)", s.t.Burner, BurnerWord)
	y = s.words(y, "press (warden)", s.t.Press, PressWord)
	y = s.inputs(y + fieldGap - 10)
	s.outputs(y + fieldGap - 10)
	s.trip(top-18, bottom)
	s.gaps(top, bottom)
	s.p.timeAxis(bottom, "time since START, s")
	return s.c.end()
}

// sheet is the picture as it is drawn.
type sheet struct {
	c     canvas
	p     plot
	cycle *Cycle
	t     *Trace
	zero  int64
}

func newSheet(c *Cycle, t *Trace) *sheet {
	if t == nil {
		t = &Trace{}
	}
	s := &sheet{cycle: c, t: t, zero: begin(c).Milliseconds()}
	low, high := 0.0, 1.0
	if n := len(c.Phases); n > 0 {
		low = float64(c.Phases[0].Begin.Milliseconds()-s.zero) / 1000
		high = max(high, float64(c.Phases[n-1].End.Milliseconds()-s.zero)/1000)
	}
	if n := len(t.Ms); n > 0 {
		low = min(low, s.since(t.Ms[0]))
		high = max(high, s.since(t.Ms[n-1]))
	}
	s.p = plot{c: &s.c, x: axis{low, high, fieldLeft, fieldLeft + fieldWidth},
		left: fieldLeft, width: fieldWidth, height: fieldHeight}
	return s
}

func (s *sheet) since(ms uint32) float64 { return float64(int64(ms)-s.zero) / 1000 }

func (s *sheet) subtitle() string {
	c := s.cycle
	text := fmt.Sprintf("rig %s, by %s, %s", c.Rig, Who(c.By, c.User), c.Started.Format("2006-01-02 15:04:05"))
	if c.forecast() {
		text = "forecast for rig " + c.Rig + ": nothing was pressed"
	}
	if n := len(s.t.Gaps); n > 0 {
		text += ", " + counted(n, "gap") + " in the trace (hatched)"
	}
	return text
}

func (s *sheet) desc() string {
	text := "Time since START runs to the right, loading before it. Phases: "
	for i, p := range s.cycle.Phases {
		if i > 0 {
			text += "; "
		}
		text += p.Name + " " + fixed((p.End-p.Begin).Seconds(), 1) + " s"
		if p.Reason != "" {
			text += ", ended by: " + p.Reason
		}
	}
	return text + "."
}

// field draws one panel; each line is named at the right.
func (s *sheet) field(title string, channels []uint8, top float64) {
	s.p.top = top
	low, high := 0.0, 0.0
	for _, ai := range channels {
		l, h := channelRange(int(ai), []*Trace{s.t})
		low, high = min(low, l), max(high, h)
	}
	y := s.p.frame(title, low, high)
	for i, ai := range channels {
		look := styles[i]
		cy := top + 14 + float64(i)*18
		s.c.line(fieldLeft+fieldWidth+8, cy-4, fieldLeft+fieldWidth+40, cy-4, look)
		name := shortNames[ai]
		if !s.t.has(int(ai)) || !s.t.anyValid(int(ai)) {
			name += ": none"
		}
		s.c.label(fieldLeft+fieldWidth+45, cy, left, name, textStyle{size: 11})
		if s.t.has(int(ai)) {
			s.p.line(s.t, int(ai), s.zero, y, look)
		}
	}
}

func (t *Trace) anyValid(ai int) bool {
	for i := range t.Ms {
		if t.valid(ai, i) {
			return true
		}
	}
	return false
}

// words draws a row of named pieces: where a number stays the same.
func (s *sheet) words(top float64, title string, numbers []uint8, word func(uint8) string) float64 {
	s.c.label(fieldLeft+fieldWidth+8, top+barHeight-1, left, title, textStyle{size: 11})
	s.c.line(fieldLeft, top+barHeight, fieldLeft+fieldWidth, top+barHeight, gridPen)
	if len(numbers) != len(s.t.Ms) {
		return top + barHeight + barGap
	}
	for i := 0; i < len(numbers); {
		n := i
		for n+1 < len(numbers) && numbers[n+1] == numbers[i] && s.t.Ms[n+1]-s.t.Ms[n] <= bridgeMs {
			n++
		}
		s.piece(top, stretch{s.since(s.t.Ms[i]), s.since(s.t.Ms[n])}, numbers[i], word)
		i = n + 1
	}
	return top + barHeight + barGap
}

// piece is one named piece; its name is written where it has room.
func (s *sheet) piece(top float64, at stretch, number uint8, word func(uint8) string) {
	if number == 0 {
		return
	}
	s.p.bar(top, barHeight, []stretch{at}, axisPen)
	name := word(number)
	x := s.p.x.px(at.from)
	if s.p.x.px(at.to)-x > 6*float64(len(name)) {
		s.c.label(x+3, top+barHeight-2, left, name, textStyle{size: 10})
	}
}

func (s *sheet) inputs(top float64) float64 {
	s.c.label(fieldLeft+2, top-5, left, "inputs that are on", textStyle{bold: true, halo: true})
	for _, in := range pictureInputs {
		s.bar(top, in.label, len(s.t.In), func(i int) bool { return s.t.In[i]&in.bit != 0 })
		top += barHeight + barGap
	}
	return top
}

func (s *sheet) outputs(top float64) {
	s.c.label(fieldLeft+2, top-5, left, "outputs that are driven", textStyle{bold: true, halo: true})
	for _, d := range Drives {
		s.bar(top, d.Label, len(s.t.Out), func(i int) bool { return s.t.Out[i]&d.Bit != 0 })
		top += barHeight + barGap
	}
}

func (s *sheet) bar(top float64, label string, rows int, on func(int) bool) {
	s.c.label(fieldLeft+fieldWidth+8, top+barHeight-1, left, label, textStyle{size: 11})
	s.c.line(fieldLeft, top+barHeight, fieldLeft+fieldWidth, top+barHeight, gridPen)
	if rows == len(s.t.Ms) {
		s.p.bar(top, barHeight, stretches(s.t, s.zero, on), axisPen)
	}
}

// trip marks where the cycle tripped.
func (s *sheet) trip(top, bottom float64) {
	for _, e := range s.cycle.Events {
		if e.Kind != "trip" {
			continue
		}
		x := s.p.x.px(float64(e.At.Milliseconds()-s.zero) / 1000)
		if x < fieldLeft || x > fieldLeft+fieldWidth {
			continue
		}
		s.c.line(x, top, x, bottom, pen{ink, 2, "6 2"})
		s.c.label(x-4, top+12, right, "trip: "+e.Text, textStyle{bold: true, size: 11, halo: true})
	}
}

// gaps marks where steps were dropped.
func (s *sheet) gaps(top, bottom float64) {
	for _, g := range s.t.Gaps {
		x := s.p.x.px(s.since(g.AfterMs))
		for dy := top; dy < bottom; dy += 12 {
			s.c.line(x, dy+6, x+6, dy, pen{ink, 1, ""})
		}
		s.c.label(x+8, top+24, left, "gap: "+strconv.FormatUint(uint64(g.Steps), 10)+" steps",
			textStyle{size: 11})
	}
}
