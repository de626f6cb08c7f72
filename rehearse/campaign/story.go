package campaign

import (
	"fmt"
	"slices"

	"pressrig/controller"
	"pressrig/safety/oracle"
	"pressrig/safety/warden"
)

// story is what a run is told by afterwards.
type story struct {
	onset   uint64 // when the provocation came
	first   uint8  // first cause of the first trip since
	firstAt uint64
	acted   [64]uint64 // when a row first acted since the onset, 0 never
	heldMs  [64]uint64 // how long its condition had held by then

	pending uint8 // row whose outputs are still awaited
	since   uint64
	reactMs [64]int64 // -1 never

	starts, ends, trips, alarms int
	restarts                    int
	lost                        int               // cycles whose daemon was restarted
	end1                        controller.Record // the end record
	hostFirst                   uint8             // cause of the first trip record
	hostLast                    uint8             // and of the last: a restart clears the one before
	worst                       string            // strongest lock while the cycle was open
	ended                       string            // state when the run was over
	failures                    []string
}

// maxFailures bounds what is told of one run; the first is what matters.
const maxFailures = 6

func (s *story) fail(r *run, what string) {
	at := fmt.Sprintf("%s at %d ms", what, r.h.Rig.Ms())
	r.say("wrong: %s", what)
	if len(s.failures) < maxFailures && !slices.ContainsFunc(s.failures, func(f string) bool { return sameFailure(f, what) }) {
		s.failures = append(s.failures, at)
	}
}

func sameFailure(told, what string) bool { return len(told) > len(what) && told[:len(what)] == what }

// open: a machine that lives has begun a cycle and not ended it.
func (s *story) open() bool { return s.starts > s.ends+s.lost }

// causes looks at the warden's causes in this tick.
func (s *story) causes(r *run) {
	l := &r.look
	if s.open() && l.after.Lock != warden.LockNone {
		s.lock(oracle.LockOrder[l.after.Lock])
	}
	s.await(r)
	fresh := (l.after.Trips | l.after.Present) &^ (l.prev.Trips | l.prev.Present)
	if fresh != 0 {
		s.freshCauses(r, fresh)
	}
	switch {
	case l.prev.Trips == 0 && l.after.Trips != 0:
		want := firstOf(l.after.Trips)
		if l.boot && l.after.Trips&(1<<23) != 0 {
			want = 23 // it tripped at power-up, before the first tick
		}
		if l.after.First != want {
			s.fail(r, fmt.Sprintf("first cause %d, want %d", l.after.First, want))
		}
		if s.first == 0 && r.h.Rig.Ms() >= s.onset {
			s.first, s.firstAt = l.after.First, r.h.Rig.Ms()
		}
	case l.prev.Trips != 0 && l.after.Trips != 0 && l.prev.First != l.after.First:
		s.fail(r, fmt.Sprintf("first cause changed from %d to %d", l.prev.First, l.after.First))
	}
}

func (s *story) freshCauses(r *run, fresh uint64) {
	for row := range uint8(64) {
		if fresh&(1<<row) == 0 {
			continue
		}
		r.say("rig: row %d, %s; outputs %#x, were %#x", row, rows[row].Cause, r.look.out.Bits, r.look.prevOut.Bits)
		if !mayAct(row, &r.look) {
			s.fail(r, fmt.Sprintf("row %d acted though nothing calls for it", row))
		}
		s.acts(r, row, r.h.Rig.Ms())
	}
}

// acts notes that a row acts for the first time since the onset.
func (s *story) acts(r *run, row uint8, nowMs uint64) {
	if nowMs < s.onset || s.acted[row] != 0 {
		return
	}
	s.acted[row] = nowMs
	held := r.host.held(row, nowMs)
	if rows[row].Warden {
		held = uint64(r.detect.held(row))
		if nowMs-held <= s.onset+500 {
			held = nowMs - s.onset // from the true onset
		}
	}
	s.heldMs[row] = held
	s.pending, s.since = row, nowMs
	s.await(r)
}

// await measures how long the outputs take to obey the row that acted last.
func (s *story) await(r *run) {
	if s.pending == 0 {
		return
	}
	_, out, _, _ := r.h.Rig.Warden()
	row, off := rows[s.pending], uint16(0)
	if row.Gas != "keep" {
		off |= warden.OutFuel | warden.OutOxygen | warden.OutIgniter
	}
	if row.Lock != "none" {
		off |= warden.OutPressClose
	}
	if row.Spindle == "off" || row.Spindle == "ramp" {
		off |= warden.OutSpindle
	}
	if out.Bits&off == 0 {
		s.reactMs[s.pending] = int64(r.h.Rig.Ms() - s.since)
		s.pending = 0
	}
}

func (s *story) lock(word string) {
	if slices.Index(oracle.LockOrder, word) > slices.Index(oracle.LockOrder, s.worst) {
		s.worst = word
	}
}

// recordWords are the records that a told story names.
var recordWords = map[controller.RecordKind]string{controller.RecStart: "start", controller.RecPhaseBegin: "phase",
	controller.RecState: "state", controller.RecTrip: "trip", controller.RecAlarm: "alarm", controller.RecEnd: "end"}

// records counts what the journal would hold.
func (s *story) records(r *run, out *controller.Output) {
	for i := range out.Records[:out.N] {
		rec := &out.Records[i]
		if r.tell != nil && recordWords[rec.Kind] != "" {
			r.say("journal: %s, %v, cause %d %s %s", recordWords[rec.Kind], rec.State, rec.Cause, rec.Name, rec.Reason)
		}
		switch rec.Kind {
		case controller.RecStart:
			s.starts++
		case controller.RecEnd:
			s.ends++
			s.end1 = *rec
		case controller.RecTrip:
			s.trips++
			if s.hostFirst == 0 {
				s.hostFirst = rec.Cause
			}
			if s.open() {
				s.hostLast = rec.Cause
				s.lock(rows[rec.Cause].Lock)
			}
		case controller.RecState:
			if rec.State == controller.Restarting {
				s.worst = "none" // a person takes it up again
			}
		case controller.RecAlarm:
			s.alarms++
		}
	}
}

// end judges the cycle as a whole.
func (s *story) end(r *run, ended bool) {
	s.ended = r.h.State().String()
	if r.h.State() == controller.Stopped && s.worst == "hold" {
		s.ended = controller.Held.String() // and then stopped by the operator
	}
	if !ended {
		s.fail(r, fmt.Sprintf("no end within %d min: %+v", longestMs/60_000, r.h.Out.Status))
		return
	}
	if s.starts > 1 || s.ends+s.lost != s.starts {
		s.fail(r, fmt.Sprintf("16: %d start and %d end records", s.starts, s.ends))
	}
	if s.ends != 1 || s.restarts > 0 {
		return
	}
	switch s.worst {
	case "abort", "lockout":
		if s.end1.State != controller.Aborted || s.end1.Cause == 0 || s.end1.Cause != s.hostLast {
			s.fail(r, fmt.Sprintf("cycle ended %v with cause %d; want aborted with cause %d", s.end1.State,
				s.end1.Cause, s.hostLast))
		}
	case "hold":
		if s.end1.State == controller.Complete {
			s.fail(r, "cycle complete although a cause held it")
		}
	}
}
