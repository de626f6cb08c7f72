package controller

import (
	"pressrig/safety/warden"
)

// record appends r with what every record carries. Records beyond MaxRecords
// would be a fault of this program; the last place is kept for the end of the
// cycle, so that it can never be the one that is lost.
func (m *Machine) record(out *Output, r Record) {
	limit := MaxRecords - 1
	if r.Kind == RecEnd {
		limit = MaxRecords
	}
	if out.N >= limit {
		return
	}
	if m.open {
		r.Cycle = m.job.Cycle
	}
	r.ElapsedMs = m.now
	r.StampMs = m.see.snap.StampMs
	r.Phase = int16(m.phase.index)
	r.State = m.state
	out.Records[out.N] = r
	out.N++
}

func (m *Machine) mark(out *Output, what string) {
	m.record(out, Record{Kind: RecMark, Reason: what})
}

func (m *Machine) measure(out *Output, name string, value float64, unit string) {
	m.record(out, Record{Kind: RecMeasure, Name: name, Value: value, Unit: unit})
}

// openCycle writes the start record; nothing is armed before it is committed.
func (m *Machine) openCycle(out *Output) {
	m.open = true
	m.record(out, Record{Kind: RecStart, Command: Start, By: m.job.By, User: m.job.User})
	m.record(out, Record{Kind: RecState, Command: Start, By: m.job.By, User: m.job.User})
}

// closeCycle writes the end record, once.
func (m *Machine) closeCycle(out *Output) {
	if !m.open {
		return
	}
	m.endPhase(out, m.reason)
	if m.totals.any {
		m.measure(out, "fuel_mL", float64(m.totals.fuel)/60_000, "mL")
		m.measure(out, "oxygen_mL", float64(m.totals.oxygen)/60_000, "mL")
	}
	m.record(out, Record{Kind: RecEnd, Reason: m.reason, Cause: m.alarm.cause,
		Causes: m.alarm.causes, Lockout: m.see.snap.Lock == warden.LockLockout})
	m.open = false
	m.prompt.close()
}

// totals integrates the gas of a cycle in mL/min x ms.
type totals struct {
	fuel   uint64
	oxygen uint64
	any    bool
}

// add counts one interval with the measured flows, or with the set-points that
// the warden drives where no flow is measured.
func (t *totals) add(m *Machine, dtMs uint64) {
	s := &m.see.snap
	fuel, oxygen := uint64(s.FuelMl), uint64(s.OxygenMl)
	if s.OK(warden.AiFuelFlow) {
		fuel = uint64(max(0, s.Analog[warden.AiFuelFlow]))
	}
	if s.OK(warden.AiOxygenFlow) {
		oxygen = uint64(max(0, s.Analog[warden.AiOxygenFlow]))
	}
	if s.Out&warden.OutFuel == 0 {
		fuel = 0
	}
	if s.Out&warden.OutOxygen == 0 {
		oxygen = 0
	}
	t.any = true
	t.fuel += fuel * dtMs
	t.oxygen += oxygen * dtMs
}
