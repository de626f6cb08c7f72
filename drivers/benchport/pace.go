package benchport

import (
	"time"

	"pressrig/drivers/bench"
)

// Limits of scaled time.
const (
	aheadMs = 180                   // virtual time past the newest valid request
	crossMs = 200                   // more while bytes of the host cross the line
	silence = time.Second           // real time without one after which waiting ends
	stall   = 50 * time.Millisecond // a gap between looks: we ourselves did not run
	burstMs = 2000                  // most virtual time made up at one waking
)

// pace says how far virtual time may go. At scale 1 it simply follows the real
// clock. Scaled, it waits for the host: on a busy machine a supervisor that is
// late by 20 ms of real time would be late by 200 ms of its own. So virtual
// time stops 180 ms past the newest valid request or hello request. While bytes
// of the host cross the line it goes on as they need it, for 200 ms at most,
// which is still short of a lease's end: time that stands could wait for ever
// for a request that needs time to arrive behind some that are too late. A
// fault of the line ends all waiting; and when the host has been silent for 1 s
// of real time, time runs on, so that a killed daemon is noticed.
type pace struct {
	scale   uint64
	done    uint64        // virtual ms stepped
	given   uint64        // virtual ms not stepped because of waiting
	request uint64        // newest request seen, bench's virtual ms
	since   time.Duration // real time when it was seen
	linked  bool
	looked  time.Duration // newest look
}

func newPace(scale int) pace { return pace{scale: uint64(scale)} }

// heard notes a new request. Time in which the bench itself did not run is not
// silence of the host.
func (p *pace) heard(elapsed time.Duration, r *bench.Rig) {
	if gap := elapsed - p.looked; gap > stall {
		p.since += gap
	}
	p.looked = elapsed
	at, ok := r.HostMs()
	if !ok {
		p.linked = false
		return
	}
	if !p.linked || at != p.request {
		p.linked, p.request, p.since = true, at, elapsed
	}
}

// due is how many virtual ms to step now. What waiting holds back is given up,
// not made up later.
func (p *pace) due(elapsed time.Duration, r *bench.Rig) uint64 {
	target := uint64(elapsed) * p.scale / uint64(time.Millisecond)
	if target <= p.done+p.given {
		return 0
	}
	due := target - p.done - p.given
	if !p.waits(elapsed, r) {
		return min(due, burstMs)
	}
	last, now := p.request+aheadMs, r.Ms()
	if r.Receiving() {
		last += crossMs
	}
	allowed := uint64(0)
	if last > now {
		allowed = last - now
	}
	if due > allowed {
		p.given += due - allowed
		due = allowed
	}
	return min(due, burstMs)
}

// waits: scaled time holds for the host now.
func (p *pace) waits(elapsed time.Duration, r *bench.Rig) bool {
	return p.scale > 1 && p.linked && !r.LineFault() && elapsed-p.since < silence
}

func (p *pace) stepped(n uint64) { p.done += n }
