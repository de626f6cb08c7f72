package trials

import (
	"fmt"
	"math"
	"time"

	"pressrig/rig"
	"pressrig/units"
)

// Comparison sets cycles side by side. Every row has one cell a cycle, in the
// order of Cycles; differences are against the first of them.
type Comparison struct {
	Cycles   []Head       `json:"cycles"`
	Notes    []string     `json:"notes,omitempty"` // what to know before reading the figures
	Phases   []PhaseRow   `json:"phases"`
	Channels []ChannelRow `json:"channels"`
	Measures []MeasureRow `json:"measures"`
}

// Head is what a cycle was and how it ended.
type Head struct {
	Number     uint32    `json:"number"`
	Recipe     string    `json:"recipe"`
	Rig        string    `json:"rig"`
	By         string    `json:"by"`
	Started    time.Time `json:"started"`
	State      string    `json:"state"`
	Reason     string    `json:"reason,omitempty"`
	FirstCause uint8     `json:"first_cause,omitempty"` // row of the matrix, 0 none
	CauseText  string    `json:"first_cause_text,omitempty"`
	Lockout    bool      `json:"lockout,omitempty"`
	Refired    bool      `json:"refired,omitempty"`
	Guarded    bool      `json:"guarded"`
	LengthS    float64   `json:"length_s"` // from START to the end of the last phase
}

// PhaseRow is one phase in each cycle.
type PhaseRow struct {
	Phase string      `json:"phase"`
	Kind  string      `json:"kind"`
	Cells []PhaseCell `json:"cells"`
}

// PhaseCell is a phase in one cycle.
type PhaseCell struct {
	Ran     bool     `json:"ran"`
	LengthS float64  `json:"length_s"`
	DiffS   *float64 `json:"difference_s"` // null where one of the two did not run
	Reason  string   `json:"reason,omitempty"`
}

// ChannelRow is one channel in each cycle, in Unit.
type ChannelRow struct {
	Channel string        `json:"channel"`
	Label   string        `json:"label"`
	Unit    string        `json:"unit"`
	Cells   []ChannelCell `json:"cells"`
	dim     units.Dimension
}

// ChannelCell is a channel in one cycle. Nulls are where nothing valid was
// sampled.
type ChannelCell struct {
	Least   *float64 `json:"least"`
	Largest *float64 `json:"largest"`
	Mean    *float64 `json:"mean"` // over time, gaps left out
	Ends    []End    `json:"ends,omitempty"`
	Apart   *Apart   `json:"apart"` // null in the first cycle, and where nothing meets
}

// End is a channel's value at the end of a phase.
type End struct {
	Phase string   `json:"phase"`
	Value *float64 `json:"value"`
}

// Apart is where a channel was farthest from the first cycle's, both read at
// the same time since the begin of the same phase.
type Apart struct {
	Difference float64 `json:"difference"` // signed: this cycle less the first
	Phase      string  `json:"phase"`
	AtS        float64 `json:"at_s"` // since the begin of the phase
}

// MeasureRow is one figure that the cycles recorded about themselves.
type MeasureRow struct {
	Name   string     `json:"name"`
	Unit   string     `json:"unit"`
	Values []*float64 `json:"values"`
}

// Compare sets cycles side by side. traces[i] is that of cycles[i]; a missing
// or nil trace leaves its channels empty.
func Compare(cycles []Cycle, traces []*Trace) Comparison {
	runs := make([]run, len(cycles))
	for i := range cycles {
		runs[i] = run{cycle: &cycles[i], spans: spans(&cycles[i])}
		if i < len(traces) {
			runs[i].trace = traces[i]
		}
	}
	out := Comparison{Notes: notes(runs)}
	for i := range runs {
		out.Cycles = append(out.Cycles, head(&runs[i]))
	}
	keys := phaseKeys(runs)
	for _, k := range keys {
		out.Phases = append(out.Phases, phaseRow(k, runs))
	}
	for ai := range rig.Analogs {
		if row, any := channelRow(ai, runs); any {
			out.Channels = append(out.Channels, row)
		}
	}
	out.Measures = measureRows(cycles)
	return out
}

// run is one cycle with its phases keyed and its trace.
type run struct {
	cycle *Cycle
	spans []span
	trace *Trace
}

func (r *run) span(key string) *span {
	for i := range r.spans {
		if r.spans[i].key == key {
			return &r.spans[i]
		}
	}
	return nil
}

func head(r *run) Head {
	c := r.cycle
	h := Head{Number: c.Number, Recipe: c.Recipe, Rig: c.Rig, By: c.By, Started: c.Started,
		State: c.State, Reason: c.Reason, FirstCause: c.Cause, CauseText: c.CauseText,
		Lockout: c.Lockout, Refired: c.Refired, Guarded: c.Guarded}
	if n := len(c.Phases); n > 0 {
		h.LengthS = (c.Phases[n-1].End - begin(c)).Seconds()
	}
	return h
}

// notes says what makes figures of these cycles hard to compare.
func notes(runs []run) []string {
	var out []string
	first := runs[:min(1, len(runs))]
	for _, f := range first {
		for _, r := range runs[1:] {
			a, b := f.cycle, r.cycle
			pair := fmt.Sprintf("cycles %d and %d", a.Number, b.Number)
			switch {
			case a.Recipe != b.Recipe:
				out = append(out, pair+" ran different recipes")
			case a.Hash != b.Hash:
				out = append(out, pair+" ran different texts of the recipe "+a.Recipe)
			}
			if a.Rig != b.Rig {
				out = append(out, pair+" ran on different rigs")
			} else if a.Profile != b.Profile {
				out = append(out, pair+" ran under different profiles or calibrations of the rig")
			}
			if a.Firmware != b.Firmware {
				out = append(out, pair+" ran with different firmware")
			}
		}
	}
	for _, r := range runs {
		c := r.cycle
		if !c.Guarded {
			out = append(out, fmt.Sprintf("cycle %d was unguarded: no warden stood behind it", c.Number))
		}
		if c.Dummy {
			out = append(out, fmt.Sprintf("cycle %d was a dummy, to warm the moulds", c.Number))
		}
		if c.Refired {
			out = append(out, fmt.Sprintf("cycle %d was held and fired again", c.Number))
		}
		if r.trace != nil && len(r.trace.Gaps) > 0 {
			out = append(out, fmt.Sprintf("the trace of cycle %d has %s", c.Number,
				counted(len(r.trace.Gaps), "gap")))
		}
	}
	return out
}

// phaseKeys has every phase that any cycle ran: those of the first in their
// order, each other one behind the phase that it followed.
func phaseKeys(runs []run) []string {
	var keys []string
	for i := range runs {
		after := -1
		for _, s := range runs[i].spans {
			at := index(keys, s.key)
			if at < 0 {
				at = after + 1
				keys = append(keys, "")
				copy(keys[at+1:], keys[at:])
				keys[at] = s.key
			}
			after = at
		}
	}
	return keys
}

func index(list []string, s string) int {
	for i := range list {
		if list[i] == s {
			return i
		}
	}
	return -1
}

func phaseRow(key string, runs []run) PhaseRow {
	row := PhaseRow{Phase: key}
	first := runs[0].span(key)
	for i := range runs {
		s := runs[i].span(key)
		if s == nil {
			row.Cells = append(row.Cells, PhaseCell{})
			continue
		}
		row.Kind = s.kind
		cell := PhaseCell{Ran: true, LengthS: (s.End - s.Begin).Seconds(), Reason: s.Reason}
		if first != nil {
			d := ((s.End - s.Begin) - (first.End - first.Begin)).Seconds()
			cell.DiffS = &d
		}
		row.Cells = append(row.Cells, cell)
	}
	return row
}

func channelRow(ai int, runs []run) (ChannelRow, bool) {
	c := rig.Analogs[ai]
	row := ChannelRow{Channel: c.Name, Label: c.Label, Unit: c.Unit, dim: c.Dim}
	any := false
	for i := range runs {
		cell := channelCell(ai, &runs[i])
		if i > 0 {
			cell.Apart = apart(ai, &runs[0], &runs[i])
		}
		any = any || cell.Mean != nil
		row.Cells = append(row.Cells, cell)
	}
	return row, any
}

func channelCell(ai int, r *run) ChannelCell {
	var cell ChannelCell
	if !r.trace.has(ai) {
		return cell
	}
	scale := rig.Analogs[ai].Scale
	if least, largest, mean, ok := extremes(r.trace, ai); ok {
		cell.Least = scaled(least, scale)
		cell.Largest = scaled(largest, scale)
		cell.Mean = scaled(mean, scale)
	}
	for _, s := range r.spans {
		end := End{Phase: s.key}
		if v, ok := lastIn(r.trace, ai, s); ok {
			end.Value = scaled(v, scale)
		}
		cell.Ends = append(cell.Ends, end)
	}
	return cell
}

// extremes has the mean over time: each sample counts until the next one.
func extremes(t *Trace, ai int) (least, largest, mean float64, ok bool) {
	var sum, weight float64
	least, largest = math.Inf(1), math.Inf(-1)
	for i, v := range t.Analog[ai] {
		if !t.valid(ai, i) {
			continue
		}
		dt := 1.0
		if i+1 < len(t.Ms) {
			dt = math.Min(float64(t.Ms[i+1]-t.Ms[i]), bridgeMs)
		}
		least, largest = math.Min(least, float64(v)), math.Max(largest, float64(v))
		sum, weight = sum+dt*float64(v), weight+dt
	}
	if weight == 0 {
		return 0, 0, 0, false
	}
	return least, largest, sum / weight, true
}

// lastIn is the newest valid value in the last bridgeMs of a phase. What was
// sampled at its very end belongs to the next one already.
func lastIn(t *Trace, ai int, s span) (float64, bool) {
	for i := t.from(s.End) - 1; i >= 0; i-- {
		ms := int64(t.Ms[i])
		if ms < s.Begin.Milliseconds() || ms < s.End.Milliseconds()-bridgeMs {
			break
		}
		if t.valid(ai, i) {
			return float64(t.Analog[ai][i]), true
		}
	}
	return 0, false
}

// apart finds where b is farthest from a, phase by phase.
func apart(ai int, a, b *run) *Apart {
	if !a.trace.has(ai) || !b.trace.has(ai) {
		return nil
	}
	var out *Apart
	worst := -1.0
	for _, sb := range b.spans {
		sa := a.span(sb.key)
		if sa == nil {
			continue
		}
		at, diff, ok := farthest(ai, a.trace, b.trace, sa, &sb)
		if ok && math.Abs(diff) > worst {
			worst = math.Abs(diff)
			out = &Apart{Difference: *scaled(diff, rig.Analogs[ai].Scale), Phase: sb.key, AtS: at / 1000}
		}
	}
	return out
}

// farthest looks at every sample of b in its phase.
func farthest(ai int, a, b *Trace, sa, sb *span) (atMs, diff float64, ok bool) {
	common := min(sa.End-sa.Begin, sb.End-sb.Begin)
	from, shift := sb.Begin.Milliseconds(), sa.Begin.Milliseconds()
	for i := b.from(sb.Begin); i < len(b.Ms); i++ {
		since := int64(b.Ms[i]) - from
		if since >= common.Milliseconds() { // the end is the next phase's begin
			break
		}
		if !b.valid(ai, i) {
			continue
		}
		va, has := a.at(ai, float64(since+shift))
		if !has {
			continue
		}
		if d := float64(b.Analog[ai][i]) - va; !ok || math.Abs(d) > math.Abs(diff) {
			atMs, diff, ok = float64(since), d, true
		}
	}
	return atMs, diff, ok
}

func measureRows(cycles []Cycle) []MeasureRow {
	var rows []MeasureRow
	at := map[string]int{}
	for i := range cycles {
		count := map[string]int{}
		for _, m := range cycles[i].Measures {
			id := m.Name + " in " + m.Unit
			count[id]++
			name := keyOf(m.Name, count[id])
			key := keyOf(id, count[id])
			if _, ok := at[key]; !ok {
				at[key] = len(rows)
				rows = append(rows, MeasureRow{name, m.Unit, make([]*float64, len(cycles))})
			}
			v := m.Value
			rows[at[key]].Values[i] = &v
		}
	}
	return rows
}

// scaled turns counts into units, without the dust of binary fractions where
// the scale is a decimal one.
func scaled(counts, scale float64) *float64 {
	v := counts * scale
	if scale < 1 {
		v = counts / math.Round(1/scale)
	}
	return &v
}
