package journal

import (
	"database/sql"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"pressrig/controller"
	"pressrig/trials"
)

// kindNames are the words of trials.Event.Kind, by record kind.
var kindNames = [...]string{"", "start", "phase", "phase end", "state", "trip", "mark",
	"measure", "prompt", "answer", "command", "alarm", "end"}

// Reasons of marks that this package knows.
const markRefired = "re-fired"

// story reads the records of a cycle into phases, measures and events.
func (j *Journal) story(c *stored) error {
	phases, err := j.phases(c.Number)
	if err != nil {
		return err
	}
	recs, err := j.records(c.Number)
	if err != nil {
		return err
	}
	for i := range recs {
		rec := &recs[i]
		at := c.at(int64(rec.ElapsedMs))
		switch rec.Kind {
		case controller.RecPhaseBegin:
			name, kind := phaseName(phases, rec)
			c.Phases = append(c.Phases, trials.Phase{Name: name, Kind: kind, Begin: at, End: at})
		case controller.RecPhaseEnd:
			if n := len(c.Phases); n > 0 {
				c.Phases[n-1].End, c.Phases[n-1].Reason = at, rec.Reason
			}
		case controller.RecMeasure:
			c.Measures = append(c.Measures,
				trials.Measure{Name: rec.Name, Value: rec.Value, Unit: rec.Unit, At: at})
		case controller.RecMark:
			c.Refired = c.Refired || rec.Reason == markRefired
		case controller.RecEnd:
			endOpenPhase(c, rec)
		}
		c.Events = append(c.Events, trials.Event{At: at, Kind: kindName(rec.Kind),
			Text: j.words(phases, rec)})
	}
	return nil
}

// endOpenPhase ends with the cycle the phase that has no end of its own.
func endOpenPhase(c *stored, rec *controller.Record) {
	if n := len(c.Phases); n > 0 && c.Phases[n-1].Reason == "" {
		c.Phases[n-1].End = c.at(int64(rec.ElapsedMs))
		c.Phases[n-1].Reason = rec.Reason
	}
}

func kindName(k controller.RecordKind) string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "record " + strconv.Itoa(int(k))
}

func phaseName(phases []PhaseInfo, rec *controller.Record) (name, kind string) {
	if i := int(rec.Phase); i >= 0 && i < len(phases) {
		return phases[i].Name, phases[i].Kind
	}
	if rec.Name != "" {
		return rec.Name, ""
	}
	return fmt.Sprintf("phase %d", rec.Phase+1), ""
}

// words tells a record in a line for people.
func (j *Journal) words(phases []PhaseInfo, rec *controller.Record) string {
	var parts []string
	say := func(part string) {
		if part != "" && !slices.Contains(parts, part) { // a reason may repeat the cause
			parts = append(parts, part)
		}
	}
	switch rec.Kind {
	case controller.RecPhaseBegin, controller.RecPhaseEnd:
		name, _ := phaseName(phases, rec)
		say(name)
	case controller.RecState, controller.RecEnd:
		say(rec.State.String())
	case controller.RecCommand:
		say(rec.Command.String())
	case controller.RecMeasure:
		say(figure(rec))
	case controller.RecMark:
		if rec.Unit != "" {
			say(figure(rec))
		}
	case controller.RecPrompt:
		say(fmt.Sprintf("question %d", rec.Prompt))
	case controller.RecAnswer:
		say(fmt.Sprintf("question %d: %s", rec.Prompt, yesNo(rec.Value)))
	}
	if rec.Cause != 0 {
		say(j.opt.CauseText(rec.Cause))
	}
	say(j.consequences(rec))
	if rec.Lockout {
		say("lockout")
	}
	say(rec.Reason)
	if who := trials.Who(rec.By, rec.User); who != "" {
		say("by " + who)
	}
	return strings.Join(parts, "; ")
}

func figure(rec *controller.Record) string {
	return strings.TrimSpace(fmt.Sprintf("%s %s %s", rec.Name,
		strconv.FormatFloat(rec.Value, 'g', 6, 64), rec.Unit))
}

func yesNo(v float64) string {
	if v != 0 {
		return "yes"
	}
	return "no"
}

// consequences names the causes that came after the first one.
func (j *Journal) consequences(rec *controller.Record) string {
	if rec.Kind != controller.RecTrip {
		return ""
	}
	var names []string
	for rest := rec.Causes &^ (1 << rec.Cause); rest != 0; rest &= rest - 1 {
		names = append(names, j.opt.CauseText(uint8(bits.TrailingZeros64(rest))))
	}
	if len(names) == 0 {
		return ""
	}
	return "then " + strings.Join(names, ", ")
}

// Records are the records of a cycle in the order they came; 0 gives those
// that belong to none.
func (j *Journal) Records(cycle uint32) ([]controller.Record, error) {
	recs, err := j.records(cycle)
	if err != nil {
		return nil, fmt.Errorf("records of cycle %d: %w", cycle, err)
	}
	return recs, nil
}

func (j *Journal) records(cycle uint32) ([]controller.Record, error) {
	ctx, cancel := reading()
	defer cancel()
	rows, err := j.read.QueryContext(ctx, `SELECT id, COALESCE(cycle, 0), kind,
		elapsed_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value,
		unit, reason, by_name, by_user FROM record WHERE cycle IS NULLIF(?, 0) ORDER BY id`, cycle)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []controller.Record
	for last := int64(math.MinInt64); rows.Next(); {
		var (
			rec             controller.Record
			id              int64
			elapsed, causes int64
			value           sql.NullFloat64
		)
		err := rows.Scan(&id, &rec.Cycle, &rec.Kind, &elapsed, &rec.StampMs, &rec.Phase, &rec.State,
			&rec.Command, &rec.Cause, &causes, &rec.Lockout, &rec.Prompt, &rec.Name, &value,
			&rec.Unit, &rec.Reason, &rec.By, &rec.User)
		if err != nil {
			return nil, err
		}
		if id <= last { // or a damaged index gives the same ones again and again
			return nil, fmt.Errorf("record %d comes after record %d: the file is damaged", id, last)
		}
		last = id
		rec.ElapsedMs, rec.Causes, rec.Value = uint64(elapsed), uint64(causes), value.Float64
		if !value.Valid {
			rec.Value = math.NaN()
		}
		list = append(list, rec)
	}
	return list, rows.Err()
}
