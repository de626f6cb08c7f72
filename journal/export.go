package journal

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"pressrig/rig"
	"pressrig/trials"
)

// exportFormat names what ExportJSON writes.
const exportFormat = "pressrig cycle, format 1"

// ExportCSV writes the trace of a cycle as a table, a row a snapshot. The
// column names carry the units; a cell is empty where the value was not valid.
func (j *Journal) ExportCSV(w io.Writer, n uint32) error {
	t, err := j.Trace(n)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	out := csv.NewWriter(w)
	head := []string{"elapsed_ms", "missing_steps_before"}
	for _, ch := range rig.Analogs {
		head = append(head, columnName(ch))
	}
	for _, sw := range rig.Switches {
		head = append(head, sw.Name)
	}
	head = append(head, "outputs_bits", "flags_bits",
		"burner_phase", "press_phase")
	if err := out.Write(head); err != nil {
		return fmt.Errorf("export cycle %d: %w", n, err)
	}
	gaps := t.Gaps
	for i := range t.Ms {
		missing := uint32(0)
		for len(gaps) > 0 && gaps[0].AfterMs < t.Ms[i] {
			missing += gaps[0].Steps
			gaps = gaps[1:]
		}
		if err := out.Write(csvRow(t, i, missing)); err != nil {
			return fmt.Errorf("export cycle %d: %w", n, err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("export cycle %d: %w", n, err)
	}
	return nil
}

func csvRow(t *trials.Trace, i int, missing uint32) []string {
	row := []string{strconv.FormatUint(uint64(t.Ms[i]), 10), strconv.FormatUint(uint64(missing), 10)}
	for ai, ch := range rig.Analogs {
		cell := ""
		if t.OK[i]&(1<<ai) != 0 {
			cell = decimal(t.Analog[ai][i], ch.Scale)
		}
		row = append(row, cell)
	}
	for _, sw := range rig.Switches {
		row = append(row, map[bool]string{false: "0", true: "1"}[t.In[i]&sw.Bit != 0])
	}
	return append(row, strconv.Itoa(int(t.Out[i])), strconv.Itoa(int(t.Flags[i])),
		strconv.Itoa(int(t.Burner[i])), strconv.Itoa(int(t.Press[i])))
}

// columnName is the channel's name with its unit: glass_C, fuel_flow_L_per_min.
func columnName(ch rig.Channel) string {
	return ch.Name + "_" + strings.ReplaceAll(ch.Unit, "/", "_per_")
}

// decimal writes counts in the channel's unit with as many digits as a count.
func decimal(count int16, scale float64) string {
	digits := max(0, int(math.Round(-math.Log10(scale))))
	return strconv.FormatFloat(float64(count)*scale, 'f', digits, 64)
}

// The JSON form of a cycle. Names carry units, as in the table.
type (
	exportCycle struct {
		Format      string          `json:"format"`
		Cycle       uint32          `json:"cycle"`
		Run         uint32          `json:"run"`
		Piece       uint16          `json:"piece"`
		Dummy       bool            `json:"dummy"`
		Last        bool            `json:"last_of_run"`
		Guarded     bool            `json:"guarded"`
		By          string          `json:"by"`
		User        string          `json:"by_user"` // as the kernel knew it
		Rig         string          `json:"rig"`
		Firmware    string          `json:"firmware"`
		Recipe      string          `json:"recipe"`
		RecipeHash  string          `json:"recipe_sha256"`
		RecipeText  string          `json:"recipe_text"`
		ProfileHash string          `json:"profile_sha256"`
		ProfileText string          `json:"profile_text"`
		Started     time.Time       `json:"started"`
		Ended       *time.Time      `json:"ended"` // null while it runs
		State       string          `json:"state"`
		Reason      string          `json:"reason"`
		Cause       uint8           `json:"first_cause"`
		CauseText   string          `json:"first_cause_text"`
		Lockout     bool            `json:"lockout"`
		Refired     bool            `json:"refired"`
		Recovered   bool            `json:"closed_by_journal"`
		SavedS      float64         `json:"trace_saved_s"`
		LostRecords uint32          `json:"lost_records"`
		Ledger      trials.Ledger   `json:"ledger"` // of the journal when this was exported
		Phases      []exportPhase   `json:"phases"`
		Measures    []exportMeasure `json:"measures"`
		Events      []exportEvent   `json:"events"`
		Trace       exportTrace     `json:"trace"`
	}
	exportPhase struct {
		Name   string  `json:"name"`
		Kind   string  `json:"kind"`
		BeginS float64 `json:"begin_s"`
		EndS   float64 `json:"end_s"`
		Reason string  `json:"reason"`
	}
	exportMeasure struct {
		Name  string   `json:"name"`
		Value *float64 `json:"value"` // null: not a number
		Unit  string   `json:"unit"`
		AtS   float64  `json:"at_s"`
	}
	exportEvent struct {
		AtS  float64 `json:"at_s"`
		Kind string  `json:"kind"`
		Text string  `json:"text"`
	}
	exportTrace struct {
		ElapsedMs []uint32          `json:"elapsed_ms"`
		Channels  map[string][]cell `json:"channels"` // null: not valid
		Inputs    []uint32          `json:"inputs_bits"`
		Outputs   []uint16          `json:"outputs_bits"`
		Flags     []uint16          `json:"flags_bits"`
		Burner    []uint16          `json:"burner_phase"`
		Press     []uint16          `json:"press_phase"`
		Gaps      []exportGap       `json:"gaps"`
	}
	exportGap struct {
		AfterMs      uint32 `json:"after_ms"`
		MissingSteps uint32 `json:"missing_steps"`
	}
)

// cell is a figure in digits, or null.
type cell string

// MarshalJSON writes the digits as they are.
func (c cell) MarshalJSON() ([]byte, error) { return []byte(c), nil }

// ExportJSON writes the whole story of a cycle: what it froze, phases,
// measures, events and trace.
func (j *Journal) ExportJSON(w io.Writer, n uint32) error {
	c, err := j.Cycle(n)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	info, err := j.Frozen(n)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	t, err := j.Trace(n)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	buf := bufio.NewWriter(w)
	enc := json.NewEncoder(buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(newExport(&c, &info, t)); err != nil {
		return fmt.Errorf("export cycle %d: %w", n, err)
	}
	if err := buf.Flush(); err != nil {
		return fmt.Errorf("export cycle %d: %w", n, err)
	}
	return nil
}

func newExport(c *trials.Cycle, info *CycleInfo, t *trials.Trace) *exportCycle {
	e := &exportCycle{
		Format: exportFormat, Cycle: c.Number, Run: c.Run, Piece: c.Piece, Dummy: c.Dummy,
		Last: c.Last, Guarded: c.Guarded, By: c.By, User: c.User, Rig: c.Rig, Firmware: c.Firmware,
		Recipe: c.Recipe, RecipeHash: c.Hash, RecipeText: string(info.RecipeText),
		ProfileHash: c.Profile, ProfileText: string(info.ProfileText),
		Started: c.Started.UTC(), State: c.State, Reason: c.Reason, Cause: c.Cause,
		CauseText: c.CauseText, Lockout: c.Lockout, Refired: c.Refired, Recovered: c.Recovered,
		SavedS: c.Saved.Seconds(), LostRecords: c.LostRecords, Ledger: c.Ledger, Trace: newExportTrace(t),
		Phases: []exportPhase{}, Measures: []exportMeasure{}, Events: []exportEvent{},
	}
	if !c.Ended.IsZero() {
		ended := c.Ended.UTC()
		e.Ended = &ended
	}
	for _, p := range c.Phases {
		e.Phases = append(e.Phases,
			exportPhase{p.Name, p.Kind, p.Begin.Seconds(), p.End.Seconds(), p.Reason})
	}
	for _, m := range c.Measures {
		value := &m.Value
		if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
			value = nil
		}
		e.Measures = append(e.Measures, exportMeasure{m.Name, value, m.Unit, m.At.Seconds()})
	}
	for _, ev := range c.Events {
		e.Events = append(e.Events, exportEvent{ev.At.Seconds(), ev.Kind, ev.Text})
	}
	return e
}

func newExportTrace(t *trials.Trace) exportTrace {
	e := exportTrace{ElapsedMs: t.Ms, Inputs: t.In, Outputs: t.Out, Flags: t.Flags,
		Burner: widen(t.Burner), Press: widen(t.Press),
		Channels: map[string][]cell{}, Gaps: []exportGap{}}
	for ai, ch := range rig.Analogs {
		list := make([]cell, len(t.Ms))
		for i := range list {
			list[i] = "null"
			if t.OK[i]&(1<<ai) != 0 {
				list[i] = cell(decimal(t.Analog[ai][i], ch.Scale))
			}
		}
		e.Channels[columnName(ch)] = list
	}
	for _, g := range t.Gaps {
		e.Gaps = append(e.Gaps, exportGap{g.AfterMs, g.Steps})
	}
	return e
}

// widen keeps a list of bytes from becoming base64 text.
func widen(b []uint8) []uint16 {
	out := make([]uint16, len(b))
	for i, v := range b {
		out[i] = uint16(v)
	}
	return out
}
