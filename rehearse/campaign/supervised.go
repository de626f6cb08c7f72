package campaign

import (
	"fmt"

	"pressrig/controller"
	"pressrig/recipes"
	"pressrig/safety/warden"
)

// hostLook holds the supervisor to its rows, from what its machine was given.
type hostLook struct {
	wasMs     uint64 // the step before
	lostMs    uint64 // glass wanted and not to be read
	sameMs    uint64 // the same count over a flame
	hotMs     uint64
	silentMs  uint64 // no snapshot
	fullMs    uint64 // the journal cannot be written
	last      int16
	jumpedAt  uint64 // the host's clock ran ahead; 0 never
	tripped   uint8  // row of the supervisor that ended the cycle
	trippedAt uint64
	told      uint64 // rows that have come, trips and alarms
	missed    uint64
}

func (s *hostLook) jumped(nowMs uint64) { s.jumpedAt = nowMs }

// Longest times of the supervisor's rows, the published ones and some steps of
// the machine, which come 10 to 20 ms apart.
const (
	lostLongestMs   = 500 + 100
	sameLongestMs   = 5000 + 200
	hotLongestMs    = 500 + 300
	silentLongestMs = 500 + 60
	clocksLongestMs = 10_000
	fullLongestMs   = 1000
	surelyHotDC     = 800 // over the window's end: no phase allows that
	gasLagMs        = 60  // from the supervisor's word to the valve, over the line
)

// thermometer says whether the glass temperature is surely needed, with the
// view surely free.
func (s *hostLook) thermometer(r *run, out *controller.Output) bool {
	free := r.config.Options&warden.OptViewAlways != 0 && r.look.open()
	switch out.Status.PhaseKind {
	case recipes.Fire, recipes.Soak:
		return free && out.Status.State == controller.Running && out.Status.PhaseMs > 100
	}
	return false
}

func (s *hostLook) step(r *run, in *controller.Input, out *controller.Output) {
	now := r.h.Rig.Ms()
	dt := now - s.wasMs
	s.wasMs = now
	snap := in.Snap
	open := r.story.open()
	running := open && out.Status.State == controller.Running
	needed := s.thermometer(r, out)
	if snap != nil {
		g, ok := snap.Analog[warden.AiGlass], snap.OK(warden.AiGlass)
		s.lostMs = add(needed && !ok, s.lostMs, dt)
		s.sameMs = add(needed && ok && g == s.last, s.sameMs, dt)
		s.hotMs = add(needed && ok && int32(g) > int32(10*r.recipe.Window.High)+surelyHotDC, s.hotMs, dt)
		s.last = g
	}
	s.silentMs = add(snap == nil && open, s.silentMs, dt)
	s.fullMs = add(open && !in.Journal.Writable, s.fullMs, dt)
	for _, rec := range out.Records[:out.N] {
		if rec.Kind == controller.RecTrip || rec.Kind == controller.RecAlarm {
			s.heard(r, &rec, in)
		}
	}
	s.overdue(r, 18, running && s.lostMs > lostLongestMs)
	s.overdue(r, 19, running && s.sameMs > sameLongestMs)
	s.overdue(r, 20, running && s.hotMs > hotLongestMs)
	s.overdue(r, 22, running && s.silentMs > silentLongestMs)
	s.overdue(r, 26, running && s.jumpedAt != 0 && now-s.jumpedAt > clocksLongestMs)
	s.overdue(r, 28, s.fullMs > fullLongestMs)
}

// held is how long the condition of a row has held, ms.
func (s *hostLook) held(row uint8, nowMs uint64) uint64 {
	switch row {
	case 18:
		return s.lostMs
	case 19:
		return s.sameMs
	case 20:
		return s.hotMs
	case 22:
		return s.silentMs
	case 26:
		return nowMs - s.jumpedAt
	case 28:
		return s.fullMs
	}
	return 0 // at once
}

func add(on bool, ms, dt uint64) uint64 {
	if !on {
		return 0
	}
	return ms + dt
}

func (s *hostLook) overdue(r *run, row uint8, late bool) {
	if late && (s.told|s.missed)&(1<<row) == 0 {
		s.missed |= 1 << row
		r.story.fail(r, fmt.Sprintf("row %d did not act in its time", row))
	}
}

// heard takes a trip or an alarm that the machine has written down.
func (s *hostLook) heard(r *run, rec *controller.Record, in *controller.Input) {
	s.told |= 1 << rec.Cause
	row := rows[rec.Cause]
	if row.Warden {
		snap := &r.h.Snap
		if in.Snap != nil {
			snap = in.Snap
		}
		if rec.Kind == controller.RecTrip && rec.Cause != snap.First {
			r.story.fail(r, fmt.Sprintf("trip recorded as row %d, the rig's first cause is %d", rec.Cause, snap.First))
		}
		return
	}
	// By its own clock a host that slept has heard nothing for so long.
	justJumped := s.jumpedAt != 0 && r.h.Rig.Ms()-s.jumpedAt < 100
	may := map[uint8]bool{
		18: s.lostMs > 0, 19: true, 20: int32(s.last) > int32(10*r.recipe.Window.High),
		22: s.silentMs > 400 || in.Session == 0 || justJumped, 26: s.jumpedAt != 0,
		27: !in.Journal.Writable, 28: !in.Journal.Writable,
	}[rec.Cause]
	if rec.Cause == 18 || rec.Cause == 19 {
		may = r.config.FittedAnalog&(1<<warden.AiGlass) != 0
	}
	if !may {
		r.story.fail(r, fmt.Sprintf("row %d acted though nothing calls for it", rec.Cause))
	}
	if rec.Kind == controller.RecTrip {
		s.tripped, s.trippedAt = rec.Cause, r.h.Rig.Ms()
	}
	r.story.acts(r, rec.Cause, r.h.Rig.Ms())
}

// tick holds the outputs to the gas column of the supervisor's row.
func (s *hostLook) tick(r *run, out *warden.Output) string {
	if s.tripped == 0 {
		return ""
	}
	switch r.h.State() {
	case controller.Restarting, controller.Running, controller.Idle:
		s.tripped = 0
		return ""
	}
	if r.h.Rig.LineFault() {
		s.tripped = 0 // the word may not reach the rig; the leases run out
		return ""
	}
	since := r.h.Rig.Ms() - s.trippedAt
	gas := rows[s.tripped].Gas
	fuelMs := uint64(gasLagMs)
	if gas == "sequenced" {
		fuelMs += 1000
	}
	switch {
	case gas == "keep" || s.tripped == 22: // 22: nothing reaches the rig
		return ""
	case since > gasLagMs && out.Bits&warden.OutOxygen != 0:
		return fmt.Sprintf("oxygen open %d ms after row %d", since, s.tripped)
	case since > fuelMs && out.Bits&warden.OutFuel != 0:
		return fmt.Sprintf("fuel open %d ms after row %d", since, s.tripped)
	}
	return ""
}
