package panel

import (
	"sync"
	"time"

	"pressrig/controller"
	"pressrig/rig"
)

const (
	// keptRecords is how many of the newest records a follower can catch up
	// on: a normal cycle has about 80, and a follower asks 20 times a second.
	keptRecords = 256
	// pendingRecords is how many records wait for the lock. A step gives at
	// most controller.MaxRecords, and readers hold the lock for microseconds.
	pendingRecords = 8 * controller.MaxRecords
)

// mailbox has the newest values. One goroutine writes, by Tell and Record,
// and never waits: when a reader holds the lock the value is left out, and the
// next step 10 ms later brings a newer one. Neither allocates.
type mailbox struct {
	now func() time.Time

	// Only the writer touches these.
	pending [pendingRecords]controller.Record
	waiting int
	lost    uint64 // records that found pending full, since the start

	mu       sync.Mutex
	told     bool
	status   controller.Status
	snap     rig.Snapshot
	snapAt   time.Time
	haveSnap bool
	records  [keptRecords]controller.Record // number n stands at (n-1) % keptRecords
	newest   uint64                         // number of the newest record, from 1; 0 none
	dropped  uint64                         // records that never came in, copied from lost
}

// view is one reader's copy of the mailbox.
type view struct {
	told    bool
	status  controller.Status
	snap    rig.Snapshot
	link    bool // snap is young enough to count as the rig's state
	ageMs   int64
	records []controller.Record
	first   uint64 // number of records[0]
	missed  uint64 // records that had left the mailbox already
	dropped uint64 // records that never came in, since the start
}

// snapshotDead is the age at which a snapshot no longer tells the rig's state:
// they come every 10 ms, and the warden's leases are dead after 500 ms.
const snapshotDead = 500 * time.Millisecond

// Tell takes the newest status and snapshot (nil: none in this step).
func (m *mailbox) Tell(s *controller.Status, snap *rig.Snapshot) {
	if !m.mu.TryLock() {
		return
	}
	defer m.mu.Unlock()
	m.told = true
	m.status = *s
	if snap != nil {
		m.snap, m.snapAt, m.haveSnap = *snap, m.now(), true
	}
	for i := range m.waiting {
		m.records[m.newest%keptRecords] = m.pending[i]
		m.newest++
	}
	m.waiting, m.dropped = 0, m.lost
}

// Record takes one record; readers see it after the next Tell. When pending is
// full the record is left out here and counted: the journal has it.
func (m *mailbox) Record(r controller.Record) {
	if m.waiting == pendingRecords {
		m.lost++
		return
	}
	m.pending[m.waiting] = r
	m.waiting++
}

// read copies what is newest, and the records with numbers above after.
func (m *mailbox) read(after uint64, into []controller.Record) view {
	m.mu.Lock()
	defer m.mu.Unlock()
	v := view{told: m.told, status: m.status, snap: m.snap, records: into[:0], dropped: m.dropped}
	age := m.now().Sub(m.snapAt)
	v.link = m.haveSnap && age < snapshotDead
	v.ageMs = age.Milliseconds()
	oldest := uint64(1)
	if m.newest > keptRecords {
		oldest = m.newest - keptRecords + 1
	}
	v.first = max(after+1, oldest)
	v.missed = v.first - (after + 1)
	for n := v.first; n <= m.newest; n++ {
		v.records = append(v.records, m.records[(n-1)%keptRecords])
	}
	return v
}

// mark is where a new follower begins: the newest record's number, and how
// many were dropped so far.
func (m *mailbox) mark() (newest, dropped uint64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.newest, m.dropped
}
